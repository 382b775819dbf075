"""The shortest timetable of a plant's line, by whichever solver fits; replayed before it is handed on.

One product and one crane are a line of stages, for which the branch and bound proves the shortest period exactly. Where
its optimum breaks a limit it does not know (bars, buses), and for everything else, the general model is used.
"""

from __future__ import annotations

import time
from dataclasses import replace
from fractions import Fraction

from firstoff.errors import InputFault, Message
from firstoff.line.case import Line, Stage
from firstoff.line.jobs import Jobs, is_plain, jobs_of
from firstoff.line.mixed import roomiest, solve_mixed
from firstoff.line.plant_line import PlantLine, Product
from firstoff.line.plant_sheet import route_faults
from firstoff.line.plant_table import LoadPlan, PlanAnswer, PlantTimetable
from firstoff.line.replay_plant import replay_plant
from firstoff.line.solve import Answer, ReplayFault, solve
from firstoff.line.travel import rounded_up

ROOM = Fraction(30)  # s: a move that may be late by more is late enough


def plan_line(line: PlantLine, time_limit: float = 60.0, *, roomy: bool = False) -> PlanAnswer:
    """The shortest period of the products' loads in one cycle; `roomy`: of its timetables, one whose moves may be late
    by more in all."""
    check_line(line)
    jobs = jobs_of(line)
    begun = time.perf_counter()
    tied = line.bars is not None or bool(line.buses)
    answer = _plain(jobs, time_limit / 2 if tied else time_limit) if is_plain(jobs) else None
    if answer is None:
        answer = _general(jobs, time_limit - (time.perf_counter() - begun))
    if roomy and answer.table is not None:
        better = roomiest(jobs, answer.table, jobs.ticks(rounded_up(ROOM, line.time_step)))
        answer = answer if better is None else replace(answer, table=better)
    faults = replay_plant(line, answer.table) if answer.table else []
    if faults:
        raise ReplayFault("; ".join(faults))
    return answer


def check_line(line: PlantLine) -> None:
    """InputFault when a recipe cannot be run at all, e.g. with a tank out of service or with slack asked for."""
    faults = []
    for product in line.products:
        for step in product.steps:
            if step.most is not None and step.most < step.least:
                what = f"no window is left of {step.operation} with the slack"
                faults.append(Message(what, line.name, key=product.name, found=f"{float(line.slack):g} s"))
        faults += [Message(f.what, line.name, 0, product.name, f.found, f.allowed) for f in route_faults(line, product)]
    if faults:
        raise InputFault(faults)


def _general(jobs: Jobs, time_limit: float) -> PlanAnswer:
    """The general model's answer; of several loads that are alike, one alone first, to have something to beat."""
    loads = len(jobs.jobs)
    known = None
    begun = time.perf_counter()
    if loads > 1 and all(job == jobs.jobs[0] for job in jobs.jobs):
        known = solve_mixed(Jobs(jobs.line, jobs.places, jobs.jobs[:1]), time_limit / 4).table
    if known is not None:
        known = PlantTimetable(
            known.period * loads, tuple(_later(known.loads[0], k * known.period) for k in range(loads))
        )
        known = None if replay_plant(jobs.line, known) else known
    answer = solve_mixed(jobs, time_limit - (time.perf_counter() - begun), known)
    return replace(answer, seconds=time.perf_counter() - begun)


def _later(load: LoadPlan, by: Fraction) -> LoadPlan:
    return replace(load, lifts=tuple(t + by for t in load.lifts), downs=tuple(t + by for t in load.downs))


def as_stages(jobs: Jobs) -> Line:
    """A plain line as stages; times in seconds."""
    line, job = jobs.line, jobs.jobs[0]
    step = line.time_step
    stops = [v.places[0] for v in job.visits]
    stages = tuple(
        Stage(v.least * step, None if v.most is None else v.most * step, len(jobs.places[v.places[0]].tanks))
        for v in job.visits[1:-1]
    )
    loaded = tuple(jobs.carry[p][q] * step for p, q in zip(stops, stops[1:], strict=False))
    empty = tuple(tuple(jobs.empty[p][q] * step for q in stops[:-1]) for p in stops[1:])
    turn = line.tank(jobs.places[stops[0]].tanks[0].name).turnaround if line.shared else Fraction(0)
    at = tuple(jobs.places[p].low for p in stops)
    return Line(line.name, stages, loaded, empty, line.shared, turn, at)


def _plain(jobs: Jobs, time_limit: float) -> PlanAnswer | None:
    """The answer of the branch and bound, unless it is better than bars or buses allow."""
    stages = as_stages(jobs)
    answer = solve(stages, len(jobs.jobs), time_limit)
    table = None if answer.table is None else _as_plant(jobs, answer, stages)
    if table is not None and replay_plant(jobs.line, table):
        return None
    return PlanAnswer(answer.status, table, answer.bound, answer.seconds, answer.found_by, answer.over)


def _as_plant(jobs: Jobs, answer: Answer, stages: Line) -> PlantTimetable:
    assert answer.table is not None
    job = jobs.jobs[0]
    stops = tuple(tuple(t.name for t in jobs.places[v.places[0]].tanks) for v in job.visits)
    loads = []
    for lifts in answer.table.removal:
        downs = tuple(t + d for t, d in zip(lifts, stages.loaded_move, strict=True))
        loads.append(LoadPlan(job.product.name, stops, lifts, downs, (0,) * job.moves))
    return PlantTimetable(answer.table.period, tuple(loads))


def with_loads(line: PlantLine, loads: int) -> PlantLine:
    """The same line with that many loads of its only product in one cycle."""
    return replace(line, products=tuple(replace(p, loads=loads) for p in line.products))


def only(line: PlantLine, product: Product) -> PlantLine:
    """The same line with one product alone; others stay known for loads that are in the line already."""
    return replace(line, products=(product,))
