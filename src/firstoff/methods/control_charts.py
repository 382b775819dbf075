"""Constants and limits of control charts, computed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from firstoff.methods.quadrature import gauss_legendre
from firstoff.methods.ranges import not_negative, real, whole


@dataclass(frozen=True)
class ChartConstants:
    """Of one subgroup size n; without unit."""

    d2: float
    d3: float
    c4: float
    A2: float
    A3: float
    B3: float
    B4: float
    D3: float
    D4: float


@lru_cache(maxsize=256)
def range_moments(n: int) -> tuple[float, float]:
    """Mean d2 and standard deviation d3 of the range of n standard normal values.

    d2 = int [1 - F^n - (1-F)^n] dx; E[R^2] = 2 int int_{x<y} [1 - F(y)^n - (1-F(x))^n + (F(y)-F(x))^n] dx dy.
    n: subgroup size, 2 to 1000. Raises ValueError. Source: Tippett 1925; ASTM E2587.
    """
    from scipy.special import ndtr

    n = whole("n", n, 2, 1000)
    nodes, weights = gauss_legendre(200)
    x, w = 9.0 * nodes, 9.0 * weights
    below, above = ndtr(x), ndtr(-x)
    d2 = float(w @ (1.0 - below**n - above**n))
    # the inner integral runs over y = x + gap, so that the kink on the diagonal lies on the border
    gap, gap_w = 9.0 * (nodes + 1.0), 9.0 * weights
    upper = ndtr(x[:, None] + gap[None, :])
    inner = 1.0 - upper**n - above[:, None] ** n + (upper - below[:, None]) ** n
    second = 2.0 * float(w @ inner @ gap_w)
    return d2, math.sqrt(second - d2**2)


def d2_star(n: int, groups: int) -> float:
    """Divisor of the mean of a finite number of ranges: d2* = sqrt(d2^2 + d3^2/g).

    n: values in each range, 2 to 1000; groups g: number of ranges, 1 or more. Raises ValueError.
    Source: Duncan 1955, used in gauge studies.
    """
    d2, d3 = range_moments(n)
    return math.sqrt(d2**2 + d3**2 / whole("groups", groups, 1, 1_000_000))


def chart_constants(n: int) -> ChartConstants:
    """Constants of mean, range and standard deviation charts.

    c4 = sqrt(2/(n-1)) G(n/2)/G((n-1)/2); A2 = 3/(d2 sqrt n); A3 = 3/(c4 sqrt n); D3, D4 = 1 -/+ 3 d3/d2;
    B3, B4 = 1 -/+ 3 sqrt(1-c4^2)/c4; D3 and B3 not below 0. n: subgroup size, 2 to 1000. Raises ValueError.
    Source: ASTM E2587; ISO 7870-2.
    """
    d2, d3 = range_moments(n)
    c4 = math.sqrt(2.0 / (n - 1)) * math.exp(math.lgamma(n / 2.0) - math.lgamma((n - 1) / 2.0))
    root = math.sqrt(n)
    swing_s, swing_r = 3.0 * math.sqrt(1.0 - c4**2) / c4, 3.0 * d3 / d2
    return ChartConstants(
        d2,
        d3,
        c4,
        3.0 / (d2 * root),
        3.0 / (c4 * root),
        max(0.0, 1.0 - swing_s),
        1.0 + swing_s,
        max(0.0, 1.0 - swing_r),
        1.0 + swing_r,
    )


def individuals_limits(mean: float, mean_moving_range: float) -> tuple[float, float, float]:
    """Limits of an individuals and moving-range chart.

    LCL, UCL = mean -/+ 3 MRbar/d2(2); UCL of the moving range = D4(2) MRbar, d2(2) = 2/sqrt(pi).
    mean, mean_moving_range: one unit, the latter 0 or more. Returns LCL, UCL, UCL_MR. Raises ValueError.
    Source: ISO 7870-2; ASTM E2587.
    """
    mean, moving = real("mean", mean), not_negative("MRbar", mean_moving_range)
    d2 = 2.0 / math.sqrt(math.pi)
    d3 = math.sqrt(2.0 - d2**2)
    return mean - 3.0 * moving / d2, mean + 3.0 * moving / d2, (1.0 + 3.0 * d3 / d2) * moving
