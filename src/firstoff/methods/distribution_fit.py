"""Which distribution a characteristic follows, and its quantiles: normal unless the parts speak against it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from firstoff.methods.conformity import Limits
from firstoff.methods.ranges import real, sequence

FloatArray = npt.NDArray[np.float64]
Model = Literal["normal", "lognormal", "Weibull", "Rayleigh", "percentiles", "none"]
LOW, HIGH = 0.00135, 0.99865  # probabilities of the reference limits (ISO 22514-2)
RISK = 0.01  # of calling a distribution wrong that is right
FEWEST = 20  # parts; fewer say too little against a normal distribution (common practice, no source)
ENOUGH = math.ceil(2.0 / LOW)  # parts from which on percentiles of the readings themselves reach X0.135
_WEIBULL_1, _RAYLEIGH_1 = 1.038, 1.959  # 1 % points of A*, both or the one parameter estimated


@dataclass(frozen=True)
class Fit:
    """A distribution by its two parameters, SI: normal mean and s, lognormal the same of the logarithms, Weibull
    scale and shape, Rayleigh scale and 0; and why it was chosen."""

    model: Model
    a: float
    b: float
    n: int
    p_normal: float | None  # of the test of normality; None when it was not made
    why: str

    def quantile(self, p: float) -> float:
        """Value below which the share p lies."""
        return float(quantiles(self.model, self.a, self.b, p))


def quantiles(model: Model, a: float | FloatArray, b: float | FloatArray, p: float) -> FloatArray:
    """Quantile p of distributions by their parameters (any shape). Source: their definitions."""
    from scipy.special import ndtri

    if model == "normal":
        return np.asarray(a + b * float(ndtri(p)))
    if model == "lognormal":
        return np.asarray(np.exp(a + b * float(ndtri(p))))
    if model == "Weibull":
        return np.asarray(a * (-math.log1p(-p)) ** (1.0 / np.asarray(b)))
    return np.asarray(np.asarray(a) * math.sqrt(-2.0 * math.log1p(-p)))  # Rayleigh


def beyond(model: Model, a: FloatArray, b: FloatArray, limits: Limits) -> FloatArray:
    """Share of distributions outside limits, by their parameters (any shape). Source: their definitions."""
    from scipy.special import ndtr

    def below(x: float) -> FloatArray:
        if model == "normal":
            return np.asarray(ndtr((x - a) / b))
        if x <= 0.0:
            return np.zeros_like(np.asarray(a, dtype=float))
        if model == "lognormal":
            return np.asarray(ndtr((math.log(x) - a) / b))
        power = (x / a) ** b if model == "Weibull" else (x / a) ** 2 / 2.0
        return np.asarray(-np.expm1(-power))

    low = below(limits.low) if limits.low is not None else 0.0
    high = 1.0 - below(limits.high) if limits.high is not None else 0.0
    return np.asarray(low + high)


def spread_evenly(x: FloatArray) -> FloatArray:
    """Readings of a coarse display spread over their steps, by a fixed seed; finer ones as they are.

    Ties of a display are no evidence against a distribution. Coarse: fewer distinct values than two thirds of the
    readings. Source: common practice, no source.
    """
    steps = np.unique(x)
    if len(steps) < 2 or 3 * len(steps) >= 2 * len(x):
        return x
    step = float(np.diff(steps).min())
    return np.asarray(x + step * (np.random.default_rng(len(x)).random(len(x)) - 0.5))


def normality(x: FloatArray) -> float | None:
    """Probability of a sample as far from normal by Shapiro and Wilk's W; None below 20 parts or without scatter.

    x (n,): one unit. Source: Shapiro and Wilk 1965; Royston 1995 (as in SciPy).
    """
    from scipy.stats import shapiro

    if len(x) < FEWEST or np.ptp(x) <= 1e-13 * np.abs(x).max():
        return None
    return float(shapiro(spread_evenly(x)[:5000]).pvalue)


STATED_WHY = "stated in the sheet"
STATED: tuple[Model, ...] = ("normal", "lognormal", "Weibull", "Rayleigh")


def fit(values: FloatArray | list[float], stated: str = "") -> Fit:
    """The distribution that a sample is taken to follow: the one `stated`, where the readings can follow it.

    Else normal unless W rejects it at 1 %; then, of lognormal, Weibull and Rayleigh (readings of 0 or more), the
    likeliest that its own test does not reject at 1 % (W of the logarithms; A* of Anderson and Darling); else
    percentiles of the readings from 1482 parts on; else none. values (n,): one unit, 2 or more, not all equal.
    Raises ValueError.
    Source: ISO 22514-2 (distributions by their time model; choice by test: common practice, no source); D'Agostino and
    Stephens 1986 (1 % points 1.038 and 1.959, from memory).
    """
    x = np.array([real("value", v) for v in sequence("values", list(values), 1_000_000)])
    if len(x) < 2 or np.ptp(x) <= 1e-13 * np.abs(x).max():
        raise ValueError("values must be 2 or more that differ")
    n, p = len(x), normality(x)
    if stated in STATED and (stated == "normal" or x.min() >= 0.0):
        of = _parameters(stated, x if stated == "normal" else _above_zero(x))
        return Fit(stated, *of, n, p, STATED_WHY)
    if p is None or p >= RISK:
        why = "assumed: too few parts to test it" if p is None else f"the readings do not speak against it (p {p:.2g})"
        return Fit("normal", float(x.mean()), float(x.std(ddof=1)), n, p, why)
    found = _others(_above_zero(spread_evenly(x))) if x.min() >= 0.0 else []
    if found:
        _, model, a, b = max(found)
        return Fit(model, a, b, n, p, f"not normal (p {p:.2g}); the likeliest of those not rejected")
    model = "percentiles" if n >= ENOUGH else "none"
    rest = "percentiles of the readings" if n >= ENOUGH else "and no distribution tried describes them"
    return Fit(model, 0.0, 0.0, n, p, f"not normal (p {p:.2g}), {rest}")


def _parameters(model: Model, x: FloatArray) -> tuple[float, float]:
    """Mean and s of the values or of their logarithms; scale and shape of a Weibull; scale of a Rayleigh."""
    if model in ("normal", "lognormal"):
        y = np.log(x) if model == "lognormal" else x
        return float(y.mean()), float(y.std(ddof=1))
    if model == "Weibull":
        shape, scale = weibull(x[np.newaxis])
        return float(scale[0]), float(shape[0])
    return math.sqrt(float((x**2).mean()) / 2.0), 0.0


def _above_zero(x: FloatArray) -> FloatArray:
    """Readings of nought, as a quarter of the smallest other one: a gauge shows nought for less than half a step."""
    least = float(x[x > 0.0].min())
    return np.asarray(np.maximum(x, 0.25 * least))


def _others(x: FloatArray) -> list[tuple[float, Model, float, float]]:
    """Score (log-likelihood less the number of parameters), model and parameters of each that is not rejected."""
    n, logs = len(x), np.log(x)
    found: list[tuple[float, Model, float, float]] = []
    p_log = normality(logs)
    if p_log is None or p_log >= RISK:
        m, s = _parameters("lognormal", x)
        score = -n * math.log(s * math.sqrt(2 * math.pi)) - (n - 1) / 2.0 - logs.sum() - 2.0
        found.append((float(score), "lognormal", m, s))
    scale, shape = _parameters("Weibull", x)
    z = (x / scale) ** shape
    if _anderson(-np.expm1(-z)) * (1.0 + 0.2 / math.sqrt(n)) < _WEIBULL_1:
        score = n * math.log(shape / scale) + (shape - 1.0) * np.log(x / scale).sum() - z.sum() - 2.0
        found.append((float(score), "Weibull", scale, shape))
    sigma, _ = _parameters("Rayleigh", x)
    half = x**2 / (2.0 * sigma**2)
    if _anderson(-np.expm1(-half)) * (1.0 + 0.6 / n) < _RAYLEIGH_1:
        score = logs.sum() - 2.0 * n * math.log(sigma) - half.sum() - 1.0
        found.append((float(score), "Rayleigh", sigma, 0.0))
    return found


def _anderson(p: FloatArray) -> float:
    """A^2 of Anderson and Darling of probabilities that should be uniform."""
    u = np.sort(np.clip(p, 1e-15, 1.0 - 1e-15))
    n = len(u)
    i = np.arange(1, n + 1)
    return float(-n - ((2 * i - 1) * (np.log(u) + np.log1p(-u[::-1]))).mean())


def weibull(x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Shape and scale of Weibull samples by maximum likelihood.

    1/b + mean(ln x) = sum x^b ln x / sum x^b by 20 steps of Newton; scale = mean(x^b)^(1/b).

    x (samples, n): above 0. Source: maximum likelihood (textbook).
    """
    logs = np.log(x)
    logs = logs - logs.max(axis=1, keepdims=True)
    mean = logs.mean(axis=1)
    b = 1.28 / np.maximum(logs.std(axis=1), 1e-12)
    for _ in range(20):
        w = np.exp(b[:, np.newaxis] * logs)
        s0, s1, s2 = w.sum(axis=1), (w * logs).sum(axis=1), (w * logs**2).sum(axis=1)
        off = 1.0 / b + mean - s1 / s0
        slope = -1.0 / b**2 - (s2 * s0 - s1**2) / s0**2
        b = np.maximum(b - off / slope, 0.1 * b)
    scale = np.exp(np.log(np.exp(b[:, np.newaxis] * logs).mean(axis=1)) / b)
    return b, np.asarray(scale * np.exp(np.log(x).max(axis=1)))


@lru_cache(maxsize=64)
def weibull_pivots(n: int, draws: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """b_hat/b and b_hat ln(scale_hat/scale) over samples of n, whose distribution holds for every Weibull.

    Source: Thoman, Bain and Antle 1969.
    """
    x = np.random.default_rng(seed).exponential(size=(draws, n))
    b, scale = weibull(x)
    return b, np.asarray(b * np.log(scale))


def parameters_drawn(found: Fit, draws: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """Parameters that the sample leaves possible, drawn from their fiducial distribution; `draws` of each.

    Lognormal: s* = s sqrt(nu/chi2), m* = m - z s*/sqrt(n); Weibull: b* = b/(b_hat/b), from its pivots; Rayleigh:
    sigma*^2 = 2 n sigma^2/chi2_2n. Raises ValueError for other models. Source: generalised pivotal quantities
    (Weerahandi 1993).
    """
    rng, n = np.random.default_rng(seed), found.n
    if found.model in ("normal", "lognormal"):
        s = found.b * np.sqrt((n - 1) / rng.chisquare(n - 1, draws))
        return np.asarray(found.a - rng.normal(size=draws) * s / math.sqrt(n)), np.asarray(s)
    if found.model == "Rayleigh":
        return np.asarray(found.a * np.sqrt(2.0 * n / rng.chisquare(2 * n, draws))), np.zeros(draws)
    if found.model != "Weibull":
        raise ValueError(f"{found.model} has no parameters")
    shape_ratio, scale_pivot = weibull_pivots(n, draws, seed)
    shape = found.b / shape_ratio
    return np.asarray(found.a * np.exp(-scale_pivot / found.b)), np.asarray(shape)
