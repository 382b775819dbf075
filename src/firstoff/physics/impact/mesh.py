"""The bar in plan as nodes, and its outline as points that ride on the links between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from firstoff.physics.forming.profile import trace
from firstoff.physics.ranges import FloatArray, positive

FOLD: Final = 0.04  # m between nodes where the bar folds
IntArray = npt.NDArray[np.int64]


class Mesh(NamedTuple):
    """Nodes (n, 2): x to the side, y to the rear [m]. A rider: link, share along it, offset across over its length."""

    nodes: FloatArray
    brackets: IntArray  # (k,) the nodes that lie on them
    link: IntArray  # (c,) of each rider of the outline
    along: FloatArray  # (c,)
    across: FloatArray  # (c,)
    point_link: IntArray  # (p,) of each named point
    point_along: FloatArray  # (p,)


def plan_curve(arcs: FloatArray, at: FloatArray, wrap: tuple[float, float, float] | None = None) -> FloatArray:
    """Places (m, 2) on the plan curve at signed distances `at` [m] along it from the middle; the ends fall to the rear.

    arcs (a, 2): length and radius [m] from the middle outwards, both halves alike; wrap (radius, angle, flat) bends
    what lies beyond their end further round. Source: geometry of the circle.
    """
    lengths, turns = list(arcs[:, 0]), list(arcs[:, 0] / arcs[:, 1])
    if wrap is not None:
        lengths += [wrap[0] * wrap[1], wrap[2]]
        turns += [wrap[1], 0.0]
    starts = np.concatenate([[0.0], np.cumsum(lengths)])
    found = np.empty((len(at), 2))
    for i, s in enumerate(at):
        cut = np.clip(abs(s) - starts[:-1], 0.0, lengths)
        cut[-1] = max(abs(s) - starts[-2], 0.0)
        turn = np.array(turns) * cut / np.array(lengths)
        end = trace(cut[None, :], turn[None, :], 0.0)[0][0, -1]
        found[i] = np.copysign(end[0], s), end[1]
    return found


def fine_marks(place: float, half: float, brackets: Sequence[float]) -> tuple[float, ...]:
    """Marks where the bar folds: about the place that is hit, or about the near bracket where it is hit beyond.

    place, half, brackets: signed distances along the bar [m]. Nodes stand 40 mm apart to 120 mm about the place, and 50
    mm apart to 100 mm about a bracket: chosen by comparison with a mesh of 67 nodes.
    """
    beyond = abs(place) > max(abs(b) for b in brackets) + FOLD / 2
    near = min(brackets, key=lambda b: abs(b - place))
    offsets = [k * s for k in (1.0, 2.0) for s in (-0.05, 0.05)] if beyond else [k * FOLD for k in range(-3, 4)]
    marks = [(near if beyond else place) + o for o in offsets]
    return tuple(m for m in marks if abs(m) < half - FOLD and all(abs(m - b) > 0.5 * FOLD for b in brackets))


def _stations(marks: Sequence[float], spacing: float) -> FloatArray:
    """Distances along the bar: every mark, and between two of them equal pieces no longer than the spacing."""
    sorted_marks = np.unique(np.round(marks, 9))
    parts = [np.linspace(a, b, max(1, int(np.ceil((b - a) / spacing - 1e-9))) + 1)[:-1]
             for a, b in zip(sorted_marks[:-1], sorted_marks[1:], strict=True)]  # fmt: skip
    return np.concatenate([*parts, sorted_marks[-1:]])


def mesh(
    arcs: FloatArray, half: float, brackets: Sequence[float], points: Sequence[float], spacing: float,
    marks: Sequence[float] = (), wrap: tuple[float, float, float] | None = None, rider_pitch: float = 0.02,
) -> Mesh:  # fmt: skip
    """Nodes on the plan curve, one on every bracket and mark; riders on the whole outline with its wrapped ends.

    A wrapped end rides rigidly on the last link. arcs, wrap as in `plan_curve`; half: half the bar without the wraps;
    brackets, points, marks: signed distances along the bar [m]; spacing, rider_pitch [m]. ValueError where a bracket
    stands beyond the bar or fewer than five nodes are left.
    """
    positive("spacing", spacing)
    if any(abs(b) > half for b in (*brackets, *marks)):
        raise ValueError("brackets and marks must stand on the bar")
    at = _stations([-half, *brackets, *marks, half], spacing)
    if len(at) < 5:
        raise ValueError("a bar needs five nodes or more: take a smaller spacing")
    nodes = plan_curve(arcs, at)
    reach = half + (wrap[0] * wrap[1] + wrap[2] if wrap is not None else 0.0)
    count = int(np.ceil(2.0 * reach / rider_pitch))
    count += count % 2  # one in the middle
    outline = plan_curve(arcs, np.linspace(-reach, reach, count + 1), wrap)
    spots = np.linspace(-reach, reach, count + 1)
    link = np.clip(np.searchsorted(at, spots, side="right") - 1, 0, len(at) - 2)
    along, across = _ride(nodes, link, outline)
    named = np.asarray(points, dtype=np.float64)
    own = np.clip(np.searchsorted(at, named, side="right") - 1, 0, len(at) - 2)
    share = np.clip((named - at[own]) / (at[own + 1] - at[own]), 0.0, 1.0)
    on = np.searchsorted(at, np.round(brackets, 9) - 1e-7).astype(np.int64)
    return Mesh(nodes, on, link.astype(np.int64), along, across, own.astype(np.int64), share)


def _ride(nodes: FloatArray, link: npt.NDArray[np.intp], place: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Share along the link and offset across it, over its length."""
    step = nodes[link + 1] - nodes[link]
    away, square = place - nodes[link], (step**2).sum(axis=1)
    return (away * step).sum(axis=1) / square, (step[:, 0] * away[:, 1] - step[:, 1] * away[:, 0]) / square
