"""Agreement of a lot with its prediction: by simulation of the stated model, and by scipy's own tests."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from firstoff.methods.agreement import mean_agreement, spread_agreement

LOT, PART, COMMON, REPEAT, N = 3.0, 2.0, 1.5, 0.7, 6


def test_probabilities_are_uniform_when_the_prediction_is_right() -> None:
    # oracle: brute force; one lot, N parts of it, one gauge error common to all, another at each reading
    rng = np.random.default_rng(5)
    runs = 4000
    whole = rng.normal(0, LOT, (runs, 1)) + rng.normal(0, COMMON, (runs, 1))
    readings = whole + rng.normal(0, PART, (runs, N)) + rng.normal(0, REPEAT, (runs, N))
    sd = math.hypot(PART, REPEAT)
    means = [mean_agreement(float(r.mean()), N, LOT, PART, COMMON, REPEAT) for r in readings]
    spreads = [spread_agreement(float(r.std(ddof=1)), N, sd, sd) for r in readings]
    assert stats.kstest([m.p for m in means if m], "uniform").pvalue > 0.01
    assert stats.kstest(spreads, "uniform").pvalue > 0.01


def test_mean_without_scatter_of_lots_is_the_z_test() -> None:
    values = np.array([10.1, 10.3, 9.9, 10.4])
    found = mean_agreement(float(values.mean()) - 10.0, 4, 0.0, 0.2, 0.0, 0.0)
    assert found is not None
    z = (values.mean() - 10.0) / (0.2 / 2.0)  # by hand
    assert found.z == pytest.approx(z)
    assert found.p == pytest.approx(2 * stats.norm.sf(z), rel=1e-12)


def test_spread_is_the_chi_squared_test_and_doubt_about_the_gauge_only_softens_it() -> None:
    for s in (0.5, 1.0, 2.0):
        one_sided = stats.chi2.cdf(9 * s**2 / 1.2**2, 9)
        assert spread_agreement(s, 10, 1.2, 1.2) == pytest.approx(2 * min(one_sided, 1 - one_sided), rel=1e-9)
        soft, hard = spread_agreement(s, 10, 0.9, 1.5), spread_agreement(s, 10, 1.2, 1.2)
        assert soft is not None and hard is not None and soft >= hard


def test_where_nothing_can_be_said() -> None:
    assert mean_agreement(1.0, 3, 0.0, 0.0, 0.0, 0.0) is None
    assert spread_agreement(1.0, 1, 1.0, 1.0) is None
    assert spread_agreement(1.0, 5, 0.0, 0.0) is None
    with pytest.raises(ValueError, match="part"):
        mean_agreement(1.0, 3, 0.0, -1.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="least"):
        spread_agreement(1.0, 5, 2.0, 1.0)
