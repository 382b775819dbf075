"""Sampling plans, demonstration sizes, uncertainty, chart constants, gauge studies."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from firstoff.methods import sampling_plans as plans
from firstoff.methods.control_charts import chart_constants, d2_star, range_moments
from firstoff.methods.gauge_study import anova, average_range, components, measurements
from firstoff.methods.uncertainty import combined_uncertainty, resolution_uncertainty

LEVELS = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")
AQLS = (0.01, 0.015, 0.025, 0.04, 0.065, 0.1, 0.15, 0.25, 0.4, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)


@given(st.integers(2, 2_000_000), st.sampled_from(LEVELS), st.sampled_from(AQLS))
def test_every_lot_has_a_plan_that_passes_good_lots(lot: int, level: str, aql: float) -> None:
    """ISO 2859-1: at the AQL a plan passes at least some 87 % of the lots (OC tables, from memory)."""
    plan = plans.attribute_plan(lot, level, aql)
    assert plan.accept >= 0 and plan.reject == plan.accept + 1 and 1 <= plan.n <= lot
    if plan.n < lot and plan.accept < plan.n:
        assert plans.pass_probability(plan.n, plan.accept, aql / 100.0) > 0.87


def test_arrows_lead_to_the_next_plan() -> None:
    """ISO 2859-1 table 2-A, from memory: G at 1.0 goes down to n = 50, G at 0.65 goes up to n = 20."""
    assert (plans.attribute_plan(200, "II", 1.0).n, plans.attribute_plan(200, "II", 1.0).accept) == (50, 1)
    assert (plans.attribute_plan(200, "II", 0.65).n, plans.attribute_plan(200, "II", 0.65).accept) == (20, 0)
    assert plans.attribute_plan(8, "I", 0.01).n == 8  # a sample as large as the lot: every part


@pytest.mark.parametrize(
    ("lot", "level", "aql", "word"), [(1, "II", 1.0, "lot"), (50, "IV", 1.0, "level"), (50, "II", 1.1, "aql_pct")]
)
def test_wrong_inputs_are_named(lot: int, level: str, aql: float, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        plans.attribute_plan(lot, level, aql)


@given(st.floats(0.5, 0.9999), st.floats(0.5, 0.9999))
def test_success_run_is_the_smallest_size(reliability: float, confidence: float) -> None:
    """Closed form of the success run: R^n <= 1-C for n, not for n-1."""
    n = plans.demonstration_size(reliability, confidence)
    assert reliability**n <= (1.0 - confidence) * (1 + 1e-9)
    assert n == 1 or reliability ** (n - 1) > (1.0 - confidence) * (1 - 1e-9)


def test_inverse_of_the_operating_characteristic() -> None:
    for p in (0.001, 0.05, 0.3):
        back = plans.share_at_pass_probability(80, 2, plans.pass_probability(80, 2, p))
        assert back == pytest.approx(p, rel=1e-9)


def test_longer_test_equals_more_parts() -> None:
    """A test to exactly the life is the success run: 45 parts for R = 0.95, C = 0.90 (standard tables)."""
    n = plans.weibull_zero_failure_size(0.95, 0.9, 1000.0, 1000.0, 2.0)
    assert plans.size_rounded_up(n) == plans.demonstration_size(0.95, 0.9) == 45


def test_end_gauge_example() -> None:
    """JCGM 100:2008 H.1: u_c = 32 nm, nu_eff = 16, U_99 = 93 nm; from memory."""
    found = combined_uncertainty([25.0, 9.7, 2.9, 16.6], [18, 25.6, 50, 2], 0.99)
    assert (round(found.u_c), found.nu_truncated) == (32, 16)
    assert found.expanded == pytest.approx(93.0, abs=0.6)
    assert resolution_uncertainty(1.0) == pytest.approx(0.2887, abs=1e-4)  # JCGM 100 F.2.2.1: 0.29 of the step


def test_range_constants_against_scipy() -> None:
    """Reference library: the studentized range with unlimited degrees of freedom is the range."""
    for n in (2, 5, 10):
        x = np.linspace(0.0, 12.0, 4001)
        survival = stats.studentized_range.sf(x[1:], n, np.inf)
        mean = np.trapezoid(np.concatenate(([1.0], survival)), x)
        assert range_moments(n)[0] == pytest.approx(mean, rel=1e-5)


def test_chart_constants_known() -> None:
    """ASTM E2587 table for n = 5: A2 0.577, D4 2.114, c4 0.9400, B4 2.089; d2* of 10 parts 3.17905 (Duncan)."""
    found = chart_constants(5)
    assert (found.A2, found.D4, found.c4, found.B4) == pytest.approx((0.577, 2.114, 0.9400, 2.089), abs=6e-4)
    assert d2_star(10, 1) == pytest.approx(3.17905, abs=5e-4)
    assert range_moments(2)[0] == pytest.approx(2.0 / math.sqrt(math.pi), rel=1e-9)


def test_gauge_study_finds_planted_components() -> None:
    """Simulated study with known variances; the mean of many studies is unbiased."""
    rng = np.random.default_rng(2)
    found = []
    for _ in range(400):
        table = rng.normal(0, 0.2, (3, 3, 10)) + rng.normal(0, 0.3, (3, 1, 1)) + rng.normal(0, 1.0, (1, 1, 10))
        found.append(components(table, pooled=True))
    assert np.mean([c.repeatability for c in found]) == pytest.approx(0.04, rel=0.03)
    assert np.mean([c.appraiser for c in found]) == pytest.approx(0.09, rel=0.2)
    assert np.mean([c.part for c in found]) == pytest.approx(1.0, rel=0.1)


def test_gauge_constants_default_to_the_manual() -> None:
    """AIAG manual: K1 0.5908, K2 0.5231, K3 0.3146 for 3 trials, 3 appraisers, 10 parts."""
    table = np.random.default_rng(4).normal(size=(3, 3, 10))
    own, manual = average_range(table), average_range(table, 0.5908, 0.5231, 0.3146)
    assert (own.ev, own.pv) == pytest.approx((manual.ev, manual.pv), rel=2e-4)


def test_gauge_study_refuses_uneven_and_flat_tables() -> None:
    with pytest.raises(ValueError, match="same number"):
        measurements([[[1.0, 2.0], [1.0, 2.0]], [[1.0, 2.0]]])
    with pytest.raises(ValueError, match="measurements"):
        measurements([[[1.0, "x"]]])
    with pytest.raises(ValueError, match="all equal"):
        anova(measurements([[[1.0, 2.0]] * 2] * 2))


@pytest.mark.parametrize("bad", [math.nan, math.inf, 0.0, 1.0, True, "0.9", None])
def test_confidence_must_be_a_share(bad: object) -> None:
    with pytest.raises(ValueError, match="confidence"):
        plans.demonstration_size(0.9, bad)  # type: ignore[arg-type]
