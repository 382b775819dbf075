"""What is in the way: smallest conflicts and cheapest cures against all subsets and all changes tried."""

from __future__ import annotations

import json
import time
from fractions import Fraction
from itertools import combinations, product
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bench.lines import made_line
from firstoff.line.case import Line, Stage
from firstoff.line.conflict import Limit, conflict, limits_of, only, possible, widened, widening
from firstoff.line.replay import replay
from firstoff.line.solve import explained, solve

CASES = Path(__file__).parents[1] / "reference" / "crane"


def runs(line: Line, takt: Fraction | None) -> bool:
    """By the shortest period of the whole solver, which has tests of its own."""
    answer = solve(line, 1, 30)
    return answer.period is not None and (takt is None or answer.period <= takt)


@settings(max_examples=12, deadline=None)
@given(st.integers(2, 3), st.integers(1, 300), st.integers(50, 99))
def test_no_smaller_set_conflicts(n: int, seed: int, percent: int) -> None:
    line = made_line(n, seed)
    period = solve(line).period
    assert period is not None
    takt = period * percent / 100
    found = conflict(line, takt=takt)
    if found.status == "none":
        assert runs(line, takt)
        return
    assert found.status == "smallest"
    assert not runs(only(line, found.limits), takt)
    for fewer in combinations(limits_of(line), len(found.limits) - 1):
        assert runs(only(line, fewer), takt)


@settings(max_examples=12, deadline=None)
@given(st.data())
def test_no_cheaper_change_helps(data: st.DataObject) -> None:
    """Stages of short soaks: every change of up to four units in all is tried."""
    stages = tuple(
        Stage(Fraction(least), Fraction(least + data.draw(st.integers(0, 2))))
        for least in data.draw(st.lists(st.integers(2, 6), min_size=2, max_size=2))
    )
    empty = tuple(tuple(Fraction(abs(r + 1 - c) % 3) for c in range(3)) for r in range(3))
    line = Line("short", stages, (Fraction(2),) * 3, empty)
    period = solve(line).period
    assert period is not None
    takt = period - data.draw(st.integers(1, 2))
    costs = {k: Fraction(data.draw(st.integers(1, 3)), 2) for k in limits_of(line)}
    fixed = data.draw(st.sampled_from([(), (Limit(1, "min"),), (Limit(2, "max"),)]))
    cure = widening(line, takt=takt, costs=costs, fixed=fixed)
    free = [k for k in limits_of(line) if k not in fixed]
    tried = [
        sum((costs[k] * by for k, by in zip(free, change, strict=True)), Fraction(0))
        for change in product(range(5), repeat=len(free))
        if sum(change) <= 4
        and all(by <= line.stages[k.stage - 1].min_soak for k, by in zip(free, change, strict=True) if k.end == "min")
        and runs(widened(line, {k: Fraction(by) for k, by in zip(free, change, strict=True)}), takt)
    ]
    assume(tried)
    assert cure.status == "optimal" and cure.cost == cure.bound
    assert cure.cost is not None and cure.cost <= min(tried)
    assert not set(cure.changes) & set(fixed)
    assert cure.line is not None and cure.table is not None
    assert replay(cure.line, cure.table) == []
    assert cure.table.period <= takt
    if sum(cure.changes.values()) <= 4:
        assert cure.cost == min(tried)


def test_a_line_that_can_never_run_says_why() -> None:
    # after the first move the crane must lift the same load 5 later; a crane that needs 50 for that never can
    slow = Fraction(50)
    stages = (Stage(Fraction(5), Fraction(5)), Stage(Fraction(5), Fraction(70)))
    empty = ((slow, slow, Fraction(0)), (slow, slow, Fraction(0)), (slow, slow, slow))
    line = Line("torn", stages, (Fraction(3),) * 3, empty)
    answer = explained(line, solve(line))
    assert answer.status == "infeasible"
    assert answer.conflict is not None and answer.cure is not None
    assert (answer.conflict.status, answer.conflict.limits) == ("smallest", (Limit(1, "max"),))
    assert answer.cure.changes == {Limit(1, "max"): Fraction(45)}


def test_without_time_nothing_is_claimed() -> None:
    line = made_line(24, 11)
    found = conflict(line, takt=Fraction(960), time_limit=0.0)
    assert (found.status, found.limits) == ("unknown", ())
    with pytest.raises(Exception, match="^$"):
        possible(line, 1, 1, Fraction(0), Fraction(960), time.perf_counter())


def test_the_command_names_the_limits_in_the_way() -> None:
    from firstoff.cli.line import command

    case = str(CASES / "three_tank_no_wait.json")
    ran = CliRunner().invoke(command, ["--case", case, "--takt", "35", "--json"])
    result = json.loads(ran.stdout)["result"]
    assert result["period"] == 36
    assert result["conflict"]["status"] == "smallest"
    assert result["conflict"]["period_per_load_wanted"] == 35
    assert result["cure"]["status"] == "optimal"
    text = CliRunner().invoke(command, ["--case", case, "--takt", "35"]).stdout
    assert "These limits together allow no timetable with a period of 35 s a load (no fewer do): the " in text
    assert "The least change that allows one" in text
