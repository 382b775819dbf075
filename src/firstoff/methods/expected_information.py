"""How much a reading that is not yet taken is expected to tell about which of several hypotheses is true.

Each hypothesis predicts the reading z by a mixture of normal components (its sizes). The expected information is the
mutual information of hypothesis and reading,

    I = sum_h P(h) E[ln p(z | h) - ln p(z) | h],    0 <= I <= -sum_h P(h) ln P(h),

in nat: by how much the uncertainty of the hypothesis is expected to fall. Source: Lindley (1956), On a measure of the
information provided by an experiment, Annals of Mathematical Statistics 27, 986.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp, ndtri

from firstoff.methods import sobol

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

NODES = 24  # of the quadrature of each component, one reading
POINTS = 4096  # of the sequence, several readings
SEED = 1


@dataclass(frozen=True)
class Mixture:
    """What c components predict of d readings."""

    weights: FloatArray  # (c,), summing to one over all hypotheses
    means: FloatArray  # (c, d)
    covariances: FloatArray  # (c, d, d), positive definite
    hypothesis: IntArray  # (c,): the number of the hypothesis a component belongs to

    def log_densities(self, z: FloatArray) -> FloatArray:
        """ln of the weighted density of each component at m points z (m, d): (c, m)."""
        lower = np.linalg.cholesky(self.covariances)
        root = np.linalg.inv(lower)
        scaled = root @ z.T - np.einsum("cij,cj->ci", root, self.means)[:, :, None]  # (c, d, m)
        log_det = np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
        with np.errstate(divide="ignore"):
            level = np.log(self.weights) - log_det - 0.5 * z.shape[1] * np.log(2.0 * np.pi)
        return np.asarray(level[:, None] - 0.5 * np.sum(scaled**2, axis=1))

    def prior(self, count: int) -> FloatArray:
        """P(h) of `count` hypotheses before the reading."""
        return np.asarray(np.bincount(self.hypothesis, weights=self.weights, minlength=count), dtype=np.float64)

    def posterior(self, z: FloatArray) -> FloatArray:
        """P(h | z) of every hypothesis at m points z (m, d): (hypotheses, m). Source: Bayes' theorem."""
        log = self.by_hypothesis(z)
        return np.asarray(np.exp(log - logsumexp(log, axis=0)))

    def by_hypothesis(self, z: FloatArray) -> FloatArray:
        """ln of the weighted density of each hypothesis at m points z (m, d): (hypotheses, m)."""
        log = self.log_densities(z)
        order = np.argsort(self.hypothesis, kind="stable")
        present, starts = np.unique(self.hypothesis[order], return_index=True)
        top = log.max(axis=0)
        sums = np.zeros((int(present[-1]) + 1, log.shape[1]))
        sums[present] = np.add.reduceat(np.exp(log - top)[order], starts, axis=0)
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(sums) + top)


def entropy(weights: FloatArray) -> float:
    """-sum p ln p [nat] of probabilities that sum to one; 0 ln 0 is 0."""
    p = np.asarray(weights, dtype=np.float64)
    return float(-np.sum(p[p > 0.0] * np.log(p[p > 0.0])))


def expected_information(mixture: Mixture, points: int = POINTS) -> float:
    """Mutual information [nat] of hypothesis and reading, good to about 0.01 nat.

    One reading: Gauss-Hermite nodes about every component. Several: one scrambled Sobol sequence whose first coordinate
    deals the points out to the components by their weights. The result is cut to what is possible, 0 to the entropy of
    the hypotheses. ValueError when weights do not sum to one or a covariance is not positive definite.

    Source: definition (see the module); quadrature: Abramowitz & Stegun (1964), 25.4.46; sequence: see `sobol`.
    """
    w = mixture.weights
    if not (np.all(w >= 0.0) and abs(float(w.sum()) - 1.0) < 1e-6):
        raise ValueError("the weights of the components must be 0 or more and sum to one")
    try:
        z, weight, label = _nodes(mixture) if mixture.means.shape[1] == 1 else _points(mixture, points)
        log = mixture.by_hypothesis(z)
    except np.linalg.LinAlgError as error:
        raise ValueError("a covariance of the components is not positive definite") from error
    prior = mixture.prior(len(log))
    given = log[label, np.arange(len(z))] - np.log(prior[label])
    found = float(np.sum(weight * (given - logsumexp(log, axis=0))))
    return min(max(found, 0.0), entropy(prior))


def _nodes(mixture: Mixture) -> tuple[FloatArray, FloatArray, IntArray]:
    """Points (m, 1), their weights and hypotheses: E f(z) = sum over components of w_c sum_i w_i f(mu + sd x_i)."""
    x, weight = np.polynomial.hermite_e.hermegauss(NODES)
    weight = weight / weight.sum()
    used = mixture.weights > 0.0
    sd = np.sqrt(mixture.covariances[used, 0, 0])
    z = mixture.means[used, 0][:, None] + sd[:, None] * x[None, :]
    whole = mixture.weights[used][:, None] * weight[None, :]
    return z.reshape(-1, 1), whole.ravel(), np.repeat(mixture.hypothesis[used], NODES)


def _points(mixture: Mixture, count: int) -> tuple[FloatArray, FloatArray, IntArray]:
    """The same by a low-discrepancy sequence: `count` points of equal weight."""
    d = mixture.means.shape[1]
    u = sobol.points(d + 1, 0, count, SEED)
    which = np.minimum(np.searchsorted(np.cumsum(mixture.weights), u[:, 0]), len(mixture.weights) - 1)
    lower = np.linalg.cholesky(mixture.covariances)
    z = mixture.means[which] + np.einsum("mij,mj->mi", lower[which], ndtri(u[:, 1:]))
    return z, np.full(count, 1.0 / count), mixture.hypothesis[which]
