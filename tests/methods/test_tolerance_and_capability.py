"""Tolerance factors, capability and share outside: handbook values, scipy as second route, coverage by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from firstoff.methods.capability import capability, cp_interval, share_outside
from firstoff.methods.conformity import Limits
from firstoff.methods.tolerance_intervals import (
    one_sided_exact,
    share_beyond_bound,
    two_sided_exact,
    two_sided_howe,
)

RUNS = 20_000


def test_published_factors() -> None:
    """NIST/SEMATECH e-Handbook 7.2.6.3 (Howe 2.217); ISO 16269-6 and Odeh-Owen tables, from memory: n = 10, 95/95."""
    assert two_sided_howe(43, 0.90, 0.99) == pytest.approx(2.217, abs=5e-4)
    assert two_sided_exact(10, 0.95, 0.95) == pytest.approx(3.393, abs=1e-3)
    assert one_sided_exact(10, 0.95, 0.95) == pytest.approx(2.911, abs=1e-3)


@pytest.mark.parametrize("n", [2, 3, 5, 30, 200, 5000])
@pytest.mark.parametrize("coverage", [0.5, 0.95, 0.999])
def test_one_sided_against_noncentral_t(n: int, coverage: float) -> None:
    """Reference library: scipy.stats.nct."""
    k = one_sided_exact(n, coverage, 0.95)
    delta = stats.norm.ppf(coverage) * math.sqrt(n)
    assert stats.nct.cdf(k * math.sqrt(n), n - 1, delta) == pytest.approx(0.95, abs=1e-6)


@pytest.mark.parametrize(("n", "coverage", "confidence"), [(2, 0.9, 0.9), (8, 0.95, 0.95), (60, 0.99, 0.9)])
def test_two_sided_covers_what_it_says(n: int, coverage: float, confidence: float) -> None:
    """Monte Carlo: the share of samples whose interval holds the coverage is the confidence."""
    rng = np.random.default_rng(n)
    sample = rng.normal(size=(RUNS, n))
    mean, s = sample.mean(axis=1), sample.std(axis=1, ddof=1)
    k = two_sided_exact(n, coverage, confidence)
    held = stats.norm.cdf(mean + k * s) - stats.norm.cdf(mean - k * s) >= coverage
    assert held.mean() == pytest.approx(confidence, abs=4.0 * math.sqrt(confidence * (1 - confidence) / RUNS))


def test_share_beyond_bound_covers_what_it_says() -> None:
    """Monte Carlo: the true share beyond a limit is below its 90 % bound in nine of ten samples."""
    rng = np.random.default_rng(3)
    limit, n, runs = 1.8, 12, 2000
    sample = rng.normal(size=(runs, n))
    distance = (limit - sample.mean(axis=1)) / sample.std(axis=1, ddof=1)
    bounds = np.array([share_beyond_bound(float(d), n, 0.9) for d in distance])
    assert np.mean(stats.norm.sf(limit) <= bounds) == pytest.approx(0.9, abs=4.0 * math.sqrt(0.09 / runs))


def test_share_outside_is_conservative_for_two_limits() -> None:
    rng = np.random.default_rng(5)
    limits, n, runs = Limits(-2.0, 2.5), 20, 1000
    true = stats.norm.cdf(-2.0) + stats.norm.sf(2.5)
    held = 0
    for sample in rng.normal(size=(runs, n)):
        _, low, high = share_outside(limits, float(sample.mean()), float(sample.std(ddof=1)), n, 0.9)
        held += low <= true <= high
    assert held / runs >= 0.9 - 3.0 * math.sqrt(0.09 / runs)


@pytest.mark.parametrize("distance", [-1e6, -3.0, 0.0, 3.0, 1e6])
@pytest.mark.parametrize("n", [2, 50, 100_000])
def test_share_bounds_are_ordered_and_inside(distance: float, n: int) -> None:
    low, high = share_beyond_bound(distance, n, 0.05), share_beyond_bound(distance, n, 0.95)
    assert 0.0 <= low <= high <= 1.0


def test_one_limit_and_interval() -> None:
    """NIST/SEMATECH e-Handbook 6.1.6: LSL 8, USL 20, mean 16, s 2; with one limit Cp is not defined."""
    both, upper = capability(Limits(8.0, 20.0), 16.0, 2.0), capability(Limits(None, 20.0), 16.0, 2.0)
    assert (both.cp, both.cpk) == pytest.approx((1.0, 2.0 / 3.0))
    assert upper.cp is None and upper.lower is None and upper.cpk == pytest.approx(2.0 / 3.0)
    low, high = cp_interval(1.0, 50, 0.95)
    rng = np.random.default_rng(1)
    s = rng.normal(size=(RUNS, 50)).std(axis=1, ddof=1)  # true Cp = 1 for limits of +-3
    assert np.mean((low / s <= 1.0) & (high / s >= 1.0)) == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / RUNS))
