"""Intervals of a share: the exact binomial distribution of SciPy, and coverage by simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, binomtest

from firstoff.methods.rates import clopper_pearson, rate_interval


@pytest.mark.parametrize(("x", "n"), [(1, 10), (3, 8000), (40, 100), (9, 10)])
def test_clopper_pearson_equals_scipy(x, n):
    reference = binomtest(x, n).proportion_ci(0.95, method="exact")
    assert clopper_pearson(x, n) == pytest.approx((reference.low, reference.high), rel=1e-9)


@pytest.mark.parametrize("n", [1, 30, 10_000])
def test_zero_rejects_bound_is_the_exact_one(n):
    low, high = clopper_pearson(0, n)
    assert low == 0.0
    assert binom.pmf(0, n, high) == pytest.approx(0.05, rel=1e-9)
    assert high == pytest.approx(binomtest(0, n, alternative="less").proportion_ci(0.95, "exact").high, rel=1e-9)
    assert clopper_pearson(n, n) == (pytest.approx(1 - high, abs=1e-12), 1.0)
    if n > 1000:
        assert high == pytest.approx(3 / n, rel=2e-3)  # rule of three, Hanley & Lippman-Hand (1983)


@pytest.mark.parametrize("share", [0.0003, 0.002, 0.02, 0.3, 0.97])
def test_coverage_for_independent_builds(share):
    rng = np.random.default_rng(1)
    builds = [512] * 8
    hits = 0
    for _ in range(2000):
        low, high = rate_interval(rng.binomial(512, share, 8).tolist(), builds)
        hits += low <= share <= high
    assert hits / 2000 >= 0.935  # 0.95 less three standard errors of the simulation


@pytest.mark.parametrize(("share", "per_lot", "lots"), [(0.01, 32, 16), (0.1, 32, 16), (0.1, 512, 1), (0.002, 32, 64)])
def test_coverage_where_builds_share_lots(share, per_lot, lots):
    # beta-binomial: the share differs from lot to lot with intraclass correlation 1/3 (closed form, mean a / (a + b))
    rng = np.random.default_rng(2)
    a = 2.0 * share
    narrow = hits = 0
    for _ in range(1000):
        p = rng.beta(a, 2.0 - a, size=(8, lots))
        x = rng.binomial(per_lot, p).sum(axis=1).tolist()
        low, high = rate_interval(x, [per_lot * lots] * 8, lots=8 * lots)
        hits += low <= share <= high
        plain = clopper_pearson(sum(x), 8 * per_lot * lots)
        narrow += plain[0] <= share <= plain[1]
    assert hits / 1000 >= 0.93
    assert narrow / 1000 < 0.85  # taking the builds as independent would be wrong: the case is a real one


def test_no_reject_in_few_lots_says_little():
    assert rate_interval([0] * 8, [512] * 8, lots=8)[1] == pytest.approx(1 - 0.05 ** (1 / 8))
    assert rate_interval([0] * 8, [512] * 8)[1] == pytest.approx(1 - 0.05 ** (1 / 4096))


def test_few_rejects_never_narrower_than_the_exact_interval():
    for x in ([1] * 8, [1, 0, 0, 0, 0, 0, 0, 0], [2, 1, 1, 1, 1, 1, 1, 1]):
        low, high = rate_interval(x, [500] * 8)
        exact = clopper_pearson(sum(x), 4000)
        assert low <= exact[0] * (1 + 1e-12) and high >= exact[1] * (1 - 1e-12)


def test_even_scrambles_give_a_narrower_interval_than_the_binomial():
    low, high = rate_interval([100, 101, 99, 100, 100, 101, 99, 100], [512] * 8)
    exact = clopper_pearson(800, 4096)
    assert exact[0] < low < 800 / 4096 < high < exact[1]


@pytest.mark.parametrize(("x", "n"), [([], []), ([1], [0]), ([2], [1]), ([-1], [5]), ([1, 1], [5])])
def test_impossible_counts_are_refused(x, n):
    with pytest.raises(ValueError):
        rate_interval(x, n)
