"""A line as the arrays of the search: arcs that always hold, gaps between moves, ranges of whole periods."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from math import lcm

import numpy as np
import numpy.typing as npt

from firstoff.errors import InputFault, Message
from firstoff.line.case import Line
from firstoff.line.replay import Timetable
from firstoff.line.track import gap_between_cranes, pace

Ints = npt.NDArray[np.int64]
LARGEST = 1 << 38  # parts of time


@dataclass(frozen=True)
class Problem:
    """Move i of load x is row x (N+1) + i. Times are whole multiples of 1/scale."""

    line: Line
    loads: int
    cranes: int
    scale: int
    arcs: Ints  # (arcs, 4): from, to, l, h: t[to] - t[from] >= l - h P
    gap: Ints  # (moves, moves): of one crane
    gaps: Ints  # (2c-1, 2c-1, moves, moves): least, for differences of cranes from a-c+1 to b-c+1
    low: Ints  # (moves, moves): least number of whole periods from move i to move j > i
    high: Ints
    links: Ints  # (links, 6): i, j, m, i', j', m': at least m whole periods from i to j means at least m' from i' to j'

    @property
    def size(self) -> int:
        return len(self.gap)


def scale_of(line: Line) -> int:
    """The least number that makes every time of the line whole."""
    times = [*line.loaded_move, *(e for row in line.empty_move for e in row), line.turnaround]
    times += [s.min_soak for s in line.stages] + [s.max_soak for s in line.stages if s.max_soak is not None]
    scale: int = lcm(*[t.denominator for t in times])
    return scale


def problem(line: Line, loads: int, cranes: int = 1, separation: Fraction = Fraction(0)) -> Problem:
    """`loads` loads in one period; load x + loads is load x one period later.

    Loads are all alike, so none ever need overtake another: of two that leave a stage in the other order than they
    came, the later halves of the ways can be exchanged, and all windows still hold.
    """
    exact = _gaps(line, cranes, separation)
    scale, m = lcm(scale_of(line), *[g.denominator for rows in exact for row in rows for g in row]), line.moves
    _check_size(line, loads, scale)
    by_difference = np.array([[[int(g * scale) for g in row] for row in rows] for rows in exact], dtype=np.int64)
    one = by_difference[cranes - 1]
    loaded = [int(d * scale) for d in line.loaded_move]
    arcs = []
    for x in range(loads):
        for i in range(1, m):
            stage = line.stages[i - 1]
            before, here = x * m + i - 1, x * m + i
            carry = loaded[i - 1]
            arcs.append((before, here, carry + int(stage.min_soak * scale), 0))
            if stage.max_soak is not None:
                arcs.append((here, before, -carry - int(stage.max_soak * scale), 0))
            # the move that empties a tank ends before the move that fills it starts: never a swap
            cycle, load = divmod(x + stage.tanks, loads)
            arcs.append((here, load * m + i - 1, int(one[i, i - 1]) if cranes == 1 else loaded[i], cycle * loads))
        for i in range(m) if loads > 1 else ():
            cycle, load = divmod(x + 1, loads)
            arcs.append((x * m + i, load * m + i, int(one[i, i]) if cranes == 1 else loaded[i], cycle * loads))
    if loads > 1:
        # some load follows within the mean time, and the first may be named that one's forerunner
        arcs.append((m, 0, 0, 1))
    low, high = _ranges(line, loads)
    links = _open_links(_alternation(line, loads), low, high)
    wide = np.tile(by_difference, (1, loads, loads))
    last = 2 * cranes - 1
    least = np.array([[wide[min(a, b) : b + 1].min(axis=0) for b in range(last)] for a in range(last)])
    return Problem(
        line, loads, cranes, scale, np.array(arcs, dtype=np.int64), wide[cranes - 1], least, low, high, links
    )


def _check_size(line: Line, loads: int, scale: int) -> None:
    """The search's whole numbers must stay inside 64 bits."""
    soaks = sum((s.min_soak if s.max_soak is None else s.max_soak for s in line.stages), Fraction(0))
    longest = soaks + sum(line.loaded_move) + line.moves * max(max(row) for row in line.empty_move) + line.turnaround
    if longest * scale * loads >= LARGEST:
        raise InputFault(
            [
                Message(
                    "times too long, or with too many decimals, for exact whole numbers",
                    line.name,
                    found=f"{float(longest):g} in parts of 1/{scale}",
                    allowed=f"{LARGEST} parts in all loads of a period",
                )
            ]
        )


def _gaps(line: Line, cranes: int, separation: Fraction) -> list[list[list[Fraction]]]:
    """[difference + cranes - 1][i][j]: least time from move i to the later move j, of a crane so much further right.

    Zero where the two may be under way together. Cranes that are not neighbours keep one separation for each step.
    """
    m = range(line.moves)
    slowness = pace(line) if cranes > 1 else Fraction(0)
    found = []
    for d in range(1 - cranes, cranes):
        if d == 0:
            found.append([[line.gap(i, j) for j in m] for i in m])
            continue
        rows = [[gap_between_cranes(line, i, j, d > 0, abs(d) * separation, slowness) for j in m] for i in m]
        found.append([[Fraction(0) if g is None else g for g in row] for row in rows])
    return found


def _alternation(line: Line, loads: int) -> list[tuple[int, ...]]:
    """A shared load place that needs its turnaround holds one load: a finished one down, the next lifted, and so on.

    Loads keep their order, so there is one number w, the loads in the line: load y is set down after load y + w has
    been lifted and before the next one is. Then floor((y + w - x) / loads) whole periods lie between the lift of load x
    and the setting down of load y; so w >= v has one meaning for each x, y and whole number of periods.
    """
    if loads == 1 or not (line.turnaround and line.shared_load_place):
        return []
    m = line.moves
    most = sum(s.tanks for s in line.stages) + 2 * loads
    links: list[tuple[int, ...]] = []
    pairs = [(x, y) for x in range(loads) for y in range(loads)]
    meanings = [
        [(x * m, y * m + line.n, (v + y - x) // loads) for x, y in pairs if (v + y - x) % loads == 0]
        for v in range(-most, most + 2)
    ]
    for same, more in pairwise(meanings):
        links += [(*one, *two) for one, two in zip(same, [*same[1:], same[0]], strict=True)]
        links.append((*more[0], *same[0]))
    return links


def _truth(low: Ints, high: Ints, i: int, j: int, m: int) -> int:
    """Whether at least m whole periods lie from i to j: 1 yes, -1 no, 0 open."""
    if i > j:
        return -_truth(low, high, j, i, -m)
    if low[i, j] >= m:
        return 1
    return -1 if high[i, j] < m else 0


def _hold(low: Ints, high: Ints, yes: bool, i: int, j: int, m: int) -> None:
    if i > j:
        _hold(low, high, not yes, j, i, -m)
    elif yes:
        low[i, j] = m
    else:
        high[i, j] = m - 1


def _open_links(links: list[tuple[int, ...]], low: Ints, high: Ints) -> Ints:
    """The links that say something; what follows from them at once goes into the ranges."""
    more = True
    while more:
        more = False
        for link in links:
            one, two = _truth(low, high, *link[:3]), _truth(low, high, *link[3:])
            if one == 1 and two == 0:
                _hold(low, high, True, *link[3:])
            elif two == -1 and one == 0:
                _hold(low, high, False, *link[:3])
            else:
                continue
            more = True
    kept = [k for k in links if _truth(low, high, *k[:3]) == _truth(low, high, *k[3:]) == 0 and k[:3] != k[3:]]
    return np.array(kept, dtype=np.int64).reshape(-1, 6)


def _ranges(line: Line, loads: int) -> tuple[Ints, Ints]:
    """Whole periods that can lie between two moves, as the tanks between them allow."""
    m = line.moves
    size = m * loads
    low, high = np.zeros((size, size), np.int64), np.full((size, size), -1, dtype=np.int64)
    tanks = [0, *accumulate(s.tanks for s in line.stages)]
    for a in range(size):
        for b in range(a + 1, size):
            (x, i), (y, j) = divmod(a, m), divmod(b, m)
            between = abs(tanks[j] - tanks[i])
            if i == j:
                high[a, b] = 0
            elif i < j:
                # load x + between enters after load x has left; so move j of y comes before move i of y + between
                low[a, b] = -1 if y < x else 0
                high[a, b] = max(-(-(y + between - x) // loads) - 1, low[a, b])
            else:
                # x < y: as above with the parts exchanged, move j of y comes after move j of x - between
                high[a, b], low[a, b] = 0, (y - x - between) // loads
    return low, high


def timetable(task: Problem, times: Ints, units: int, period: Fraction, cranes: Ints | None = None) -> Timetable:
    """Times in 1/units of the scale, as absolute removal times; `cranes` of the moves, when there are several."""
    m = task.line.moves
    first = min(int(times[x * m]) for x in range(task.loads))
    exact = [Fraction(int(t) - first, units * task.scale) for t in times]
    rows = [slice(x * m, (x + 1) * m) for x in range(task.loads)]
    of_move = None if cranes is None else tuple(tuple(int(c) for c in cranes[row]) for row in rows)
    return Timetable(period * task.loads, tuple(tuple(exact[row]) for row in rows), of_move)
