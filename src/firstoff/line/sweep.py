"""The proof from below: ranges of the period, shortest first, shared out between two cores.

Inside a narrow range nearly all whole periods between moves are settled by the windows, so a range is soon done with;
ranges done with, one after the other from the lowest on, raise the proven bound. A timetable found ends the ranges
above it. Once all are given out, who is free takes the lower half of what another is still at. When no timetable has
been found for long, one core starts from above instead: any timetable, then an ever better one.
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
NARROW = Fraction(1, 1000)  # a range of so small a share of its period is not shared out


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
    reach: Fraction = Fraction(0)  # ranges are given out up to here
    refuted: list[tuple[Fraction, Fraction]] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def improve(self, period: Fraction, search: Search, by: str) -> None:
        """Take over what a search has found."""
        with self.lock:
            if self.best is not None and period >= self.best:
                return
            self.best, self.times, self.units, self.found_by = period, search.times(), search.units(), by
            self.cranes = search.cranes()

    def claim(self, last: Fraction) -> tuple[Fraction, Fraction] | None:
        """The next range to search; None when all is proven. Past `last` all the rest is one range."""
        with self.lock:
            best = self.best
            self.proven = self.proven or (best is not None and self.bound >= best)
            if self.proven:
                return None
            bottom = max(self.reach, self.bound)
            if best is None and bottom >= NO_LIMIT:
                return self.bound, NO_LIMIT
            if best is None or bottom < best:
                top = Fraction(int(bottom * (1 + STEP)) + 1) if bottom < last else NO_LIMIT
                self.reach = min(top, best or top)
                return bottom, self.reach
            middle = (self.bound + best) / 2
            return self.bound, middle if best - self.bound > NARROW * best else best

    def refute(self, bottom: Fraction, top: Fraction) -> None:
        """No period from `bottom` on and below `top` is possible."""
        with self.lock:
            self.refuted.append((bottom, top))
            for low, high in sorted(self.refuted):
                if low <= self.bound < high:
                    self.bound = high
            if self.best is not None and self.bound >= self.best:
                self.bound, self.proven = self.best, True
            self.proven = self.proven or self.bound >= NO_LIMIT


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
    """Search range after range until the bound meets the best timetable, or `stop` says so."""
    search, last = Search(task), longest(task)
    while not stop():
        mine = state.claim(last)
        if mine is None:
            return
        _work_on(search, state, *mine, "range by range", stop)


def descend(task: Problem, state: State, stop: Callable[[], bool]) -> None:
    """Look for ever shorter periods until none is left above state.bound, or `stop` says so."""
    _work_on(Search(task), state, state.bound, state.best or NO_LIMIT, "from above", stop)


def _work_on(search: Search, state: State, bottom: Fraction, top: Fraction, by: str, stop: Callable[[], bool]) -> None:
    """Search a range until it is done with, taking over and handing on what is found and proven."""
    top = min(top, state.best or top)
    if bottom >= top:
        return
    search.begin(bottom, top)
    before, low = 0, bottom
    while search.go_on():
        _hand_on(search, state, by)
        state.nodes += search.conflicts - before
        before = search.conflicts
        if stop() or state.proven or state.bound >= top or (state.best is not None and state.best <= low):
            return
        if state.best is not None:
            search.beat(state.best)
        if state.bound > low:
            low = state.bound
            search.lift(low)
    _hand_on(search, state, by)
    state.nodes += search.conflicts - before
    state.refute(bottom, min(top, state.best or top))


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
