"""A line as the arrays of the branch and bound: arcs that always hold, gaps between moves, ranges of whole periods."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from math import lcm

import numpy as np
import numpy.typing as npt

from firstoff.line.case import Line
from firstoff.line.replay import Timetable

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Problem:
    """Move i of load x is row x (N+1) + i. Times are whole multiples of 1/scale."""

    line: Line
    loads: int
    scale: int
    arcs: Ints  # (arcs, 4): from, to, l, h: t[to] - t[from] >= l - h P
    gap: Ints  # (moves, moves)
    low: Ints  # (moves, moves): least number of whole periods from move i to move j > i
    high: Ints

    @property
    def size(self) -> int:
        return len(self.gap)


def scale_of(line: Line) -> int:
    """The least number that makes every time of the line whole."""
    times = [*line.loaded_move, *(e for row in line.empty_move for e in row), line.turnaround]
    times += [s.min_soak for s in line.stages] + [s.max_soak for s in line.stages if s.max_soak is not None]
    scale: int = lcm(*[t.denominator for t in times])
    return scale


def problem(line: Line, loads: int, cranes: int = 1) -> Problem:
    """`loads` loads in one period; load x + loads is load x one period later.

    Loads are all alike, so none ever need overtake another: of two that leave a stage in the other order than they
    came, the later halves of the ways can be exchanged, and all windows still hold.
    """
    scale, m = scale_of(line), line.moves
    one = np.array([[int(line.gap(i, j) * scale) for j in range(m)] for i in range(m)], dtype=np.int64)
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
    return Problem(line, loads, scale, np.array(arcs, dtype=np.int64), np.tile(one, (loads, loads)), low, high)


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


def timetable(task: Problem, times: Ints, units: int, period: Fraction) -> Timetable:
    """Times in 1/units of the scale, as absolute removal times."""
    m = task.line.moves
    first = min(int(times[x * m]) for x in range(task.loads))
    exact = [Fraction(int(t) - first, units * task.scale) for t in times]
    return Timetable(period * task.loads, tuple(tuple(exact[x * m : (x + 1) * m]) for x in range(task.loads)))
