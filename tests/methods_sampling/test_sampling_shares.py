"""The indices against `scipy.stats.sobol_indices` (Saltelli 2010), which takes whole powers of two only."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import sobol_indices

from firstoff.methods.variance_shares import bootstrap_errors, indices

RNG = np.random.default_rng(4)
A, B = RNG.normal(size=(2, 3, 1024))


def f(x):
    return np.array([x[0] + 2 * x[1], 5 + x[0] * x[1] + x[2], np.full(x.shape[1], 3.0)])


def mixed(i):
    ab = A.copy()
    ab[i] = B[i]
    return f(ab)


def test_equals_scipy():
    reference = sobol_indices(func={"f_A": f(A), "f_B": f(B), "f_AB": np.array([mixed(i) for i in range(3)])}, n=1024)
    for i in range(3):
        first, total = indices(f(A), f(B), mixed(i))
        assert first[0] == pytest.approx(reference.first_order[:, i], rel=1e-9, abs=1e-12)
        assert total[0] == pytest.approx(reference.total_order[:, i], rel=1e-9, abs=1e-12)


def test_weights_count_as_repeated_rows():
    rows = RNG.integers(0, 1024, 1024)
    weights = np.bincount(rows, minlength=1024)[np.newaxis] / 1024
    one = indices(f(A), f(B), mixed(0), weights)
    two = indices(f(A)[:, rows], f(B)[:, rows], mixed(0)[:, rows])
    assert np.allclose(one, two, rtol=1e-9, atol=1e-12)


def test_bootstrap_error_is_that_of_repeated_samples():
    # the spread of the estimates over 200 independent samples is the other route
    totals, errors = [], []
    for k in range(200):
        rng = np.random.default_rng(k)
        a, b = rng.normal(size=(2, 3, 256))
        ab = a.copy()
        ab[1] = b[1]
        totals.append(indices(f(a), f(b), f(ab))[1][0, :2])
        errors.append(bootstrap_errors(f(a), f(b), f(ab), rng)[1][:2])
    assert np.mean(errors, axis=0) == pytest.approx(1.96 * np.std(totals, axis=0), rel=0.15)


def test_a_constant_result_has_no_shares():
    noise = 3.0 + RNG.choice([0.0, 4.4e-16], size=(1, 1024))  # a constant, up to rounding
    assert np.all(np.array(indices(noise, noise[:, ::-1], noise)) == 0.0)
