"""The current over every cell of the bars in their tank, and what moving rack, anodes or shields does to it.

Heavy work, once a layout: kept by a digest of it in this process and in the user's cache. The fine mesh gives the
current of the layout at middling settings; how it varies with current, conductivity and moves comes from a plainer one.
"""

from __future__ import annotations

import hashlib
import itertools
import math
import os
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.jit import source_hash, user_cache
from firstoff.physics.plating.field_reduced import Reduced
from firstoff.physics.plating.polarisation import Polarisation
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish.plating_drawing import Hung, PlatingDrawing
from firstoff.stations.bumper.finish.scanned import scanned
from firstoff.stations.bumper.finish.surface import Surface, surface_of

FloatArray = npt.NDArray[np.float64]
# Ranges of mean current density [A/m2] and of conductivity times the scale of the polarisation [S/m].
RANGES: Final = {"nickel": ((110.0, 1100.0), (4.0, 25.0)), "chrome": ((300.0, 4000.0), (12.0, 110.0))}
MOVES: Final = ("rack_along", "rack_towards", "anode_shift", "shield_shift")
STEP, FARTHEST = 0.025, 0.06  # m: how far each is moved to find out, and how far it is believed
BASKETS: Final = ("basket_left", "basket_middle", "basket_right")
NODES: Final = 4
THIRDS: Final = (-0.7, 0.0, 0.7)  # where the fine mesh is solved, of the range of conductivity over current
PLAIN_FINENESS: Final = 0.5
FAINT: Final = 0.1  # of the mean density: in corners fainter than this, changes are left out


@dataclass(frozen=True)
class Field:
    """Rows of each bar: front of every cell, mean of the back, plating points.

    reduced: for nickel and chrome the current density of every row of all bars, over the rack's current. moves
    (bars, rows, 4, 2): logarithm of the density's factor per metre and per square metre; baskets (bars, rows, 3): the
    share by which it changes when a basket draws nothing. Both are the nickel tank's, and taken for chromium too.
    """

    name: str  # the digest of its layout
    areas: FloatArray  # (cells,), one side
    behind: FloatArray  # (cells,) behind the foremost part of the section
    place: FloatArray  # (cells, 2), along and across
    reduced: dict[str, Reduced]
    moves: FloatArray
    baskets: FloatArray
    bars: int
    panels: int
    conserved: float  # current of the cathodes over the cell's, less one: of the fine mesh

    @property
    def area(self) -> float:
        """Plated area of the rack, both sides [m2]."""
        return 2.0 * self.bars * float(self.areas.sum())

    @property
    def first_point(self) -> int:
        """The row of the first plating point."""
        return len(self.areas) + 1

    @property
    def rows(self) -> int:
        return (len(self.reduced["nickel"].coefficients) - 1) // self.bars

    def of_bar(self, bath: str, bar: int) -> Reduced:
        """The polynomials of one bar's rows, and of the voltage."""
        whole, n = self.reduced[bath], self.rows
        chosen = np.concatenate([whole.coefficients[bar * n : (bar + 1) * n], whole.coefficients[-1:]])
        return replace(whole, spots=(), coefficients=np.ascontiguousarray(chosen))


_KEPT: dict[str, Field] = {}


def field_of(bumper: Bumper, thickness: float, workers: int = 2) -> Field:
    """The field of this layout: from this process, from the user's cache, or computed. ValueError without a tank."""
    drawn: PlatingDrawing = bumper.plating
    name = digest(bumper, thickness)
    if name not in _KEPT:
        file = user_cache() / "firstoff" / "tanks" / f"{name}.npz"
        found = _load(file, name)
        if found is None:
            found = replace(compute(bumper, drawn, thickness, workers), name=name)
            _store(file, found)
        _KEPT[name] = found
    return _KEPT[name]


def kept(name: str) -> Field:
    """The field that a plan names by its digest: `field_of` has computed it in this process."""
    return _KEPT[name]


def digest(bumper: Bumper, thickness: float) -> str:
    """Of everything that the field depends on: drawing, layout, and the sources that compute it."""
    p: PlatingDrawing = bumper.plating
    told = (
        bumper.length, bumper.corners, bumper.arcs, bumper.wrap, bumper.apertures, thickness, p.points, p.tank, p.rack,
        p.hung, _told(p), p.nickel_law, p.chrome_law, p.fineness, source_hash(__name__),
    )  # fmt: skip
    return hashlib.sha256(repr(told).encode()).hexdigest()[:24]


def _told(drawn: PlatingDrawing) -> str:
    """The triangles of the real part, for the digest."""
    if drawn.mesh is None:
        return ""
    return hashlib.sha256(drawn.mesh.points.tobytes() + drawn.mesh.triangles.tobytes()).hexdigest()


def cell_of(bumper: Bumper, drawn: PlatingDrawing, surface: Surface, moved: dict[str, float], workers: int = 1) -> Any:
    """The tank with its sheets as boundary elements; moved: rack, front anodes or shields off their places [m]."""
    from firstoff.physics.plating.field import Cell, Part
    from firstoff.physics.plating.mesh import Mesh
    from firstoff.physics.plating.tank import tank

    assert drawn.tank is not None
    t, rack = drawn.tank, drawn.rack
    parts = []
    for k in range(rack.bars):
        at = np.array([0.5 * t.length + rack.along + moved.get("rack_along", 0.0),
                       0.5 * t.width + rack.away + moved.get("rack_towards", 0.0),
                       t.depth - rack.depth - k * rack.pitch])  # fmt: skip
        mesh = surface.mesh
        parts.append(Part(f"bar {k + 1}", "cathode", Mesh(mesh.points + at, mesh.triangles, mesh.part)))
    for h in drawn.hung:
        off = moved.get("shield_shift", 0.0) if h.role == "shield" else 0.0
        near = moved.get("anode_shift", 0.0) if h.role == "anode" and h.away > rack.away else 0.0
        outward = off * float(np.sign(h.along))
        parts.append(_part(replace(h, along=h.along + outward, away=h.away + near), t.length, t.width, t.depth))
    return Cell(parts, tank(t.length, t.width, t.depth), workers)


def _part(h: Hung, length: float, width: float, depth: float) -> Any:
    from firstoff.physics.plating.field import Part
    from firstoff.physics.plating.mesh import plate

    middle = np.array([0.5 * length + h.along, 0.5 * width + h.away, depth - h.depth])
    wide, deep = np.array([h.width, 0.0, 0.0]), np.array([0.0, 0.0, -h.height])
    if h.lies == "across":
        wide = np.array([0.0, h.width, 0.0])
    if h.lies == "flat":
        deep = np.array([0.0, -h.height, 0.0])
        middle = middle - 0.5 * deep
    longest = 0.25 if h.role == "anode" else 0.12
    n, m = (max(4 if h.role != "anode" else 1, round(float(np.linalg.norm(v)) / longest)) for v in (wide, deep))
    role: Any = h.role
    return Part(h.name, role, plate(middle - 0.5 * wide, wide, deep, n, m, 0.6))


def layout_surface(bumper: Bumper, thickness: float) -> Surface:
    """The fine surface of the bar, as the field is computed on it: drawn, or that of its STL."""
    drawn: PlatingDrawing = bumper.plating
    if drawn.mesh is not None:
        return scanned(bumper, drawn.mesh)
    return surface_of(bumper, thickness, drawn.fineness)


def point_rows(drawn: PlatingDrawing, surface: Surface, fine: Surface) -> FloatArray:
    """(rows, 2 x triangles of `surface`): the front of each cell of `fine`, the mean of its back, then the points."""
    near = surface.means if surface is fine else surface.weights(fine.place) @ surface.means
    none = np.zeros_like(near)
    back = fine.areas @ near / fine.areas.sum()
    rows = [np.hstack([near, none]), np.hstack([none[:1], back[None, :]])]
    for p in drawn.points:
        one = surface.at(p.along, p.rear, p.up) @ surface.means
        rows.append(np.hstack([none[:1], one] if p.back else [one, none[:1]]))
    return np.concatenate(rows)


def compute(bumper: Bumper, drawn: PlatingDrawing, thickness: float, workers: int = 2) -> Field:
    """The field of a layout, without any cache. ValueError when something does not fit the tank."""
    fine = layout_surface(bumper, thickness)
    plain = surface_of(bumper, thickness, PLAIN_FINENESS, plain=True) if drawn.mesh is None else fine
    fine_rows, plain_rows = point_rows(drawn, fine, fine), point_rows(drawn, plain, fine)
    area, bars = 2.0 * drawn.rack.bars * float(fine.areas.sum()), drawn.rack.bars
    changed = [{name: sign * STEP} for name in _moving(drawn) for sign in (1.0, -1.0)]
    with ThreadPoolExecutor(workers) as pool:
        jobs = [(fine, {}), (plain, {}), *((plain, one) for one in changed)]
        cell, rough, *moved = pool.map(lambda job: cell_of(bumper, drawn, job[0], job[1]), jobs)
        dead = [rough.without(name) for name in _baskets(drawn)]
        both, conserved, reduced = ((cell, fine_rows), (rough, plain_rows)), 0.0, {}
        for bath, law in (("nickel", drawn.nickel_law), ("chrome", drawn.chrome_law)):
            reduced[bath], middle = _polynomials(both, law, bars, area, RANGES[bath], pool)
            if not any(h.role == "thief" for h in drawn.hung):
                areas = np.append(fine.areas, fine.areas.sum())
                conserved = max(
                    conserved, abs(float((middle[:-1].reshape(bars, -1)[:, : len(areas)] @ areas).sum()) - 1)
                )
                reduced[bath] = _balanced(reduced[bath], fine, bars)
        current, kappa = (math.sqrt(low * high) for low, high in RANGES["nickel"])
        middling = (drawn.nickel_law, bars, area * current, kappa)
        at = densities(rough, plain_rows, *middling)
        factors = list(pool.map(lambda c: _factors(densities(c, plain_rows, *middling), at, bars),
                                [*moved, *dead]))  # fmt: skip
    slopes = {name: _slopes(*factors[2 * i : 2 * i + 2]) for i, name in enumerate(_moving(drawn))}
    none = np.zeros((bars, len(fine_rows), 2))
    return Field(
        "", fine.areas, fine.behind, fine.place, reduced, np.stack([slopes.get(name, none) for name in MOVES], axis=2),
        np.stack([f - 1.0 for f in factors[len(changed):]] or [none[..., 0]] * len(BASKETS), axis=2), bars,
        len(cell.mesh.triangles), conserved,
    )  # fmt: skip


def _balanced(model: Reduced, surface: Surface, bars: int) -> Reduced:
    """The polynomials with what their bars' sum misses of the current shared out in proportion: charge is kept."""
    areas = np.append(surface.areas, surface.areas.sum())
    rows = (len(model.coefficients) - 1) // bars
    weights = np.zeros(len(model.coefficients))
    for bar in range(bars):
        weights[bar * rows : bar * rows + len(areas)] = areas
    missing = -np.tensordot(weights, model.coefficients, axes=1)
    missing[0, 0] += 1.0
    constant = model.coefficients[:, 0, 0].copy()
    constant[-1] = 0.0  # the voltage
    more = constant[:, None, None] / float(weights @ constant) * missing
    return replace(model, coefficients=np.ascontiguousarray(model.coefficients + more))


def _factors(density: FloatArray, at: FloatArray, bars: int) -> FloatArray:
    """(bars, rows): current densities of a changed layout over those of the drawn one; 1 where they are faint."""
    here, there = at[:-1], density[:-1]
    faint = (here < FAINT * here.mean()) | (there <= 0.0)
    return np.where(faint, 1.0, there / np.where(faint, 1.0, here)).reshape(bars, -1)


def densities(cell: Any, rows: FloatArray, law: Polarisation, bars: int, current: float, kappa: float) -> FloatArray:
    """(bars x rows + 1,): current density of every row of all bars, then the voltage times kappa.

    ValueError when the field has no solution.
    """
    found = cell.solve(kappa, law, current=current)
    if not found.converged:
        raise ValueError(f"no current distribution at {current:.4g} A and {kappa:.4g} S/m")
    owner = cell.mesh.part[cell.plated]
    parts = []
    for k in range(bars):
        mine = owner == k
        parts.append(rows @ np.concatenate([found.front[mine], found.back[mine]]))
    return np.append(np.concatenate(parts), found.voltage * kappa)


def _polynomials(
    meshes: tuple[tuple[Any, FloatArray], tuple[Any, FloatArray]], law: Polarisation, bars: int, area: float,
    ranges: tuple[tuple[float, float], tuple[float, float]], pool: ThreadPoolExecutor,
) -> tuple[Reduced, FloatArray]:  # fmt: skip
    """Chebyshev polynomials for every row, and the rows at the middle of the ranges, both over the current.

    Solutions of the plain mesh at the nodes, times fine over plain: this factor is a parabola in the logarithm of
    conductivity over current, through three solutions, since on a Tafel line the pattern follows from that alone.
    Rows that are faint at the middle are constant there.
    """
    (low, high), conductances = ranges
    currents = (area * low, area * high)
    angles = math.pi * (np.arange(NODES) + 0.5) / NODES
    bounds = [(math.log(a), math.log(b)) for a, b in (currents, conductances)]

    def at(job: tuple[tuple[Any, FloatArray], float, float]) -> FloatArray:
        (cell, rows), x, y = job
        current, kappa = (math.exp(0.5 * (a + b) + 0.5 * (b - a) * z)
                          for (a, b), z in zip(bounds, (x, y), strict=True))  # fmt: skip
        return densities(cell, rows, law, bars, current, kappa) / current

    nodes = list(itertools.product(np.cos(angles), repeat=2))
    jobs = [(mesh, -v, v) for mesh in meshes for v in THIRDS] + [(meshes[1], float(x), float(y)) for x, y in nodes]
    found = np.array(list(pool.map(at, jobs)))
    fine, plain, values = found[:3], found[3:6], found[6:]
    faint = (fine < FAINT * fine[:, :-1].mean()).any(axis=0) | (plain < FAINT * plain[:, :-1].mean()).any(axis=0)
    factor = np.where(faint, 1.0, fine / np.where(faint, 1.0, plain))
    parabola = np.linalg.solve(np.vander(THIRDS, 3), factor)
    along = np.array([0.5 * (y - x) for x, y in nodes])
    values = np.where(faint, fine[1], values * (np.vander(along, 3) @ parabola)).reshape(NODES, NODES, -1)
    basis = np.cos(np.outer(np.arange(NODES), angles)) * (2.0 / NODES)
    basis[0] *= 0.5
    coefficients = np.ascontiguousarray(np.einsum("ax,by,xyo->oab", basis, basis, values))
    return Reduced((), coefficients, currents, conductances, 0.0), fine[1]


def _moving(drawn: PlatingDrawing) -> tuple[str, ...]:
    """What can be moved in this tank."""
    return MOVES if drawn.shielded else MOVES[:-1]


def _slopes(more: FloatArray, less: FloatArray) -> FloatArray:
    """(bars, rows, 2): first and second order of the logarithm of the factor in the move."""
    up, down = np.log(more), np.log(less)
    return np.stack([(up - down) / (2.0 * STEP), (up + down) / (2.0 * STEP**2)], axis=-1)


def _baskets(drawn: PlatingDrawing) -> list[str]:
    """Names of the front baskets at the left end, the middle and the right end of the row."""
    front = sorted((h for h in drawn.hung if h.role == "anode" and h.away > drawn.rack.away), key=lambda h: h.along)
    if len([h for h in drawn.hung if h.role == "anode"]) < 2:
        return []
    return [front[0].name, front[len(front) // 2].name, front[-1].name]


def _store(file: Path, field: Field) -> None:
    """Keep the field for the next run; where the folder cannot be written, it is computed again."""
    arrays: dict[str, Any] = {
        "areas": field.areas, "behind": field.behind, "place": field.place,
        "moves": field.moves, "baskets": field.baskets,
        "numbers": np.array([field.bars, field.panels, field.conserved]),
    }  # fmt: skip
    for bath in RANGES:
        model = field.reduced[bath]
        arrays |= {
            f"{bath}_coefficients": model.coefficients,
            f"{bath}_ranges": np.array([model.currents, model.conductances]),
        }
    try:
        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, name = tempfile.mkstemp(dir=file.parent, suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            np.savez(stream, **arrays)
        Path(name).replace(file)
    except OSError:
        return


def _load(file: Path, name: str) -> Field | None:
    try:
        with np.load(file, allow_pickle=False) as arrays:
            read = {key: arrays[key] for key in arrays.files}
    except (OSError, ValueError, EOFError):
        return None
    try:
        reduced = {}
        for bath in RANGES:
            (i_low, i_high), (k_low, k_high) = read[f"{bath}_ranges"].tolist()
            reduced[bath] = Reduced((), np.ascontiguousarray(read[f"{bath}_coefficients"]), (i_low, i_high),
                                    (k_low, k_high), 0.0)  # fmt: skip
        bars, panels, conserved = read["numbers"].tolist()
        return Field(name, read["areas"], read["behind"], read["place"], reduced, read["moves"], read["baskets"],
                     int(bars), int(panels), conserved)  # fmt: skip
    except KeyError:
        return None
