"""Plant sheets against the optima in tests/reference/crane, brute force on tiny lines, and each other."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plant_cases import CASES, case, example, line_from, sheet_of, tiny

from firstoff.errors import InputFault
from firstoff.line.jobs import is_plain, jobs_of
from firstoff.line.mixed import solve_mixed
from firstoff.line.mixed_bound import least_period, longest_period
from firstoff.line.plan import plan_line, with_loads
from firstoff.line.plant_line import AirLimit, PlantLine, Product
from firstoff.line.plant_table import LoadPlan, PlantTimetable
from firstoff.line.read_case import line_from as case_line
from firstoff.line.replay_plant import replay_plant
from firstoff.line.solve import solve_cranes

F = Fraction


def known() -> list[Any]:
    found = []
    for path in sorted(CASES.glob("*.json")):
        for entry in json.loads(path.read_text("utf-8"))["computed"]:
            if entry["hoists"] == 1:
                found.append(pytest.param(path.stem, entry["degree"], entry["macro_period"], id=path.stem))
    return found


@pytest.mark.parametrize(("name", "degree", "period"), known())
def test_a_reference_case_written_as_a_plant_sheet(name: str, degree: int, period: int) -> None:
    line = with_loads(line_from(sheet_of(case(name))), degree)
    assert is_plain(jobs_of(line))
    answer = plan_line(line)
    assert (answer.status, answer.period, answer.bound) == ("optimal", period, period)


@pytest.mark.parametrize(("name", "degree", "period"), [p for p in known() if "x2" not in str(p.id)])
def test_the_general_model_with_equal_products(name: str, degree: int, period: int) -> None:
    """The same optimum by a model of its own, which takes each load for a job like any other."""
    line = with_loads(line_from(sheet_of(case(name))), degree)
    answer = solve_mixed(jobs_of(line))
    assert (answer.status, answer.period, answer.bound) == ("optimal", period, period)
    assert answer.table is not None
    assert replay_plant(line, answer.table) == []


def test_two_cranes_as_the_model_for_case_files_finds() -> None:
    # without acceleration the two rules of the track are the same
    whole = case("rand_n12_s1")
    line = line_from(sheet_of(whole, cranes=2, separation=2))
    answer, other = plan_line(line), solve_cranes(case_line(whole), 2, 1, F(2), 120)
    assert answer.status == other.status == "optimal"
    assert answer.period == other.period


def test_a_watch_faster_than_the_stated_speed_is_refused_with_two_cranes() -> None:
    with pytest.raises(InputFault) as caught:
        line_from(sheet_of(case("phillips_unger_1976"), cranes=2))
    assert all("shorter than the stated speed allows" in m.what and m.line for m in caught.value.messages)


def brute_force(line: PlantLine) -> int | None:
    """The shortest period of one load, by trying every soak at every period; judged by the replay alone."""
    steps = line.products[0].steps
    stops = [("L",), *((t.name,) for t in line.tanks[1:]), ("L",)]
    ways = [int(line.carry(line.tank(a[0]), line.tank(b[0]))) for a, b in zip(stops, stops[1:], strict=False)]
    for period in range(1, longest_period(jobs_of(line)) + 1):
        for soaks in product(*(range(int(s.least), int(s.most or 0) + 1) for s in steps)):
            lifts = [0]
            for way, soak in zip(ways, soaks, strict=False):
                lifts.append(lifts[-1] + way + soak)
            downs = [F(t + way) for t, way in zip(lifts, ways, strict=True)]
            load = LoadPlan("p", tuple(stops), tuple(map(F, lifts)), tuple(downs), (0,) * len(ways))
            if not replay_plant(line, PlantTimetable(F(period), (load,))):
                return period
    return None


@settings(max_examples=12)
@given(
    st.lists(st.tuples(st.integers(1, 6), st.integers(0, 3)), min_size=2, max_size=2),
    st.lists(st.integers(1, 5), min_size=2, max_size=2),
    st.sampled_from([0, 4]),
    st.sampled_from([None, 1, 2]),
)
def test_brute_force_on_tiny_lines(soaks: list[tuple[int, int]], at: list[int], turn: int, bars: int | None) -> None:
    line = tiny([(low, low + more) for low, more in soaks], at, turn, bars=bars)
    answer = solve_mixed(jobs_of(line))
    assert answer.status == "optimal"
    assert answer.period == brute_force(line)
    assert answer.bound == answer.period


def test_bars_by_closed_form() -> None:
    # one bar: the next load waits until the last is off it, so the period is the whole way and the turnaround
    line = tiny([(5, 9), (5, 9)], [2, 4], 6, bars=1)
    answer = plan_line(line)
    assert answer.period == (1 + 2 + 1) + 5 + (1 + 2 + 1) + 5 + (1 + 4 + 1) + 6


def test_the_bus_by_closed_form() -> None:
    # both tanks draw 100 A of 100 A: one at a time, so a period holds both soaks; only the crane's 8 s between them
    # and the way of the other load keep it above that
    line = tiny([(50, 60), (50, 60)], [2, 4], 0)
    line = replace(line, tanks=tuple(replace(t, bus="b" if t.name != "L" else "") for t in line.tanks))
    steps = tuple(replace(s, current=F(100)) for s in line.products[0].steps)
    line = replace(line, products=(replace(line.products[0], steps=steps),), buses={"b": F(100)})
    free, tied = plan_line(replace(line, buses={"b": F(200)})), plan_line(line)
    assert free.period is not None and free.period < 100
    assert tied.period is not None and tied.period >= 100
    assert tied.status == "optimal"
    assert replay_plant(line, free.table) != [] if free.table else False


def two_products() -> PlantLine:
    line = tiny([(20, 30), (40, 60)], [2, 4], 0)
    short = Product("q", (line.products[0].steps[1],))
    return replace(line, products=(*line.products, short))


def test_mixed_products_skip_stages_and_are_no_slower_than_one_after_the_other() -> None:
    line = two_products()
    answer = plan_line(line)
    assert answer.status == "optimal" and answer.table is not None and answer.period is not None
    assert [len(load.lifts) for load in answer.table.loads] == [3, 2]
    alone = [plan_line(replace(line, products=(p,))).period for p in line.products]
    # T2 is taken for 40 + its two moves by each of the two loads: closed form of the busiest tank
    busy = (40 + 4 + 6) + (40 + 6 + 6)
    assert least_period(jobs_of(line)) == busy
    assert busy <= answer.period <= sum(p for p in alone if p is not None)


def test_duplicates_at_different_places_are_chosen_between() -> None:
    """The far tank alone costs more than the near one alone; both together are no worse than either."""
    line = tiny([(30, 40), (10, 60)], [2, 4], 0, loads=2)
    far = replace(line.tanks[1], name="far", position=F(9))
    both = replace(line, tanks=(*line.tanks, far))
    near_only, far_only = (
        plan_line(line),
        plan_line(replace(both, tanks=tuple(t for t in both.tanks if t.name != "T0"))),
    )
    answer = plan_line(both)
    assert answer.status == "optimal" and answer.period is not None and answer.table is not None
    assert near_only.period is not None and far_only.period is not None
    assert answer.period < near_only.period < far_only.period
    assert {stop for load in answer.table.loads for stop in load.stops[1]} == {"T0", "far"}


def test_air_decides_the_choice_of_tank() -> None:
    line = tiny([(30, 40), (10, 60)], [2, 4], 0)
    far = replace(line.tanks[1], name="far", position=F(19))
    both = replace(line, tanks=(*line.tanks, far), air=(AirLimit("op 0", "op 1", F(10)),))
    answer = plan_line(both)
    assert answer.table is not None
    assert answer.table.loads[0].stops[1] == ("T0",)  # from the far one it is 1 + 15 + 1 s


def test_the_example_is_proven() -> None:
    answer = plan_line(example())
    assert (answer.status, answer.period, answer.bound) == ("optimal", 300, 300)  # a regression test
    assert answer.table is not None
    assert len({name for stop in answer.table.loads[0].stops for name in stop}) >= 21


def test_a_tank_out_of_service_makes_it_slower() -> None:
    line = example()
    answer = plan_line(line.without(("8",)))
    assert answer.period is not None and answer.bound is not None
    # three semi-bright tanks: 840 s of soak, 30 s in, 41 s out at the furthest, shared by three
    assert answer.bound >= F(840 + 30 + 38, 3)
