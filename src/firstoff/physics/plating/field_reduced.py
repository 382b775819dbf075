"""A cell's currents for many builds: Chebyshev polynomials through a few solutions of its field."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from firstoff.physics.jit import njit
from firstoff.physics.plating.field import Cell
from firstoff.physics.plating.polarisation import Polarisation
from firstoff.physics.ranges import FloatArray, Numbers, positive
from firstoff.physics.status import OK, OUT_OF_RANGE

SLACK: Final = 1e-9


@dataclass(frozen=True)
class Spot:
    """A place where thickness is measured: all triangles of a plated part within `radius` [m] of `point` (3,) [m] on
    one side of the sheet, or the nearest one when there is none."""

    name: str
    part: str
    point: tuple[float, float, float]
    radius: float
    side: Literal["front", "back"] = "front"


@dataclass(frozen=True)
class Reduced:
    """Polynomials of current density over cell current [1/m2] at the spots, and of voltage x conductivity over current
    [1/m], in ln(current) and ln(conductivity x scale of the polarisation).

    coefficients (n_spots + 1, n, n); ranges of the two; error: the largest seen between the nodes, over the largest
    current density of the spots.
    """

    spots: tuple[Spot, ...]
    coefficients: FloatArray
    currents: tuple[float, float]
    conductances: tuple[float, float]
    error: float

    def run(self, current: Numbers, conductivity: Numbers, scale: Numbers = 1.0) -> Builds:
        """Current densities of builds.

        current [A] (n,), conductivity [S/m] (n,), scale of the polarisation against the law the model was made with
        (n,), all > 0 (single numbers go with any). Outside the ranges the nearest value inside is taken, scaled by the
        build's own current, and the status says so.
        """
        named = {"current": current, "conductivity": conductivity, "scale": scale}
        i, kappa, f = np.broadcast_arrays(*(np.atleast_1d(positive(what, value)) for what, value in named.items()))
        out, status = np.empty((i.size, len(self.coefficients))), np.empty(i.size, dtype=np.int64)
        bounds = np.array([math.log(v) for v in (*self.currents, *self.conductances)])
        _evaluate(
            np.ascontiguousarray(np.log(i)),
            np.ascontiguousarray(np.log(kappa * f)),
            bounds,
            self.coefficients,
            out,
            status,
        )
        out *= i[:, None]
        return Builds(out[:, :-1], out[:, -1] / kappa, status)


@dataclass(frozen=True)
class Builds:
    """Current density at each spot (n, n_spots) [A/m2], voltage of the bath with polarisation (n,) [V], status (n,)."""

    density: FloatArray
    voltage: FloatArray
    status: npt.NDArray[np.int64]


@njit("void(f8[::1], f8[::1], f8[::1], f8[:, :, ::1], f8[:, ::1], i8[::1])")
def _evaluate(
    first: FloatArray, second: FloatArray, bounds: FloatArray, coefficients: FloatArray, out: FloatArray,
    status: npt.NDArray[np.int64],
) -> None:  # fmt: skip
    """Sum of coefficients T_a(x) T_b(y), x and y from the bounds to -1..1, kept inside them."""
    n = coefficients.shape[1]
    t, s = np.empty(n), np.empty(n)
    for b in range(first.size):
        x = (2.0 * first[b] - bounds[0] - bounds[1]) / (bounds[1] - bounds[0])
        y = (2.0 * second[b] - bounds[2] - bounds[3]) / (bounds[3] - bounds[2])
        status[b] = OK if abs(x) <= 1.0 + SLACK and abs(y) <= 1.0 + SLACK else OUT_OF_RANGE
        x, y = min(max(x, -1.0), 1.0), min(max(y, -1.0), 1.0)
        t[0], s[0], t[1], s[1] = 1.0, 1.0, x, y
        for k in range(2, n):
            t[k], s[k] = 2.0 * x * t[k - 1] - t[k - 2], 2.0 * y * s[k - 1] - s[k - 2]
        for o in range(coefficients.shape[0]):
            total = 0.0
            for k in range(n):
                part = 0.0
                for m in range(n):
                    part += coefficients[o, k, m] * s[m]
                total += part * t[k]
            out[b, o] = total


def _weights(cell: Cell, spots: tuple[Spot, ...]) -> FloatArray:
    """(n_spots, 2 n_plated): means over the spots of front, then back densities."""
    names = [part.name for part in cell.parts]
    plated, count = cell.plated, len(cell.plated)
    centres, areas, owner = cell.mesh.centres[plated], cell.mesh.areas[plated], cell.mesh.part[plated]
    found = np.zeros((len(spots), 2 * count))
    for row, spot in enumerate(spots):
        if spot.part not in names or not np.any(owner == names.index(spot.part)):
            raise ValueError(f"spot {spot.name!r} lies on no plated part {spot.part!r}")
        away = np.linalg.norm(centres - np.array(spot.point), axis=1)
        away[owner != names.index(spot.part)] = np.inf
        inside = away <= float(positive("radius of a spot", spot.radius))
        if not inside.any():
            inside = away == away.min()
        start = 0 if spot.side == "front" else count
        found[row, start : start + count] = np.where(inside, areas, 0.0) / areas[inside].sum()
    return found


def reduce(
    cell: Cell,
    law: Polarisation,
    spots: tuple[Spot, ...],
    currents: tuple[float, float],
    conductances: tuple[float, float],
    nodes: int = 5,
) -> Reduced:
    """The cell at some spots, for currents [A] and conductivities x scale of the polarisation [S/m] in their ranges.

    nodes^2 solutions of the field at Chebyshev points, and (nodes - 1)^2 between them that give the error. The current
    densities follow from the current and from kappa U alone, so that conductivity and a common factor of the
    polarisation are one variable. nodes 3 to 9. ValueError out of range, or when a solution does not converge.
    """
    if not 3 <= nodes <= 9:
        raise ValueError(f"nodes must be 3 to 9, not {nodes}")
    for what, (low, high) in (("currents", currents), ("conductivities", conductances)):
        if not 0.0 < low < high:
            raise ValueError(f"the range of {what} must rise and lie above 0")
    weights = _weights(cell, spots)
    angles = math.pi * (np.arange(nodes) + 0.5) / nodes
    points = np.cos(angles)
    bounds = [(math.log(low), math.log(high)) for low, high in (currents, conductances)]

    def place(x: float, which: int) -> float:
        low, high = bounds[which]
        return math.exp(0.5 * (low + high) + 0.5 * (high - low) * x)

    def at(x: float, y: float) -> FloatArray:
        current, kappa = place(x, 0), place(y, 1)
        found = cell.solve(kappa, law, current=current)
        if not found.converged:
            raise ValueError(f"no solution at {current:.4g} A and {kappa:.4g} S/m")
        both = np.concatenate([found.front, found.back])
        return np.append(weights @ both, found.voltage * kappa) / current

    values = np.array([[at(x, y) for y in points] for x in points])
    basis = np.cos(np.outer(np.arange(nodes), angles)) * (2.0 / nodes)
    basis[0] *= 0.5
    coefficients = np.ascontiguousarray(np.einsum("ax,by,xyo->oab", basis, basis, values))
    model = Reduced(spots, coefficients, currents, conductances, 0.0)
    worst, largest = 0.0, float(np.abs(values[..., :-1]).max())
    for x in np.cos(math.pi * np.arange(1, nodes) / nodes):
        for y in np.cos(math.pi * np.arange(1, nodes) / nodes):
            current, kappa = place(float(x), 0), place(float(y), 1)
            near = model.run(current, kappa).density[0] / current
            worst = max(worst, float(np.abs(near - at(float(x), float(y))[:-1]).max()) / largest)
    return Reduced(spots, coefficients, currents, conductances, worst)
