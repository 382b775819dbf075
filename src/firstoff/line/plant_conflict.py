"""Why a plant's line has no timetable within a period: the fewest window ends that rule it out, and the least widening.

A bound of a window is its least or its greatest soak. All bounds but those of the set may go, and still there is no
timetable; without any one of the set there is one.
"""

from __future__ import annotations

import time
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from firstoff.line.hitting import smallest_hitting
from firstoff.line.jobs import Job, Jobs, Mode, Visit
from firstoff.line.mixed import WORKERS, Mixed
from firstoff.line.mixed_bound import least_period

Side = Literal["least", "most"]


@dataclass(frozen=True, order=True)
class Bound:
    """One end of one window: of the step `step` of a product's recipe, counted from 0."""

    product: str
    step: int
    side: Side


@dataclass(frozen=True)
class Conflict:
    """Bounds that together rule out the period; `smallest`: no smaller set does, proven."""

    bounds: tuple[Bound, ...]
    smallest: bool


@dataclass(frozen=True)
class Widening:
    """By how many steps of time each bound gives way, at the least cost; `proven`: there is no cheaper one."""

    by: Mapping[Bound, int]
    cost: int
    proven: bool


class Loose(Mixed):
    """The model with bounds that hold only if they are kept, or give way."""

    def __init__(self, jobs: Jobs, most: int) -> None:
        self.kept: dict[Bound, Any] = {}
        self.way: dict[Bound, Any] = {}
        without = replace(jobs, jobs=tuple(_without_least(job) for job in jobs.jobs))
        self.named = {(j, m): (job.product.name, m - 1) for j, job in enumerate(jobs.jobs) for m in range(1, job.moves)}
        super().__init__(jobs, min(least_period(without), most), most)
        self.model.clear_objective()  # type: ignore[no-untyped-call]

    def _between(self, mode: Mode, visit: Visit, source: int) -> int:
        return self.jobs.empty[mode.target][source]  # a soak that may give way bounds nothing

    def _window(self, a: int, b: int, soak: Any, window: tuple[int, int | None], case: Any) -> None:
        j = max(i for i, first in enumerate(self.first) if first <= a)
        product, step = self.named[j, a - self.first[j] + 1]
        least, most = window
        one = Bound(product, step, "least")
        self.model.add(soak >= 0).only_enforce_if(case)
        self.model.add(soak + self._way(one, least) >= least).only_enforce_if(case)
        if most is not None:
            two = Bound(product, step, "most")
            self.model.add(soak <= most + self._way(two, self.top)).only_enforce_if(case)

    def _way(self, bound: Bound, most: int) -> Any:
        if bound not in self.way:
            self.way[bound] = self.model.new_int_var(0, most, f"by {bound}")
            self.kept[bound] = self.model.new_bool_var(f"kept {bound}")
            self.model.add(self.way[bound] == 0).only_enforce_if(self.kept[bound])
        return self.way[bound]

    def solve(self, seconds: float) -> tuple[str, Any]:
        solver = self.cp.CpSolver()
        solver.parameters.num_workers = WORKERS
        solver.parameters.random_seed = 1
        solver.parameters.max_time_in_seconds = max(0.1, seconds)
        return solver.status_name(solver.solve(self.model)), solver


def _without_least(job: Job) -> Job:
    return replace(job, visits=tuple(replace(v, least=0) for v in job.visits))


def widening(
    jobs: Jobs, period: int, time_limit: float = 30.0, costs: Mapping[Bound, int] | None = None,
    fixed: Collection[Bound] = (),
) -> Widening | None:  # fmt: skip
    """The cheapest giving way of windows that allows a cycle of at most `period` steps of time; None when none does, or
    none was found in time.

    costs: of one step of time, 1 where nothing is said; fixed: bounds that must not give way.
    """
    model = Loose(jobs, period)
    for bound, way in model.way.items():
        if bound in fixed:
            model.model.add(way == 0)
    priced = {bound: (costs or {}).get(bound, 1) for bound in model.way}
    model.model.minimize(sum(priced[bound] * way for bound, way in model.way.items()))
    status, solver = model.solve(time_limit)
    if status not in ("OPTIMAL", "FEASIBLE"):
        return None
    by = {bound: int(solver.value(way)) for bound, way in model.way.items() if solver.value(way)}
    return Widening(by, sum(priced[bound] * steps for bound, steps in by.items()), status == "OPTIMAL")


def conflict(jobs: Jobs, period: int, time_limit: float = 30.0) -> Conflict | None:
    """The smallest set of bounds that rules out a cycle of at most `period` steps; None when nothing is ruled out, or
    not without any window, or not decided in time.

    A smallest set hits every set of bounds whose going would allow a timetable. Such sets are collected, one from each
    timetable that keeps the present smallest hitting set and as many other bounds as can be, until none keeps it.
    Source: minimal hitting set dualisation (Reiter 1987, A theory of diagnosis from first principles).
    """
    end = time.perf_counter() + time_limit
    model = Loose(jobs, period)
    bounds = sorted(model.kept)
    model.model.maximize(sum(model.kept.values()))
    going: list[frozenset[Bound]] = []
    while time.perf_counter() < end:
        chosen = smallest_hitting(bounds, going)
        model.model.clear_assumptions()
        model.model.add_assumptions([model.kept[bound] for bound in chosen])
        status, solver = model.solve(end - time.perf_counter())
        if status == "INFEASIBLE":
            return Conflict(chosen, True) if chosen else None
        if status not in ("OPTIMAL", "FEASIBLE"):
            break
        gone = frozenset(bound for bound in bounds if not solver.value(model.kept[bound]))
        if not gone:
            return None  # every window is kept: there is a timetable
        going.append(gone)
    return _minimal(jobs, period, bounds, time_limit)


def _minimal(jobs: Jobs, period: int, bounds: Sequence[Bound], seconds: float) -> Conflict | None:
    """A set of which no bound can be spared, by leaving out one after the other; None when that is not decided."""
    end = time.perf_counter() + seconds
    model, kept = Loose(jobs, period), list(bounds)

    def ruled_out(chosen: Sequence[Bound]) -> bool:
        model.model.clear_assumptions()
        model.model.add_assumptions([model.kept[bound] for bound in chosen])
        return bool(model.solve(end - time.perf_counter())[0] == "INFEASIBLE")

    if not ruled_out(kept):
        return None
    for bound in bounds:
        fewer = [b for b in kept if b != bound]
        if time.perf_counter() < end and ruled_out(fewer):
            kept = fewer
    return Conflict(tuple(kept), False)
