"""The surface of a bar from a triangulated STL of the real part, in place of the one its sheet draws."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.impact.mesh import plan_curve
from firstoff.physics.plating.mesh import Mesh, weld
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish.surface import Surface

FloatArray = npt.NDArray[np.float64]
MOST: Final = 2400  # triangles of one bar; more would take minutes and gigabytes
NEAR: Final = 0.06  # m along the bar, within which the foremost cell is the face
_BINARY: Final = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])


@dataclass(frozen=True)
class Scanned(Surface):
    """One cell a triangle; points of the drawing are found on it by their place in space."""

    bumper: Bumper

    def at(self, along: float, rear: float, up: float) -> FloatArray:
        """(1, n_cells): linear in the nearest triangle between its corners, each the mean of its triangles by area."""
        place, mesh = position(self.bumper, along, rear, up), self.mesh
        a, b, c = (mesh.corners[:, k] for k in range(3))
        doubled = 2.0 * mesh.areas
        parts = [np.einsum("ij,ij->i", mesh.normals, np.cross(q - p, place - p)) / doubled for p, q in ((b, c), (c, a))]
        shares = np.clip(np.stack([*parts, 1.0 - parts[0] - parts[1]], axis=1), 0.0, 1.0)
        shares /= shares.sum(axis=1, keepdims=True)
        near = np.linalg.norm(np.einsum("ik,ikj->ij", shares, mesh.corners) - place, axis=1)
        best = int(np.argmin(near))
        found = np.zeros((1, len(near)))
        for share, corner in zip(shares[best], mesh.triangles[best], strict=True):
            around = np.flatnonzero((mesh.triangles == corner).any(axis=1))
            found[0, around] += share * mesh.areas[around] / mesh.areas[around].sum()
        return found


def position(bumper: Bumper, along: float, rear: float, up: float) -> FloatArray:
    """A point of the drawing in the bar's frame: x along, y forward, z up, 0 at the middle of the face (3,) [m]."""
    wrap = (bumper.wrap.radius, bumper.wrap.angle, bumper.wrap.length) if bumper.wrap else None
    arcs = np.array([[a.length, a.radius] for a in bumper.arcs])
    place = plan_curve(arcs, np.array([along, along - 1e-5, along + 1e-5]), wrap)
    tangent = (place[2] - place[1]) / np.hypot(*(place[2] - place[1]))
    x, y = place[0] + (rear - bumper.xy[:, 0].min()) * np.array([-tangent[1], tangent[0]])
    return np.array([x, -y, up])


def read_stl(file: Path) -> Mesh:
    """Triangles of an STL file, binary or text, in millimetres; corners within 1 um are one point.

    ValueError, in words for the engineer, when it holds none, too many, or triangles without area.
    """
    data = file.read_bytes()
    count = int.from_bytes(data[80:84], "little") if len(data) >= 84 else -1
    if len(data) == 84 + count * _BINARY.itemsize:
        corners = np.frombuffer(data, _BINARY, count, 84)["corners"].astype(np.float64)
    else:
        corners = _from_text(data)
    if not len(corners):
        raise ValueError("holds no triangles")
    if len(corners) > MOST:
        raise ValueError(f"holds {len(corners)} triangles, more than {MOST}: thin it out, edges last")
    if not np.isfinite(corners).all():
        raise ValueError("holds corners that are no numbers")
    triangles = np.arange(3 * len(corners)).reshape(-1, 3)
    mesh = weld(Mesh(1e-3 * corners.reshape(-1, 3), triangles, np.zeros(len(corners), dtype=np.int64)), 1e-6)
    size = float(np.linalg.norm(mesh.points.max(axis=0) - mesh.points.min(axis=0)))
    if float(mesh.areas.min()) < 1e-10 * size**2:
        raise ValueError("holds triangles without area")
    return mesh


def _from_text(data: bytes) -> FloatArray:
    """(n, 3, 3) from lines `vertex x y z`."""
    try:
        rows = [line.split()[1:4] for line in data.decode("ascii").splitlines() if line.strip().startswith("vertex")]
        return np.array(rows, dtype=np.float64).reshape(-1, 3, 3)
    except ValueError:
        raise ValueError("is neither a binary nor a text STL") from None


def scanned(bumper: Bumper, mesh: Mesh) -> Scanned:
    """The surface of a triangulated part, its outer side to the front: turned over where most of it faces the rear."""
    if float(mesh.areas @ mesh.normals[:, 1]) < 0.0:
        mesh = Mesh(mesh.points, np.ascontiguousarray(mesh.triangles[:, ::-1]), mesh.part)
    centres = mesh.centres
    close = np.abs(centres[:, None, 0] - centres[None, :, 0]) < NEAR
    foremost = np.where(close, centres[None, :, 1], -np.inf).max(axis=1)
    return Scanned(
        mesh, np.arange(len(centres)), centres[:, [0, 2]], foremost - centres[:, 1], np.empty((0, 2)), bumper
    )
