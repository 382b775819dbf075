"""Back to the timetable from any state, as few loads spoilt as possible; replayed before it is handed on."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from firstoff.line.jobs import jobs_of
from firstoff.line.plant_line import PlantLine
from firstoff.line.plant_table import PlantTimetable
from firstoff.line.recovery_model import RecoveryModel
from firstoff.line.recovery_spoilt import least_spoilt, run
from firstoff.line.replay_recovery import replay_recovery
from firstoff.line.solve import ReplayFault
from firstoff.line.state import LineState

SAVING = 0.5  # of the time at most, to settle which loads cannot be saved


@dataclass(frozen=True)
class RecoveryMove:
    """One move of a load that is in the line already."""

    load: str
    product: str
    move: int  # of its recipe, from 0
    start: Fraction
    end: Fraction
    source: tuple[str, ...]  # of several, the tank it is in or the next that is free
    target: tuple[str, ...]
    crane: int


@dataclass(frozen=True)
class Recovery:
    """`joined`: when the first load of the timetable is lifted; all new ones follow it from then on."""

    status: str  # optimal, feasible, infeasible, unknown
    joined: Fraction | None
    bound: Fraction | None  # giving up the same loads, no recovery joins sooner
    spoilt: tuple[str, ...]
    moves: tuple[RecoveryMove, ...]
    clear: Fraction | None  # when the last load of the beginning is taken off
    least: bool  # whether it is proven that no recovery spoils less
    seconds: float


def recover(line: PlantLine, state: LineState, table: PlantTimetable, time_limit: float = 60.0) -> Recovery:
    """The recovery of a line (with every product that is in it) into a timetable that repeats."""
    begun = time.perf_counter()
    end = begun + time_limit
    line = replace(line, time_step=line.time_step / _parts(line, table))
    jobs = jobs_of(replace(line, products=tuple(replace(p, loads=1) for p in line.products)))
    saved = least_spoilt(jobs, state, table, begun + SAVING * time_limit)
    if saved.hint is None:
        status = "infeasible" if saved.blocked else "unknown"
        return Recovery(status, None, None, (), (), None, False, time.perf_counter() - begun)
    model = RecoveryModel(jobs, state, table, saved.spoilt, joining=True)
    for trip, start, by in zip(model.trips, *saved.hint, strict=False):
        model.model.add_hint(trip.start, start)
        for literal, value in zip(trip.by, by, strict=True):
            if not isinstance(literal, int):
                model.model.add_hint(literal, value)
    late = max(saved.hint[0], default=0) + max(max(row) for row in jobs.carry)
    model.model.add_hint(model.join, min(late, model.last) + model.period)
    status, values, solver = run(model, end)
    if values is None:
        return Recovery(
            "unknown", None, None, tuple(sorted(saved.spoilt)), (), None, False, time.perf_counter() - begun
        )
    step = line.time_step
    moves = _moves(model, values, step)
    answer = Recovery(
        status="optimal" if status == "OPTIMAL" and saved.proven else "feasible",
        joined=values(model.join) * step,
        bound=math.ceil(solver.best_objective_bound - 1e-6) * step,
        spoilt=tuple(load.name for load in state.loads if load.name in saved.spoilt),
        moves=tuple(moves),
        clear=max((m.end for m in moves), default=Fraction(0)),
        least=saved.proven,
        seconds=time.perf_counter() - begun,
    )
    faults = replay_recovery(line, state, table, answer)
    if faults:
        raise ReplayFault("; ".join(faults))
    return answer


def _parts(line: PlantLine, table: PlantTimetable) -> int:
    """How many parts of a time step the times of the timetable ask for: a proven period need not be whole."""
    times = [table.period, *(t for load in table.loads for t in (*load.lifts, *load.downs))]
    return math.lcm(*((t / line.time_step).denominator for t in times))


def _moves(model: RecoveryModel, value: Any, step: Fraction) -> list[RecoveryMove]:
    moves = []
    for r in model.remaining:
        for i, number in enumerate(r.trips):
            trip = model.trips[number]
            mode = next(m for m, by in zip(trip.modes, trip.by, strict=True) if value(by))
            start = value(trip.start) * step
            source, target = (
                tuple(t.name for t in model.jobs.places[p].tanks) for p in (mode.source, mode.target)
            )  # fmt: skip
            if i == 0:
                source = (r.load.tank,) if not r.hanging else ()
            moves.append(
                RecoveryMove(
                    r.load.name, r.load.product, r.first + i, start, start + mode.duration * step, source, target,
                    mode.crane,
                )
            )  # fmt: skip
    return sorted(moves, key=lambda m: (m.start, m.load))
