"""The way back from any state: closed forms, brute force on tiny lines, and broken recoveries caught by the replay."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plant_cases import small, tiny

from firstoff.line.plan import plan_line
from firstoff.line.plant_line import PlantLine, Product
from firstoff.line.plant_table import PlantTimetable
from firstoff.line.recovery import Recovery, RecoveryMove, recover
from firstoff.line.replay_recovery import replay_recovery
from firstoff.line.state import LineState, LoadState, empty_state, state_in_cycle

F = Fraction


def table_of(line: PlantLine) -> PlantTimetable:
    answer = plan_line(line)
    assert answer.status == "optimal" and answer.table is not None
    return answer.table


@lru_cache(maxsize=2)
def stopped(stood: int = 60) -> tuple[PlantLine, PlantTimetable, LineState, Recovery]:
    """A full small line that has stood still for so many seconds, and its way back."""
    line = small()
    table = table_of(line)
    state = state_in_cycle(line, table)
    assert state is not None
    late = replace(state, loads=tuple(replace(x, since=x.since + stood) for x in state.loads))
    return line, table, late, recover(line, late, table)


def test_an_empty_line_joins_at_once() -> None:
    line = small()
    found = recover(line, empty_state(line), table_of(line))
    assert (found.status, found.joined, found.spoilt, found.moves) == ("optimal", 0, (), ())


def test_a_line_in_its_timetable_goes_on_with_it() -> None:
    """From the middle of a cycle the next load is due when the timetable says; it may not be later, nor any spoilt."""
    line = small()
    table = table_of(line)
    state = state_in_cycle(line, table)
    assert state is not None
    plan = table.loads[0]
    hung_on = [x.since + plan.downs[x.step - 1] - plan.lifts[0] for x in state.loads]  # so long ago
    found = recover(line, state, table)
    assert found.spoilt == ()
    assert found.joined is not None and found.joined <= table.period - min(hung_on)
    assert replay_recovery(line, state, table, found) == []


def test_a_stop_of_a_minute_is_recovered_from() -> None:
    line, table, state, found = stopped()
    assert found.status == "optimal" and found.least
    assert found.bound == found.joined
    assert replay_recovery(line, state, table, found) == []
    kept = {x.name for x in state.loads} - set(found.spoilt)
    for load in state.loads:  # closed form: who has been in for longer than its window cannot be saved
        most = line.products[0].steps[load.step - 1].most
        if most is not None and load.since > most:
            assert load.name not in kept


def two_due(weights: tuple[int, int]) -> tuple[PlantLine, PlantTimetable, LineState]:
    """Both loads are due this very second, and the crane can lift only one."""
    line = tiny([(5, 8), (5, 8)], [3, 6], 0)
    loads = (
        LoadState("one", "p", 1, "T0", F(8), weight=weights[0]),
        LoadState("two", "p", 2, "T1", F(8), weight=weights[1]),
    )
    return line, table_of(line), LineState(loads, {0: F(6)})


@pytest.mark.parametrize(("weights", "spoilt"), [((1, 5), ("one",)), ((5, 1), ())])
def test_the_lighter_load_is_given_up(weights: tuple[int, int], spoilt: tuple[str, ...]) -> None:
    line, table, state = two_due(weights)
    found = recover(line, state, table)
    # the crane stands over the second tank: the first cannot be saved, and need not cost the second
    assert found.spoilt == ("one",)
    assert found.least
    assert replay_recovery(line, state, table, replace(found, spoilt=())) != []


def test_of_two_that_are_due_the_lighter_is_given_up() -> None:
    line = tiny([(5, 8), (5, 30), (5, 9)], [3, 3, 6], 0)
    one, two, last = line.products[0].steps
    line = replace(line, products=(Product("p", (one, last)), Product("q", (two, last))))
    table = table_of(replace(line, products=line.products[:1]))
    for light, heavy in (("one", "two"), ("two", "one")):
        loads = (
            LoadState("one", "p", 1, "T0", F(8), weight=2 if heavy == "one" else 1),
            LoadState("two", "q", 1, "T1", F(30), weight=2 if heavy == "two" else 1),
        )
        found = recover(line, LineState(loads, {0: F(3)}), table)
        assert found.spoilt == (light,)
        assert found.least


def test_loads_that_block_each_other_are_told_apart_from_too_little_time() -> None:
    line = tiny([(5, 8), (5, 30)], [3, 3], 0)
    other = Product("q", (line.products[0].steps[1], line.products[0].steps[0]))
    line = replace(line, products=(line.products[0], other))
    table = table_of(replace(line, products=line.products[:1]))
    loads = (LoadState("one", "p", 1, "T0", F(8)), LoadState("two", "q", 1, "T1", F(30)))
    assert recover(line, LineState(loads, {0: F(3)}), table).status == "infeasible"


def brute_join(line: PlantLine, state: LineState, table: PlantTimetable) -> int | None:
    """The soonest J for one load that is to be saved, by trying all; judged by the replay alone."""
    load = state.loads[0]
    steps = line.products[0].steps
    stops = ["L", "T0", "T1", "L"]
    ways = {m: int(line.carry(line.tank(stops[m]), line.tank(stops[m + 1]))) for m in range(1, 3)}
    soaks = []
    for m in range(load.step, 3):
        step = steps[m - 1]
        since = int(load.since) if m == load.step else 0
        soaks.append(range(max(0, int(step.least) - since), int(step.most or 0) - since + 1))
    plans = []
    for chosen in product(*soaks):
        moves, clock = [], 0
        for m, soak in zip(range(load.step, 3), chosen, strict=True):
            clock += soak
            moves.append(RecoveryMove(load.name, "p", m, F(clock), F(clock + ways[m]), (stops[m],), (stops[m + 1],), 0))
            clock += ways[m]
        plans.append(tuple(moves))
    for join in range(200):
        for moves in plans:
            found = Recovery("", F(join), None, (), moves, F(0), False, 0.0)
            if not replay_recovery(line, state, table, found):
                return join
    return None


@settings(max_examples=8)
@given(
    st.lists(st.tuples(st.integers(2, 6), st.integers(0, 3)), min_size=2, max_size=2),
    st.lists(st.integers(1, 4), min_size=2, max_size=2),
    st.integers(1, 2),
    st.integers(0, 4),
    st.sampled_from([0, 5]),
)
def test_brute_force_on_tiny_lines(
    soaks: list[tuple[int, int]], at: list[int], step: int, since: int, turn: int
) -> None:
    line = tiny([(low, low + more) for low, more in soaks], at, turn)
    table = table_of(line)
    load = LoadState("old", "p", step, f"T{step - 1}", F(since))
    state = LineState((load,), {0: F(at[step - 1])})
    found = recover(line, state, table)
    wanted = brute_join(line, state, table)
    assume(wanted is not None)
    assert found.spoilt == ()
    assert (found.joined, found.status) == (wanted, "optimal")


def changed(found: Recovery, number: int, **what: object) -> Recovery:
    moves = list(found.moves)
    moves[number] = replace(moves[number], **what)  # type: ignore[arg-type]
    return replace(found, moves=tuple(moves))


def numbers(found: Recovery) -> st.SearchStrategy[int]:
    return st.integers(0, len(found.moves) - 1)


@settings(max_examples=25)
@given(st.data())
def test_a_move_at_another_time_is_caught(data: st.DataObject) -> None:
    """Later than its window, or earlier than its load, its crane or its tank is ready."""
    line, table, state, found = stopped()
    number = data.draw(numbers(found))
    move = found.moves[number]
    assume(move.load not in found.spoilt and move.move > 0)
    by = data.draw(st.sampled_from([F(1500), -move.end]))
    assert replay_recovery(line, state, table, changed(found, number, start=move.start + by, end=move.end + by))


@settings(max_examples=25)
@given(st.data())
def test_other_breakages_are_caught(data: st.DataObject) -> None:
    line, table, state, found = stopped()
    number = data.draw(numbers(found))
    move = found.moves[number]
    kind = data.draw(st.sampled_from(["quick", "left out", "elsewhere", "twice", "unknown", "never"]))
    broken = {
        "quick": changed(found, number, end=move.start + 12),
        "left out": replace(found, moves=tuple(m for k, m in enumerate(found.moves) if k != number)),
        "elsewhere": changed(found, number, target=("2",) if move.target != ("2",) else ("3",)),
        "twice": changed(found, number, start=found.moves[number - 1].start, end=found.moves[number - 1].end),
        "unknown": changed(found, number, load="nobody's"),
        "never": replace(found, joined=None),
    }[kind]
    assert replay_recovery(line, state, table, broken) != []


@settings(max_examples=25)
@given(st.data())
def test_joining_sooner_than_proven_is_caught(data: st.DataObject) -> None:
    """After 20 s every load can be saved, but new ones must wait."""
    line, table, state, found = stopped(20)
    assert found.spoilt == () and found.joined is not None and found.joined > 0
    sooner = data.draw(st.integers(1, int(found.joined)))
    assert replay_recovery(line, state, table, replace(found, joined=found.joined - sooner)) != []


def test_a_load_on_the_crane_is_set_down_before_anything_else() -> None:
    line = small()
    table = table_of(line)
    loads = (LoadState("hung", "small line", 4, "", F(20), crane=0), LoadState("due", "small line", 3, "3", F(0)))
    state = LineState(loads, {0: F("4.4")})
    found = recover(line, state, table)
    first = min(found.moves, key=lambda m: m.start)
    assert first.load == "hung" and first.source == ()
    assert found.spoilt == ()
    # closed form: from 4.4 m to the nearer nickel tank at 6 m and down: 2 sqrt(1.6/0.4) = 4 s and 8 s
    # the place is planned for the further one at 7.6 m: 3.2 / 0.8 + 0.8 / 0.4 = 6 s
    assert first.end - first.start == 6 + 8
    number = next(k for k, m in enumerate(found.moves) if m.load == "due")
    early = replace(changed(found, number, start=F(2), end=F(31)), spoilt=("due",))
    assert any("while hung hangs on it" in f for f in replay_recovery(line, state, table, early))


def test_time_in_air_before_counts() -> None:
    line = small()
    table = table_of(line)
    hung = LoadState("hung", "small line", 5, "", F(30), crane=0)
    state = LineState((hung,), {0: F("7.6")})
    # 45 s from nickel to chrome at most: 30 s so far, and 1.6 m (4 s) and 8 s of lowering are 42 s
    assert recover(line, state, table).spoilt == ()
    late = replace(state, loads=(replace(hung, since=F(34)),))
    assert recover(line, late, table).spoilt == ("hung",)


def test_a_change_of_product() -> None:
    """The old product's loads go on with their own recipe while the new timetable begins."""
    line = small()
    steps = line.products[0].steps
    other = Product("thin", (*steps[:3], replace(steps[3], least=F(400), most=F(450)), *steps[4:]))
    both = replace(line, products=(line.products[0], other))
    old, new = (table_of(replace(line, products=(p,))) for p in both.products)
    state = state_in_cycle(replace(line, products=line.products[:1]), old)
    assert state is not None and new.period < old.period
    found = recover(both, state, new)
    assert found.spoilt == () and found.joined is not None
    assert replay_recovery(both, state, new, found) == []
    for move in found.moves:
        assert move.product == "small line"
