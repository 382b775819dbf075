"""The proof from two sides: ranges of the period, shortest first, and beside it the periods below the best one known.

Inside a narrow range nearly all whole periods between moves are settled by the windows, so a range is soon done with;
a range done with raises the proven bound, and the first timetable found is then the best of its range, and so of all.
The other side starts from any timetable and looks for a better one until there is none; what it has learned stays true
while the period to beat falls. Each side takes over what the other has proven or found.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from firstoff.line import kernel, work

from firstoff.line.desk import (  # isort: skip
    ARENA, BEST_P, BEST_Q, BROKEN, CLAUSES, CONFLICTS, DONE, Desk, FOUND, FULL, Ints, LEVEL, P, Q, make_desk,
)  # fmt: skip
from firstoff.line.problem import Problem

NO_LIMIT = Fraction(1 << 40)
STEP = Fraction(1, 25)  # width of a range, of its lower end; measured: wider and narrower ones take longer
BITE = 50  # conflicts between two looks at the clock


class SearchFault(RuntimeError):
    """The search ran out of a room that is made far too large: a fault of this program, never shown as a result."""


@dataclass
class State:
    """What is known so far; shared by whatever is searching. Periods are per load, in whole units of the problem."""

    bound: Fraction
    best: Fraction | None = None
    times: Ints | None = None  # in 1/units
    units: int = 1
    cranes: Ints | None = None  # of each move, when there are several
    found_by: str = ""
    nodes: int = 0
    proven: bool = False
    lock: threading.Lock = field(default_factory=threading.Lock)

    def improve(self, period: Fraction, search: Search, by: str) -> None:
        """Take over what a search has found."""
        with self.lock:
            if self.best is not None and period >= self.best:
                return
            self.best, self.times, self.units, self.found_by = period, search.times(), search.units(), by
            self.cranes = search.cranes()

    def raise_to(self, bound: Fraction) -> None:
        with self.lock:
            self.bound = max(self.bound, bound if self.best is None else min(bound, self.best))

    def settle(self) -> None:
        """The search is over: the best found is the best there is."""
        with self.lock:
            self.proven = True
            if self.best is not None:
                self.bound = self.best


class Search:
    """One search with its arrays."""

    def __init__(self, task: Problem) -> None:
        self.task = task
        self.desk: Desk = make_desk(task.gaps, task.arcs, task.low, task.high, task.links, task.loads, task.cranes)
        self.more = False

    def begin(self, bottom: Fraction, top: Fraction) -> None:
        """Search all periods from `bottom` on and below `top`."""
        ends = bottom.numerator, bottom.denominator, top.numerator, top.denominator
        self.more = not kernel.begin(self.desk, *ends) and not work.too_much(self.desk)

    def go_on(self, conflicts: int = BITE) -> bool:
        """True while there is more to search."""
        if self.more:
            end = kernel.search(self.desk, conflicts)
            if self.desk.clock[BROKEN]:
                raise SearchFault("the search has no room left")
            if end == FULL:
                self._make_room()
            self.more = bool(end != DONE)
        return self.more

    def _make_room(self) -> None:
        desk, clock = self.desk, self.desk.clock
        if clock[LEVEL] + 2 >= len(desk.saved):
            desk = desk._replace(saved=_doubled(desk.saved), marks=_doubled(desk.marks))
        if clock[CLAUSES] + 2 >= len(desk.clause):
            desk = desk._replace(clause=_doubled(desk.clause), link=_doubled(desk.link))
        if clock[ARENA] + len(desk.learned) >= len(desk.arena):
            desk = desk._replace(arena=_doubled(desk.arena))
        self.desk = desk

    def found(self) -> Fraction | None:
        clock = self.desk.clock
        return Fraction(int(clock[BEST_P]), int(clock[BEST_Q])) if clock[FOUND] else None

    def times(self) -> Ints:
        return self.desk.times.copy()

    def units(self) -> int:
        return int(self.desk.clock[BEST_Q])

    def cranes(self) -> Ints:
        return self.desk.made_by.copy()

    def beat(self, period: Fraction) -> None:
        """From here on only periods below this one count."""
        clock = self.desk.clock
        if period.numerator * int(clock[BEST_Q]) < period.denominator * int(clock[BEST_P]):
            clock[BEST_P], clock[BEST_Q], clock[FOUND] = period.numerator, period.denominator, 0

    def lift(self, bound: Fraction) -> None:
        """From here on only periods of at least this count."""
        if self.more and kernel.lift(self.desk, bound.numerator, bound.denominator):
            self.more = False

    @property
    def conflicts(self) -> int:
        return int(self.desk.clock[CONFLICTS])


def _doubled(array: Ints) -> Ints:
    return np.concatenate([array, np.zeros_like(array)])


def root_bound(task: Problem) -> Fraction | None:
    """The period no timetable can beat, before any search: windows and tanks, then the cranes' own time.

    None when even the windows alone allow none.
    """
    search = Search(task)
    if kernel.begin(search.desk, 1, 10**6, NO_LIMIT.numerator, 1):
        return None
    windows = Fraction(int(search.desk.clock[P]), int(search.desk.clock[Q]))
    again = Fraction(int(task.gap.diagonal().max()), task.loads)  # whoever makes a move makes it one period later
    return max(windows, again, Fraction(work.least(search.desk), task.loads * task.cranes))


def sweep(task: Problem, state: State, stop: Callable[[], bool]) -> None:
    """Raise state.bound range by range until it meets the best timetable, or `stop` says so."""
    search, last = Search(task), longest(task)
    while not stop() and not state.proven:
        bottom, best = state.bound, state.best
        if best is not None and bottom >= best:
            state.settle()
            return
        # past the longest period that may be of use, the rest is settled at once
        top = Fraction(int(bottom * (1 + STEP)) + 1) if bottom < last else NO_LIMIT
        top = min(top, best or top)
        search.begin(bottom, top)
        _work_on(search, state, "range by range", stop)
        if search.more:
            return
        if search.found() is not None or top == NO_LIMIT:
            state.settle()
        else:
            state.raise_to(top)


def descend(task: Problem, state: State, stop: Callable[[], bool]) -> None:
    """Look for ever shorter periods until none is left above state.bound, or `stop` says so."""
    search = Search(task)
    search.begin(state.bound, state.best or NO_LIMIT)
    _work_on(search, state, "from above", stop)
    if not search.more:
        state.settle()


def _work_on(search: Search, state: State, by: str, stop: Callable[[], bool]) -> None:
    """Search until the range is done with, taking over and handing on what is found and proven."""
    before, bound = 0, state.bound
    while search.go_on():
        _hand_on(search, state, by)
        state.nodes += search.conflicts - before
        before = search.conflicts
        if stop() or state.proven:
            return
        if state.best is not None:
            search.beat(state.best)
        if state.bound > bound:
            bound = state.bound
            search.lift(bound)
    _hand_on(search, state, by)
    state.nodes += search.conflicts - before


def _hand_on(search: Search, state: State, by: str) -> None:
    found = search.found()
    if found is not None:
        state.improve(found, search, by)


def longest(task: Problem) -> Fraction:
    """One load at a time, with the longest ways there are."""
    line, scale = task.line, task.scale
    soaks = sum((s.max_soak if s.max_soak is not None else s.min_soak for s in line.stages), Fraction(0))
    way = max(max(row) for row in line.empty_move)
    return (soaks + sum(line.loaded_move) + way * line.moves + line.turnaround) * scale + 1
