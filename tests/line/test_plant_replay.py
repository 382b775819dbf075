"""Broken timetables of plant lines, each caught by the replay."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plant_cases import case, example, line_from, sheet_of

from firstoff.line.jobs import jobs_of
from firstoff.line.mixed import solve_mixed
from firstoff.line.plan import plan_line
from firstoff.line.plant_line import AirLimit, PlantLine
from firstoff.line.plant_table import LoadPlan, PlantTimetable
from firstoff.line.replay_plant import replay_plant
from firstoff.line.tolerance import tolerances

F = Fraction


@lru_cache(maxsize=4)
def sound(name: str) -> tuple[PlantLine, PlantTimetable]:
    """A line with a timetable that can be run: the example with two cranes, or a line with one."""
    line = example() if name == "two cranes" else line_from(sheet_of(case("multi_tank_n14")))
    answer = plan_line(line) if name == "two cranes" else solve_mixed(jobs_of(line))
    assert answer.table is not None
    return line, answer.table


NAMES = st.sampled_from(["two cranes", "one crane"])


def changed(table: PlantTimetable, **what: object) -> PlantTimetable:
    load: LoadPlan = replace(table.loads[0], **what)  # type: ignore[arg-type]
    return replace(table, loads=(load, *table.loads[1:]))


def shifted(table: PlantTimetable, move: int, by: Fraction, after: bool = False) -> PlantTimetable:
    """A move (with `after`, and all that follow it) at another time."""
    load = table.loads[0]
    these = range(move, len(load.lifts)) if after else [move]
    lifts = tuple(t + by if i in these else t for i, t in enumerate(load.lifts))
    downs = tuple(t + by if i in these else t for i, t in enumerate(load.downs))
    return changed(table, lifts=lifts, downs=downs)


def moves(table: PlantTimetable) -> st.SearchStrategy[int]:
    return st.integers(1, len(table.loads[0].lifts) - 1)


def test_what_the_solver_found_can_be_run() -> None:
    for name in ("two cranes", "one crane"):
        assert replay_plant(*sound(name)) == []


@settings(max_examples=15)
@given(NAMES, st.data())
def test_a_soak_outside_its_window_is_caught(name: str, data: st.DataObject) -> None:
    line, table = sound(name)
    move = data.draw(moves(table))
    step, load = line.products[0].steps[move - 1], table.loads[0]
    soak, more = load.lifts[move] - load.downs[move - 1], F(1, data.draw(st.integers(1, 9)))
    short = replay_plant(line, shifted(table, move, step.least - soak - more, after=True))
    assert any(f"in {step.operation} for" in f and "less" in f for f in short)
    assume(step.most is not None)
    long = replay_plant(line, shifted(table, move, (step.most or F(0)) - soak + more, after=True))
    assert any(f"in {step.operation} for" in f and "more" in f for f in long)


@settings(max_examples=15)
@given(NAMES, st.data())
def test_a_move_that_is_given_too_little_time_is_caught(name: str, data: st.DataObject) -> None:
    line, table = sound(name)
    move, load = data.draw(st.integers(0, len(table.loads[0].lifts) - 1)), table.loads[0]
    ends = [line.tank(n) for n in (load.stops[move][-1], load.stops[move + 1][0])]
    near = min(
        line.carry(line.tank(a), line.tank(b)) for a in load.stops[move] for b in load.stops[move + 1]
    )  # with duplicates some pair of tanks is always farther apart
    time = near - line.time_step - F(data.draw(st.integers(0, 20)))
    downs = tuple(load.lifts[i] + time if i == move else t for i, t in enumerate(load.downs))
    faults = replay_plant(line, changed(table, downs=downs))
    assert any("are not enough from" in f for f in faults), ends


@settings(max_examples=15)
@given(NAMES, st.data())
def test_a_crane_in_two_places_is_caught(name: str, data: st.DataObject) -> None:
    """A move is put inside another of the same crane."""
    line, table = sound(name)
    load = table.loads[0]
    a = data.draw(st.integers(0, len(load.lifts) - 1))
    same = [b for b in range(1, len(load.lifts)) if b != a and load.cranes[b] == load.cranes[a]]
    b = data.draw(st.sampled_from(same))
    inside = F(data.draw(st.integers(0, int(load.downs[a] - load.lifts[a]) - 1)))
    by = (load.lifts[a] + inside - load.lifts[b]) % table.period
    assert any("before it is there" in f for f in replay_plant(line, shifted(table, b, by)))


@settings(max_examples=15)
@given(NAMES, st.integers(1, 3), st.data())
def test_a_tank_that_is_asked_to_hold_two_loads_is_caught(name: str, more: int, data: st.DataObject) -> None:
    """All from one move on, late by whole periods: the cranes see no difference, the tanks do."""
    line, table = sound(name)
    move = data.draw(moves(table))
    by = (more + len(table.loads[0].stops[move]) - 1) * table.period
    faults = replay_plant(line, shifted(table, move, by, after=True))
    assert any("asked to hold two loads" in f for f in faults)


@settings(max_examples=15)
@given(NAMES, st.integers(1, 60))
def test_a_shorter_period_than_the_optimum_is_caught(name: str, less: int) -> None:
    line, table = sound(name)
    assert replay_plant(line, replace(table, period=table.period - less)) != []


@settings(max_examples=15)
@given(st.data())
def test_a_crane_exchanged_is_caught(data: st.DataObject) -> None:
    """The other crane does not reach, or would have to cross, or is not there in time."""
    line, table = sound("two cranes")
    move = data.draw(st.integers(0, len(table.loads[0].cranes) - 1))
    cranes = tuple(1 - c if i == move else c for i, c in enumerate(table.loads[0].cranes))
    assert replay_plant(line, changed(table, cranes=cranes)) != []


@settings(max_examples=15)
@given(st.data())
def test_cranes_that_come_too_near_are_caught(data: st.DataObject) -> None:
    """A move of the one crane is put where the other is at work on the same stretch of track."""
    line, table = sound("two cranes")
    load = table.loads[0]
    at = [[line.tank(n).position for stop in load.stops[i : i + 2] for n in stop] for i in range(len(load.lifts))]
    pairs = [
        (a, b)
        for a in range(len(at))
        for b in range(1, len(at))
        if load.cranes[a] == 0 and load.cranes[b] == 1 and min(at[b]) < max(at[a]) and max(at[b]) > min(at[a])
    ]
    a, b = data.draw(st.sampled_from(pairs))
    by = (load.lifts[a] + data.draw(st.integers(0, 10)) - load.lifts[b]) % table.period
    faults = replay_plant(line, shifted(table, b, by))
    assert any("come as near as" in f or "get out of the way" in f for f in faults)


def test_a_greater_separation_than_planned_is_caught() -> None:
    line, table = sound("two cranes")
    faults = replay_plant(replace(line, separation=F(12)), table)
    assert any("come as near as" in f or "get out of the way" in f or "beyond its reach" in f for f in faults)


@settings(max_examples=15)
@given(NAMES, st.data())
def test_a_tank_of_another_operation_is_caught(name: str, data: st.DataObject) -> None:
    line, table = sound(name)
    load = table.loads[0]
    stop = data.draw(st.integers(1, len(load.stops) - 2))
    other = data.draw(st.sampled_from([t.name for t in line.tanks if t.name not in load.stops[stop]]))
    stops = tuple((other,) if i == stop else s for i, s in enumerate(load.stops))
    assert any("which is not" in f for f in replay_plant(line, changed(table, stops=stops)))


def test_bars_bus_air_and_load_places_are_counted() -> None:
    line, table = sound("two cranes")
    load = table.loads[0]
    stay = load.downs[-1] - load.lifts[0] + 120 + 120
    needed = -int(-stay // table.period)  # closed form: a load every period, so the stay over the period, rounded up
    assert replay_plant(replace(line, bars=needed), table) == []
    assert any("flight bars" in f for f in replay_plant(replace(line, bars=needed - 1), table))
    air = sum(load.downs[i] - load.lifts[i] for i in (7, 8))  # bright nickel to rinse to chrome
    for most, caught in ((air, 0), (air - F(1, 10), 1)):
        limit = (AirLimit("bright nickel", "chrome", most),)
        assert len(replay_plant(replace(line, air=limit), table)) == caught
    faults = replay_plant(replace(line, buses={"nickel": F(5000)}), table)
    assert any("bus nickel" in f for f in faults)
    slow = tuple(replace(t, turnaround=F(300)) if t.name == "U" else t for t in line.tanks)
    assert any("U has too little time" in f for f in replay_plant(replace(line, tanks=slow), table))


def test_a_timetable_of_the_wrong_shape_is_caught() -> None:
    line, table = sound("one crane")
    load = table.loads[0]
    assert replay_plant(line, replace(table, period=F(0)))
    assert replay_plant(line, replace(table, loads=()))
    for wrong in ({"product": "x"}, {"lifts": load.lifts[:-1]}, {"stops": (("x",), *load.stops[1:])},
                  {"cranes": (5,) * len(load.cranes)}):  # fmt: skip
        assert len(replay_plant(line, changed(table, **wrong))) == 1


@settings(max_examples=6)
@given(NAMES, st.data())
def test_a_delay_that_is_tolerated_does_no_harm(name: str, data: st.DataObject) -> None:
    """One move late by its tolerance in one cycle of a run; a little more breaks a line with one crane."""
    from firstoff.line.replay_plant import lay_out, run_faults

    line, table = sound(name)
    found = tolerances(jobs_of(line), table)
    one = data.draw(st.sampled_from(found))
    assume(one.alone is not None)
    trips = lay_out(line, table)
    number = max(t.load for t in trips) // 2

    def late(by: Fraction) -> list[str]:
        run = [
            t._replace(start=t.start + by, end=t.end + by) if (t.load, t.move) == (number, one.move) else t
            for t in trips
        ]
        own = [t for t in run if t.load == number]
        plan = replace(table.loads[0], lifts=tuple(t.start for t in own), downs=tuple(t.end for t in own))
        from firstoff.line.replay_plant import recipe_faults

        return [*run_faults(line, sorted(run)), *recipe_faults(line, plan, "the late load")]

    assert late(one.alone or F(0)) == []
    if name == "one crane" and all(len(stop) == 1 for stop in table.loads[0].stops[one.move : one.move + 2]):
        assert late((one.alone or F(0)) + max(F(4), line.time_step)) != []  # 4 s: duplicates share the longest way
