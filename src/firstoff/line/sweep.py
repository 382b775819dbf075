"""The proof from below: ranges of the period, shortest first, each searched through by branch and bound.

Inside a narrow range nearly all whole periods between moves are settled by the windows, so a range is soon done with;
a range done with raises the proven bound. The first timetable found is the best of its range, and so of all.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from firstoff.line import kernel
from firstoff.line.kernel import ALIVE, BEST_P, BEST_Q, FOUND, FULL, HEIGHT, PAUSED, P, Q
from firstoff.line.problem import Ints, Problem

STEP = Fraction(1, 25)  # width of a range, of its lower end; measured: wider and narrower ones take longer
NODES = 200  # between two looks at the clock


@dataclass
class State:
    """What is known so far; shared by whatever is searching. Periods are per load, in whole units of the problem."""

    bound: Fraction
    best: Fraction | None = None
    times: Ints | None = None  # in 1/units
    units: int = 1
    found_by: str = ""
    nodes: int = 0
    proven: bool = False
    lock: threading.Lock = field(default_factory=threading.Lock)

    def improve(self, period: Fraction, times: Ints, units: int, by: str) -> None:
        with self.lock:
            if self.best is not None and period >= self.best:
                return
            self.best, self.times, self.units, self.found_by = period, times.copy(), units, by


class Search:
    """The arrays of one branch and bound."""

    def __init__(self, task: Problem) -> None:
        n = task.size
        self.task = task
        self.stack = np.zeros((256, 2 * n, n), dtype=np.int64)
        self.marks = np.zeros((256, 2), dtype=np.int64)
        self.work = np.zeros((3 * n, n), dtype=np.int64)
        self.times = np.zeros(n, dtype=np.int64)
        self.clock = np.zeros(8, dtype=np.int64)
        self.low, self.high = task.low.copy(), task.high.copy()

    def begin(self, bottom: Fraction, top: Fraction | None) -> None:
        """Search all periods from `bottom` on and below `top`."""
        self.low[:], self.high[:] = self.task.low, self.task.high
        self.clock[:] = 0
        self.clock[P], self.clock[Q], self.clock[ALIVE] = bottom.numerator, bottom.denominator, 1
        if top is not None:
            self.clock[BEST_P], self.clock[BEST_Q] = top.numerator, top.denominator

    def go_on(self, nodes: int) -> bool:
        """True while there is more to search."""
        task = self.task
        end = kernel.search(
            task.arcs, task.gap, self.low, self.high, self.stack, self.marks, self.times, self.work, task.loads, nodes,
            self.clock,
        )  # fmt: skip
        if end == FULL:
            self.stack = np.concatenate([self.stack, np.zeros_like(self.stack)])
            self.marks = np.concatenate([self.marks, np.zeros_like(self.marks)])
        return bool(end in (PAUSED, FULL))

    def found(self) -> Fraction | None:
        return Fraction(int(self.clock[BEST_P]), int(self.clock[BEST_Q])) if self.clock[FOUND] else None

    def least(self) -> Fraction:
        """No period below this is left in the range at work."""
        ends = [Fraction(int(p), int(q)) for p, q in self.marks[: self.clock[HEIGHT]]]
        return min([*ends, Fraction(int(self.clock[P]), int(self.clock[Q]))])

    def settle(self, low: Ints, high: Ints, bottom: Fraction, top: Fraction | None) -> tuple[Fraction, Ints] | None:
        """The least period >= bottom, < top with these whole periods between moves, and its earliest timetable."""
        task = self.task
        n = task.size
        self.begin(bottom, top)
        length, height, value = self.work[:n], self.work[n : 2 * n], self.work[2 * n :]
        if not kernel.close(length, height, value, task.arcs, task.gap, low, high, task.loads, self.clock):
            return None
        return Fraction(int(self.clock[P]), int(self.clock[Q])), value[0].copy()


def root_bound(task: Problem) -> Fraction | None:
    """The period no timetable can beat, before any search: windows and tanks, then the crane's own time.

    None when even the windows alone allow none.
    """
    search, n = Search(task), task.size
    search.begin(Fraction(1, max(1, 10**6)), None)
    length, height, value = search.work[:n], search.work[n : 2 * n], search.work[2 * n :]
    low, high = task.low.copy(), task.high.copy()
    if not kernel.close(length, height, value, task.arcs, task.gap, low, high, task.loads, search.clock):
        return None
    cost = task.gap.copy()
    np.fill_diagonal(cost, 1 << 40 if n > 1 else 0)
    crane = Fraction(int(kernel.assignment(cost)), task.loads)
    return max(Fraction(int(search.clock[P]), int(search.clock[Q])), crane)


def sweep(task: Problem, state: State, stop: Callable[[], bool]) -> None:
    """Raise state.bound range by range until it meets the best timetable, or `stop` says so."""
    search = Search(task)
    last = _serial_period(task)
    while not stop():
        if state.best is not None and state.bound >= state.best:
            state.proven = True
            return
        top: Fraction | None = Fraction(int(state.bound * (1 + STEP)) + 1)
        if state.best is not None:
            top = min(Fraction(top or 0), state.best)
        elif state.bound > last:
            top = None  # a longer period than this allows nothing new: settle the rest at once
        search.begin(state.bound, top)
        more = True
        while more and not stop():
            more = search.go_on(NODES)
        state.nodes += int(search.clock[kernel.NODES])
        found = search.found()
        if found is not None:
            state.improve(found, search.times, int(search.clock[BEST_Q]), "branch and bound")
        if more:
            state.bound = max(state.bound, min(search.least(), state.best or search.least()))
            return
        state.bound = found or top or state.bound
        if found is not None or top is None:
            state.proven = True
            return


def _serial_period(task: Problem) -> Fraction:
    """One load at a time, with the longest ways there are: no timetable needs a longer period than this."""
    line, scale = task.line, task.scale
    soaks = sum((s.max_soak if s.max_soak is not None else s.min_soak for s in line.stages), Fraction(0))
    longest = max(max(row) for row in line.empty_move)
    return (soaks + sum(line.loaded_move) + longest * line.moves + line.turnaround) * scale
