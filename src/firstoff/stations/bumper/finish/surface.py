"""The bar's surface as one open sheet of triangles: the outline of its section carried along its plan curve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.forming.section import arc_points
from firstoff.physics.impact.mesh import plan_curve
from firstoff.physics.plating.mesh import Mesh, sheet
from firstoff.stations.bumper.drawing import Bumper

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
ALONG, ACROSS = 0.17, 0.075  # m, longest cells at fineness 1
EDGE = 0.012  # m, cells along a free edge, where the current crowds
HOLE = 0.04  # m, least side of an aperture that is cut out of the surface
TRIMMED: Final = 0.7  # of the wrap's radius: how deep the walls are at the wrapped ends


@dataclass(frozen=True)
class Surface:
    """Cells of one bar; x along, y forward from the middle of the face, z up [m].

    A cell is two triangles of a drawn bar and one of a triangulated part; its front is the outer side.
    """

    mesh: Mesh
    cell: IntArray  # (n_triangles,) the cell of each triangle
    place: FloatArray  # (n_cells, 2) along the bar and across its outline [m]; across from the upper edge
    behind: FloatArray  # (n_cells,) how far behind the foremost part of the section [m]
    outline: FloatArray  # (k, 2) the section, rear and up [m]; of a triangulated part empty

    @cached_property
    def areas(self) -> FloatArray:
        """(n_cells,) [m2], one side."""
        return np.bincount(self.cell, self.mesh.areas, minlength=len(self.place)).astype(np.float64)

    @cached_property
    def means(self) -> FloatArray:
        """(n_cells, n_triangles): from triangles to the means of their cells."""
        found = np.zeros((len(self.place), len(self.cell)))
        found[self.cell, np.arange(len(self.cell))] = self.mesh.areas
        return found / self.areas[:, None]

    def across(self, rear: float, up: float) -> tuple[float, float]:
        """The place on the outline nearest to a point of the section, from its upper edge, and how far it is off."""
        start, step = self.outline[:-1], np.diff(self.outline, axis=0)
        length = np.hypot(*step.T)
        share = np.clip((((np.array([rear, up]) - start) * step).sum(axis=1)) / length**2, 0.0, 1.0)
        off = np.hypot(*(start + share[:, None] * step - np.array([rear, up])).T)
        best = int(np.argmin(off))
        return float(length[:best].sum() + share[best] * length[best]), float(off[best])

    def at(self, along: float, rear: float, up: float) -> FloatArray:
        """(1, n_cells): the value at a point of the drawing."""
        return self.weights(np.array([[along, self.across(rear, up)[0]]]))

    def weights(self, places: FloatArray) -> FloatArray:
        """(m, n_cells): the value at places (m, 2), linear along and across between the middles of the cells."""
        found = np.zeros((len(places), len(self.place)))
        s, t = (np.unique(np.round(self.place[:, k], 9)) for k in range(2))
        index = {(round(float(a), 9), round(float(b), 9)): i for i, (a, b) in enumerate(self.place)}
        for row, (along, across) in enumerate(places):
            for a, wa in _between(s, float(along)):
                for b, wb in _between(t, float(across)):
                    cell = index.get((a, b))
                    if cell is not None:
                        found[row, cell] += wa * wb
            if found[row].sum() < 1e-6:  # in a hole
                found[row, int(np.argmin(np.hypot(*(self.place - places[row]).T)))] = 1.0
        return np.asarray(found / found.sum(axis=1, keepdims=True))


def _between(grid: FloatArray, at: float) -> list[tuple[float, float]]:
    """The two neighbours on a grid and their weights; beyond it the last one."""
    i = int(np.searchsorted(grid, at))
    if i == 0 or i == len(grid):
        return [(float(grid[min(i, len(grid) - 1)]), 1.0)]
    share = (at - grid[i - 1]) / (grid[i] - grid[i - 1])
    return [(float(grid[i - 1]), 1.0 - float(share)), (float(grid[i]), float(share))]


def reach(bumper: Bumper) -> float:
    """From the middle of the bar to its end, along the face."""
    wrap = bumper.wrap
    return 0.5 * bumper.length + (wrap.radius * wrap.angle + wrap.length if wrap is not None else 0.0)


def surface_of(bumper: Bumper, thickness: float, fineness: float = 1.0, plain: bool = False) -> Surface:
    """The surface at the middle of the sheet; edge radii are those of the section's bends. fineness: cells are so
    many times smaller each way. Apertures with both sides of `HOLE` or more are cut out, smaller ones are plated over.
    plain: without apertures and without finer edges, for how a change moves the current.
    """
    holes = [a for a in bumper.apertures if min(a.width, a.height) >= HOLE and not plain]
    outline = _outline(bumper, thickness, fineness, holes, 0.0 if plain else EDGE)
    along = _stations(bumper, fineness, holes, 0.0 if plain else EDGE)
    across = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(outline, axis=0).T))])
    grid = _swept(bumper, along, outline)
    s, t = 0.5 * (along[1:] + along[:-1]), 0.5 * (across[1:] + across[:-1])
    middle = 0.5 * (outline[1:] + outline[:-1])
    kept = np.ones((len(s), len(t)), dtype=bool)
    face = np.isin(np.arange(len(t)), _on_face(bumper, middle))
    for hole in holes:
        centres = (hole.along,) if hole.along == 0.0 else (hole.along, -hole.along)
        inside = np.any([np.abs(s - c) < 0.5 * hole.width for c in centres], axis=0)
        kept &= ~(inside[:, None] & (np.abs(middle[:, 1] - hole.y) < 0.5 * hole.height) & face)
    whole = sheet(grid)
    number = np.full(kept.size, -1)
    number[kept.ravel()] = np.arange(int(kept.sum()))
    cell = np.tile(number, 2)  # `sheet` lists the first triangles of all cells, then the second
    mesh = _trimmed(Mesh(whole.points, whole.triangles[cell >= 0], np.zeros(int((cell >= 0).sum()), dtype=np.int64)))
    place = np.stack(np.meshgrid(s, t, indexing="ij"), axis=-1)[kept]
    behind = np.broadcast_to(middle[:, 0] - outline[:, 0].min(), kept.shape)[kept]
    return Surface(mesh, cell[cell >= 0], place, behind, outline)


def _trimmed(mesh: Mesh) -> Mesh:
    """The mesh without points that no triangle has."""
    used, triangles = np.unique(mesh.triangles, return_inverse=True)
    return Mesh(mesh.points[used], triangles.reshape(mesh.triangles.shape), mesh.part)


def _on_face(bumper: Bumper, middle: FloatArray) -> IntArray:
    """Cells of the outline between the draw corners."""
    first, last = bumper.drawn
    top, bottom = bumper.xy[first + 1], bumper.xy[last + 1]
    up, down = (int(np.argmin(np.hypot(*(middle - corner).T))) for corner in (top, bottom))
    return np.arange(up, down + 1)


def _outline(bumper: Bumper, thickness: float, fineness: float, holes: Sequence[object], rim: float) -> FloatArray:
    """Nodes of the section: bends in two chords, flats in pieces, the free edges in a short one more."""
    points: list[FloatArray] = []
    start = bumper.xy[0]
    heights = [y for h in bumper.apertures if h in holes for y in (h.y - 0.5 * h.height, h.y + 0.5 * h.height)]
    for i in range(len(bumper.inner) + 1):
        if i < len(bumper.inner):
            into, out = (np.array([math.cos(h), math.sin(h)]) for h in bumper.headings[i : i + 2])
            bend = arc_points(bumper.xy[i + 1], into, out, bumper.inner[i].radius + 0.5 * thickness, 2)
            end = bend[0]
        else:
            bend, end = np.empty((0, 2)), bumper.xy[-1]
        marks = [(y - start[1]) / (end[1] - start[1]) for y in heights] if abs(end[1] - start[1]) > 0.05 else []
        edge = (i == 0) - (i == len(bumper.inner))
        points.append(_flat(start, end, ACROSS / fineness, [m for m in marks if 0.02 < m < 0.98], edge * rim))
        points.append(bend[:-1])
        start = bend[-1] if len(bend) else end
    return np.concatenate([*points, bumper.xy[-1:]])


def _flat(start: FloatArray, end: FloatArray, longest: float, marks: Sequence[float], rim: float) -> FloatArray:
    """Points of a straight piece without its end; rim: length of the cell at a free start, negative at a free end."""
    length = float(np.hypot(*(end - start)))
    places = sorted({0.0, 1.0, *marks})
    if rim and length > 2.0 * abs(rim):
        places = sorted({*places, rim / length if rim > 0.0 else 1.0 + rim / length})
    shares = np.concatenate([
        np.linspace(a, b, max(1, round((b - a) * length / longest + 0.2)) + 1)[:-1]
        for a, b in zip(places[:-1], places[1:], strict=True)
    ])  # fmt: skip
    return np.asarray(start + shares[:, None] * (end - start))


def _stations(bumper: Bumper, fineness: float, holes: Sequence[object], rim: float) -> FloatArray:
    """Distances of the cells' borders along the bar, from end to end."""
    half, end = 0.5 * bumper.length, reach(bumper)
    marks = {0.0, half, end, end - 2.0 * rim}
    if bumper.wrap is not None:
        marks |= {half + bumper.wrap.radius * bumper.wrap.angle}
    for h in bumper.apertures:
        if h in holes:
            marks |= {abs(h.along - 0.5 * h.width), h.along + 0.5 * h.width}
    close: list[float] = []
    for m in sorted(m for m in marks if 0.0 <= m <= end):
        if not close or m - close[-1] > 0.5 * EDGE:
            close.append(m)
    parts = [np.linspace(a, b, max(1, math.ceil((b - a) * fineness / ALONG - 0.3)) + 1)[1:]
             for a, b in zip(close[:-1], close[1:], strict=True)]  # fmt: skip
    right = np.concatenate(parts)
    return np.concatenate([-right[::-1], [0.0], right])


def _swept(bumper: Bumper, along: FloatArray, outline: FloatArray) -> FloatArray:
    """(n_along, n_across, 3): the outline set square on the plan curve; its walls trimmed at the wrapped ends."""
    wrap = (bumper.wrap.radius, bumper.wrap.angle, bumper.wrap.length) if bumper.wrap else None
    arcs = np.array([[a.length, a.radius] for a in bumper.arcs])
    at = plan_curve(arcs, along, wrap)
    ahead = plan_curve(arcs, along + 1e-5, wrap) - plan_curve(arcs, along - 1e-5, wrap)
    tangent = ahead / np.hypot(*ahead.T)[:, None]
    rear = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    depth = outline[:, 0] - outline[:, 0].min()
    kept = min(1.0, TRIMMED * wrap[0] / max(float(depth.max()), 1e-9)) if wrap else 1.0
    shrunk = np.where(np.abs(along) > 0.5 * bumper.length + 1e-9, kept, 1.0)
    x = at[:, None, :] + (shrunk[:, None] * depth)[:, :, None] * rear[:, None, :]
    up = np.broadcast_to(outline[:, 1], x.shape[:2])
    return np.stack([x[:, :, 0], -x[:, :, 1], up], axis=2)
