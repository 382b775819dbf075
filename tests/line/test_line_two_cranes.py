"""Two cranes by true position: bounds from a stricter published-style rule, and broken timetables caught."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputFault
from firstoff.line.read_case import read_case
from firstoff.line.replay import Timetable, replay
from firstoff.line.solve import Answer, solve_cranes

CASES = Path(__file__).parents[1] / "reference" / "crane"


@pytest.fixture(scope="module")
def found() -> Answer:
    return solve_cranes(read_case(CASES / "rand_n12_s1.json"), 2, 1, Fraction(2), 120)


def test_the_classical_line_is_no_slower_than_by_the_stricter_rule() -> None:
    # 339: optimum of a rule that always keeps the empty-travel gap (computed_multi_hoist_by_position in the case file);
    # 150: the optimum of 4 and more cranes under a rule blind to the track, which no two cranes can beat
    answer = solve_cranes(read_case(CASES / "phillips_unger_1976.json"), 2, 1, Fraction(0), 120)
    assert answer.status == "optimal"
    assert answer.period is not None
    assert 150 <= answer.period <= 339


def test_two_cranes_are_faster_than_one_and_keep_apart(found: Answer) -> None:
    line = read_case(CASES / "rand_n12_s1.json")
    assert found.status == "optimal"
    assert found.over == "all periods"
    assert found.table is not None
    assert found.table.period < 476  # the optimum of one crane
    assert replay(line, found.table, Fraction(2)) == []


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_a_broken_assignment_is_caught(found: Answer, data: st.DataObject) -> None:
    """All moves given to one crane, or the two cranes exchanged: one crane is too slow, two would have to cross."""
    line, table = read_case(CASES / "rand_n12_s1.json"), found.table
    assert table is not None and table.cranes is not None
    kind = data.draw(st.sampled_from(["one", "other", "exchanged"]))
    cranes = tuple(0 if kind == "one" else 1 if kind == "other" else 1 - c for c in table.cranes[0])
    assert replay(line, Timetable(table.period, table.removal, (cranes,)), Fraction(2)) != []


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_cranes_put_in_one_place_are_caught(found: Answer, data: st.DataObject) -> None:
    """A move of one crane is shifted to start while the other stands at or beyond its place."""
    line, table = read_case(CASES / "rand_n12_s1.json"), found.table
    assert table is not None and table.cranes is not None and line.position is not None
    cranes, at = table.cranes[0], line.position
    pairs = [
        (a, b)
        for a in range(line.moves)
        for b in range(line.moves)
        if cranes[a] == 0 and cranes[b] == 1 and max(at[a], at[a + 1]) + 2 > min(at[b], at[b + 1])
    ]
    a, b = data.draw(st.sampled_from(pairs))
    target = table.removal[0][a] + data.draw(st.integers(0, int(line.loaded_move[a]) - 1))
    times = list(table.removal[0])
    times[b] += (target - times[b]) % table.period
    faults = replay(line, Timetable(table.period, (tuple(times),), table.cranes), Fraction(2))
    assert any("come nearer" in fault for fault in faults)


def test_places_that_are_not_known_are_a_fault() -> None:
    with pytest.raises(InputFault):
        solve_cranes(read_case(CASES / "three_tank_no_wait.json"), 2)


def test_three_cranes_are_no_slower_than_two_and_leave_room_for_the_middle_one() -> None:
    # 278: optimum of three cranes by the rule that always keeps the empty-travel gap (in the case file)
    line = read_case(CASES / "phillips_unger_1976.json")
    two, three = solve_cranes(line, 2, 1, Fraction(1), 120), solve_cranes(line, 3, 1, Fraction(1), 120)
    assert two.status == three.status == "optimal"
    assert two.period is not None and three.period is not None and three.table is not None
    assert three.period <= two.period
    assert replay(line, three.table, Fraction(1)) == []
    assert solve_cranes(line, 3, 1, Fraction(0), 120).period <= 278  # type: ignore[operator]
    ends = tuple(0 if c == 0 else 2 for c in (three.table.cranes or ((),))[0])
    assert replay(line, Timetable(three.table.period, three.table.removal, (ends,)), Fraction(1)) != []


def test_several_loads_and_cranes_are_no_slower_than_one_load() -> None:
    line = read_case(CASES / "phillips_unger_1976.json")
    one, two = solve_cranes(line, 2, 1, Fraction(0), 60), solve_cranes(line, 2, 2, Fraction(0), 60)
    assert one.status == two.status == "optimal"
    assert one.period is not None and two.period is not None
    assert two.period <= 2 * one.period
