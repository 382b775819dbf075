"""Boundary elements against closed forms, finite elements and laws."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.sparse import csr_matrix, diags, kron
from scipy.sparse.linalg import cg
from skfem import Basis, ElementTriP2, MeshTri, asm, condense, solve
from skfem.models.poisson import laplace

from firstoff.physics.plating import cells, mesh, panel
from firstoff.physics.plating.field import Cell, Part
from firstoff.physics.plating.field_matrices import Matrices, matrices
from firstoff.physics.plating.polarisation import Polarisation
from firstoff.physics.plating.tank import periodic_remainder, tank

KAPPA, NONE = 8.0, Polarisation()
BATH = (3.0, 1.0, 1.5)


@cache
def bath() -> object:
    return tank(*BATH)


def order(errors: list[float]) -> float:
    """Order of convergence over the last halving."""
    return math.log2(errors[-2] / errors[-1])


@pytest.mark.parametrize("x", [(0.3, 0.4, 0.5), (0.3, 0.3, -0.2), (2.0, 1.0, 0.3)])
def test_potentials_of_a_triangle_against_quadrature(x: tuple[float, ...]) -> None:
    corners, at = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.2], [0.1, 0.8, 0.0]]), np.array(x)
    normal = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    area = float(np.linalg.norm(normal)) / 2.0
    normal /= 2.0 * area

    def integrand(b: float, a: float, which: int) -> float:
        hats = np.array([1.0 - a - b, a, b])
        away = at - hats @ corners
        r = float(np.linalg.norm(away))
        kernel = 1.0 / r if which == 0 else hats[which - 1] * (normal @ away) / r**3
        return float(kernel) * 2.0 * area / (4.0 * math.pi)

    out = np.zeros(4)
    panel.triangle_potentials(at, corners, normal, area, out)
    wanted = [dblquad(integrand, 0.0, 1.0, 0.0, lambda a: 1.0 - a, args=(k,))[0] for k in range(4)]
    assert out == pytest.approx(wanted, rel=1e-6)


def test_images_make_the_walls_insulate() -> None:
    sides = np.array(BATH)

    def whole(u: np.ndarray) -> float:
        axes = [np.array([float(v)]) for v in u]
        return float(periodic_remainder(axes, sides)[0, 0, 0]) + 1.0 / (4.0 * math.pi * float(np.linalg.norm(u)))

    for wall in range(3):  # even about the wall: no current across it
        u = np.array([0.4, 0.3, 0.5])
        step = np.eye(3)[wall] * 1e-3
        u[wall] = sides[wall]
        assert whole(u + step) == pytest.approx(whole(u - step), abs=1e-9)
    u, h = np.array([0.7, 0.4, 0.6]), 1e-2
    curvature = sum(whole(u + h * e) + whole(u - h * e) - 2.0 * whole(u) for e in np.eye(3)) / h**2
    assert curvature == pytest.approx(1.0 / (8.0 * np.prod(sides)), rel=1e-2)  # -lap P = delta - 1/volume


def sources(found: Matrices) -> np.ndarray:
    """Sources that hold the mesh at potential 1 in an unbounded bath."""
    return np.asarray(np.linalg.solve(found.single, found.mesh.areas))


def test_sphere_converges_to_its_resistance() -> None:
    # 1/(4 pi kappa a) of a conducting sphere (textbook); flat triangles: second order
    errors = []
    for times in (1, 2, 3):
        shape = mesh.sphere(0.05, times)
        conductance = float(sources(matrices(shape, None)) @ shape.areas)
        errors.append(abs(conductance / (4.0 * math.pi * 0.05) - 1.0))
    assert errors[-1] < 0.01 and 1.7 < order(errors) < 2.5


def test_double_layer_of_a_closed_surface_is_its_solid_angle() -> None:
    shape = mesh.sphere(1.0, 2)
    inside = matrices(shape, None).double @ np.ones(len(shape.points)) / shape.areas
    assert inside == pytest.approx(np.full(len(shape.areas), -0.5), abs=2e-3)  # half of it on the surface (Gauss)


def test_disc_has_newman_s_resistance_and_distribution() -> None:
    errors, shape = [], mesh.disc(0.05, 3)
    for rings in (3, 6, 12):
        shape = mesh.disc(0.05, rings)
        found = sources(matrices(shape, None))
        errors.append(
            abs(1.0 / float(found @ shape.areas) / KAPPA / float(cells.disc_resistance(0.05, KAPPA, 2)) - 1.0)
        )
    assert errors[-1] < 2e-3 and order(errors) > 1.5
    r = np.linalg.norm(shape.centres[:, :2], axis=1) / 0.05
    share = found * shape.areas / float(found @ shape.areas)
    for ring in (0.5, 0.8, 0.95):
        # enclosed current: the rings' edges lie on R sin, where whole triangles end
        edge = math.sin(0.5 * math.pi * round(12 * 2.0 / math.pi * math.asin(ring)) / 12)
        assert float(share[r < edge - 0.01].sum()) == pytest.approx(float(cells.disc_enclosed(edge)), abs=0.01)


def test_insulating_disc_in_a_flow_has_lamb_s_dipole() -> None:
    # jump (4/pi) U sqrt(a^2 - r^2), its integral 8/3 a^3 U (Lamb, Hydrodynamics, from memory)
    errors = []
    for rings in (3, 6, 12):
        shape = mesh.disc(1.0, rings)
        found, inner = matrices(shape, None), ~shape.rim()
        hyper = found.hyper[np.ix_(inner, inner)]
        jump = np.linalg.solve(hyper, -found.hats[inner])
        errors.append(abs(float(jump @ found.hats[inner]) / (8.0 / 3.0) - 1.0))
        # sign of the map: every jump of the potential drives current back through the sheet
        assert float(np.linalg.eigvalsh(hyper).max()) < 0.0
    assert errors[-1] < 6e-3 and order(errors) > 1.5
    assert float(jump[0]) == pytest.approx(4.0 / math.pi, rel=0.01)


def plates(n: int) -> Cell:
    across = (np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.5]))
    cathode, anode = (mesh.plate(np.array([x, 0.0, 0.0]), *across, n, n, 0.0) for x in (0.5, 2.0))
    return Cell([Part("part", "cathode", cathode), Part("basket", "anode", anode)], bath())  # type: ignore[arg-type]


@pytest.mark.parametrize("law", [NONE, Polarisation(0.0, 1.0, 2e-2), Polarisation(0.1, 1.0, 1e-3)])
def test_plates_across_the_tank(law: Polarisation) -> None:
    cell, area = plates(6), 1.5
    found = cell.solve(KAPPA, law, current=60.0)
    density = 60.0 / area
    wanted = 1.5 * density / KAPPA + float(law.potential(np.array(density)))  # one dimension, by hand
    assert found.converged
    assert found.voltage == pytest.approx(wanted, rel=3e-3)
    assert found.front == pytest.approx(np.full(len(found.front), density), rel=3e-3)
    assert np.abs(found.back).max() < 3e-3 * density  # no current behind a plate that closes the tank
    by_voltage = cell.solve(KAPPA, law, voltage=found.voltage)
    assert by_voltage.converged and by_voltage.current == pytest.approx(60.0, rel=1e-9)


def ring(radius: float, n: int, height: float) -> mesh.Mesh:
    angle = np.linspace(0.0, 2.0 * math.pi, n + 1)
    rows = [
        [(1.0 + radius * math.cos(a), 1.0 + radius * math.sin(a), z) for z in np.linspace(0.0, height, 1 + n // 8)]
        for a in angle
    ]
    return mesh.weld(mesh.sheet(np.array(rows)))


def test_coaxial_cylinders_converge_to_their_closed_form() -> None:
    law, height = Polarisation(0.0, 1.0, 2e-3), 0.4
    room = tank(2.0, 2.0, height)
    wanted = cells.coaxial_cylinders(0.2, 0.7, height, KAPPA, 2.0, law.resistance)
    errors = []
    for n in (8, 16, 32):
        inner, outer = ring(0.2, n, height), ring(0.7, n, height)
        cell = Cell([Part("rod", "cathode", inner), Part("ring", "anode", outer)], room)
        found = cell.solve(KAPPA, law, voltage=2.0)
        errors.append(abs(found.current / float(wanted.current_linear) - 1.0))
    assert errors[-1] < 2e-3 and math.log2(errors[0] / errors[-1]) / 2.0 > 1.5
    # inside the rod there is no field
    assert np.abs(found.back).max() < 3e-3 * float(wanted.inner_linear)


def upright(x: float, y0: float, y1: float, n: int, height: float = 0.3) -> mesh.Mesh:
    """A sheet over the tank's whole height: a line of a two-dimensional tank."""
    z = np.linspace(0.0, height, 7)
    return mesh.sheet(np.array([[(x, y, h) for h in z] for y in mesh.graded(y0, y1, n)]))


def finite_elements(refine: int) -> float:
    """Resistance x conductivity x height of two lines in a 1.0 x 0.6 m tank, quadratic triangles (scikit-fem)."""
    shape = MeshTri.init_tensor(np.linspace(0.0, 1.0, 21), np.linspace(0.0, 0.6, 13)).refined(refine)
    basis = Basis(shape, ElementTriP2())
    lines = [
        np.flatnonzero(np.isclose(basis.doflocs[0], x) & (basis.doflocs[1] > a - 1e-9) & (basis.doflocs[1] < b + 1e-9))
        for x, a, b in ((0.3, 0.2, 0.45), (0.8, 0.1, 0.5))
    ]
    u = np.zeros(basis.N)
    u[lines[1]] = 1.0
    stiffness = asm(laplace, basis)
    u = solve(*condense(stiffness, x=u, D=np.concatenate(lines)))
    return 1.0 / float(u @ (stiffness @ u))


def test_two_dimensional_tank_against_finite_elements() -> None:
    room = tank(1.0, 0.6, 0.3)
    cell = Cell(
        [Part("k", "cathode", upright(0.3, 0.2, 0.45, 12)), Part("a", "anode", upright(0.8, 0.1, 0.5, 12))], room
    )
    found = cell.solve(KAPPA, NONE, current=1.0)
    coarse, fine = finite_elements(2), finite_elements(3)
    # the line ends' singularities make the finite elements first order: the limit by Richardson
    assert found.voltage * KAPPA * 0.3 == pytest.approx(2.0 * fine - coarse, rel=3e-3)


def test_a_shield_takes_current_off_the_front_and_conserves_it() -> None:
    room = tank(1.0, 0.6, 0.3)
    cathode, anode = Part("k", "cathode", upright(0.3, 0.2, 0.45, 8)), Part("a", "anode", upright(0.8, 0.1, 0.5, 8))
    shield = Part("s", "shield", upright(0.5, 0.2, 0.45, 8))
    law = Polarisation(0.05, 0.5, 1e-4)
    bare, shaded = (Cell(parts, room) for parts in ([cathode, anode], [cathode, anode, shield]))
    free, behind = (cell.solve(KAPPA, law, current=2.0) for cell in (bare, shaded))
    area = bare.mesh.areas[bare.plated]
    assert float(area @ behind.front) < float(area @ free.front)
    assert behind.voltage > free.voltage
    for found in (free, behind):
        assert float(area @ (found.front + found.back)) == pytest.approx(2.0, rel=1e-9)
        assert found.part_currents.sum() == pytest.approx(0.0, abs=1e-9)
    # across a section of the tank between anode and shield, all the current flows (Gauss quadrature of the field)
    nodes, weights = np.polynomial.legendre.leggauss(12)
    step = 1e-3
    places = [(0.3 + 0.3 * v, 0.15 + 0.15 * w) for v in nodes for w in nodes]
    points = np.array([(0.65 + s, y, z) for s in (step, -step) for y, z in places])
    drop = shaded.potential(behind, KAPPA, law, points)
    flux = KAPPA * (drop[: len(places)] - drop[len(places) :]) / (2.0 * step)
    assert float(np.outer(weights, weights).ravel() @ flux) * 0.3 * 0.15 == pytest.approx(2.0, rel=1e-3)


def test_a_sheet_taken_out_is_a_cell_made_without_it() -> None:
    # second route: the cell built anew; operators of what stays do not depend on what goes
    box = tank(0.6, 0.4, 0.3)
    bar = Part("bar", "cathode", upright(0.3, 0.1, 0.3, 4))
    baskets = [Part(f"basket {k}", "anode", upright(0.52, y, y + 0.1, 2)) for k, y in enumerate((0.05, 0.25))]
    less = Cell([baskets[0], bar, baskets[1]], box).without("basket 0")
    anew = Cell([bar, baskets[1]], box)
    law = Polarisation(0.05, 5.0, 0.0)
    one, two = (cell.solve(12.0, law, current=20.0) for cell in (less, anew))
    np.testing.assert_allclose(one.front, two.front, rtol=1e-9)
    np.testing.assert_allclose(one.part_currents, two.part_currents, rtol=1e-9, atol=1e-12)
    with pytest.raises(ValueError):
        less.without("basket 0")


def test_a_thief_robs_the_near_edge() -> None:
    room = tank(1.0, 0.6, 0.3)
    parts = [Part("k", "cathode", upright(0.3, 0.2, 0.45, 10)), Part("a", "anode", upright(0.8, 0.1, 0.5, 10))]
    alone = Cell(parts, room).solve(KAPPA, NONE, current=1.0)
    robbed = Cell([*parts, Part("t", "thief", upright(0.3, 0.15, 0.18, 4))], room).solve(KAPPA, NONE, current=1.0)
    edge = len(alone.front)
    assert robbed.front[:edge].max() < alone.front.max()
    assert robbed.part_currents[0] + robbed.part_currents[2] == pytest.approx(1.0, rel=1e-9)


def test_polarisation_evens_the_current_out() -> None:
    room = tank(1.0, 0.6, 0.3)
    cell = Cell(
        [Part("k", "cathode", upright(0.3, 0.2, 0.45, 10)), Part("a", "anode", upright(0.8, 0.1, 0.5, 10))], room
    )
    spreads = []
    for resistance in (0.0, 1e-3, 1e-2, 1.0):
        found = cell.solve(KAPPA, Polarisation(0.0, 1.0, resistance), current=1.0)
        both = np.concatenate([found.front, found.back])
        spreads.append(float(both.std() / both.mean()))
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[-1] < 0.02  # an endless Wagner number: even on both sides


def finite_differences(n: int) -> float:
    """Resistance x conductivity of two plates in a 1.0 x 0.6 x 0.4 m tank, 5 n x 3 n x 2 n cells of differences."""
    h, shape = 0.2 / n, (5 * n + 1, 3 * n + 1, 2 * n + 1)

    def second(count: int) -> tuple[csr_matrix, csr_matrix]:  # insulating ends: half cells
        ends = np.ones(count)
        ends[[0, -1]] = 0.5
        steps = diags([-np.ones(count - 1), np.full(count, 2.0), -np.ones(count - 1)], [-1, 0, 1]).tolil()
        steps[0, 0] = steps[-1, -1] = 1.0
        return csr_matrix(steps), diags(ends)

    (kx, mx), (ky, my), (kz, mz) = (second(count) for count in shape)
    matrix = h * (kron(kron(kx, my), mz) + kron(kron(mx, ky), mz) + kron(kron(mx, my), kz)).tocsr()
    x, y, z = (np.arange(count) * h for count in shape)

    def plate(at: float, y0: float, y1: float, z0: float, z1: float) -> np.ndarray:
        on = [np.abs(x - at) < 1e-9, (y > y0 - 1e-9) & (y < y1 + 1e-9), (z > z0 - 1e-9) & (z < z1 + 1e-9)]
        return on[0][:, None, None] & on[1][None, :, None] & on[2][None, None, :]

    cathode, anode = (plate(*place).ravel() for place in PLATES)
    u = anode.astype(float)
    free = ~(cathode | anode)
    u[free], told = cg(matrix[free][:, free], -matrix[free] @ u, rtol=1e-8)
    assert told == 0
    return 1.0 / float(u @ (matrix @ u))


PLATES = ((0.3, 0.1, 0.4, 0.1, 0.3), (0.8, 0.2, 0.5, 0.1, 0.3))


def test_three_dimensional_tank_against_finite_differences() -> None:
    sheets = [
        mesh.plate(np.array([x, y0, z0]), np.array([0.0, y1 - y0, 0.0]), np.array([0.0, 0.0, z1 - z0]), 12, 8)
        for x, y0, y1, z0, z1 in PLATES
    ]
    cell = Cell([Part("k", "cathode", sheets[0]), Part("a", "anode", sheets[1])], tank(1.0, 0.6, 0.4))
    found = cell.solve(KAPPA, NONE, current=1.0).voltage * KAPPA
    coarse, fine = finite_differences(8), finite_differences(16)
    # the plates' edges make the differences first order: the limit by Richardson, good to half a per cent
    assert found == pytest.approx(2.0 * fine - coarse, rel=7e-3)
    assert abs(found - fine) < abs(found - coarse)


def test_threads_change_nothing() -> None:
    shape = plates(3).mesh
    one, two = (matrices(shape, bath(), workers) for workers in (1, 2))  # type: ignore[arg-type]
    assert np.array_equal(one.single, two.single) and np.array_equal(one.hyper, two.hyper)


@pytest.mark.parametrize("exchange", [1e-6, 1e-2, 100.0])
@pytest.mark.parametrize("kappa", [0.5, 100.0])
def test_newton_finds_its_way_from_any_law(exchange: float, kappa: float) -> None:
    room = tank(1.0, 0.6, 0.3)
    cell = Cell([Part("k", "cathode", upright(0.3, 0.2, 0.45, 4)), Part("a", "anode", upright(0.8, 0.1, 0.5, 4))], room)
    for current in (0.01, 100.0):
        for tafel in (0.02, 0.3):
            law = Polarisation(tafel, exchange, 0.0)
            by_current = cell.solve(kappa, law, current=current)
            by_voltage = cell.solve(kappa, law, voltage=by_current.voltage)
            assert by_current.converged and by_voltage.converged
            assert by_voltage.current == pytest.approx(current, rel=1e-6)


def test_what_cannot_be_solved_is_refused() -> None:
    room = tank(1.0, 0.6, 0.3)
    line = upright(0.3, 0.2, 0.45, 2)
    with pytest.raises(ValueError, match="cathode and an anode"):
        Cell([Part("k", "cathode", line)], room)
    with pytest.raises(ValueError, match="outside the tank"):
        Cell([Part("k", "cathode", line), Part("a", "anode", upright(1.2, 0.2, 0.45, 2))], room)
    cell = Cell([Part("k", "cathode", line), Part("a", "anode", upright(0.8, 0.2, 0.45, 2))], room)
    with pytest.raises(ValueError, match="either the current or the voltage"):
        cell.solve(KAPPA, NONE)
    with pytest.raises(ValueError, match="conductivity"):
        cell.solve(0.0, NONE, current=1.0)
