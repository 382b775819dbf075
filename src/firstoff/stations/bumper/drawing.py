"""The bumper as its sheet draws it, and the presses it is made on. Lengths and forces in SI."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from firstoff.physics.forming.blank import bend_allowance, neutral_factor
from firstoff.physics.forming.profile import trace
from firstoff.physics.forming.section import Centreline, arc_points

FloatArray = npt.NDArray[np.float64]
ARC_PIECES = 6  # of a corner, in the fibres of the section
FLAT_PIECES = 8
FACE, WRAP = "face", "wrap"  # places of fixture points that are no corner


@dataclass(frozen=True)
class Corner:
    """A corner or an end of the section, at the middle of the sheet; x to the rear, y up."""

    name: str
    x: float
    y: float
    radius: float = 0.0  # inside
    die: str = ""  # draw or flange; none for the two edges
    restrike: bool = False


@dataclass(frozen=True)
class Arc:
    """A piece of the plan curve, from the middle of the bar outwards."""

    length: float
    radius: float


@dataclass(frozen=True)
class Wrap:
    """The end of the bar, bent round."""

    radius: float  # inside
    angle: float
    length: float  # flat beyond the bend


@dataclass(frozen=True)
class Aperture:
    """A hole in the face."""

    name: str
    width: float  # along the bar
    height: float
    round: bool
    along: float
    y: float
    tolerance: float  # of its place across the bar, each way
    count: int

    @property
    def edge(self) -> float:
        """Length of its cut edge."""
        return math.pi * self.width if self.round else 2.0 * (self.width + self.height)


@dataclass(frozen=True)
class Point:
    """A place at which the checking fixture measures."""

    name: str
    at: str  # a corner, an edge, `face` or `wrap`
    along: float
    gap: float | None  # of the fixture at a part as drawn; None where it is not measured
    flush: bool


@dataclass(frozen=True)
class Press:
    """A press of the line."""

    name: str
    force: float
    rated_distance: float
    stroke: float
    per_second: float
    energy: float
    bed: float
    eccentric: float  # most moment of an off-centre load, as a share of force times bed


@dataclass(frozen=True)
class PressLine:
    """The presses in the order of the dies."""

    presses: tuple[Press, ...]
    transfer: bool = False  # one press with a transfer, instead of a press a die with robots
    handling: float = 6.0  # s from one press to the next
    assumed: bool = False


@dataclass(frozen=True)
class Bumper:
    """One bumper."""

    length: float  # finished, without the wraps
    corners: tuple[Corner, ...]  # from the upper edge to the lower
    arcs: tuple[Arc, ...]
    wrap: Wrap | None
    apertures: tuple[Aperture, ...]
    points: tuple[Point, ...]
    form_hits: int
    coil_widest: float
    line: PressLine
    impact: Any = None  # brackets and hits, where its sheet states them
    plating: Any = None  # points, class, tank and rack, where the sheets state them
    treatment: Any = None  # wheels and paint, where its sheet states them
    mounted: Any = None  # how it stands on the car, where its sheet states that

    @cached_property
    def inner(self) -> tuple[Corner, ...]:
        """The corners without the edges."""
        return self.corners[1:-1]

    @cached_property
    def xy(self) -> FloatArray:
        return np.array([[c.x, c.y] for c in self.corners])

    @cached_property
    def headings(self) -> FloatArray:
        """Direction of each flat, from the upper edge to the lower."""
        step = np.diff(self.xy, axis=0)
        return np.arctan2(step[:, 1], step[:, 0])

    @cached_property
    def turns(self) -> FloatArray:
        """Angle by which the sheet turns at each corner, positive to the left."""
        off = np.diff(self.headings)
        return np.asarray((off + np.pi) % (2.0 * np.pi) - np.pi)

    @cached_property
    def angles(self) -> FloatArray:
        return np.abs(self.turns)

    def tangents(self, thickness: float) -> FloatArray:
        """Length that the bend takes from each leg, along the middle of the sheet."""
        radii = np.array([c.radius for c in self.inner]) + 0.5 * thickness
        return np.asarray(radii * np.tan(0.5 * self.angles))

    def flats(self, thickness: float) -> FloatArray:
        """Straight lengths between the bends."""
        whole = np.hypot(*np.diff(self.xy, axis=0).T)
        cut = np.concatenate([[0.0], self.tangents(thickness), [0.0]])
        return np.asarray(whole - cut[:-1] - cut[1:])

    def arc_lengths(self, thickness: float) -> FloatArray:
        """Length of each bend along the middle of the sheet."""
        return np.asarray(self.angles * (np.array([c.radius for c in self.inner]) + 0.5 * thickness))

    @cached_property
    def drawn(self) -> tuple[int, int]:
        """First and last corner (of `inner`) that the draw die makes; beyond them the sheet runs over the die."""
        made = [i for i, c in enumerate(self.inner) if c.die == "draw"]
        return made[0], made[-1]

    @cached_property
    def datum(self) -> int:
        """The flat on which the fixture holds the part: the longest between the corners of the draw die."""
        first, last = self.drawn
        lengths = np.hypot(*np.diff(self.xy, axis=0).T)
        return max(range(first + 1, last + 1), key=lambda i: lengths[i])

    @cached_property
    def depth(self) -> float:
        """Draw depth: from the face to the farthest corner or edge that the draw makes a wall of."""
        return float(self.xy[:, 0].max() - self.xy[:, 0].min())

    @cached_property
    def walls(self) -> tuple[float, float]:
        """Length of sheet beyond the outermost draw corners, above and below: it runs over the die radius."""
        legs = np.hypot(*np.diff(self.xy, axis=0).T)
        first, last = self.drawn
        return float(legs[: first + 1].sum()), float(legs[last + 1 :].sum())

    def developed(self, thickness: float) -> float:
        """Width of the flat sheet: flats and bend allowances; the stretch of the draw is not in it."""
        bends = sum(bend_allowance(float(a), c.radius, thickness) for a, c in zip(self.angles, self.inner, strict=True))
        cut = np.array([c.radius + 0.5 * thickness for c in self.inner]) * np.tan(0.5 * self.angles)
        whole = float(np.hypot(*np.diff(self.xy, axis=0).T).sum())
        return whole - 2.0 * float(cut.sum()) + bends

    @property
    def neutral_rule(self) -> str:
        return f"{neutral_factor(0.0, 1.0):g} t for r < 2 t, else {neutral_factor(9.0, 1.0):g} t"

    def wrap_allowance(self, thickness: float) -> float:
        """Sheet that one wrapped end takes."""
        if self.wrap is None:
            return 0.0
        return bend_allowance(self.wrap.angle, self.wrap.radius, thickness) + self.wrap.length

    def centreline(self, thickness: float) -> Centreline:
        """The middle of the sheet as short pieces, corners rounded."""
        points = [self.xy[:1]]
        for i, corner in enumerate(self.inner):
            into, out = (np.array([math.cos(h), math.sin(h)]) for h in self.headings[i : i + 2])
            arc = arc_points(self.xy[i + 1], into, out, corner.radius + 0.5 * thickness, ARC_PIECES)
            points.append(_split(points[-1][-1], arc[0]))
            points.append(arc[1:])
        points.append(_split(points[-1][-1], self.xy[-1]))
        return Centreline(np.concatenate(points))


def _split(start: FloatArray, end: FloatArray) -> FloatArray:
    """Points of a straight piece, without its start."""
    share = (np.arange(FLAT_PIECES) + 1.0)[:, None] / FLAT_PIECES
    return np.asarray(start + share * (end - start))


@dataclass(frozen=True)
class Side:
    """One half of the profile, from the middle of the datum flat outwards: flat, corner, flat, ..."""

    corners: tuple[int, ...]  # of `inner`, from the datum outwards
    flats: tuple[int, ...]  # one more than corners; the first is half the datum flat
    sign: float  # +1 for the lower half, which follows the profile's own direction

    @classmethod
    def of(cls, bumper: Bumper) -> tuple[Side, Side]:
        """Upper and lower half."""
        d, m = bumper.datum, len(bumper.inner)
        upper = cls(tuple(range(d - 1, -1, -1)), tuple(range(d, -1, -1)), -1.0)
        return upper, cls(tuple(range(d, m)), tuple(range(d, m + 1)), 1.0)

    def pieces(
        self, bumper: Bumper, arcs: FloatArray, flats: FloatArray, angles: FloatArray, curls: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Ends and directions of the pieces, as `trace` gives them.

        arcs (m,) lengths of the bends; flats (n, m + 1) lengths of the flats; angles (n, m) of the bends, as large as
        the drawing's where nothing springs; curls (n, m + 1) angle by which each flat turns, signed along the profile.
        """
        lengths, turns = [], []
        for i, flat in enumerate(self.flats):
            lengths.append(flats[:, flat] * (0.5 if i == 0 else 1.0))
            turns.append(self.sign * curls[:, flat])
            if i < len(self.corners):
                c = self.corners[i]
                lengths.append(np.full(len(flats), arcs[c]))
                turns.append(self.sign * np.sign(bumper.turns[c]) * angles[:, c])
        heading = float(bumper.headings[bumper.datum]) + (0.0 if self.sign > 0.0 else math.pi)
        return trace(np.stack(lengths, axis=1), np.stack(turns, axis=1), heading)
