"""The search against other ways to the same answer: all timetables tried, CP-SAT, and a mixed-integer program."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from bench.lines import made_line
from firstoff.line.case import Line, Stage
from firstoff.line.cpsat import Model
from firstoff.line.problem import problem
from firstoff.line.solve import solve, solve_cranes
from tests.line.other_ways import by_highs, tried


def by_cpsat(line: Line, loads: int, cranes: int, separation: Fraction, most: Fraction) -> int:
    task = problem(line, loads, cranes, separation)
    model = Model(task, 1, 2 * int(most * task.scale) + 2)
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.status_name(solver.solve(model.model)) == "OPTIMAL"
    return model.times(solver.value)[0]


@st.composite
def tiny(draw: st.DrawFn) -> Line:
    """One or two stages, all times short, so that every timetable can be tried."""
    n = draw(st.integers(1, 2))
    stages = []
    for _ in range(n):
        least = draw(st.integers(0, 3))
        stages.append(Stage(Fraction(least), Fraction(least + draw(st.integers(0, 2))), draw(st.integers(1, 2))))
    loaded = tuple(Fraction(draw(st.integers(1, 2))) for _ in range(n + 1))
    at = [0, *range(1, n + 1), 0]
    empty = tuple(tuple(Fraction(abs(at[r + 1] - at[c])) for c in range(n + 1)) for r in range(n + 1))
    return Line("tiny", tuple(stages), loaded, empty, turnaround=Fraction(draw(st.integers(0, 3))))


@settings(max_examples=25, deadline=None)
@given(tiny(), st.integers(1, 2))
def test_all_timetables_tried(line: Line, loads: int) -> None:
    answer = solve(line, loads, 30)
    assert answer.status == "optimal" and answer.period is not None
    if answer.period > 16 and loads == 2:
        return  # too many to try
    found = tried(line, loads, int(answer.period) + 1)
    assert found is not None
    assert answer.period <= found
    if answer.period.denominator == 1:
        assert found == answer.period


def test_a_load_place_for_one_load_takes_turns() -> None:
    """Two long soaks in two tanks: without the place's limit two finished loads come down one after the other.

    Brute force judges: see `tried`. The place's turnaround of 1 is too short to matter for one load a cycle.
    """
    stage = Stage(Fraction(9), Fraction(9), 2)
    empty = ((Fraction(0), Fraction(0)), (Fraction(0), Fraction(0)))
    for turnaround in (Fraction(0), Fraction(1), Fraction(4)):
        line = Line("turns", (stage,), (Fraction(1), Fraction(1)), empty, turnaround=turnaround)
        answer = solve(line, 2, 30)
        assert answer.status == "optimal" and answer.period is not None
        assert tried(line, 2, 20) == answer.period


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 4), st.integers(1, 500), st.integers(1, 3), st.sampled_from([0, 40, 150]))
def test_cp_sat_finds_the_same_with_several_loads(n: int, seed: int, loads: int, turnaround: int) -> None:
    line = made_line(n, seed)
    line = Line(**{**vars(line), "turnaround": Fraction(turnaround)})
    answer = solve(line, loads, 30)
    assert answer.status == "optimal" and answer.period is not None
    found = by_cpsat(line, loads, 1, Fraction(0), answer.period)
    assert found >= answer.period
    if answer.period.denominator == 1:
        assert found == answer.period


@settings(max_examples=15, deadline=None)
@given(st.integers(2, 6), st.integers(1, 500), st.integers(2, 3), st.integers(1, 2), st.integers(0, 4))
def test_cp_sat_finds_the_same_with_several_cranes(n: int, seed: int, cranes: int, loads: int, apart: int) -> None:
    line = made_line(n, seed)
    loads = 1 if n > 4 else loads
    answer = solve_cranes(line, cranes, loads, Fraction(apart), 30)
    assert answer.status == "optimal" and answer.period is not None
    found = by_cpsat(line, loads, cranes, Fraction(apart), answer.period)
    assert found >= answer.period
    if answer.period.denominator == 1:
        assert found == answer.period


@settings(max_examples=12, deadline=None)
@given(st.integers(1, 6), st.integers(1, 500))
def test_highs_finds_the_same(n: int, seed: int) -> None:
    line = made_line(n, seed)
    answer = solve(line, 1, 30)
    assert answer.status == "optimal" and answer.period is not None
    assert by_highs(problem(line, 1)) == answer.period
