"""Bias of a gauge over its range: readings of references whose values are known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.methods.ranges import real, sequence, share


@dataclass(frozen=True)
class Linearity:
    """Bias against reference value as a straight line, bias = intercept + slope reference; unit of the readings."""

    n: int
    bias: float  # mean of all
    bias_error: float  # its standard error
    bias_p: float  # two-sided, of no bias at all
    s: float  # standard deviation about the line, or about the mean when there is one reference only
    slope: float | None  # None with one reference only
    slope_error: float | None
    slope_p: float | None
    intercept: float | None
    intercept_error: float | None
    largest: float  # bias of the largest size at any reference, on the line where the slope counts, else the mean
    largest_error: float  # its standard error
    at: tuple[tuple[float, int, float], ...]  # reference, readings, mean bias


def linearity(reference: Sequence[float], value: Sequence[float], risk: float = 0.05) -> Linearity:
    """Bias and linearity by regression of the bias on the reference value.

    bias_i = y_i - x_i = a + b x_i + e_i, least squares, n - 2 degrees of freedom; t tests of b, a and the mean bias.
    reference x, value y (n,): one unit, 2 or more readings, 3 or more with several references; risk [1]: below that
    p of the slope the line gives the largest bias, else the mean does. Raises ValueError, also when nothing scatters.
    Source: AIAG Measurement Systems Analysis reference manual (bias, linearity); ordinary least squares (textbook).
    """
    from scipy.special import stdtr

    share("risk", risk)
    x = np.array([real("reference", v) for v in sequence("reference", list(reference), 100_000)])
    y = np.array([real("value", v) for v in sequence("value", list(value), 100_000)])
    if len(x) != len(y) or len(x) < 2:
        raise ValueError("reference and value must have the same number of entries, 2 or more")
    n, bias = len(x), y - x
    mean, spread = float(bias.mean()), float(bias.std(ddof=1))
    at = tuple((float(v), int((x == v).sum()), float(bias[x == v].mean())) for v in np.unique(x))
    if spread <= 1e-13 * float(np.abs(y).max()):
        raise ValueError("the readings' bias does not scatter at all, so nothing can be said about its error")

    def p_of(t: float, freedom: int) -> float:
        return 2.0 * float(stdtr(freedom, -abs(t)))

    error = spread / math.sqrt(n)
    if len(at) < 2:
        p = p_of(mean / error, n - 1)
        return Linearity(n, mean, error, p, spread, None, None, None, None, None, mean, error, at)
    if n < 3:
        raise ValueError("two readings at two references leave nothing to judge the line by: 3 or more are needed")
    offset = x - x.mean()
    sxx = float(offset @ offset)
    slope = float(offset @ bias) / sxx
    rest = bias - mean - slope * offset
    s = math.sqrt(float(rest @ rest) / (n - 2))
    slope_error, middle = s / math.sqrt(sxx), float(x.mean())
    intercept, intercept_error = mean - slope * middle, s * math.sqrt(1.0 / n + middle**2 / sxx)
    slope_p = p_of(slope / slope_error, n - 2) if slope_error > 0.0 else 0.0 if slope else 1.0
    ends = [(mean + slope * (v - middle), s * math.sqrt(1.0 / n + (v - middle) ** 2 / sxx)) for v in (x.min(), x.max())]
    largest = max(ends, key=lambda end: abs(end[0])) if slope_p < risk else (mean, error)
    return Linearity(
        n, mean, error, p_of(mean / error, n - 1), s, slope, slope_error, slope_p, intercept, intercept_error,
        float(largest[0]), float(largest[1]), at,
    )  # fmt: skip
