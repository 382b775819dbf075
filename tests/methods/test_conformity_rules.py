"""Decision rules against JCGM 106:2012, ISO 14253-1 (both editions, from memory) and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.methods.conformity import (
    RULES,
    Limits,
    conformance_probability,
    decide,
    posterior,
    probability_of_one,
    zones,
)

OLD, NEW = RULES


def test_burst_strength_example() -> None:
    """JCGM 106:2012, container burst strength: y = 509.7 kPa, u = 8.6 kPa, T_L = 490 kPa, printed p_C = 0.99."""
    assert conformance_probability(509.7, 8.6, Limits(490.0, None)) == pytest.approx(0.99, abs=0.005)


def test_two_limits_example() -> None:
    """JCGM 106:2012 7.4: T = 12.5 to 16.3, y = 13.6, u = 1.8; closed form by the error function."""

    def phi(x: float) -> float:
        return 0.5 * (1.0 + math.erf(x / math.sqrt(2.0)))

    expected = phi((16.3 - 13.6) / 1.8) - phi((12.5 - 13.6) / 1.8)
    assert conformance_probability(13.6, 1.8, Limits(12.5, 16.3)) == pytest.approx(expected, rel=1e-12)


@given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e3), st.floats(-1e3, 1e3), st.floats(1e-3, 1e3), st.sampled_from("lhb"))
def test_scalar_and_array_agree(y: float, u: float, low: float, width: float, sides: str) -> None:
    """Two routes: erfc and the normal distribution function."""
    limits = Limits(None if sides == "h" else low, None if sides == "l" else low + width)
    whole = conformance_probability(np.array([y, y]), u, limits)
    assert whole == pytest.approx([probability_of_one(y, u, limits)] * 2, rel=1e-9, abs=1e-12)
    assert 0.0 <= whole[0] <= 1.0


def test_editions_differ_on_the_same_reading() -> None:
    """ISO 14253-1: 10.041 mm against 10.05 mm with u = 0.005 mm lies between the two acceptance limits."""
    limits = Limits(9.95, 10.05)
    old, new = zones(limits, 0.005, OLD), zones(limits, 0.005, NEW)
    assert (old.accept_low, old.accept_high) == pytest.approx((9.96, 10.04), rel=1e-12)
    assert new.accept_high == pytest.approx(10.05 - 1.6448536 * 0.005, rel=1e-7)
    assert decide(10.041, old) == "not proven"
    assert decide(10.041, new) == "conforms"
    assert decide(10.0599, old) == decide(10.0581, new) == "not proven"
    assert decide(10.0601, old) == decide(10.0583, new) == "does not conform"


@given(st.floats(0.011, 0.9))
def test_2017_limits_are_where_the_probability_is_95_percent(u: float) -> None:
    """ISO 14253-1:2017 defines the rule by the conformance probability; inverted by JCGM 106 eq. for two limits."""
    limits = Limits(-1.0, 1.0)
    found = zones(limits, u, NEW)
    if probability_of_one(0.0, u, limits) < 0.95:
        assert found.empty and decide(0.0, found) == "not proven"
        return
    assert found.accept_high is not None and found.reject_high is not None
    assert probability_of_one(found.accept_high, u, limits) == pytest.approx(0.95, abs=1e-9)
    assert found.reject_high >= 1.0
    assert probability_of_one(found.reject_high, u, limits) <= 0.05 + 1e-9


@given(st.floats(1e-3, 10.0), st.sampled_from(RULES), st.floats(-5.0, 5.0))
def test_a_reading_inside_the_limits_never_fails(u: float, rule: str, y: float) -> None:
    limits = Limits(-1.0, 1.0)
    word = decide(y, zones(limits, u, rule))
    if -1.0 <= y <= 1.0:
        assert word != "does not conform"
    else:
        assert word != "conforms"


def test_stated_probability_is_right() -> None:
    """With a flat prior, of all true values that could lie behind a reading the share p_C conforms (Monte Carlo)."""
    rng = np.random.default_rng(7)
    true = rng.uniform(-20.0, 20.0, 2_000_000)
    reading = true + rng.normal(0.0, 0.6, true.size)
    near = true[np.abs(reading - 0.7) < 0.02]
    p = probability_of_one(0.7, 0.6, Limits(-1.0, 1.0))
    share = np.mean(np.abs(near) <= 1.0)
    assert share == pytest.approx(p, abs=4.0 * math.sqrt(p * (1.0 - p) / near.size))


def test_posterior_against_simulation_and_limits() -> None:
    """Normal prior and likelihood: Monte Carlo; a very wide prior leaves the reading as it is."""
    rng = np.random.default_rng(11)
    true = rng.normal(10.0, 0.5, 2_000_000)
    reading = true + rng.normal(0.0, 1.0, true.size)
    near = true[np.abs(reading - 12.0) < 0.03]
    best, u = posterior(12.0, 1.0, 10.0, 0.5)
    assert near.mean() == pytest.approx(best, abs=4.0 * u / math.sqrt(near.size))
    assert near.std() == pytest.approx(u, rel=0.03)
    assert posterior(12.0, 1.0, 10.0, 1e9) == pytest.approx((12.0, 1.0), rel=1e-9)


def test_limits_and_rules_are_checked() -> None:
    with pytest.raises(ValueError, match="low .* must be below high"):
        Limits(2.0, 1.0)
    with pytest.raises(ValueError, match="finite"):
        Limits(math.nan, 1.0)
    with pytest.raises(ValueError, match="rule must be one of"):
        zones(Limits(0.0, 1.0), 0.1, "14253")
    with pytest.raises(ValueError, match="low or high must be given"):
        zones(Limits(), 0.1, OLD)
    with pytest.raises(ValueError, match="u must be above 0"):
        zones(Limits(0.0, 1.0), 0.0, OLD)
