"""Intervals that hold a stated share of a normal population, from a sample of it."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from firstoff.methods.quadrature import gauss_legendre
from firstoff.methods.ranges import real, share, whole

FloatArray = npt.NDArray[np.float64]
MOST = 10_000_000


def _check(n: int, coverage: float, confidence: float) -> tuple[int, float, float]:
    return whole("n", n, 2, MOST), share("coverage", coverage), share("confidence", confidence)


@lru_cache(maxsize=4096)
def two_sided_howe(n: int, coverage: float, confidence: float) -> float:
    """Two-sided factor k2 after Howe: k2 = sqrt(nu (1+1/n) z_{(1+p)/2}^2 / chi2_{1-conf,nu}), nu = n-1.

    n: sample [parts], 2 or more; coverage p, confidence [1]. Raises ValueError.
    Source: Howe 1969; NIST/SEMATECH e-Handbook 7.2.6.3.
    """
    from scipy.special import chdtri, ndtri

    n, coverage, confidence = _check(n, coverage, confidence)
    z = float(ndtri((1.0 + coverage) / 2.0))
    # chdtri inverts the upper tail: P(chi2 > x) = confidence
    return z * math.sqrt((n - 1) * (1.0 + 1.0 / n) / float(chdtri(n - 1, confidence)))


@lru_cache(maxsize=4096)
def two_sided_exact(n: int, coverage: float, confidence: float) -> float:
    """Two-sided factor k2, exact: mean -/+ k2 s holds the share p with the stated confidence.

    E_z[ P(chi2_nu >= nu r(z)^2 / k2^2) ] = conf, z ~ N(0, 1/n), Phi(z+r) - Phi(z-r) = p, nu = n-1.
    n: sample [parts], 2 or more; coverage p, confidence [1]. Raises ValueError.
    Source: ISO 16269-6:2014 (definition), solved by Gauss-Legendre quadrature.
    """
    from scipy.optimize import brentq
    from scipy.special import chdtrc

    n, coverage, confidence = _check(n, coverage, confidence)
    nodes, weights = gauss_legendre(160)
    z = 4.5 * (nodes + 1.0)  # 0 to 9 standard errors: the integrand is even
    weights = 9.0 * weights * np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    r = _half_width(z / math.sqrt(n), coverage)

    def excess(log_k: float) -> float:
        return float(weights @ chdtrc(n - 1, (n - 1) * (r / math.exp(log_k)) ** 2)) - confidence

    start = math.log(two_sided_howe(n, coverage, confidence))
    low, high = start - 0.5, start + 0.5
    for _ in range(60):
        if excess(low) < 0 < excess(high):
            break
        low, high = low - 0.5, high + 0.5
    return math.exp(float(brentq(excess, low, high, xtol=1e-12, rtol=1e-12)))


def _half_width(z: FloatArray, coverage: float) -> FloatArray:
    """r with Phi(z+r) - Phi(z-r) = coverage, by bisection (monotone in r), z >= 0, any shape."""
    from scipy.special import ndtr, ndtri

    low = np.zeros_like(z)
    high = z + float(ndtri((1.0 + coverage) / 2.0)) + 1e-9
    for _ in range(60):
        r = 0.5 * (low + high)
        short = ndtr(z + r) - ndtr(z - r) < coverage
        low, high = np.where(short, r, low), np.where(short, high, r)
    return 0.5 * (low + high)


@lru_cache(maxsize=4096)
def one_sided_exact(n: int, coverage: float, confidence: float) -> float:
    """One-sided factor k1, exact: k1 = t_conf(nu, z_p sqrt(n)) / sqrt(n), t noncentral, nu = n-1.

    n: sample [parts], 2 or more; coverage p, confidence [1]. Raises ValueError.
    Source: ISO 16269-6:2014; NIST/SEMATECH e-Handbook 7.2.6.3.
    """
    from scipy.optimize import brentq
    from scipy.special import ndtri

    n, coverage, confidence = _check(n, coverage, confidence)
    delta = float(ndtri(coverage)) * math.sqrt(n)

    def excess(k: float) -> float:
        return _noncentral_t(k * math.sqrt(n), n - 1, delta) - confidence

    low, high = -1.0, 1.0
    for _ in range(60):
        if excess(low) < 0 < excess(high):
            break
        low, high = 2.0 * low, 2.0 * high
    return float(brentq(excess, low, high, xtol=1e-12, rtol=1e-12))


def one_sided_natrella(n: int, coverage: float, confidence: float) -> float:
    """One-sided factor k1 after Natrella: k1 = (z_p + sqrt(z_p^2 - a b)) / a.

    a = 1 - z_c^2/(2(n-1)), b = z_p^2 - z_c^2/n. n: sample [parts]; coverage p, confidence c [1]. Raises ValueError,
    also where the sample is too small for the approximation. Source: NIST/SEMATECH e-Handbook 7.2.6.3.
    """
    from scipy.special import ndtri

    n, coverage, confidence = _check(n, coverage, confidence)
    z_p, z_c = float(ndtri(coverage)), float(ndtri(confidence))
    a, b = 1.0 - z_c**2 / (2.0 * (n - 1)), z_p**2 - z_c**2 / n
    if a <= 0 or z_p**2 < a * b:
        raise ValueError(f"n = {n} is too small for the approximate one-sided factor at this confidence")
    return (z_p + math.sqrt(z_p**2 - a * b)) / a


@lru_cache(maxsize=512)
def _scale_nodes(nu: int) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights over w = sqrt(chi2_nu / nu), the sample's sd over the true one."""
    from scipy.special import gammaln

    spread = 9.0 / math.sqrt(2.0 * nu)
    low, high = max(0.0, 1.0 - spread), 1.0 + spread
    nodes, weights = gauss_legendre(400)
    w = low + 0.5 * (high - low) * (nodes + 1.0)
    half = nu / 2.0
    log_density = math.log(2.0) + half * math.log(half) - gammaln(half) + (nu - 1) * np.log(w) - half * w**2
    return w, 0.5 * (high - low) * weights * np.exp(log_density)


def _noncentral_t(t: float, nu: int, delta: float) -> float:
    """P(T <= t) of the noncentral t: E_w[ Phi(t w - delta) ]. Quadrature does not break down for large delta."""
    from scipy.special import ndtr

    w, weights = _scale_nodes(nu)
    return float(weights @ ndtr(t * w - delta))


def distance_bound(distance: float, n: int, probability: float) -> float:
    """Bound of the distance of a limit from the mean of a normal population, in true standard deviations.

    d = delta/sqrt(n), delta solving P(T_nu(delta) <= K sqrt(n)) = probability, T noncentral t, nu = n-1: the true
    distance is above d with the stated probability. distance K = (limit - mean)/s [1], positive when the limit
    lies outside the mean; n: sample [parts], 2 or more; probability [1]. Raises ValueError.
    Source: exact one-sided tolerance factor, read backwards (ISO 16269-6:2014; Owen 1963).
    """
    from scipy.special import ndtr, ndtri

    n, probability = whole("n", n, 2, MOST), share("probability", probability)
    # beyond 30 sd the share is below any number worth printing, and the quadrature has no digits left
    k, root = min(max(real("distance", distance), -30.0), 30.0), math.sqrt(n)
    w, weights = _scale_nodes(n - 1)
    nodes = k * root * w
    low, high = -2.0 * abs(k) * root - 12.0, 2.0 * abs(k) * root + 12.0
    reach = abs(k) * root * 9.0 / math.sqrt(2.0 * (n - 1))
    low, high = low - reach, high + reach
    delta = k * root - float(ndtri(probability)) * math.sqrt(1.0 + k * k * n / (2.0 * (n - 1)))
    for _ in range(100):
        off = nodes - delta
        missed = float(weights @ ndtr(off)) - probability  # falls with delta
        low, high = (delta, high) if missed > 0.0 else (low, delta)
        slope = float(weights @ np.exp(-0.5 * off * off)) / math.sqrt(2.0 * math.pi)
        step = delta + missed / slope if slope > 1e-300 else math.inf
        new = step if low < step < high else 0.5 * (low + high)
        if abs(new - delta) < 1e-10 * (1.0 + abs(delta)):
            return new / root
        delta = new
    return delta / root


def share_beyond_bound(distance: float, n: int, probability: float) -> float:
    """Bound of the share of a normal population beyond a limit, from a sample.

    p = Phi(-d), d of :func:`distance_bound`: the true share is below p with the stated probability.
    Arguments, range and source as there.
    """
    from scipy.special import ndtr

    return float(ndtr(-distance_bound(distance, n, probability)))
