"""Why no timetable is possible, or none as short as wanted: the fewest limits that conflict, and the cheapest cure.

A limit is the shortest or the longest soak of one stage. Limits conflict when no timetable keeps them all, whatever the
other limits. A set is minimal when none of it can be left out (deletion filter), and smallest when no other has fewer:
every set that conflicts shares a limit with every set of limits whose removal lets a timetable through, so a least set
that does so with all of those found, and conflicts, is a smallest one (hitting sets; from memory, Ignatiev and others
2015). Whether a timetable exists is the search's own proof, over all periods.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Literal, NamedTuple

from firstoff.line.case import Line
from firstoff.line.cpsat import Model
from firstoff.line.hitting import smallest_hitting
from firstoff.line.problem import Problem, problem
from firstoff.line.replay import Timetable, replay
from firstoff.line.sweep import NO_LIMIT, Search, longest, root_bound

HAIR = Fraction(1, 10**6)  # a period so little above the wanted one is not told from it


class Limit(NamedTuple):
    """One end of the soak window of a stage, counted from 1."""

    stage: int
    end: Literal["min", "max"]


@dataclass(frozen=True)
class Conflict:
    """`limits` conflict. `status`: smallest, minimal, conflicting (perhaps not even minimal), none, unknown."""

    status: str
    limits: tuple[Limit, ...]
    takt: Fraction | None  # the period of one load that was asked for; None: any
    seconds: float


@dataclass(frozen=True)
class Widening:
    """The cheapest change of limits that lets a timetable through, in whole time units."""

    status: str  # optimal, feasible, infeasible, unknown
    changes: dict[Limit, Fraction]  # by how much each limit moves: longest soaks up, shortest down
    cost: Fraction | None
    bound: Fraction | None  # no cure in whole time units costs less
    line: Line | None  # the line with the new limits
    table: Timetable | None
    seconds: float


def limits_of(line: Line) -> tuple[Limit, ...]:
    """All limits that can be in the way."""
    found = [Limit(k + 1, "min") for k, s in enumerate(line.stages) if s.min_soak > 0]
    return (*found, *(Limit(k + 1, "max") for k, s in enumerate(line.stages) if s.max_soak is not None))


def only(line: Line, kept: Iterable[Limit]) -> Line:
    """The line with these limits alone."""
    held = set(kept)
    stages = tuple(
        replace(
            s,
            min_soak=s.min_soak if Limit(k + 1, "min") in held else Fraction(0),
            max_soak=s.max_soak if Limit(k + 1, "max") in held else None,
        )
        for k, s in enumerate(line.stages)
    )
    return replace(line, stages=stages)


class TimeIsUp(Exception):
    """There was no time to find out."""


@dataclass(frozen=True)
class _Question:
    """Whether a timetable exists, for any set of limits."""

    line: Line
    loads: int
    cranes: int
    separation: Fraction
    takt: Fraction | None
    end: float

    def conflicts(self, kept: Iterable[Limit]) -> bool:
        return not possible(only(self.line, kept), self.loads, self.cranes, self.separation, self.takt, self.end)

    def minimal(self, limits: Iterable[Limit]) -> tuple[Limit, ...]:
        """A set of conflicting limits of which none can be left out."""
        kept = tuple(limits)
        for limit in kept:
            rest = tuple(k for k in kept if k != limit)
            if self.conflicts(rest):
                kept = rest
        return kept

    def removal(self, kept: frozenset[Limit], limits: tuple[Limit, ...]) -> frozenset[Limit]:
        """Limits outside `kept` without which a timetable exists; none of them can be put back."""
        held = set(kept)
        for limit in limits:
            if limit not in held and not self.conflicts([*held, limit]):
                held.add(limit)
        return frozenset(limits) - held


def possible(line: Line, loads: int, cranes: int, separation: Fraction, takt: Fraction | None, end: float) -> bool:
    """Whether a timetable exists, with a period per load of at most `takt`; raises TimeIsUp."""
    task = problem(line, loads, cranes, separation)
    bound = root_bound(task)
    top = NO_LIMIT if takt is None else takt * task.scale + HAIR
    if bound is None or bound >= top:
        return False
    search = Search(task)
    search.begin(bound, top)
    while search.go_on():
        if search.found() is not None:
            return True
        if time.perf_counter() > end:
            raise TimeIsUp
    return search.found() is not None


def conflict(
    line: Line, loads: int = 1, cranes: int = 1, time_limit: float = 60.0, takt: Fraction | None = None,
    separation: Fraction = Fraction(0),
) -> Conflict:  # fmt: skip
    """The fewest limits that together let no timetable through, none with a period per load of at most `takt`."""
    start = time.perf_counter()
    question = _Question(line, loads, cranes, separation, takt, start + time_limit)
    limits = limits_of(line)
    status, found = "unknown", limits
    try:
        if not question.conflicts(limits):
            return Conflict("none", (), takt, time.perf_counter() - start)
        status = "conflicting"
        found = question.minimal(limits)
        status = "minimal"
        found = _smallest(question, limits, found)
        status = "smallest"
    except TimeIsUp:
        pass
    return Conflict(status, () if status == "unknown" else found, takt, time.perf_counter() - start)


def _smallest(question: _Question, limits: tuple[Limit, ...], minimal: tuple[Limit, ...]) -> tuple[Limit, ...]:
    removals: list[frozenset[Limit]] = []
    while True:
        hitting = frozenset(smallest_hitting(limits, removals))
        if len(hitting) >= len(minimal):
            return minimal
        if question.conflicts(hitting):
            return tuple(k for k in limits if k in hitting)
        removals.append(question.removal(hitting, limits))


class _Widened(Model):
    """The model with every limit free to give way at a cost."""

    def __init__(self, task: Problem, most: int, costs: Mapping[Limit, int]) -> None:
        self.costs = costs
        self.moved: dict[Limit, Any] = {}
        super().__init__(task, 1, most)
        self.model.minimize(sum(costs[k] * v for k, v in self.moved.items()))

    def _arc(self, u: int, v: int, length: Any, height: int) -> None:
        m = self.task.line.moves
        limit: Limit | None = None
        if height == 0 and v == u + 1 and u // m == v // m:
            limit = Limit(v % m, "min")
        elif height == 0 and u == v + 1 and u // m == v // m:
            limit = Limit(u % m, "max")
        if limit is not None and limit in self.costs:
            if limit not in self.moved:
                stage = self.task.line.stages[limit.stage - 1]
                most = int(stage.min_soak * self.task.scale) if limit.end == "min" else self.most
                self.moved[limit] = self.model.new_int_var(0, most, str(limit))
            length = length - self.moved[limit]
        super()._arc(u, v, length, height)


def widening(
    line: Line, loads: int = 1, cranes: int = 1, time_limit: float = 60.0, takt: Fraction | None = None,
    separation: Fraction = Fraction(0), costs: Mapping[Limit, Fraction] | None = None,
    fixed: Iterable[Limit] = (),
) -> Widening:  # fmt: skip
    """The cheapest change of limits with which a timetable exists, with a period per load of at most `takt`.

    `costs` for each time unit that a limit gives way, 1 where not given; `fixed` limits must stay. Whole time units.
    """
    start = time.perf_counter()
    task = problem(line, loads, cranes, separation)
    price = {k: Fraction(1) if costs is None else costs.get(k, Fraction(1)) for k in limits_of(line)}
    price = {k: c for k, c in price.items() if k not in set(fixed)}
    parts = max((c.denominator for c in price.values()), default=1)
    parts = next(p for p in range(parts, 10**9, parts) if all((c * p).denominator == 1 for c in price.values()))
    most = int((longest(task) if takt is None else takt * task.scale) * loads)
    model = _Widened(task, max(1, most), {k: int(c * parts) for k, c in price.items()})
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.max_time_in_seconds = time_limit
    status = solver.status_name(solver.solve(model.model))
    if status not in ("OPTIMAL", "FEASIBLE"):
        name = "infeasible" if status == "INFEASIBLE" else "unknown"
        return Widening(name, {}, None, None, None, None, time.perf_counter() - start)
    by = {k: Fraction(int(solver.value(v)), task.scale) for k, v in model.moved.items()}
    by = {k: v for k, v in by.items() if v}
    wide = widened(line, by)
    table = model.timetable(solver.value)
    faults = replay(wide, table, separation)
    if faults:
        raise RuntimeError("; ".join(faults))
    bound = Fraction(int(round(solver.best_objective_bound)), parts * task.scale)
    cost = sum((price[k] * v for k, v in by.items()), Fraction(0))
    return Widening(status.lower(), by, cost, bound, wide, table, time.perf_counter() - start)


def widened(line: Line, by: Mapping[Limit, Fraction]) -> Line:
    """The line with limits moved: longest soaks up, shortest down."""
    stages = list(line.stages)
    for limit, amount in by.items():
        stage = stages[limit.stage - 1]
        if limit.end == "min":
            stages[limit.stage - 1] = replace(stage, min_soak=stage.min_soak - amount)
        elif stage.max_soak is not None:
            stages[limit.stage - 1] = replace(stage, max_soak=stage.max_soak + amount)
    return replace(line, stages=tuple(stages))
