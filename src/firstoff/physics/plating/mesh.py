"""Triangles on electrodes and shields: open sheets, discs, closed surfaces."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from firstoff.physics.ranges import FloatArray

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Mesh:
    """Flat triangles: points (n_points, 3) [m], triangles (n, 3) anticlockwise seen from the front, part (n,) number of
    the electrode or shield each belongs to."""

    points: FloatArray
    triangles: IntArray
    part: IntArray

    @cached_property
    def corners(self) -> FloatArray:
        """(n, 3, 3) [m]."""
        return np.ascontiguousarray(self.points[self.triangles])

    @cached_property
    def _cross(self) -> FloatArray:
        c = self.corners
        return np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])

    @cached_property
    def areas(self) -> FloatArray:
        """(n,) [m2]."""
        found: FloatArray = 0.5 * np.linalg.norm(self._cross, axis=1)
        return found

    @cached_property
    def normals(self) -> FloatArray:
        """(n, 3), unit, to the front."""
        return np.ascontiguousarray(self._cross / (2.0 * self.areas[:, None]))

    @cached_property
    def centres(self) -> FloatArray:
        """(n, 3) [m]."""
        return np.ascontiguousarray(self.corners.mean(axis=1))

    @cached_property
    def sizes(self) -> FloatArray:
        """Longest edge of each triangle (n,) [m]."""
        c = self.corners
        edges = np.stack([c[:, 1] - c[:, 0], c[:, 2] - c[:, 1], c[:, 0] - c[:, 2]], axis=1)
        longest: FloatArray = np.linalg.norm(edges, axis=2).max(axis=1)
        return longest

    def rim(self, sides: FloatArray | None = None) -> npt.NDArray[np.bool_]:
        """(n_points,): on the free edge of an open sheet.

        An edge that lies in a wall of a tank from 0 to `sides` (3,) [m] is not free: the sheet goes on in its image.
        """
        t = self.triangles
        edges = np.sort(np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]]), axis=1)
        kept, count = np.unique(edges, axis=0, return_counts=True)
        free = kept[count == 1]
        if sides is not None:
            ends = self.points[free]  # (n_edges, 2, 3)
            slack = 1e-9 * float(np.max(sides))
            on_wall = (np.all(np.abs(ends) < slack, axis=1) | np.all(np.abs(ends - sides) < slack, axis=1)).any(axis=1)
            free = free[~on_wall]
        found = np.zeros(len(self.points), dtype=bool)
        found[free.ravel()] = True
        return found


def join(meshes: list[Mesh]) -> Mesh:
    """Meshes side by side; part k is the k-th. Points are not shared between them."""
    points, triangles, parts, start = [], [], [], 0
    for number, mesh in enumerate(meshes):
        points.append(mesh.points)
        triangles.append(mesh.triangles + start)
        parts.append(np.full(len(mesh.triangles), number))
        start += len(mesh.points)
    return Mesh(np.concatenate(points), np.concatenate(triangles), np.concatenate(parts))


def graded(low: float, high: float, n: int, strength: float = 1.0) -> FloatArray:
    """n + 1 places from low to high, nearer together at both ends: cosine spacing at strength 1, even at 0."""
    even = np.linspace(0.0, 1.0, n + 1)
    cosine = 0.5 * (1.0 - np.cos(math.pi * even))
    found: FloatArray = low + (high - low) * ((1.0 - strength) * even + strength * cosine)
    return found


def sheet(grid: FloatArray) -> Mesh:
    """Open sheet from a grid of points (n_u, n_v, 3): two triangles a cell; front = du x dv."""
    nu, nv = grid.shape[:2]
    number = np.arange(nu * nv).reshape(nu, nv)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    even = (np.add.outer(np.arange(nu - 1), np.arange(nv - 1)) % 2 == 0)[..., None]
    first = np.where(even, np.stack([a, b, c], -1), np.stack([a, b, d], -1))
    second = np.where(even, np.stack([a, c, d], -1), np.stack([b, c, d], -1))
    triangles = np.concatenate([first.reshape(-1, 3), second.reshape(-1, 3)])
    return Mesh(grid.reshape(-1, 3).astype(np.float64), triangles, np.zeros(len(triangles), dtype=np.int64))


def plate(corner: FloatArray, u: FloatArray, v: FloatArray, n_u: int, n_v: int, strength: float = 1.0) -> Mesh:
    """Flat rectangle from a corner along the edges u and v (3,) [m]; front u x v; graded towards its edges."""
    s, t = graded(0.0, 1.0, n_u, strength), graded(0.0, 1.0, n_v, strength)
    grid = np.asarray(corner) + s[:, None, None] * np.asarray(u) + t[None, :, None] * np.asarray(v)
    return sheet(grid)


def disc(radius: float, rings: int, sectors: int = 6) -> Mesh:
    """Flat disc about 0, front +z; ring k has sectors k points, rings nearer together at the rim (r = R sin)."""
    points, rows = [np.zeros((1, 3))], [np.array([0])]
    for k in range(1, rings + 1):
        angle = 2.0 * math.pi * np.arange(sectors * k) / (sectors * k)
        r = radius * math.sin(0.5 * math.pi * k / rings)
        points.append(np.stack([r * np.cos(angle), r * np.sin(angle), np.zeros_like(angle)], axis=1))
        rows.append(rows[-1][-1] + 1 + np.arange(sectors * k))
    triangles = []
    for k in range(1, rings + 1):
        inner, outer = rows[k - 1], rows[k]
        for sector in range(sectors):
            for m in range(k):
                o1, o2 = outer[sector * k + m], outer[(sector * k + m + 1) % len(outer)]
                i1 = inner[(sector * (k - 1) + m) % len(inner)]
                triangles.append((i1, o1, o2))
                if m < k - 1:
                    triangles.append((i1, o2, inner[(sector * (k - 1) + m + 1) % len(inner)]))
    return Mesh(np.concatenate(points), np.array(triangles), np.zeros(len(triangles), dtype=np.int64))


def sphere(radius: float, times: int) -> Mesh:
    """Closed sphere about 0, front outward: an octahedron divided `times` over."""
    points = [
        np.array(p, dtype=np.float64) for p in ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1))
    ]
    triangles = [(0, 2, 4), (2, 1, 4), (1, 3, 4), (3, 0, 4), (2, 0, 5), (1, 2, 5), (3, 1, 5), (0, 3, 5)]
    for _ in range(times):
        middle: dict[tuple[int, int], int] = {}

        def between(i: int, j: int, middle: dict[tuple[int, int], int] = middle) -> int:
            key = (min(i, j), max(i, j))
            if key not in middle:
                p = points[i] + points[j]
                points.append(p / np.linalg.norm(p))
                middle[key] = len(points) - 1
            return middle[key]

        finer = []
        for a, b, c in triangles:
            ab, bc, ca = between(a, b), between(b, c), between(c, a)
            finer += [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
        triangles = finer
    return Mesh(radius * np.array(points), np.array(triangles), np.zeros(len(triangles), dtype=np.int64))


def weld(mesh: Mesh, slack: float = 1e-9) -> Mesh:
    """The mesh with points nearer than `slack` [m] made one, as where a sheet is bent round to its own edge."""
    _, first, inverse = np.unique(np.round(mesh.points / slack), axis=0, return_index=True, return_inverse=True)
    return Mesh(mesh.points[first], inverse.reshape(-1)[mesh.triangles], mesh.part)
