"""What the search works on: one tuple of arrays, and what their columns mean.

A whole number with bounds stands for every pair of moves i < j (how many whole periods lie between them) and for every
move (which crane makes it). A literal says that such a number is at least m, or less than m: 2 b or 2 b + 1, b being
the place of (number, m) in `bounds`. The trail holds every literal that has become true, in order, with its reason.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import float64, int64, types

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

NO_PATH = -(1 << 60)
# columns of `number`: bounds now, bounds before any literal, place of the first in `bounds`, newest entries of `trail`
LOW, HIGH, LOW0, HIGH0, CODE, LAST_LOW, LAST_HIGH = range(7)
# columns of `trail`: where the bound was before, the entry before of the same number and side, the reason, and the
# period up to which the reason holds
LIT, OLD, BEFORE, LEVEL_OF, CLAUSE, FROM, COUNT, UNTIL = range(8)
# columns of `arc`: t[HEAD] - t[TAIL] >= L - H P, then the arc it took the place of, then the literals it rests on
TAIL, HEAD, L, H, REPLACED, REASON = range(6)
REASONS = 5  # literals an arc can rest on: whole periods, and both bounds of both cranes
# columns of `clause`
START, SIZE, SPREAD, USED, VALID = range(5)
PARTS = 1 << 16  # periods up to which something holds are kept in so small parts, rounded down
ALWAYS = 1 << 62
# numbers in `clock`. P/Q: no period below this is left at this place of the search; BEST: the period to beat;
# FLOOR: the period the search began with; HOLDS: the period up to which what stands in `buffer` or `learned` holds
(
    P, Q, BEST_P, BEST_Q, FLOOR_P, FLOOR_Q, LEVEL, TRAIL, SPREAD_TO, JOINED, POOL, ARCS, RAISES, RAISE_POOL, BUFFER,
    CLAUSES, ARENA, FOUND, CONFLICTS, SINCE, PATIENCE, ROOM, BROKEN, LOADS, CRANES, KEPT, HOLDS,
) = range(27)  # fmt: skip
DONE, PAUSED, FULL = range(3)  # how a call of the search ends


class Desk(NamedTuple):
    """Everything between two calls of the search."""

    gap: Ints  # (2c-1, 2c-1, moves, moves): least gap for differences of cranes a-c+1 .. b-c+1
    number: Ints  # (numbers, 7)
    bounds: Ints  # (bounds, 2): number, m
    trail: Ints
    pool: Ints  # reasons of the trail's literals
    arc: Ints
    current: Ints  # (moves, moves): the arc between two moves that share a crane, as it is now
    value: Ints  # (moves, moves): longest path, l q - h p
    height: Ints  # its h
    via: Ints  # its first arc
    saved: Ints  # (levels, 3 moves, moves): the paths at each decision
    marks: Ints  # (levels, 7): the clock at each decision
    raises: Ints  # (raises, 4): what raised the period, and to what
    raise_pool: Ints
    buffer: Ints  # literals of the conflict or reason at work
    needed: Ints  # of each entry of the trail: the bound that the clause being learned needs of it, or -1
    learned: Ints
    arena: Ints  # literals of the clauses; the first two of each are watched
    clause: Ints
    link: Ints  # next watch of the same literal, of watch 2 c + w
    first: Ints  # first watch of each literal
    weight: Floats  # of each number: how much it has had to do with conflicts lately; last: what one conflict adds
    times: Ints  # the best timetable, in 1/BEST_Q
    made_by: Ints  # the crane of each move in it
    clock: Ints
    links: Ints  # (links, 2): clauses that always hold, of two literals


_one, _two, _three, _four = int64[::1], int64[:, ::1], int64[:, :, ::1], int64[:, :, :, ::1]
DESK: Any = types.NamedTuple(  # type: ignore[no-untyped-call]
    (
        _four, _two, _two, _two, _one, _two, _two, _two, _two, _two, _three, _two, _two, _one, _one, _one, _one, _one,
        _two, _one, _one, float64[::1], _one, _one, _one, _two,
    ),
    Desk,
)  # fmt: skip


def make_desk(gap: Ints, arcs: Ints, low: Ints, high: Ints, links: Ints, loads: int, cranes: int) -> Desk:
    """`gap` as in Desk; `arcs` (arcs, 4) always hold; `low`, `high` (moves, moves): whole periods between i < j.

    `links` (links, 6): i, j, m, i', j', m': at least m whole periods from i to j means at least m' from i' to j'.
    """
    n = gap.shape[-1]
    number = np.full((n * n + n, 7), -1, dtype=np.int64)
    number[:, LOW], number[:, HIGH] = 0, 0
    above = np.triu_indices(n, 1)
    number[above[0] * n + above[1], LOW], number[above[0] * n + above[1], HIGH] = low[above], high[above]
    number[n * n :, HIGH] = cranes - 1
    spans = number[:, HIGH] - number[:, LOW]
    number[:, LOW0], number[:, HIGH0] = number[:, LOW], number[:, HIGH]
    number[:, CODE] = np.cumsum(spans) - spans
    count = int(spans.sum())
    bounds = np.zeros((count + 1, 2), dtype=np.int64)
    bounds[:count, 0] = np.repeat(np.arange(len(spans)), spans)
    bounds[:count, 1] = np.arange(count) - number[bounds[:count, 0], CODE] + number[bounds[:count, 0], LOW] + 1
    fixed = np.full((len(arcs) + n * n, REASON + REASONS), -1, dtype=np.int64)
    fixed[: len(arcs), :4] = arcs
    rooms = len(fixed) + count + 1 + (2 * n * n * (cranes - 1) if cranes > 1 else 0)

    def zeros(*shape: int) -> Ints:
        return np.zeros(shape, dtype=np.int64)

    arc = np.concatenate([fixed, zeros(rooms - len(fixed), REASON + REASONS)])
    clock = zeros(32)
    clock[LOADS], clock[CRANES], clock[ROOM] = loads, cranes, len(arcs)
    reasons = 3 * n + 8 if cranes == 1 else (3 * n + 8) * REASONS
    clause = zeros((1 << 11) + len(links), 5)
    weight = np.append(np.zeros(len(number)), 1.0)
    return Desk(
        gap, number, bounds, zeros(count + 1, 8), zeros((count + 1) * reasons), arc, zeros(n, n), zeros(n, n),
        zeros(n, n), zeros(n, n), zeros(32, 3 * n, n), zeros(32, 7), zeros(1 << 14, 4), zeros((1 << 14) * (n + 8)),
        zeros(n * n * 16 + 64 * reasons), zeros(count + 1) - 1, zeros(count + 2), zeros((1 << 16) + count), clause,
        zeros(2 * len(clause)), zeros(2 * count + 2) - 1, weight, zeros(n), zeros(n), clock, _clauses(number, links, n),
    )  # fmt: skip


def _clauses(number: Ints, links: Ints, n: int) -> Ints:
    """Each link as a clause: not the one, or the other."""

    def literal(i: int, j: int, m: int) -> int:
        if i > j:
            return literal(j, i, -m) ^ 1
        return int(2 * (number[i * n + j, CODE] + m - number[i * n + j, LOW0] - 1))

    found = [(literal(*link[:3]) ^ 1, literal(*link[3:])) for link in links.tolist()]
    return np.array(found, dtype=np.int64).reshape(-1, 2)
