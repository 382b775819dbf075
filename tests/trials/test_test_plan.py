"""Shared-out tests: laws on drawn plans. What is lost is lost last, nothing is spoilt, and few parts are spent."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.trials.test_plan import Ask, Step, by_part, in_order, share_out, spoilt


@st.composite
def plans(draw: st.DrawFn) -> list[Ask]:
    count = draw(st.integers(1, 9))
    asks = []
    for i in range(count):
        later = [f"c{j}" for j in range(i) if draw(st.integers(0, 4)) == 0]  # spoils only earlier names: no circle
        lost = draw(st.sampled_from(["", "", "", "burst", "tear"]))
        every = not lost and draw(st.booleans())
        asks.append(Ask(f"c{i}", draw(st.integers(1, 6)), draw(st.sampled_from("ab")), lost, every, tuple(later)))
    return asks


@given(plans(), st.one_of(st.none(), st.integers(1, 12)))
def test_laws(asks: list[Ask], available: int | None) -> None:
    found = share_out(asks, available)
    spoils = {ask.name: ask.spoils for ask in asks}
    assert spoilt(found.steps, spoils) == []
    tests = {ask.lost_in: max(a.parts for a in asks if a.lost_in == ask.lost_in) for ask in asks if ask.lost_in}
    least = sum(tests.values())
    for ask in asks:  # a reading that spoils such a test is taken on other parts
        spoilt_tests = {x.lost_in for x in asks if x.lost_in and x.name in ask.spoils}
        least = max(least, 0 if ask.lost_in else ask.parts + sum(tests[test] for test in spoilt_tests))
    # no plan with fewer parts serves all: each test that loses parts needs parts of its own
    assert found.parts == (least if available is None else min(least, available))
    assert len(found.lost) == min(sum(tests.values()), found.parts)
    served = {step.name: len(step.parts) for step in found.steps}
    for ask in asks:
        got = served.get(ask.name, 0)
        assert got + found.short.get(ask.name, 0) >= ask.parts
        assert ask.every or got <= ask.parts
        if ask.every and not any(x.lost_in and x.name in ask.spoils for x in asks):
            assert got == found.parts
    for part, steps in by_part(found).items():
        assert len({step.lost_in for step in steps if step.lost_in}) <= 1
        assert all(not step.lost_in for step in steps[:-1]) or part in found.lost


def test_the_check_of_a_plan_can_fail() -> None:
    wrong = [Step("burst", "", (0,), "burst"), Step("length", "", (0,))]
    assert spoilt(wrong, {}) == [(0, "length", "burst")]
    assert spoilt([Step("a", "", (0,)), Step("b", "", (0,))], {"a": ("b",)}) == [(0, "b", "a")]


def test_parts_are_shared_and_the_first_are_kept() -> None:
    asks = [Ask("length", 8, "calliper"), Ask("burst", 3, "bench", "burst"), Ask("tear", 2, "bench", "tear")]
    found = share_out(asks)
    assert found.parts == 8
    assert dict(found.lost) == {3: "burst", 4: "burst", 5: "burst", 6: "tear", 7: "tear"}
    few = share_out(asks, 3)
    assert dict(few.lost) == {0: "burst", 1: "burst", 2: "tear"}
    assert dict(few.short) == {"length": 5, "burst": 1, "tear": 1}


def test_readings_of_one_test_come_from_the_same_parts() -> None:
    found = share_out([Ask("force", 3, "bench", "pull"), Ask("travel", 2, "bench", "pull"), Ask("x", 1)])
    assert found.parts == 3
    assert {step.name: step.parts for step in found.steps} == {"force": (0, 1, 2), "travel": (0, 1), "x": (0,)}


def test_order_by_gauge_and_what_spoils() -> None:
    asks = [Ask("a", 1, "g", spoils=("c",)), Ask("b", 1, "h"), Ask("c", 1, "g"), Ask("d", 1, "h")]
    assert [ask.name for ask in in_order(asks)] == ["b", "d", "c", "a"]
    with pytest.raises(ValueError, match="a, b spoil each other"):
        in_order([Ask("a", 1, spoils=("b",)), Ask("b", 1, spoils=("a",))])
