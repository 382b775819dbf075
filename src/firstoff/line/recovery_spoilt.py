"""Which loads cannot be saved: the lightest set whose giving up lets all the others keep their windows.

Loads that cannot all be saved, even with nothing else in the line, are found as small sets; at least one of each must
be given up. The lightest choice from all of them is tried with every load in the line, until one can be run: it is then
the lightest there is.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from firstoff.line.jobs import Jobs
from firstoff.line.plant_table import PlantTimetable
from firstoff.line.recovery_model import RecoveryModel
from firstoff.line.state import LineState, LoadState

WORKERS = 1  # one gives the same answer every time
CHECK = 5.0  # s for one set
Hint = tuple[list[int], list[list[int]]]  # start of every move, and which of its ways is taken


@dataclass(frozen=True)
class Saved:
    """`hint`: moves of all loads with these given up; None when nothing was found. `proven`: none lighter does it."""

    spoilt: frozenset[str]
    hint: Hint | None
    proven: bool
    blocked: bool = False  # proven: the loads block each other, whatever is given up


def run(model: RecoveryModel, end: float, *, listed: bool = False) -> tuple[str, Callable[[Any], int] | None, Any]:
    """Solve until `end`; `listed`: put every move as early as it goes, one by one, which finds something soon."""
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = 1
    solver.parameters.linearization_level = 0  # measured: the linear relaxation only costs time here
    solver.parameters.max_time_in_seconds = max(0.1, end - time.perf_counter())
    if listed:
        starts = [t.start for t in model.trips if t.after is None]
        model.model.add_decision_strategy(starts, model.cp.CHOOSE_LOWEST_MIN, model.cp.SELECT_MIN_VALUE)
        solver.parameters.search_branching = model.cp.FIXED_SEARCH
    status = solver.status_name(solver.solve(model.model))
    if status not in ("OPTIMAL", "FEASIBLE"):
        return status, None, solver
    return status, lambda x: x if isinstance(x, int) else int(solver.value(x)), solver


def least_spoilt(jobs: Jobs, state: LineState, table: PlantTimetable, end: float) -> Saved:
    """The lightest set of loads to give up."""
    cores: list[frozenset[str]] = []
    everybody = frozenset(load.name for load in state.loads)
    proven = True
    while True:
        spoilt = lightest(state.loads, cores)
        good = everybody - spoilt
        if savable(jobs, state, table, good, end) is False:
            cores.append(_core(jobs, state, table, good, end))
            continue
        model = RecoveryModel(jobs, state, table, spoilt, joining=False)
        for listed in (True, False):
            status, value, _ = run(model, min(end, time.perf_counter() + 2 * CHECK), listed=listed)
            if value is not None:
                starts = [value(t.start) for t in model.trips]
                return Saved(spoilt, (starts, [[value(x) for x in t.by] for t in model.trips]), proven)
            if status == "INFEASIBLE":
                break
        proven = proven and status == "INFEASIBLE"
        if not good or time.perf_counter() > end:
            return Saved(spoilt, None, False, blocked=not good and status == "INFEASIBLE")
        cores.append(good)


def savable(jobs: Jobs, state: LineState, table: PlantTimetable, names: Collection[str], end: float) -> bool | None:
    """Whether these loads could keep their windows with nothing else in the line; None when not settled in time."""
    few = replace(state, loads=tuple(load for load in state.loads if load.name in names))
    if not few.loads:
        return True
    model = RecoveryModel(jobs, few, table, (), joining=False)
    if any(t.latest < t.earliest for t in model.trips):
        return False
    status, value, _ = run(model, min(end, time.perf_counter() + CHECK))
    return True if value is not None else False if status == "INFEASIBLE" else None


def _core(jobs: Jobs, state: LineState, table: PlantTimetable, names: Collection[str], end: float) -> frozenset[str]:
    """A set of loads of which one must be given up, none of them without need."""
    core = set(names)
    for name in sorted(names):
        if len(core) > 1 and savable(jobs, state, table, core - {name}, end) is False:
            core.discard(name)
    return frozenset(core)


def lightest(loads: Sequence[LoadState], cores: Sequence[frozenset[str]]) -> frozenset[str]:
    """The lightest set that has a load of every core."""
    if not cores:
        return frozenset()
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    given_up = {load.name: model.new_bool_var(load.name) for load in loads}
    for core in cores:
        model.add_bool_or([given_up[name] for name in sorted(core)])
    model.minimize(sum(load.weight * given_up[load.name] for load in loads))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.solve(model)
    return frozenset(name for name, x in given_up.items() if solver.value(x))
