"""The shortest repeating timetable of a line: proven, or the best found with the bound it has been proven to have."""

from __future__ import annotations

import math
import threading
import time
from dataclasses import dataclass
from fractions import Fraction

from firstoff.line.case import Line
from firstoff.line.problem import Problem, problem, scale_of, timetable
from firstoff.line.replay import Timetable, replay
from firstoff.line.sweep import State, descend, root_bound, sweep
from firstoff.line.track import positions
from firstoff.line.two_cranes import solve_two

HEAD_START = 0.02  # s before the second core is called in: most lines are done by then


@dataclass(frozen=True)
class Answer:
    """`period` covers all loads of one cycle. `bound`: no timetable has a shorter one."""

    status: str  # optimal, feasible, infeasible, unknown
    loads: int
    cranes: int
    table: Timetable | None
    bound: Fraction | None
    seconds: float
    nodes: int = 0
    found_by: str = ""
    over: str = "all periods"  # what the proof covers; or "whole time units"

    @property
    def period(self) -> Fraction | None:
        return self.table.period if self.table else None

    @property
    def gap(self) -> float | None:
        """How far the bound lies below the period, as a share of the period."""
        if self.table is None or self.bound is None:
            return None
        return float(1 - self.bound / self.table.period)


class ReplayFault(RuntimeError):
    """A solver gave a timetable that cannot be run: a fault of this program, never shown as a result."""


def solve(line: Line, loads: int = 1, time_limit: float = 60.0) -> Answer:
    """The shortest period of one crane with `loads` loads in it."""
    start = time.perf_counter()
    end = start + time_limit
    once = solve(line, 1, time_limit / 2) if loads > 1 else None
    task = problem(line, loads)
    bound = root_bound(task)
    if bound is None:
        return Answer("infeasible", loads, 1, None, None, time.perf_counter() - start)
    state = State(bound)
    fallback = once.table if once else one_at_a_time(line)
    if fallback is not None:
        # one load at a time, or the cycle of one load repeated: only a shorter period is worth finding
        state.best = fallback.period * task.scale
    _search(task, state, end)
    table = None
    best, times, units, found_by = state.best, state.times, state.units, state.found_by
    if times is not None and best is not None:
        table = timetable(task, times, units, best / task.scale)
    elif fallback is not None:
        table, found_by = repeated(fallback, loads), once.found_by if once else "one load at a time"
    faults = replay(line, table) if table else []
    if faults:
        raise ReplayFault("; ".join(faults))
    status = "optimal" if state.proven else "feasible"
    if table is None:
        status = "infeasible" if state.proven else "unknown"
    shown = None if status == "infeasible" else state.bound * loads / task.scale
    nodes = state.nodes + (once.nodes if once else 0)
    return Answer(status, loads, 1, table, shown, time.perf_counter() - start, nodes, found_by)


def solve_two_cranes(
    line: Line, loads: int = 1, separation: Fraction = Fraction(0), time_limit: float = 60.0
) -> Answer:
    """The shortest period, in whole time units, of two cranes on one track."""
    start = time.perf_counter()
    positions(line)
    one = solve(line, loads, time_limit / 4)
    most = None if one.period is None else Fraction(math.floor(one.period * scale_of(line)), scale_of(line))
    whole = most is not None and most == one.period  # else the bound would shut out one crane's own timetable
    status, table, bound = solve_two(line, loads, separation, start + time_limit, most if whole else None)
    faults = replay(line, table, separation) if table else []
    if faults:
        raise ReplayFault("; ".join(faults))
    seconds = time.perf_counter() - start
    return Answer(status, loads, 2, table, bound, seconds, one.nodes, "CP-SAT", "whole time units")


def one_at_a_time(line: Line) -> Timetable | None:
    """The next load is lifted when the last has left; None when even that cannot be run."""
    times = [Fraction(0)]
    for stage, move in zip(line.stages, line.loaded_move, strict=False):
        times.append(times[-1] + move + stage.min_soak)
    period = times[-1] + line.loaded_move[-1] + max(line.empty_move[-1][0], line.turnaround)
    table = Timetable(period, (tuple(times),))
    return None if replay(line, table) else table


def repeated(table: Timetable, loads: int) -> Timetable:
    """A cycle of one load, written as a cycle of `loads`."""
    rows = tuple(tuple(t + x * table.period for t in table.removal[0]) for x in range(loads))
    return Timetable(table.period * loads, rows)


def _search(task: Problem, state: State, end: float) -> None:
    """From below here, from above on the second core unless all is over first."""
    over, faults = threading.Event(), []

    def run() -> None:
        if over.wait(HEAD_START):
            return
        try:
            descend(task, state, lambda: over.is_set() or time.perf_counter() > end)
        except RuntimeError as fault:
            faults.append(fault)

    helper = threading.Thread(target=run, daemon=True, name="from above")
    helper.start()
    try:
        sweep(task, state, lambda: time.perf_counter() > end)
    finally:
        over.set()
        helper.join()
    if faults:
        raise faults[0]
