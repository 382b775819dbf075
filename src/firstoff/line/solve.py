"""The shortest repeating timetable of a line: proven, or the best found with the bound it has been proven to have."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, replace
from fractions import Fraction

from firstoff.line.case import Line
from firstoff.line.conflict import Conflict, Widening, conflict, widening
from firstoff.line.problem import Problem, problem, timetable
from firstoff.line.replay import Timetable, replay
from firstoff.line.sweep import State, descend, root_bound, sweep

HEAD_START = 0.05  # s before the second core is called in: most lines are done by then
PATIENCE = 2.0  # s without a timetable until that core starts from above


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
    over: str = "all periods"  # what the proof covers
    conflict: Conflict | None = None  # when there is no timetable, or none as short as wanted: why
    cure: Widening | None = None  # and what would let one through

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
    return solve_cranes(line, 1, loads, Fraction(0), time_limit)


def solve_cranes(
    line: Line, cranes: int, loads: int = 1, separation: Fraction = Fraction(0), time_limit: float = 60.0
) -> Answer:
    """The shortest period with `loads` loads in it, proven unless the time is up before."""
    start = time.perf_counter()
    end = start + time_limit
    task = problem(line, loads, cranes, separation)
    fallback, by, nodes = _known(line, cranes, loads, separation, time_limit)
    bound = root_bound(task)
    if bound is None:
        return Answer("infeasible", loads, cranes, None, None, time.perf_counter() - start)
    state = State(bound)
    if fallback is not None:
        state.best = fallback.period * task.scale / loads  # only a shorter one is worth finding
    _search(task, state, end)
    table = fallback
    if state.times is not None and state.best is not None:
        found_cranes = state.cranes if cranes > 1 else None
        table, by = timetable(task, state.times, state.units, state.best / task.scale, found_cranes), state.found_by
    faults = replay(line, table, separation) if table else []
    if faults:
        raise ReplayFault("; ".join(faults))
    status = "optimal" if state.proven else "feasible"
    if table is None:
        status = "infeasible" if state.proven else "unknown"
    shown = None if status == "infeasible" else state.bound * loads / task.scale
    return Answer(status, loads, cranes, table, shown, time.perf_counter() - start, state.nodes + nodes, by)


def explained(
    line: Line,
    answer: Answer,
    takt: Fraction | None = None,
    separation: Fraction = Fraction(0),
    time_limit: float = 60.0,
) -> Answer:
    """The answer with what is in the way, when there is no timetable, or none with a period per load up to `takt`."""
    late = takt is not None and answer.bound is not None and answer.bound > takt * answer.loads
    if answer.status != "infeasible" and not late:
        return answer
    asked = takt if late else None
    why = conflict(line, answer.loads, answer.cranes, time_limit / 2, asked, separation)
    cure = widening(line, answer.loads, answer.cranes, time_limit / 2, asked, separation)
    return replace(answer, conflict=why, cure=cure)


def _known(
    line: Line, cranes: int, loads: int, separation: Fraction, time_limit: float
) -> tuple[Timetable | None, str, int]:
    """A timetable to start from: one load at a time; the cycle of one load, repeated. With who found it, and nodes."""
    if loads > 1:
        once = solve_cranes(line, cranes, 1, separation, time_limit / 2)
        table = repeated(once.table, loads) if once.table else None
        if table is not None and not replay(line, table, separation):
            return table, once.found_by, once.nodes
        return None, "", once.nodes
    table = one_at_a_time(line) if cranes == 1 else None
    return table, "one load at a time" if table else "", 0


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
    return Timetable(table.period * loads, rows, None if table.cranes is None else table.cranes * loads)


def _search(task: Problem, state: State, end: float) -> None:
    """Range by range here, and on the second core unless all is over first."""
    over, faults = threading.Event(), []

    def done() -> bool:
        return over.is_set() or state.proven or time.perf_counter() > end

    def run() -> None:
        if over.wait(HEAD_START):
            return
        late = time.perf_counter() + PATIENCE
        try:
            sweep(task, state, lambda: done() or (state.times is None and time.perf_counter() > late))
            if not done():
                descend(task, state, done)
        except RuntimeError as fault:
            faults.append(fault)

    helper = threading.Thread(target=run, daemon=True, name="second core")
    helper.start()
    try:
        sweep(task, state, done)
    finally:
        over.set()
        helper.join()
    if faults:
        raise faults[0]
