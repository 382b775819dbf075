"""Timetables against the optima in tests/reference/crane: published ones, and those two exact methods agreed on."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputFault
from firstoff.line.case import Line, Stage
from firstoff.line.problem import problem
from firstoff.line.read_case import read_case
from firstoff.line.replay import Timetable, replay
from firstoff.line.solve import solve

CASES = Path(__file__).parents[1] / "reference" / "crane"


def known() -> list[Any]:
    found = []
    for path in sorted(CASES.glob("*.json")):
        for entry in json.loads(path.read_text("utf-8"))["computed"]:
            if entry["hoists"] == 1:
                found.append(pytest.param(path, entry, id=f"{path.stem}-{entry['degree']}"))
    return found


@pytest.mark.parametrize(("path", "entry"), known())
def test_optimum(path: Path, entry: dict[str, Any]) -> None:
    answer = solve(read_case(path), entry["degree"], 60)
    assert answer.status == "optimal"
    assert answer.period == answer.bound == entry["macro_period"]
    assert answer.table is not None
    assert replay(read_case(path), answer.table) == []


@pytest.mark.parametrize(("path", "entry"), known())
def test_the_witness_can_be_run(path: Path, entry: dict[str, Any]) -> None:
    line = read_case(path)
    times = [Fraction(t) for t in entry["witness_removal_times"]]
    rows = tuple(tuple(times[k : k + line.moves]) for k in range(0, len(times), line.moves))
    assert replay(line, Timetable(Fraction(entry["macro_period"]), rows)) == []


def test_three_loads_a_cycle_of_the_classical_line() -> None:
    # a higher degree need not help: 521 a load again, where a rule that lets loads swap reports 484.67
    answer = solve(read_case(CASES / "phillips_unger_1976.json"), 3, 120)
    assert answer.status == "optimal"
    assert answer.period == 3 * 521


@st.composite
def lines(draw: st.DrawFn) -> Line:
    """Short straight lines; soaks and travel in whole time units."""
    n = draw(st.integers(1, 4))
    at = [0, *draw(st.lists(st.integers(0, 4), min_size=n, max_size=n)), 0]
    stages = []
    for _ in range(n):
        least = draw(st.integers(0, 12))
        most = draw(st.none() | st.integers(0, 8))
        stages.append(Stage(Fraction(least), None if most is None else Fraction(least + most), draw(st.integers(1, 2))))
    loaded = tuple(Fraction(3 + abs(at[i + 1] - at[i])) for i in range(n + 1))
    empty = tuple(tuple(Fraction(abs(at[r + 1] - at[c])) for c in range(n + 1)) for r in range(n + 1))
    return Line("drawn", tuple(stages), loaded, empty, turnaround=Fraction(draw(st.sampled_from([0, 0, 7]))))


@settings(max_examples=25, deadline=None)
@given(lines(), st.integers(1, 2))
def test_no_whole_period_below_the_optimum(line: Line, loads: int) -> None:
    """CP-SAT on its own model finds the same least whole period, or one no shorter than a fractional optimum."""
    from firstoff.line.cpsat import Model

    answer = solve(line, loads, 30)
    assert answer.status == "optimal"
    assert answer.period is not None
    model = Model(problem(line, loads), 1, 2 * int(answer.period) + 2)
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.status_name(solver.solve(model.model)) == "OPTIMAL"
    period, _ = model.times(solver.value)
    assert period >= answer.period
    if answer.period.denominator == 1:
        assert period == answer.period


def test_an_optimum_that_is_no_whole_number_is_exact() -> None:
    # closed form: two tanks for one stage whose only limit is its soak: 2 T >= soak + both moves, so T = 101/2
    stage = Stage(Fraction(95), Fraction(95), 2)
    line = Line("half", (stage,), (Fraction(3), Fraction(3)), ((Fraction(0), Fraction(0)), (Fraction(0), Fraction(0))))
    answer = solve(line)
    assert answer.status == "optimal"
    assert answer.period == Fraction(101, 2)


def test_without_time_there_is_a_timetable_and_an_honest_bound() -> None:
    answer = solve(read_case(CASES / "rand_n24_s3.json"), 1, 0.001)
    assert answer.status == "feasible"
    assert answer.bound is not None and answer.period is not None
    assert answer.bound <= 1113 <= answer.period


def test_no_timetable_is_said_so() -> None:
    # after the first move the crane must lift the same load 5 later; a crane that needs 50 for that never can
    slow = Fraction(50)
    stages = (Stage(Fraction(5), Fraction(5)), Stage(Fraction(5), Fraction(5)))
    empty = ((slow, Fraction(0), Fraction(0)), (slow, slow, Fraction(0)), (slow, slow, slow))
    line = Line("torn", stages, (Fraction(3), Fraction(3), Fraction(3)), empty)
    answer = solve(line)
    empty_slow = ((slow, slow, Fraction(0)), *empty[1:])
    assert answer.status == "optimal"
    assert solve(Line("torn", stages, line.loaded_move, empty_slow)).status == "infeasible"


def test_the_bench_makes_lines_by_the_recipe_of_the_cases() -> None:
    from bench.lines import in_a_row, made_line

    for n, seed in ((12, 1), (16, 1), (20, 1), (24, 3)):
        case, made = read_case(CASES / f"rand_n{n}_s{seed}.json"), made_line(n, seed)
        assert {**vars(made), "name": ""} == {**vars(case), "name": ""}
    twice = in_a_row(read_case(CASES / "phillips_unger_1976.json"), 2)
    assert {**vars(twice), "name": ""} == {**vars(read_case(CASES / "phillips_unger_x2.json")), "name": ""}


def test_the_classical_line_three_times_in_a_row() -> None:
    # no figure from outside: the search's two sides agree with each other, and the replay with both
    from bench.lines import in_a_row

    line = in_a_row(read_case(CASES / "phillips_unger_1976.json"), 3)
    answer = solve(line, 1, 120)
    assert answer.status == "optimal"
    assert answer.period == answer.bound
    assert answer.table is not None and replay(line, answer.table) == []


def test_a_timetable_with_a_line_of_several_tanks_and_loads() -> None:
    """Any two of: several loads a cycle, several tanks a stage, a load place for one load; CP-SAT agrees."""
    from bench.lines import made_line
    from firstoff.line.cpsat import Model

    for seed in range(1, 5):
        line = made_line(4, seed, long_soaks=1)
        answer = solve(line, 2, 60)
        assert answer.status == "optimal" and answer.period is not None
        model = Model(problem(line, 2), 1, int(2 * answer.period) + 2)
        solver = model.cp.CpSolver()
        solver.parameters.num_workers = 1
        assert solver.status_name(solver.solve(model.model)) == "OPTIMAL"
        assert model.times(solver.value)[0] >= answer.period
        if answer.period.denominator == 1:
            assert model.times(solver.value)[0] == answer.period


def test_times_too_fine_for_exact_numbers_are_refused() -> None:
    stage = Stage(Fraction(10**7), Fraction(10**7) + Fraction(1, 10**9))
    line = Line("fine", (stage,), (Fraction(3), Fraction(3)), ((Fraction(0), Fraction(0)), (Fraction(0), Fraction(0))))
    with pytest.raises(InputFault):
        solve(line)
