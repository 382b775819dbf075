"""The ensemble smoother against the exact posterior of a linear problem with normal prior and noise."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.methods.smoother import esmda

G = np.array([[1.0, 0.5, 0.0], [0.0, 1.0, -0.7], [0.3, 0.0, 0.2], [1.0, 1.0, 1.0]])
NOISE = np.diag([0.3, 0.2, 0.1, 0.4]) ** 2 + 0.01
MEAN, COVARIANCE = np.array([1.0, -2.0, 0.5]), np.diag([1.0, 0.5, 2.0]) + 0.2
Y = np.array([0.9, -3.2, 0.7, 0.3])


@pytest.mark.parametrize("steps", [(1.0,), (3.0,) * 3, (9.333, 7.0, 4.0, 2.0)])
def test_equals_the_exact_posterior(steps: tuple[float, ...]) -> None:
    # closed form: precision G' R^-1 G + C^-1 (linear-Gaussian Bayes, textbook); tolerance: 4000 members
    total = sum(1 / a for a in steps)
    steps = tuple(a * total for a in steps)
    rng = np.random.default_rng(5)
    members = rng.multivariate_normal(MEAN, COVARIANCE, 4000)
    found = esmda(lambda m: m @ G.T, members, Y, NOISE, rng, steps)
    precision = G.T @ np.linalg.inv(NOISE) @ G + np.linalg.inv(COVARIANCE)
    exact = np.linalg.inv(precision)
    mean = exact @ (G.T @ np.linalg.solve(NOISE, Y) + np.linalg.solve(COVARIANCE, MEAN))
    sd = np.sqrt(np.diag(exact))
    assert np.abs((found.mean(axis=0) - mean) / sd).max() < 0.1
    assert np.cov(found.T) == pytest.approx(exact, abs=0.08 * sd.max() ** 2)


@pytest.mark.parametrize("steps", [(2.0, 3.0), (4.0,) * 3, (-1.0, 0.5)])
def test_inflation_that_does_not_add_up_is_refused(steps: tuple[float, ...]) -> None:
    members = np.zeros((5, 3))
    with pytest.raises(ValueError):
        esmda(lambda m: m @ G.T, members, Y, NOISE, np.random.default_rng(1), steps)


def test_member_without_a_value_is_refused() -> None:
    with pytest.raises(ValueError):
        esmda(lambda m: np.full((len(m), 4), np.nan), np.zeros((5, 3)), Y, NOISE, np.random.default_rng(1))


def test_equals_pyesmda_on_a_problem_that_bends() -> None:
    # oracle: pyesmda 1.0 (BSD-3-Clause), the same 4000 members, four steps of inflation 4, other perturbations
    from covmats import CovViaCholesky
    from pyesmda import ESMDA

    def bent(m: np.ndarray) -> np.ndarray:
        return (m @ G.T) + 0.15 * (m @ G.T) ** 2

    members = np.random.default_rng(6).multivariate_normal(MEAN, COVARIANCE, 4000)
    found = esmda(bent, members, Y, NOISE, np.random.default_rng(7))
    theirs = ESMDA(
        obs=Y, m_init=members.T, cov_obs=CovViaCholesky(np.linalg.cholesky(NOISE)),
        forward_model=lambda m: bent(m.T).T, n_assimilations=4, random_state=8, truncation=1.0,
        is_parallel_analyse_step=False,
    )  # fmt: skip
    theirs.solve()
    other = theirs.m_posterior.T
    sd = other.std(axis=0)
    assert np.abs((found.mean(axis=0) - other.mean(axis=0)) / sd).max() < 0.1
    assert np.cov(found.T) == pytest.approx(np.cov(other.T), abs=0.1 * sd.max() ** 2)
    assert np.abs((members.mean(axis=0) - other.mean(axis=0)) / sd).max() > 0.5  # the readings did say something
