"""Broken timetables, each caught by the replay."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from firstoff.line.case import Line, Stage
from firstoff.line.read_case import read_case
from firstoff.line.replay import Timetable, replay

CASES = Path(__file__).parents[1] / "reference" / "crane"
NAMES = sorted(p.stem for p in CASES.glob("*.json"))


def witness(name: str) -> tuple[Line, Timetable]:
    path = CASES / f"{name}.json"
    entry = json.loads(path.read_text("utf-8"))["computed"][0]
    times = tuple(Fraction(t) for t in entry["witness_removal_times"])
    return read_case(path), Timetable(Fraction(entry["macro_period"]), (times,))


def moved(table: Timetable, move: int, by: Fraction) -> Timetable:
    times = list(table.removal[0])
    times[move] += by
    return Timetable(table.period, (tuple(times),))


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(NAMES), st.data())
def test_a_soak_below_its_window_is_caught(name: str, data: st.DataObject) -> None:
    line, table = witness(name)
    i = data.draw(st.integers(1, line.n))
    soak = table.removal[0][i] - table.removal[0][i - 1] - line.loaded_move[i - 1]
    short = soak - line.stages[i - 1].min_soak + Fraction(1, data.draw(st.integers(1, 9)))
    assert any(f"in stage {i}" in fault and "less" in fault for fault in replay(line, moved(table, i, -short)))


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(NAMES), st.data())
def test_a_soak_above_its_window_is_caught(name: str, data: st.DataObject) -> None:
    line, table = witness(name)
    i = data.draw(st.integers(1, line.n))
    most = line.stages[i - 1].max_soak
    assume(most is not None)
    soak = table.removal[0][i] - table.removal[0][i - 1] - line.loaded_move[i - 1]
    over = Fraction(most or 0) - soak + Fraction(1, data.draw(st.integers(1, 9)))
    assert any(f"in stage {i}" in fault and "more" in fault for fault in replay(line, moved(table, i, over)))


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(NAMES), st.data())
def test_two_moves_at_once_are_caught(name: str, data: st.DataObject) -> None:
    """One move is put inside another, or so close that the crane cannot be there."""
    line, table = witness(name)
    a = data.draw(st.integers(0, line.n))
    b = data.draw(st.integers(0, line.n).filter(lambda k: k != a))
    gap = line.loaded_move[a] + line.empty_move[a][b]
    inside = data.draw(st.integers(0, int(gap) - 1))
    target = table.removal[0][a] + inside
    shift = (target - table.removal[0][b]) % table.period
    assert any("before the crane is there" in fault for fault in replay(line, moved(table, b, shift)))


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(NAMES), st.integers(1, 4), st.data())
def test_a_tank_asked_to_hold_two_loads_is_caught(name: str, cycles: int, data: st.DataObject) -> None:
    """Everything from one stage on, late by whole periods: the crane sees no difference, the tank does."""
    line, table = witness(name)
    i = data.draw(st.integers(1, line.n))
    extra = cycles + line.stages[i - 1].tanks - 1
    late = tuple(t + (extra * table.period if k >= i else 0) for k, t in enumerate(table.removal[0]))
    faults = replay(line, Timetable(table.period, (late,)))
    assert f"stage {i}: a load is brought while every tank is taken" in faults


def test_the_swap_behind_the_published_25_is_caught() -> None:
    # 25 of the three-tank line: load k is lifted out of tank 2 at the instant load k+1 is set down in it
    line, _ = witness("three_tank_no_wait")
    swap = Timetable(Fraction(25), ((Fraction(0), Fraction(14), Fraction(43), Fraction(57)),))
    faults = replay(line, swap)
    assert "stage 2: a load is brought while every tank is taken" in faults


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(NAMES), st.integers(1, 400))
def test_a_shorter_period_than_the_optimum_is_caught(name: str, less: int) -> None:
    line, table = witness(name)
    period = table.period - Fraction(less, 10)
    assume(period > 0)
    assert replay(line, Timetable(period, table.removal)) != []


def test_a_load_place_without_its_turnaround_is_caught() -> None:
    line, table = witness("phillips_unger_1976")
    gap = (table.removal[0][0] - table.removal[0][-1] - line.loaded_move[-1]) % table.period
    for more, faults in ((Fraction(0), 0), (Fraction(1, 3), 1)):
        strict = Line(**{**vars(line), "turnaround": gap + more})
        assert len(replay(strict, table)) == faults


def test_a_timetable_of_the_wrong_shape_is_caught() -> None:
    line, table = witness("rand_n12_s1")
    assert replay(line, Timetable(Fraction(0), table.removal))
    assert replay(line, Timetable(table.period, ()))
    assert replay(line, Timetable(table.period, (table.removal[0][:-1],)))


def test_a_load_place_asked_to_hold_two_loads_is_caught() -> None:
    """Two loads a period, both brought down before the next is lifted; and one brought before the next has gone."""
    stage = Stage(Fraction(1), Fraction(100), 4)
    empty = ((Fraction(0), Fraction(0)), (Fraction(0), Fraction(0)))
    line = Line("turns", (stage,), (Fraction(1), Fraction(1)), empty, turnaround=Fraction(2))

    def of(downs: tuple[int, int]) -> list[str]:
        rows = ((Fraction(0), Fraction(downs[0])), (Fraction(10), Fraction(downs[1])))
        return [f for f in replay(line, Timetable(Fraction(20), rows)) if "load place" in f]

    assert of((5, 15)) == []
    assert of((12, 15)) == ["the load place: a finished load is brought while the place is taken"]
    assert of((8, 15)) == ["the load place has 1 between two loads, less than 2"]
    none = Line(**{**vars(line), "turnaround": Fraction(0)})
    rows = ((Fraction(0), Fraction(12)), (Fraction(10), Fraction(15)))
    assert not [f for f in replay(none, Timetable(Fraction(20), rows)) if "load place" in f]
