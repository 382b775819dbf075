"""How well a hypothesis fits the readings of several parts of one lot: Gaussian marginal likelihoods.

Readings of part p: y_p = m + a_p s + l + d_p + e_p, with the expected readings m, the shift s of a hypothesis on the
parts it affects (a_p = 1, else 0), the lot offset l ~ N(0, L) common to all parts, the part deviation d_p ~ N(0, P)
and the gauge's noise e_p ~ N(0, R_p). With W_p the inverse of P + R_p on what was read of part p (zero elsewhere),
A = sum W_p and K = (L^-1 + A)^-1, the Woodbury identity gives everything in k x k matrices, k readings a part, however
many parts there are. Source: matrix inversion and determinant lemmas (textbook).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

FloatArray = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Reduced:
    """Readings reduced to what any shift needs."""

    log_density: float  # of the readings without a shift
    misfit: float  # the quadratic form without a shift: chi-square of `count` readings
    count: int
    weights: FloatArray  # W_p, (n, k, k)
    pulls: FloatArray  # W_p r_p, (n, k)
    common: FloatArray  # K, (k, k)

    def on(self, affected: Mask) -> tuple[FloatArray, FloatArray]:
        """Gradient g (k,) and curvature M (k, k) of a shift s on the affected parts: the log density grows by
        s.g - s.M s/2, with g = sum_a W r - A_a K sum W r and M = A_a - A_a K A_a. affected: (n,)."""
        some = self.weights[affected].sum(axis=0)
        pull = self.pulls[affected].sum(axis=0) - some @ self.common @ self.pulls.sum(axis=0)
        curvature = some - some @ self.common @ some
        return pull, 0.5 * (curvature + curvature.T)


def reduce_readings(
    residual: FloatArray, lot: FloatArray, part: FloatArray, noise: FloatArray, shared: FloatArray | None = None
) -> Reduced:
    """Reduce the readings of n parts.

    residual: reading minus expected (n, k), NaN where nothing was read; lot L, part P: covariances (k, k), positive
    semi-definite; noise: variances (n, k) of the gauge, > 0 where read; shared: what the noise of readings of one part
    has in common, (n, k, k) without a diagonal, or None. Units of the readings. ValueError when the
    shapes do not fit, a read value has no noise, or nothing was read. Source: see the module.
    """
    r = np.asarray(residual, dtype=np.float64)
    n, k = r.shape
    if lot.shape != (k, k) or part.shape != (k, k) or noise.shape != (n, k):
        raise ValueError(f"{n} parts of {k} readings do not fit {lot.shape}, {part.shape} and {noise.shape}")
    seen = np.isfinite(r)
    if not seen.any():
        raise ValueError("nothing was read")
    if not (noise[seen] > 0.0).all():
        raise ValueError("every reading needs a gauge variance above zero")
    weights, log_det = np.zeros((n, k, k)), 0.0
    for p in range(n):
        i = np.flatnonzero(seen[p])
        if len(i):
            square = part[np.ix_(i, i)] + np.diag(noise[p, i])
            if shared is not None:
                square = square + shared[p][np.ix_(i, i)]
            weights[p][np.ix_(i, i)] = np.linalg.inv(square)
            log_det += float(np.linalg.slogdet(square)[1])
    values = np.where(seen, r, 0.0)
    pulls = np.einsum("pij,pj->pi", weights, values)
    total, pull = weights.sum(axis=0), pulls.sum(axis=0)
    inside = np.eye(k) + lot @ total
    common = np.linalg.solve(inside, lot)  # K without inverting L, which may be singular
    common = 0.5 * (common + common.T)
    log_det += float(np.linalg.slogdet(inside)[1])
    misfit = float(np.sum(values * pulls) - pull @ common @ pull)
    count = int(seen.sum())
    log_density = -0.5 * (misfit + log_det + count * math.log(2.0 * math.pi))
    return Reduced(log_density, misfit, count, weights, pulls, common)


def gain(g: FloatArray, curvature: FloatArray, shifts: FloatArray, spread: FloatArray | None = None) -> FloatArray:
    """Log of the Bayes factor of each shift against no shift, (m,), or (q, m) for several gradients at once.

    Fixed shift: s.g - s.M s/2. With a spread B about it, s ~ N(mean, B): the same plus
    h (B^-1 + M)^-1 h / 2 - log det(I + B M) / 2, h = g - M s.

    g (k,) or (q, k), curvature M (k, k) of `Reduced.on`; shifts (m, k); spread: covariances (m, k, k) or (k, k), or
    None. Source: Gaussian integral (textbook), Woodbury as in the module.
    """
    s = np.atleast_2d(shifts)
    bent = s @ curvature
    found = np.atleast_2d(g) @ s.T - 0.5 * np.sum(bent * s, axis=1)
    if spread is not None:
        b = np.broadcast_to(spread, (len(s), *curvature.shape))
        inside = np.eye(len(curvature)) + b @ curvature
        solved = np.linalg.solve(inside, b)
        h = np.atleast_2d(g)[:, None, :] - bent
        found = found + 0.5 * np.sum(h * (solved @ h[..., None])[..., 0], axis=2)
        found = found - 0.5 * np.linalg.slogdet(inside)[1]
    return np.asarray(found[0] if np.ndim(g) == 1 else found)


def scales(count: int = 7, low: float = 0.5, high: float = 2.0, spread: float = 0.35) -> tuple[FloatArray, FloatArray]:
    """Factors of the stated scatter and their weights: log-normal about 1, on a grid of equal steps in the logarithm.

    spread: standard deviation of the factor's logarithm. Weights sum to one. Source: assumed, common practice: a
    stated scatter is often wrong by half.
    """
    log = np.linspace(math.log(low), math.log(high), count) if count > 1 else np.zeros(1)
    weight = np.exp(-0.5 * (log / spread) ** 2)
    return np.exp(log), weight / weight.sum()


def average(log_values: FloatArray, weights: FloatArray | Sequence[float], axis: int = 0) -> FloatArray:
    """log(sum w exp(x)) along an axis: the evidence averaged over a prior with weights w. Source: definition."""
    w = np.asarray(weights, dtype=np.float64)
    shape = [1] * np.ndim(log_values)
    shape[axis] = len(w)
    return np.asarray(logsumexp(log_values, axis=axis, b=w.reshape(shape)))


def posterior(log_evidence: FloatArray, prior: FloatArray) -> FloatArray:
    """Bayes' theorem over hypotheses that exclude each other: p_i ~ prior_i exp(log evidence_i), summing to one.

    log_evidence, prior >= 0, not all 0: (h,). Source: Bayes' theorem (textbook).
    """
    with np.errstate(divide="ignore"):
        log = np.asarray(log_evidence) + np.log(np.asarray(prior, dtype=np.float64))
    return np.asarray(np.exp(log - logsumexp(log)))
