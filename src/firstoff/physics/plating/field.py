"""Current of a rack in a tank: sheets of cathode, thief, anode and shield; one factorisation a geometry."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
from scipy.linalg import lu_factor, lu_solve
from scipy.optimize import brentq

from firstoff.physics.plating import field_kernel
from firstoff.physics.plating.field_matrices import Matrices, box_of, matrices
from firstoff.physics.plating.mesh import Mesh, join
from firstoff.physics.plating.polarisation import Polarisation
from firstoff.physics.plating.tank import Tank
from firstoff.physics.ranges import FloatArray, positive

Role = Literal["cathode", "thief", "anode", "shield"]
MOST_STEPS: Final = 60
HALVINGS: Final = 12
TOLERANCE: Final = 1e-10


@dataclass(frozen=True)
class Part:
    """One sheet in the tank, plated (cathode, thief) or dissolving (anode) on both sides, or insulating (shield)."""

    name: str
    role: Role
    mesh: Mesh


@dataclass(frozen=True)
class Currents:
    """Current densities on every triangle of cathodes and thieves, front and back [A/m2], into the sheet positive.

    voltage [V] from the anodes' bus to the cathodes', without a constant of the polarisation; current [A]; steps taken;
    converged; anode_current of each part [A], negative where current leaves it.
    """

    front: FloatArray
    back: FloatArray
    voltage: float
    current: float
    part_currents: FloatArray
    steps: int
    converged: bool


class Cell:
    """A geometry, factorised: how the currents of the cathodes follow from the potentials at their surfaces.

    Unknowns: sum m = i_front + i_back on triangles of electrodes, jumps mu of the potential at inner points of cathodes
    and shields, in units of the conductivity kappa; phi = -V m + D mu + c. Anodes do not polarise and lie on one bus;
    cathodes and thieves on another. On shields the normal current is 0; on cathodes mu = U(i_front) - U(i_back), and
    the mean of phi is (U(i_front) + U(i_back))/2, in units of kappa.
    Source: potential theory of open surfaces (textbook); Newman and Thomas-Alyea for the boundary conditions.
    """

    def __init__(self, parts: list[Part], tank: Tank, workers: int = 1, known: Matrices | None = None) -> None:
        """known: the operators of these very parts, where they were made before."""
        roles = {part.role for part in parts}
        if "cathode" not in roles or "anode" not in roles:
            raise ValueError("a cell needs a cathode and an anode")
        self.parts, self.tank = parts, tank
        self.mesh = join([part.mesh for part in parts]) if known is None else known.mesh
        self.matrices: Matrices = matrices(self.mesh, tank, workers) if known is None else known
        role = np.array([part.role for part in parts])
        self._role_of_triangle = role[self.mesh.part]
        owner = np.zeros(len(self.mesh.points), dtype=np.int64)
        owner[self.mesh.triangles.ravel()] = np.repeat(self.mesh.part, 3)
        self._role_of_point = role[owner]

    def without(self, name: str) -> Cell:
        """The same cell with a sheet taken out, e.g. a basket that draws no current; its operators are not made again.

        ValueError when there is no such sheet.
        """
        gone = [part.name for part in self.parts].index(name)
        rows = np.flatnonzero(self.mesh.part != gone)
        points, triangles = np.unique(self.mesh.triangles[rows], return_inverse=True)
        part = self.mesh.part[rows]
        mesh = Mesh(self.mesh.points[points], triangles.reshape(-1, 3), np.where(part > gone, part - 1, part))
        m = self.matrices
        less = Matrices(
            mesh, m.single[np.ix_(rows, rows)], m.double[np.ix_(rows, points)], m.hyper[np.ix_(points, points)],
            m.hats[points],
        )  # fmt: skip
        return Cell([p for i, p in enumerate(self.parts) if i != gone], self.tank, known=less)

    @cached_property
    def _rim(self) -> npt.NDArray[np.bool_]:
        return self.mesh.rim(self.tank.sides)

    @cached_property
    def electrodes(self) -> npt.NDArray[np.int64]:
        """Triangles that carry current."""
        return np.flatnonzero(self._role_of_triangle != "shield")

    @cached_property
    def plated(self) -> npt.NDArray[np.int64]:
        """Triangles of cathodes and thieves."""
        return np.flatnonzero(np.isin(self._role_of_triangle, ("cathode", "thief")))

    @cached_property
    def _plated_points(self) -> npt.NDArray[np.int64]:
        return np.flatnonzero(np.isin(self._role_of_point, ("cathode", "thief")) & ~self._rim)

    @cached_property
    def _shield_points(self) -> npt.NDArray[np.int64]:
        return np.flatnonzero((self._role_of_point == "shield") & ~self._rim)

    @cached_property
    def _to_triangles(self) -> FloatArray:
        """From values at the inner points of cathodes to their triangles; a rim point takes its neighbours' mean."""
        t = self.mesh.triangles[self.plated]
        index = np.full(len(self.mesh.points), -1)
        index[self._plated_points] = np.arange(len(self._plated_points))
        values = np.zeros((len(self.mesh.points), len(self._plated_points)))
        values[self._plated_points, np.arange(len(self._plated_points))] = 1.0
        known = index >= 0
        points = np.unique(t)
        while not known[points].all():
            found: dict[int, list[int]] = {}
            for triangle in t:
                for p in triangle:
                    if not known[p]:
                        found.setdefault(int(p), []).extend(int(q) for q in triangle if known[q])
            if not any(found.values()):
                break  # a sheet without inner points: both sides alike
            for p, near in found.items():
                if near:
                    values[p] = values[near].mean(axis=0)
                    known[p] = True
        averaged: FloatArray = values[t].mean(axis=1)
        return averaged

    @cached_property
    def _to_points(self) -> FloatArray:
        """From triangles of cathodes to their inner points, means by area."""
        index = np.full(len(self.mesh.points), -1)
        index[self._plated_points] = np.arange(len(self._plated_points))
        weights = np.zeros((len(self._plated_points), len(self.plated)))
        for column, triangle in enumerate(self.plated):
            for p in self.mesh.triangles[triangle]:
                if index[p] >= 0:
                    weights[index[p], column] += self.mesh.areas[triangle]
        total = weights.sum(axis=1, keepdims=True)
        return weights / np.where(total > 0.0, total, 1.0)

    @cached_property
    def response(self) -> FloatArray:
        """(n_m + n_d + 1, n_p + n_mu + 1): what potentials and current of the plated sheets bring about.

        Rows: sums m on their triangles, differences d = i_front - i_back at their inner points, the anodes' potential.
        Columns: mean potentials p on the triangles and jumps mu at the points [in units of kappa], the cell current.
        """
        found = self._solved
        return found[: -1 - len(self._inner) - len(self._shield_points)]

    @cached_property
    def _inner(self) -> npt.NDArray[np.int64]:
        """Of the electrodes' unknowns, those of the anodes."""
        return np.flatnonzero(np.isin(self.electrodes, self.plated, invert=True))

    @cached_property
    def _solved(self) -> FloatArray:
        """Rows: m plated, d, anodes' potential, m of anodes, mu of shields, constant; columns as `response`."""
        e, shield, jump = self.electrodes, self._shield_points, self._plated_points
        v, dbl, hyper = self.matrices.single, self.matrices.double, self.matrices.hyper
        area = self.mesh.areas[e]
        anode, plated = self._inner, np.flatnonzero(np.isin(e, self.plated))
        n, k = len(e), len(shield)
        system = np.zeros((n + k + 2, n + k + 2))
        system[:n, :n] = -v[np.ix_(e, e)]
        system[:n, n : n + k] = dbl[np.ix_(e, shield)]
        system[n : n + k, :n] = -dbl[np.ix_(e, shield)].T
        system[n : n + k, n : n + k] = hyper[np.ix_(shield, shield)]
        system[:n, n + k] = area
        system[anode, n + k + 1] = -area[anode]
        system[n + k, :n] = area  # no current comes from nowhere
        system[n + k + 1, plated] = area[plated]
        right = np.zeros((n + k + 2, len(plated) + len(jump) + 1))
        right[plated, np.arange(len(plated))] = area[plated]
        right[:n, len(plated) : -1] = -dbl[np.ix_(e, jump)]
        right[n : n + k, len(plated) : -1] = -hyper[np.ix_(shield, jump)]
        right[n + k + 1, -1] = 1.0
        y = lu_solve(lu_factor(system), right)
        across = -dbl[np.ix_(e, jump)].T @ y[:n] + hyper[np.ix_(jump, shield)] @ y[n : n + k]
        across[:, len(plated) : -1] += hyper[np.ix_(jump, jump)]
        difference = 2.0 * across / self.matrices.hats[jump][:, None]
        return np.concatenate([y[plated], difference, y[n + k + 1 :], y[anode], y[n : n + k], y[n + k : n + k + 1]])

    @cached_property
    def _spread_and_gathered(self) -> tuple[FloatArray, FloatArray]:
        """Of the response: differences on triangles, sums at points; the same for every solution of this cell."""
        n, k = len(self.plated), len(self._plated_points)
        return self._to_triangles @ self.response[n : n + k], self._to_points @ self.response[:n]

    def solve(
        self,
        conductivity: float,
        polarisation: Polarisation,
        *,
        current: float | None = None,
        voltage: float | None = None,
    ) -> Currents:
        """Currents at a cell current [A] or at a voltage [V], one of them; Newton's method on the factorised geometry.

        conductivity kappa [S/m] > 0; polarisation of cathodes and thieves. ValueError out of range. Not converged is
        told in the result.
        """
        kappa = float(positive("conductivity", conductivity))
        law = polarisation.checked()
        if (current is None) == (voltage is None):
            raise ValueError("either the current or the voltage must be given")
        given = float(positive("current or voltage", current if current is not None else voltage))  # type: ignore[arg-type]
        by_voltage = voltage is not None
        z = self._start(kappa, law, given, by_voltage)
        steps, size = 0, np.inf
        residual, jacobian = self._residual(z, kappa, law, given, by_voltage)
        while steps < MOST_STEPS and size >= TOLERANCE:
            steps += 1
            change = np.asarray(np.linalg.solve(jacobian, residual), dtype=np.float64)
            share, before = 1.0, float(np.linalg.norm(residual))
            for _ in range(HALVINGS):
                residual, jacobian = self._residual(z - share * change, kappa, law, given, by_voltage)
                if float(np.linalg.norm(residual)) < before or share * self._relative(change, z) < TOLERANCE:
                    break
                share *= 0.5
            z = z - share * change
            size = self._relative(change, z)
        return self._told(z, kappa, steps, size < TOLERANCE)

    def _relative(self, change: FloatArray, z: FloatArray) -> float:
        """A step over the scale of potentials and of the current."""
        scale = max(abs(float(self.response[-1] @ z)), float(np.abs(z[:-1]).max(initial=0.0)), 1e-30)
        rest = abs(float(change[-1])) / max(abs(float(z[-1])), 1e-30)
        return float(np.abs(change[:-1]).max(initial=0.0)) / scale + rest

    def _start(self, kappa: float, law: Polarisation, given: float, by_voltage: bool) -> FloatArray:
        """The solution for the law's tangent at the mean current density."""
        a, area = self.response, 2.0 * float(self.mesh.areas[self.plated].sum())
        current = given
        if by_voltage:  # one mean density: ohmic drop and polarisation add up
            ohms = float(a[-1, -1]) / kappa

            def short(i: float) -> float:
                return float(law.potential(np.array(i / area))) + ohms * i - given

            current = float(brentq(short, 0.0, given / ohms))
        mean = current / area
        slope = float(law.slope(np.array(mean)))
        tangent = Polarisation(0.0, 1.0, slope)
        z = np.zeros(a.shape[1])
        z[-1] = current
        residual, jacobian = self._residual(z, kappa, tangent, current, False)
        z = z - np.linalg.solve(jacobian, residual)
        # the tangent misses a constant: it moves the voltage alone
        z[: len(self.plated)] += kappa * (float(law.potential(np.array(mean))) - slope * mean)
        return z

    def _residual(
        self, z: FloatArray, kappa: float, law: Polarisation, given: float, by_voltage: bool
    ) -> tuple[FloatArray, FloatArray]:
        """What is left of the cathodes' laws, and its derivative by z = (p, mu, current)."""
        n, k = len(self.plated), len(self._plated_points)
        a, spread, gather = self.response, self._to_triangles, self._to_points
        y = a @ z
        m, d = y[:n], y[n : n + k]
        d_on, m_at = spread @ d, gather @ m
        front, back = 0.5 * (m + d_on), 0.5 * (m - d_on)
        up, low = 0.5 * (m_at + d), 0.5 * (m_at - d)
        residual = np.concatenate([
            z[:n] - 0.5 * kappa * (law.potential(front) + law.potential(back)),
            z[n : n + k] - kappa * (law.potential(up) - law.potential(low)),
            [y[-1] - kappa * given if by_voltage else z[-1] - given],
        ])  # fmt: skip
        da_m, da_d = a[:n], a[n : n + k]
        on, g_m = self._spread_and_gathered
        d_front, d_back = 0.5 * (da_m + on), 0.5 * (da_m - on)
        jacobian = np.eye(n + k + 1)
        jacobian[:n] -= 0.5 * kappa * (law.slope(front)[:, None] * d_front + law.slope(back)[:, None] * d_back)
        jumps = law.slope(up)[:, None] * 0.5 * (g_m + da_d) - law.slope(low)[:, None] * 0.5 * (g_m - da_d)
        jacobian[n : n + k] -= kappa * jumps
        if by_voltage:
            jacobian[-1] = a[-1]
        return residual, jacobian

    def _told(self, z: FloatArray, kappa: float, steps: int, converged: bool) -> Currents:
        n, k, full = len(self.plated), len(self._plated_points), self._solved @ z
        m, d_on = full[:n], self._to_triangles @ full[n : n + k]
        sums = np.zeros(len(self.mesh.triangles))
        sums[self.plated] = m
        sums[self.electrodes[self._inner]] = full[n + k + 1 : n + k + 1 + len(self._inner)]
        by_part = np.zeros(len(self.parts))
        np.add.at(by_part, self.mesh.part, sums * self.mesh.areas)
        return Currents(
            0.5 * (m + d_on),
            0.5 * (m - d_on),
            float(full[n + k]) / kappa,
            float(z[-1]),
            by_part,
            steps,
            bool(converged),
        )

    def potential(self, found: Currents, kappa: float, polarisation: Polarisation, points: FloatArray) -> FloatArray:
        """Potential in the bath at points (n, 3) [m], over the cathodes' bus [V], of a solution of this cell."""
        z = self._boundary(found, kappa, polarisation)
        full = self._solved @ z
        n, k, count = len(self.plated), len(self._plated_points), len(self._inner)
        sources = np.zeros(len(self.mesh.triangles))
        sources[self.plated] = full[:n]
        sources[self.electrodes[self._inner]] = full[n + k + 1 : n + k + 1 + count]
        jumps = np.zeros(len(self.mesh.points))
        jumps[self._plated_points] = z[n : n + k]
        jumps[self._shield_points] = full[n + k + 1 + count : -1]
        flips, table, sides = box_of(self.tank)
        out = np.zeros(len(points))
        m = self.mesh
        field_kernel.potentials(
            np.ascontiguousarray(points), m.corners, m.normals, m.areas, m.centres, -sources,
            np.ascontiguousarray(jumps[m.triangles]), flips, table, sides, out,
        )  # fmt: skip
        over: FloatArray = (out + full[-1]) / kappa
        return over

    def _boundary(self, found: Currents, kappa: float, law: Polarisation) -> FloatArray:
        """z = (p, mu, current) of a solution."""
        m = found.front + found.back
        difference = self._to_points @ (found.front - found.back)
        at = self._to_points @ m
        p = 0.5 * kappa * (law.potential(found.front) + law.potential(found.back))
        mu = kappa * (law.potential(0.5 * (at + difference)) - law.potential(0.5 * (at - difference)))
        return np.concatenate([p, mu, [found.current]])
