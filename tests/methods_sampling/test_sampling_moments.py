"""Merged moments and binned quantiles against NumPy on all the numbers."""

from __future__ import annotations

from functools import reduce

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.methods import histogram, moments

RNG = np.random.default_rng(20)
X = np.array([RNG.normal(1e6, 1e-3, 50_000), RNG.lognormal(0, 1, 50_000), np.full(50_000, 7.0)])


def chunks(x, size):
    return [x[:, i : i + size] for i in range(0, x.shape[1], size)]


def test_merged_moments_are_those_of_all_numbers():
    m = reduce(moments.merge, (moments.moments(c) for c in chunks(X, 1234)))
    assert m.count.tolist() == [50_000] * 3
    assert m.mean == pytest.approx(X.mean(axis=1), rel=1e-14)
    assert m.sd == pytest.approx(X.std(axis=1, ddof=1), rel=1e-6)  # 1e6 ± 1e-3 keeps about 6 digits of its scatter
    assert np.array_equal(m.low, X.min(axis=1)) and np.array_equal(m.high, X.max(axis=1))


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=40), st.integers(0, 40))
def test_any_cut_gives_the_same_moments(numbers, cut):
    x = np.array([numbers])
    m = moments.merge(moments.moments(x[:, :cut]), moments.moments(x[:, cut:]))
    assert m.count.tolist() == [len(numbers)]
    assert m.mean[0] == pytest.approx(np.mean(numbers), rel=1e-12, abs=1e-9)
    assert m.sd[0] == pytest.approx(np.std(numbers, ddof=1), rel=1e-9, abs=1e-8)


def test_quantiles_are_within_the_stated_resolution():
    g = histogram.grid(moments.moments(X[:, :512]))
    counts = sum(histogram.tally(g, c) for c in chunks(X, 999))
    assert np.array_equal(counts.sum(axis=1), [50_000] * 3)
    shares = (0.0, 0.00135, 0.025, 0.5, 0.975, 0.99865, 1.0)
    for i, x in enumerate(X):
        found, resolution = histogram.quantiles(g, counts, i, shares, x.min(), x.max())
        assert np.abs(np.array(found) - np.quantile(x, shares)).max() <= resolution * (1 + 1e-9)
        assert list(found) == sorted(found)
    inner = histogram.quantiles(g, counts, 0, (0.00135, 0.5, 0.99865), X[0].min(), X[0].max())[1]
    assert inner == pytest.approx(16e-3 / 4096, rel=0.1)  # 16 standard deviations in 4096 bins


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-50, 50), min_size=1, max_size=30), st.floats(0, 1))
def test_resolution_holds_with_gaps_and_beyond_the_grid(numbers, share):
    x = np.array([numbers])
    g = histogram.grid(moments.moments(np.array([[-1.0, 0.0, 1.0]])), bins=8)
    found, resolution = histogram.quantiles(g, histogram.tally(g, x), 0, [share], x.min(), x.max())
    assert abs(found[0] - np.quantile(x, share)) <= resolution + 1e-9


def test_an_empty_stream_has_no_quantile():
    g = histogram.grid(moments.moments(np.empty((1, 0))))
    with pytest.raises(ValueError, match="no numbers"):
        histogram.quantiles(g, histogram.tally(g, np.empty((1, 0))), 0, [0.5], 0.0, 0.0)


def test_numbers_that_are_not_there_are_left_out_stream_by_stream():
    x = X[:, :1000].copy()
    x[0, ::3], x[1, :], x[2, 500:] = np.nan, np.nan, np.nan
    m = reduce(moments.merge, (moments.moments(c) for c in chunks(x, 130)))
    assert m.count.tolist() == [666, 0, 500]
    assert m.mean[0] == pytest.approx(np.nanmean(x[0]), rel=1e-14) and m.mean[2] == 7.0
    assert m.sd[0] == pytest.approx(np.nanstd(x[0], ddof=1), rel=1e-6)
    assert (m.low[0], m.high[0]) == (np.nanmin(x[0]), np.nanmax(x[0]))
    assert (m.low[1], m.high[1]) == (np.inf, -np.inf)
    counts = histogram.tally(histogram.grid(moments.moments(x)), x)
    assert counts.sum(axis=1).tolist() == [666, 0, 500]
