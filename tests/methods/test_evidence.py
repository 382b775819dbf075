"""Evidence against closed forms: the whole stacked covariance, and the conjugate normal."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from firstoff.methods import evidence

RNG = np.random.default_rng(3)


def covariance(k: int, rank: int) -> np.ndarray:
    root = RNG.normal(size=(k, rank))
    return root @ root.T


def stacked(lot: np.ndarray, part: np.ndarray, noise: np.ndarray) -> np.ndarray:
    n, k = noise.shape
    whole = np.kron(np.ones((n, n)), lot) + np.kron(np.eye(n), part)
    return whole + np.diag(noise.ravel())


def direct(y: np.ndarray, mean: np.ndarray, whole: np.ndarray) -> float:
    seen = np.isfinite(y.ravel())
    return float(stats.multivariate_normal(mean.ravel()[seen], whole[np.ix_(seen, seen)]).logpdf(y.ravel()[seen]))


@pytest.mark.parametrize("rank", [1, 3, 6])  # rank below k: the lot's covariance has no inverse
@pytest.mark.parametrize("holes", [0, 7])
def test_density_and_shifts_equal_the_stacked_normal(rank: int, holes: int) -> None:
    # oracle: scipy.stats.multivariate_normal on all readings at once
    n, k = 4, 5
    lot, part, noise = covariance(k, rank), covariance(k, 2), RNG.uniform(0.5, 2.0, (n, k))
    y = RNG.normal(scale=3.0, size=(n, k))
    y.ravel()[RNG.choice(n * k, holes, replace=False)] = np.nan
    found = evidence.reduce_readings(y, lot, part, noise)
    whole = stacked(lot, part, noise)
    assert found.log_density == pytest.approx(direct(y, np.zeros((n, k)), whole), rel=1e-10)
    assert found.count == n * k - holes
    shifts = RNG.normal(size=(3, k))
    spread = covariance(k, k)
    for affected in (np.ones(n, bool), np.array([0, 1, 0, 0], bool), np.array([1, 0, 1, 0], bool)):
        g, m = found.on(affected)
        plain = evidence.gain(g, m, shifts)
        wide = evidence.gain(g, m, shifts, spread)
        a = affected.astype(float)
        broad = whole + np.kron(np.outer(a, a), spread)
        for i, s in enumerate(shifts):
            mean = np.outer(a, s)
            assert found.log_density + plain[i] == pytest.approx(direct(y, mean, whole), rel=1e-9)
            assert found.log_density + wide[i] == pytest.approx(direct(y, mean, broad), rel=1e-9)


def test_grid_over_sizes_equals_the_conjugate_normal() -> None:
    # closed form: mean of n readings with a normal prior N(0, t^2) on the size
    n, sigma, t = 5, 1.3, 2.0
    y = RNG.normal(1.0, sigma, (n, 1))
    found = evidence.reduce_readings(y, np.zeros((1, 1)), np.zeros((1, 1)), np.full((n, 1), sigma**2))
    sizes = stats.norm.ppf((np.arange(400) + 0.5) / 400, scale=t)[:, None]
    got = found.log_density + evidence.average(evidence.gain(*found.on(np.ones(n, bool)), sizes), np.full(400, 1 / 400))
    exact = stats.multivariate_normal(np.zeros(n), sigma**2 * np.eye(n) + t**2).logpdf(y.ravel())
    assert got == pytest.approx(exact, abs=2e-3)


def test_average_over_scales_equals_an_integral() -> None:
    y = np.array([[2.2], [1.4], [3.0]])

    def density(scale: float) -> float:
        return float(np.exp(evidence.reduce_readings(y, np.eye(1) * scale**2, np.eye(1) * 0.3, np.full((3, 1), 0.2))
                            .log_density))  # fmt: skip

    def prior(log: float) -> float:
        return float(np.exp(-0.5 * (log / 0.35) ** 2))

    ends = (np.log(0.5), np.log(2.0))
    top = integrate.quad(lambda x: density(np.exp(x)) * prior(x), *ends)[0]
    want = np.log(top / integrate.quad(prior, *ends)[0])
    grid, weights = evidence.scales(41)
    got = evidence.average(np.log([density(s) for s in grid]), weights)
    assert got == pytest.approx(want, abs=0.01)


def test_posterior_is_bayes_and_survives_underflow() -> None:
    prior = np.array([0.9, 0.1, 0.0])
    got = evidence.posterior(np.log([0.2, 0.6, 0.5]) - 5000.0, prior)
    assert got == pytest.approx([0.75, 0.25, 0.0])


@pytest.mark.parametrize("what", ["shape", "noise", "empty"])
def test_bad_input_is_refused(what: str) -> None:
    y, noise = np.zeros((2, 3)), np.ones((2, 3))
    if what == "empty":
        y[:] = np.nan
    if what == "noise":
        noise[1, 2] = 0.0
    with pytest.raises(ValueError):
        evidence.reduce_readings(y, np.eye(2 if what == "shape" else 3), np.eye(3), noise)
