"""Drawn lines of every kind: what the solvers find can be run, by a replay that shares no code with them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product as every
from random import Random

import pytest
from drawn_lines import drawn
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plant_cases import tiny

from firstoff.errors import InputFault
from firstoff.line.jobs import jobs_of
from firstoff.line.mixed import solve_mixed
from firstoff.line.mixed_bound import least_period
from firstoff.line.plan import plan_line
from firstoff.line.plant_line import PlantLine, Product
from firstoff.line.plant_table import LoadPlan, PlantTimetable
from firstoff.line.recovery import recover
from firstoff.line.replay_plant import replay_plant
from firstoff.line.replay_recovery import replay_recovery
from firstoff.line.state import state_in_cycle
from firstoff.line.tolerance import tolerances

F = Fraction


@settings(max_examples=12)
@given(st.integers(0, 10**6))
def test_what_is_found_can_be_run_and_recovered_into(seed: int) -> None:
    line, rng = drawn(seed), Random(seed)
    try:
        answer = plan_line(line, 20, roomy=True)
    except InputFault:  # no crane reaches two tanks that follow each other
        assume(False)
    assert answer.status in ("optimal", "infeasible")
    assume(answer.table is not None)
    assert answer.table is not None and answer.bound == answer.period
    assert replay_plant(line, answer.table) == []
    assert answer.table.period >= least_period(jobs_of(line)) * line.time_step
    for found in tolerances(jobs_of(line), answer.table):
        assert found.together is None or (found.alone is not None and found.together >= found.alone >= 0)
    state = state_in_cycle(line, answer.table)
    assume(state is not None)
    assert state is not None
    stood = rng.choice([0, 20, 60])
    loads = tuple(replace(x, since=x.since + stood) for x in state.loads if rng.random() < 0.9)
    state = replace(state, loads=loads)
    back = recover(line, state, answer.table, 20)
    assert back.status == "optimal"
    assert replay_recovery(line, state, answer.table, back) == []
    assert stood or not back.spoilt


def shortest(line: PlantLine) -> int:
    """The shortest cycle of two products' loads, by trying every soak and every start; judged by the replay alone."""
    plans = []
    for item in line.products:
        stops = ["L", *(f"T{s.operation[-1]}" for s in item.steps), "L"]
        ways = [int(line.carry(line.tank(a), line.tank(b))) for a, b in zip(stops, stops[1:], strict=False)]
        own = []
        for soaks in every(*(range(int(s.least), int(s.most or 0) + 1) for s in item.steps)):
            lifts = [0]
            for way, soak in zip(ways, soaks, strict=False):
                lifts.append(lifts[-1] + way + soak)
            downs = tuple(F(t + way) for t, way in zip(lifts, ways, strict=True))
            own.append(LoadPlan(item.name, tuple((s,) for s in stops), tuple(map(F, lifts)), downs, (0,) * len(ways)))
        plans.append(own)
    busy = sum(int(d - t) for own in plans for t, d in zip(own[0].lifts, own[0].downs, strict=True))
    for period in range(busy, 200):  # one crane makes all these moves
        for one, two, start in every(*plans, range(period)):
            late = replace(two, lifts=tuple(t + start for t in two.lifts), downs=tuple(t + start for t in two.downs))
            if not replay_plant(line, PlantTimetable(F(period), (one, late))):
                return period
    raise AssertionError("no cycle at all")


@pytest.mark.parametrize(("soaks", "at"), [([(2, 3), (4, 5)], [1, 2]), ([(6, 6), (1, 3)], [2, 1])])
def test_two_products_against_brute_force(soaks: list[tuple[int, int]], at: list[int]) -> None:
    line = tiny(soaks, at, 0)
    line = replace(line, products=(line.products[0], Product("q", line.products[0].steps[1:])))
    answer = solve_mixed(jobs_of(line))
    assert answer.status == "optimal"
    assert answer.period == shortest(line)


def test_several_loads_begin_with_one_repeated() -> None:
    """Without time to search, a cycle of several loads is no worse than that of one, and its bound is honest."""
    from firstoff.line.plan import _general, with_loads

    line = tiny([(20, 30), (40, 60)], [2, 4], 0)
    jobs = jobs_of(with_loads(line, 3))
    hurried, settled = _general(jobs, 0.2), _general(jobs, 30)
    once = plan_line(line)
    assert once.period is not None and settled.period is not None and hurried.period is not None
    assert settled.status == "optimal"
    assert settled.period <= hurried.period <= 3 * once.period
    assert hurried.bound is not None and hurried.bound <= settled.period
