"""Pp, Ppk, Cp for any distribution: reference library, closed forms, and coverage by simulation (seeded)."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from firstoff.methods.conformity import Limits
from firstoff.methods.distribution_fit import (
    HIGH,
    LOW,
    Fit,
    beyond,
    fit,
    normality,
    parameters_drawn,
    quantiles,
    weibull,
)
from firstoff.methods.performance import capability_within, performance, ppk_interval, stability

U = 30.0
TRUE: dict[str, tuple[Callable[[np.random.Generator, int], np.ndarray], Callable[[float], float]]] = {
    "lognormal": (lambda r, n: r.lognormal(1.0, 0.5, n), lambda p: stats.lognorm.ppf(p, 0.5, scale=math.e)),
    "Weibull": (lambda r, n: 3.0 * r.weibull(1.2, n), lambda p: stats.weibull_min.ppf(p, 1.2, scale=3.0)),
    "Rayleigh": (lambda r, n: r.rayleigh(2.0, n), lambda p: stats.rayleigh.ppf(p, scale=2.0)),
}


def fitted(model: str, x: np.ndarray) -> Fit:
    if model == "lognormal":
        return Fit("lognormal", float(np.log(x).mean()), float(np.log(x).std(ddof=1)), len(x), None, "")
    if model == "Weibull":
        shape, scale = weibull(x[np.newaxis])
        return Fit("Weibull", float(scale[0]), float(shape[0]), len(x), None, "")
    return Fit("Rayleigh", math.sqrt(float((x**2).mean()) / 2.0), 0.0, len(x), None, "")


@pytest.mark.parametrize("model", list(TRUE))
def test_intervals_of_other_distributions_cover_what_they_say(model: str) -> None:
    """Monte Carlo: the true index (ISO 22514-2, quantile method) lies in nine of ten 90 % intervals."""
    draw, quantile = TRUE[model]
    rng, runs, n = np.random.default_rng(4), 1000, 30
    true = (U - quantile(0.5)) / (quantile(HIGH) - quantile(0.5))
    held = 0
    for _ in range(runs):
        found = fitted(model, draw(rng, n))
        a, b = parameters_drawn(found, 1000, 1)
        middle, high = (quantiles(found.model, a, b, p) for p in (0.5, HIGH))
        low_end, high_end = np.quantile((U - middle) / (high - middle), (0.05, 0.95))
        held += low_end <= true <= high_end
    assert held / runs == pytest.approx(0.9, abs=4.0 * math.sqrt(0.09 / runs))


def test_weibull_by_maximum_likelihood() -> None:
    """Reference library: scipy.stats.weibull_min.fit with location 0."""
    x = 5.0 * np.random.default_rng(0).weibull(2.3, (3, 60))
    for row, shape, scale in zip(x, *weibull(x), strict=True):
        wanted, _, size = stats.weibull_min.fit(row, floc=0)
        assert (shape, scale) == (pytest.approx(wanted, rel=1e-3), pytest.approx(size, rel=1e-3))


def test_quantiles_and_shares_against_scipy() -> None:
    for model, (a, b), law in (
        ("normal", (3.0, 2.0), stats.norm(3.0, 2.0)), ("lognormal", (1.0, 0.4), stats.lognorm(0.4, scale=math.e)),
        ("Weibull", (3.0, 1.7), stats.weibull_min(1.7, scale=3.0)), ("Rayleigh", (2.0, 0.0), stats.rayleigh(scale=2.0)),
    ):  # fmt: skip
        assert Fit(model, a, b, 9, None, "").quantile(LOW) == pytest.approx(law.ppf(LOW), rel=1e-9)
        out = beyond(model, np.array(a), np.array(b), Limits(1.0, 7.0))
        assert float(out) == pytest.approx(law.cdf(1.0) + law.sf(7.0), rel=1e-9)


@pytest.mark.parametrize(("n", "limits"), [(5, Limits(None, 4.0)), (5, Limits(-4.0, 4.0)), (30, Limits(-3.0, 5.0))])
def test_ppk_intervals_cover_at_least_what_they_say(n: int, limits: Limits) -> None:
    """Monte Carlo; one limit: exact. Bissell's approximation, at five parts, would hold too rarely."""
    rng, runs = np.random.default_rng(n), 3000
    true = min(x for x in (limits.high and limits.high / 3, limits.low and -limits.low / 3) if x)
    held = 0
    for x in rng.normal(size=(runs, n)):
        low, high = ppk_interval(limits, float(x.mean()), float(x.std(ddof=1)), n, 0.9)
        held += low <= true <= high
    slack = 4.0 * math.sqrt(0.09 / runs)
    assert held / runs >= 0.9 - slack
    if limits.low is None:
        assert held / runs <= 0.9 + slack


def test_ppk_interval_against_noncentral_t() -> None:
    """Reference library: scipy.stats.nct at both ends."""
    low, high = ppk_interval(Limits(None, 20.0), 16.0, 2.0, 12, 0.95)
    t = 2.0 * math.sqrt(12)
    for bound, p in ((low, 0.975), (high, 0.025)):
        assert stats.nct.cdf(t, 11, 3.0 * bound * math.sqrt(12)) == pytest.approx(p, abs=1e-7)


def test_normal_lots_are_seldom_called_otherwise() -> None:
    """The risk of 1 % is kept, also for a coarse display (Monte Carlo)."""
    rng, runs = np.random.default_rng(8), 1500
    for step in (0.0, 0.7):
        x = rng.normal(10.0, 1.0, (runs, 50))
        x = np.round(x / step) * step if step else x
        rejected = np.mean([(normality(row) or 1.0) < 0.01 for row in x])
        assert rejected < 0.01 + 4.0 * math.sqrt(0.0099 / runs)
    assert normality(x[0][:19]) is None


def test_a_skewed_lot_is_not_judged_as_normal() -> None:
    x = np.random.default_rng(2).lognormal(0.0, 0.8, 200)
    found = performance(x.tolist(), Limits(None, 12.0), 0.95)
    assert found.fit.model == "lognormal"
    assert found.nearest is not None and found.x_high is not None and found.x_mid is not None
    assert found.nearest.value == pytest.approx((12.0 - found.x_mid) / (found.x_high - found.x_mid))
    normal = (12.0 - x.mean()) / (3.0 * x.std(ddof=1))
    assert found.nearest.value < 0.5 * normal  # taken for normal, it would look far too good
    true = stats.lognorm.sf(12.0, 0.8)
    assert found.share_out[1] <= true <= found.share_out[2]


def test_two_humps_are_nothing_that_is_known() -> None:
    x = np.concatenate([np.random.default_rng(3).normal(m, 0.1, 60) for m in (-1.0, 1.0)])
    found = performance(x.tolist(), Limits(-2.0, 2.0), 0.95)
    assert found.fit.model == "none" and found.nearest is None
    assert found.share_out[2] == pytest.approx(1.0 - 0.025 ** (1 / 120), rel=1e-9)  # Clopper-Pearson of none in 120


def test_many_parts_speak_by_their_percentiles() -> None:
    rng = np.random.default_rng(5)
    x = np.concatenate([rng.normal(-1.0, 0.3, 1500), rng.normal(1.0, 0.3, 1500)])
    found = performance(x.tolist(), Limits(-3.0, 3.0), 0.95)
    assert found.fit.model == "percentiles" and found.whole is not None and found.x_low is not None
    assert found.whole.value == pytest.approx(6.0 / np.subtract(*np.quantile(x, (HIGH, LOW))), rel=1e-9)


def test_readings_of_nought_are_taken() -> None:
    x = np.round(np.random.default_rng(6).weibull(1.1, 60), 1)
    assert x.min() == 0.0 and fit(x).model in ("Weibull", "lognormal", "none")


def test_capability_within_lots_covers_what_it_says() -> None:
    """Monte Carlo over stable processes of five lots of six parts: Cp exact, Cpk nearly."""
    rng, runs, limits = np.random.default_rng(1), 2000, Limits(-4.0, 5.0)
    held = np.zeros(2)
    for x in rng.normal(size=(runs, 5, 6)):
        found = stability(x.tolist())
        assert found is not None and found.freedom == 25
        cp, cpk = capability_within(limits, float(x.mean()), found, 0.9)
        for i, (index, true) in enumerate(((cp, 1.5), (cpk, 4.0 / 3.0))):
            assert index is not None and index.low is not None and index.high is not None
            held[i] += index.low <= true <= index.high
    assert held[0] / runs == pytest.approx(0.9, abs=4.0 * math.sqrt(0.09 / runs))
    assert held[1] / runs == pytest.approx(0.9, abs=0.02 + 4.0 * math.sqrt(0.09 / runs))  # an approximation


@pytest.mark.parametrize(("n", "least", "most"), [(30, 0.45, 0.75), (120, 0.78, 0.93)])
def test_the_choice_of_a_distribution_costs_what_the_documentation_says(n: int, least: float, most: float) -> None:
    """Monte Carlo, the whole procedure on lognormal parts: the intervals hold given the distribution, and few skewed
    parts pass for normal. docs/sheets.md says so; a stated distribution holds what it says."""
    rng, runs, limits = np.random.default_rng(1), 200, Limits(None, 25.0)
    middle, high = (stats.lognorm.ppf(p, 0.6, scale=math.e) for p in (0.5, HIGH))
    true = (25.0 - middle) / (high - middle)
    held = np.zeros(2)
    for _ in range(runs):
        x = rng.lognormal(1.0, 0.6, n).tolist()
        for i, stated in enumerate(("", "lognormal")):
            found = performance(x, limits, 0.9, 0.0, stated).nearest
            held[i] += found is not None and found.low is not None and found.low <= true <= (found.high or 0.0)
    assert least < held[0] / runs < most
    assert held[1] / runs == pytest.approx(0.9, abs=4.0 * math.sqrt(0.09 / runs))
