"""Properties of a pressed section: thin wall along a polyline with radii."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Centreline:
    """The middle of the sheet as short straight pieces."""

    ends: FloatArray  # (m + 1, 2) x, y [m]

    @property
    def lengths(self) -> FloatArray:
        return np.asarray(np.hypot(*np.diff(self.ends, axis=0).T))


@dataclass(frozen=True)
class SectionProperties:
    """Of the whole section, SI, about axes through the centroid parallel to x and y."""

    area: float
    x: float  # centroid
    y: float
    i_xx: float  # of y2 dA: bending up and down
    i_yy: float  # of x2 dA: bending in plan
    i_xy: float
    torsion: float  # Saint-Venant, open section
    shear_centre: tuple[float, float]
    modulus_plan: float  # least elastic section modulus for bending in plan
    plastic_plan: float  # plastic section modulus for bending in plan
    plastic_axis: float  # x of the axis that halves the area


def fibres(line: Centreline, thickness: float) -> tuple[FloatArray, FloatArray]:
    """Middles (m, 2) and areas (m,) of the pieces."""
    return 0.5 * (line.ends[1:] + line.ends[:-1]), line.lengths * thickness


def properties(line: Centreline, thickness: float) -> SectionProperties:
    """Area, centroid, second moments, torsion, shear centre and section moduli of an open section of one thickness.

    Each piece is a rectangle of length l and thickness t: I about its own middle l^3 t/12 along and l t^3/12 across.
    J = sum l t^3 / 3. Shear centre by the sectorial coordinate about the centroid: x_s = (I_xy J_xw - I_yy J_yw)/D and
    so on. The least modulus takes the outermost fibre of the rectangles.

    line: pieces of the middle of the sheet; thickness t [m] > 0. Pieces meet at their ends: at sharp corners the
    outer triangle is left out (under t/l of the area). Source: thin-walled beams; textbook (Vlasov).
    """
    middle, area = fibres(line, thickness)
    total = float(area.sum())
    x, y = (float(area @ middle[:, i]) / total for i in (0, 1))
    step = np.diff(line.ends, axis=0)
    along = step**2 * area[:, None] / 12.0
    across = (step[:, ::-1] / line.lengths[:, None]) ** 2 * (thickness**2 / 12.0) * area[:, None]
    dx, dy = middle[:, 0] - x, middle[:, 1] - y
    i_yy = float(area @ dx**2 + (along[:, 0] + across[:, 0]).sum())
    i_xx = float(area @ dy**2 + (along[:, 1] + across[:, 1]).sum())
    own = step[:, 0] * step[:, 1] / 12.0 * area * (1.0 - (thickness / line.lengths) ** 2)
    i_xy = float(area @ (dx * dy) + own.sum())
    axis, plastic = _plastic(line, area)
    half = 0.5 * thickness * np.abs(step[:, 1]) / line.lengths
    outer = np.maximum(np.abs(line.ends[1:, 0] - x), np.abs(line.ends[:-1, 0] - x)) + half
    return SectionProperties(
        total, x, y, i_xx, i_yy, i_xy, float(line.lengths.sum()) * thickness**3 / 3.0,
        _shear_centre(line, thickness, x, y, i_xx, i_yy, i_xy), i_yy / float(outer.max()), plastic, axis,
    )  # fmt: skip


def _shear_centre(
    line: Centreline, thickness: float, x: float, y: float, i_xx: float, i_yy: float, i_xy: float
) -> tuple[float, float]:
    """By the sectorial coordinate, linear along each piece, with the centroid as its pole."""
    e = line.ends - np.array([x, y])
    sector = np.concatenate([[0.0], np.cumsum(e[:-1, 0] * e[1:, 1] - e[1:, 0] * e[:-1, 1])])
    weight = line.lengths * thickness / 6.0

    def product(values: FloatArray) -> float:
        """Integral over the section of the sectorial coordinate times a linear one."""
        a, b, c, d = sector[:-1], sector[1:], values[:-1], values[1:]
        return float(weight @ (2.0 * a * c + 2.0 * b * d + a * d + b * c))

    mean = float(weight @ (3.0 * (sector[:-1] + sector[1:]))) / float(6.0 * weight.sum())
    sector = sector - mean
    by_x, by_y = product(e[:, 0]), product(e[:, 1])
    det = i_xx * i_yy - i_xy**2
    return x + (by_y * i_yy - by_x * i_xy) / det, y - (by_x * i_xx - by_y * i_xy) / det


def _plastic(line: Centreline, area: FloatArray) -> tuple[float, float]:
    """x that halves the area, and the integral of |x - x0| over it; rectangles across the axis counted by their width.

    A piece along y has the sheet's thickness in x; it is spread over it, so that the axis may lie within the sheet.
    """
    step = np.diff(line.ends, axis=0)
    thickness = float(area[0] / line.lengths[0])
    half = 0.5 * (np.abs(step[:, 0]) + thickness * np.abs(step[:, 1]) / line.lengths)
    at = 0.5 * (line.ends[1:, 0] + line.ends[:-1, 0])
    low, high = float((at - half).min()), float((at + half).max())
    for _ in range(80):
        middle = 0.5 * (low + high)
        below = float(area @ np.clip((middle - at + half) / (2.0 * half), 0.0, 1.0))
        low, high = (middle, high) if below < 0.5 * float(area.sum()) else (low, middle)
    axis = 0.5 * (low + high)
    left = np.clip((axis - at + half) / (2.0 * half), 0.0, 1.0)
    inside = half * (left**2 + (1.0 - left) ** 2)  # mean of |x - x0| over a piece that the axis cuts
    whole = np.abs(at - axis)
    return axis, float(area @ np.where((left > 0.0) & (left < 1.0), inside, whole))


def arc_points(corner: FloatArray, before: FloatArray, after: FloatArray, radius: float, count: int) -> FloatArray:
    """Points (count + 1, 2) of the arc that rounds a corner between two straight legs; the corner itself for radius 0.

    corner, before, after (2,): corner and unit directions in and out. Raises ValueError where the legs fold back.
    """
    if radius <= 0.0:
        return corner[None, :]
    turn = math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after))
    if abs(turn) < 1e-9:
        return corner[None, :]
    if abs(turn) > 0.99 * math.pi:
        raise ValueError("the legs of a corner fold back on each other")
    tangent = radius * math.tan(0.5 * abs(turn))
    side = math.copysign(1.0, turn)
    start = corner - tangent * before
    centre = start + side * radius * np.array([-before[1], before[0]])
    angles = np.linspace(0.0, turn, count + 1)
    arm = start - centre
    cos, sin = np.cos(angles), np.sin(angles)
    return np.asarray(centre + np.stack([cos * arm[0] - sin * arm[1], sin * arm[0] + cos * arm[1]], axis=1))
