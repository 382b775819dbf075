"""Travel with acceleration: closed form, and rounding that never falls short."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, sqrt

from hypothesis import given
from hypothesis import strategies as st
from plant_cases import example

from firstoff.line.replay_plant import reachable
from firstoff.line.travel import travel_time

F = Fraction


def test_the_closed_form() -> None:
    # source: uniformly accelerated motion. v = 1 m/s, a = 0.5 m/s^2: v^2/a = 2 m; 5 m take 5/1 + 1/0.5 = 7 s,
    # 0.5 m take 2 sqrt(0.5/0.5) = 2 s, and at the change of form, 2 m, both give 4 s
    for distance, time in ((5, 7), (F(1, 2), 2), (2, 4), (0, 0), (-5, 7)):
        assert travel_time(F(distance), F(1), F(1, 2), F(1, 10)) == time


@given(
    st.fractions(F(0), F(60), max_denominator=1000),
    st.fractions(F(1, 10), F(2), max_denominator=100),
    st.fractions(F(1, 10), F(2), max_denominator=100),
    st.sampled_from([F(1, 10), F(1), F(1, 2)]),
)
def test_rounded_up_to_the_step_and_no_further(d: Fraction, v: Fraction, a: Fraction, step: Fraction) -> None:
    exact = float(d / v + v / a) if d * a >= v * v else 2 * sqrt(d / a)
    time = travel_time(d, v, a, step)
    assert time % step == 0
    assert float(time) >= exact - 1e-9
    assert float(time - step) < exact + 1e-9 or d == 0
    assert abs(ceil(exact / float(step) - 1e-9) * step - time) <= step


@given(st.integers(0, 4000))
def test_the_replays_own_sum_agrees(centimetres: int) -> None:
    """How far a crane gets in a time, computed the other way round, and never short by a whole step."""
    line, distance = example(), F(centimetres, 100)
    time = line.travel(distance)
    assert reachable(line, time) >= distance
    assert time == 0 or reachable(line, time - line.time_step) < distance
