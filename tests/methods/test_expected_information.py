"""Expected information against closed forms, a handbook limit, and brute force."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from firstoff.methods.expected_information import Mixture, entropy, expected_information

LN2 = float(np.log(2.0))


def two(distance: float, sd: float = 1.0, dims: int = 1) -> Mixture:
    means = np.zeros((2, dims))
    means[1, 0] = distance
    return Mixture(np.array([0.5, 0.5]), means, np.tile(sd**2 * np.eye(dims), (2, 1, 1)), np.array([0, 1]))


@pytest.mark.parametrize("dims", [1, 2, 5])
def test_two_hypotheses_far_apart_give_one_bit_and_two_alike_nothing(dims: int) -> None:
    assert expected_information(two(40.0, dims=dims)) == pytest.approx(LN2, abs=1e-3)
    assert expected_information(two(0.0, dims=dims)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("dims", [1, 3])
def test_half_a_bit_at_the_shannon_limit_of_two_levels(dims: int) -> None:
    # coding theory, from memory: the limit of rate 1/2 on the binary-input Gaussian channel is Eb/N0 = 0.187 dB, where
    # levels ±1 stand in noise of sd sqrt(1 / (2 * 0.5 * 10^0.0187)) = 0.9787 and carry half a bit
    sd = (10**0.0187) ** -0.5
    assert expected_information(two(2.0, sd, dims)) == pytest.approx(0.5 * LN2, abs=2e-3 if dims == 1 else 1e-2)


@pytest.mark.parametrize("ratio", [0.3, 1.0, 4.0])
@pytest.mark.parametrize("dims", [1, 2])
def test_linear_gaussian_channel_has_half_log_det(ratio: float, dims: int) -> None:
    # closed form: I = 1/2 ln det(I + H P H^T / r); x ~ N(0, 1) as many hypotheses on a fine grid, z = H x + noise
    x = np.linspace(-6.0, 6.0, 241)
    weights = stats.norm.pdf(x)
    h = np.sqrt(ratio) * np.array([1.0, 0.5])[:dims]
    n = len(x)
    m = Mixture(weights / weights.sum(), x[:, None] * h, np.tile(np.eye(dims), (n, 1, 1)), np.arange(n))
    assert expected_information(m) == pytest.approx(0.5 * np.log1p(h @ h), abs=1e-2)


def test_a_hypothesis_of_several_sizes_is_one_hypothesis() -> None:
    # law: components of one hypothesis tell nothing about it; split in two, a component changes nothing
    m = two(3.0)
    split = Mixture(np.array([0.2, 0.3, 0.5]), m.means[[0, 0, 1]], m.covariances[[0, 0, 1]], np.array([0, 0, 1]))
    assert expected_information(split) == pytest.approx(expected_information(m), abs=1e-12)
    alone = Mixture(m.weights, m.means, m.covariances, np.array([0, 0]))
    assert expected_information(alone) == 0.0


def random_mixture(seed: int, dims: int) -> Mixture:
    rng = np.random.default_rng(seed)
    label = np.repeat(np.arange(4), 6)
    means = rng.normal(0.0, 2.0, (4, dims))[label] + rng.normal(0.0, 1.0, (24, dims))
    root = rng.normal(0.0, 0.6, (24, dims, dims))
    weights = rng.dirichlet(np.ones(24))
    return Mixture(weights, means, root @ root.transpose(0, 2, 1) + 0.3 * np.eye(dims), label)


@pytest.mark.parametrize(("seed", "dims"), [(1, 1), (2, 1), (3, 2), (4, 3), (5, 6)])
def test_brute_force_nested_monte_carlo(seed: int, dims: int) -> None:
    # oracle: draw hypothesis, size and reading; E[ln p(z | h) - ln p(z)] with densities from scipy.stats
    m = random_mixture(seed, dims)
    rng = np.random.default_rng(100 + seed)
    drawn = 40_000
    which = rng.choice(len(m.weights), drawn, p=m.weights)
    z = np.empty((drawn, dims))
    for c in np.unique(which):
        at = which == c
        z[at] = rng.multivariate_normal(m.means[c], m.covariances[c], int(at.sum()))
    dense = np.array([
        w * stats.multivariate_normal(mu, cov).pdf(z).reshape(-1)
        for w, mu, cov in zip(m.weights, m.means, m.covariances, strict=True)
    ])  # fmt: skip
    prior = np.bincount(m.hypothesis, weights=m.weights)
    of_own = np.array([dense[m.hypothesis == h].sum(axis=0) / prior[h] for h in range(4)])
    gains = np.log(of_own[m.hypothesis[which], np.arange(drawn)] / dense.sum(axis=0))
    error = gains.std() / np.sqrt(drawn)
    assert abs(expected_information(m) - gains.mean()) < 4.0 * error + 1e-2
    assert 0.0 < expected_information(m) < entropy(prior)


def test_posterior_of_the_mixture_is_bayes_theorem() -> None:
    m = two(2.0)
    p = m.posterior(np.array([[0.3]]))[:, 0]
    want = stats.norm.pdf(0.3 - np.array([0.0, 2.0]))
    assert p == pytest.approx(want / want.sum())


def test_what_is_no_mixture_is_refused() -> None:
    m = two(1.0)
    with pytest.raises(ValueError, match="sum to one"):
        expected_information(Mixture(m.weights * 0.5, m.means, m.covariances, m.hypothesis))
    with pytest.raises(ValueError, match="positive definite"):
        flat = two(1.0, dims=2)
        expected_information(Mixture(flat.weights, flat.means, 0.0 * flat.covariances, flat.hypothesis))
