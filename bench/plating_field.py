"""The plating field: how long a rack takes to prepare, what the reduced model saves, spheres against finite elements.

`plating-panels`: the tank of the chromed example laid out as finely as some 3,600 triangles; matrices and
factorisation in a process of its own, two threads.
`plating-reduced`: 10,000 builds of that example as laid out, making of the reduced model counted, against the full
solution repeated with its factorisation kept; error: the largest of current density in unseen builds, over the largest
current density. `plating-reduced-one`: one build of the reduced model
alone. `plating-spheres`: local current of the inner of two spheres against scikit-fem's quadratic tetrahedra on a mesh
of the same make, the quickest of several of each within the error asked; theirs by conjugate gradients, ten times
quicker here than its direct solver; meshes included, one core.
"""

from __future__ import annotations

import json
import math
import time
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
from skfem import Basis, ElementTetP2, FacetBasis, Functional, MeshTet, asm, condense, solve
from skfem.helpers import dot
from skfem.models.poisson import laplace
from skfem.utils import solver_iter_pcg

from bench.memory import watched
from firstoff import launch
from firstoff.physics.plating import mesh
from firstoff.physics.plating.field import Cell
from firstoff.physics.plating.field_matrices import matrices
from firstoff.physics.plating.field_reduced import Spot, reduce
from firstoff.physics.plating.field_reduced import _weights as weights_of
from firstoff.stations.bumper.finish import tank_field

FloatArray = npt.NDArray[np.float64]
BUILDS, SOLVED = 10_000, 6
INNER, OUTER, ASKED = 0.05, 0.15, 0.02
FINENESS = 3.1  # some 3,600 triangles
NODES = 4


def example() -> tuple[Any, Any]:
    """Bumper and layout of the chromed example."""
    sheet = Path(launch.__file__).parents[1] / "examples" / "chrome_rear_bumper" / "bumper.toml"
    bumper = launch.read_job(sheet).settings.drawing
    return bumper, bumper.plating


def cell_at(fineness: float) -> Cell:
    bumper, drawn = example()
    fine = replace(bumper, plating=replace(drawn, fineness=fineness))
    cell: Cell = tank_field.cell_of(fine, fine.plating, tank_field.layout_surface(fine, 2e-3), {}, workers=2)
    return cell


def prepare() -> None:
    """In a process of its own: prints triangles, seconds of matrices and of the factorisation."""
    cell_at(0.6)  # compiles, or finds what is compiled
    begin = time.perf_counter()
    cell = cell_at(FINENESS)
    made = time.perf_counter()
    assert cell.response.size
    done = time.perf_counter()
    print(json.dumps([len(cell.mesh.triangles), made - begin, done - made]))


def _prepared() -> dict[str, Any]:
    text, peak = watched("from bench.plating_field import prepare; prepare()")
    count, matrix, factor = json.loads(text.splitlines()[-1])
    return {
        "id": "plating-panels", "load": f"{count} triangles, matrices {matrix:.1f} s, factorisation {factor:.1f} s",
        "seconds": matrix + factor, "alternative": "", "alternative_seconds": None, "ratio": None, "error": None,
        "peak_pss_mb": peak,
    }  # fmt: skip


def _builds() -> list[dict[str, Any]]:
    _, drawn = example()
    cell, law = cell_at(1.0), drawn.nickel_law
    sides: tuple[Literal["front", "back"], ...] = ("front", "back")
    spots = tuple(
        Spot(f"{p.name} {k}", p.name, (float(x), float(y), float(z)), 0.05, sides[k % 2])
        for p in cell.parts if p.role == "cathode"
        for k, (x, y, z) in enumerate(p.mesh.points[np.linspace(0, len(p.mesh.points) - 1, 9).astype(int)])
    )  # fmt: skip
    assert cell.response.size
    rng = np.random.default_rng(3)
    current, kappa = rng.uniform(500.0, 1400.0, BUILDS), rng.uniform(7.0, 14.0, BUILDS)
    begin = time.perf_counter()
    model = reduce(cell, law, spots, (450.0, 1500.0), (6.0, 15.0), nodes=NODES)
    made = time.perf_counter()
    found = model.run(current, kappa)
    done = time.perf_counter()
    solved = [cell.solve(float(kappa[k]), law, current=float(current[k])) for k in range(SOLVED)]
    each = (time.perf_counter() - done) / SOLVED
    weights = weights_of(cell, spots)
    full = np.array([weights @ np.concatenate([s.front, s.back]) for s in solved])
    error = float(np.abs(full - found.density[:SOLVED]).max() / np.abs(full).max())
    whole, alone = done - begin, (done - made) / BUILDS
    count = len(cell.mesh.triangles)
    return [
        {"id": "plating-reduced", "load": f"{BUILDS} builds, {len(spots)} places, {count} triangles",
         "seconds": whole, "alternative": "full solution, factorisation kept", "alternative_seconds": each * BUILDS,
         "ratio": each * BUILDS / whole, "error": error, "peak_pss_mb": None},
        {"id": "plating-reduced-one", "load": f"1 build, {len(spots)} places", "seconds": alone,
         "alternative": "full solution, factorisation kept", "alternative_seconds": each, "ratio": each / alone,
         "error": error, "peak_pss_mb": None},
    ]  # fmt: skip


def exact() -> float:
    """Current density of the inner sphere at 1 V and 1 S/m: b/(a (b - a)) (textbook)."""
    return OUTER / (INNER * (OUTER - INNER))


def ball(radius: float, times: int) -> mesh.Mesh:
    """A sphere of flat triangles with the true sphere's area."""
    unit = mesh.sphere(1.0, times)
    return mesh.sphere(radius * math.sqrt(4.0 * math.pi / float(unit.areas.sum())), times)


def error_of(density: FloatArray, areas: FloatArray, corners: npt.NDArray[np.int64]) -> float:
    """Root mean square of the local current density's relative error at the points of the inner sphere: the mean of the
    facets (m, 3) about each, by area."""
    total, weight = np.zeros(corners.max() + 1), np.zeros(corners.max() + 1)
    for k in range(3):
        np.add.at(total, corners[:, k], areas * density)
        np.add.at(weight, corners[:, k], areas)
    at = weight > 0.0
    return math.sqrt(float(weight[at] @ (total[at] / weight[at] / exact() - 1.0) ** 2 / weight.sum()))


def spheres_by_elements_of_the_boundary(inner: int, outer: int) -> tuple[float, float]:
    """Error of the inner sphere's local current density, and seconds."""
    begin = time.perf_counter()
    shape = mesh.join([ball(INNER, inner), ball(OUTER, outer)])
    found = matrices(shape, None)
    held = np.where(shape.part == 0, 0.0, 1.0) * shape.areas
    sources = np.linalg.solve(found.single, held)
    taken = time.perf_counter() - begin
    own = shape.part == 0
    return error_of(-sources[own], shape.areas[own], shape.triangles[own]), taken


def shell(times: int, layers: int) -> MeshTet:
    """Tetrahedra between the spheres: the same triangles, drawn outwards in layers that grow with the radius."""
    face = ball(1.0, times)
    n, radii = len(face.points), INNER * (OUTER / INNER) ** (np.arange(layers + 1) / layers)
    points = np.concatenate([r * face.points for r in radii])
    tets = []
    for triangle in np.sort(face.triangles, axis=1):  # in one order everywhere, so that prisms meet
        a, b, c = (int(v) for v in triangle)
        for k in range(layers):
            low, high = k * n, (k + 1) * n
            tets += [(a + low, b + low, c + low, c + high), (a + low, b + low, b + high, c + high),
                     (a + low, a + high, b + high, c + high)]  # fmt: skip
    return MeshTet(points.T, np.array(tets).T)


def spheres_by_finite_elements(times: int, layers: int) -> tuple[float, float]:
    """The same with quadratic tetrahedra; local current: the mean of the gradient over each facet of the inner
    sphere.
    """
    begin = time.perf_counter()
    grid = shell(times, layers)
    basis = Basis(grid, ElementTetP2())
    radius = np.linalg.norm(grid.p, axis=0)
    radius *= INNER / radius.min()  # the points lie a little outside
    facets = {name: np.flatnonzero(np.isclose(radius[grid.facets], at).all(axis=0))
              for name, at in (("inner", INNER), ("outer", OUTER))}  # fmt: skip
    ends = {name: basis.get_dofs(f).all() for name, f in facets.items()}
    u = np.zeros(basis.N)
    u[ends["outer"]] = 1.0
    held = condense(asm(laplace, basis), x=u, D=np.concatenate(list(ends.values())))
    u = solve(*held, solver=solver_iter_pcg(rtol=1e-6))
    on = FacetBasis(grid, ElementTetP2(), facets=facets["inner"])

    @Functional
    def flux(w: Any) -> Any:
        return -dot(w["u"].grad, w.n)

    @Functional
    def size(w: Any) -> Any:
        return 1.0 + 0.0 * w.x[0]

    areas = size.elemental(on)
    density = flux.elemental(on, u=on.interpolate(u)) / areas
    taken = time.perf_counter() - begin
    return error_of(density, areas, grid.facets[:, facets["inner"]].T), taken


def _first(tries: list[tuple[float, float, str]]) -> tuple[float, float, str]:
    """The quickest that is within the error asked; the most exact one where none is."""
    good = [t for t in tries if t[0] <= ASKED]
    return min(good, key=lambda t: t[1]) if good else min(tries)


def _spheres() -> dict[str, Any]:
    spheres_by_elements_of_the_boundary(1, 1)  # compiled
    spheres_by_finite_elements(1, 1)
    ours = _first([(*min((spheres_by_elements_of_the_boundary(i, o) for _ in range(9)), key=lambda t: t[1]),
                    f"{8 * 4**i + 8 * 4**o} triangles") for i, o in ((2, 1), (2, 2), (3, 1), (3, 2))])  # fmt: skip
    theirs = _first([(*min((spheres_by_finite_elements(t, n) for _ in range(3)), key=lambda t: t[1]),
                      f"{8 * 4**t * 3 * n} tetrahedra")
                     for t, n in ((2, 4), (2, 6), (3, 5), (3, 6), (3, 7), (4, 5), (4, 6))])  # fmt: skip
    return {
        "id": "plating-spheres", "load": f"{ours[2]}; theirs err by {theirs[0]:.1%}", "seconds": ours[1],
        "alternative": f"scikit-fem P2, {theirs[2]}", "alternative_seconds": theirs[1], "ratio": theirs[1] / ours[1],
        "error": ours[0], "peak_pss_mb": None,
    }  # fmt: skip


def rows() -> list[dict[str, Any]]:
    return [_prepared(), *_builds(), _spheres()]
