"""How a lot, or a process, fills its limits, for any distribution, with the confidence that few parts allow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from firstoff.methods.capability import capability
from firstoff.methods.conformity import Limits
from firstoff.methods.distribution_fit import HIGH, LOW, Fit, fit, parameters_drawn, quantiles
from firstoff.methods.ranges import share
from firstoff.methods.tolerance_intervals import distance_bound

FloatArray = npt.NDArray[np.float64]
DRAWS = 2000
SEED = 1


@dataclass(frozen=True)
class Index:
    """An index with its two-sided confidence interval; None where none follows."""

    value: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Performance:
    """Pp and Ppk of all parts, or Cp and Cpk of the scatter within lots; without unit. None: not defined."""

    whole: Index | None  # Pp or Cp: two limits only
    nearest: Index | None  # Ppk or Cpk
    fit: Fit
    x_low: float | None  # X0.135 %, the unit of the values
    x_mid: float | None
    x_high: float | None  # X99.865 %


def ppk_interval(limits: Limits, mean: float, s: float, n: int, confidence: float) -> tuple[float, float]:
    """Two-sided interval of Ppk of a normal population: exact for one limit, conservative for two.

    For each limit the bounds d of its distance (:func:`~firstoff.methods.tolerance_intervals.distance_bound`) at half
    the risk, shared by the limits; the smaller lower and the smaller upper bound, over 3. limits, mean, s: one unit;
    n [parts], 2 or more; confidence [1]. Raises ValueError. Source: noncentral t (Owen 1963); Bonferroni.
    """
    capability(limits, mean, s)
    distances = [(mean - limits.low) / s] if limits.low is not None else []
    distances += [(limits.high - mean) / s] if limits.high is not None else []
    risk = (1.0 - share("confidence", confidence)) / 2.0 / len(distances)
    low, high = (min(distance_bound(d, n, p) for d in distances) for p in (1.0 - risk, risk))
    return low / 3.0, high / 3.0


def performance(values: Sequence[float], limits: Limits, confidence: float) -> Performance:
    """Pp and Ppk of a sample by the quantile method, with intervals.

    Pp = (U-L)/(X99.865 - X0.135); Ppk = min((U-X50)/(X99.865-X50), (X50-L)/(X50-X0.135)); for a normal distribution
    these are (U-L)/6s and min(U-m, m-L)/3s. Intervals: normal Pp by chi-squared (exact), Ppk as
    :func:`ppk_interval`; other distributions by 2000 draws of their parameters (fixed seed); percentiles: none.
    values (n,): 2 or more that differ, unit of the limits; confidence [1]. Raises ValueError.
    Source: ISO 22514-2 (quantile method); NIST/SEMATECH e-Handbook 6.1.6.
    """
    found = fit(list(values))
    if found.model == "normal":
        return _normal(found, limits, confidence)
    if found.model == "none":
        return Performance(None, None, found, None, None, None)
    if found.model == "percentiles":
        at = np.quantile(np.array(values, dtype=float), (LOW, 0.5, HIGH))
        pp, ppk = _indices(limits, *at)
        one = None if pp is None else Index(float(pp))
        return Performance(one, Index(float(ppk)), found, *map(float, at))
    x = [found.quantile(p) for p in (LOW, 0.5, HIGH)]
    a, b = parameters_drawn(found, DRAWS, SEED)
    pp, ppk = _indices(limits, *map(np.asarray, x))
    drawn = _indices(limits, *(quantiles(found.model, a, b, p) for p in (LOW, 0.5, HIGH)))
    ends = ((1.0 - share("confidence", confidence)) / 2.0, (1.0 + confidence) / 2.0)
    both = [None if d is None or v is None else Index(float(v), *map(float, np.quantile(d, ends)))
            for v, d in zip((pp, ppk), drawn, strict=True)]  # fmt: skip
    return Performance(both[0], both[1], found, *x)


def _indices(
    limits: Limits, low: FloatArray, middle: FloatArray, high: FloatArray
) -> tuple[FloatArray | None, FloatArray]:
    sides = [(limits.high - middle) / (high - middle)] if limits.high is not None else []
    sides += [(middle - limits.low) / (middle - low)] if limits.low is not None else []
    whole = None
    if limits.low is not None and limits.high is not None:
        whole = (limits.high - limits.low) / (high - low)
    return whole, np.asarray(np.minimum.reduce(sides))


def _normal(found: Fit, limits: Limits, confidence: float) -> Performance:
    point = capability(limits, found.a, found.b)
    whole = None if point.cp is None else Index(point.cp, *deviation_bounds(point.cp, found.n - 1, confidence))
    nearest = Index(point.cpk, *ppk_interval(limits, found.a, found.b, found.n, confidence))
    return Performance(whole, nearest, found, *(found.quantile(p) for p in (LOW, 0.5, HIGH)))


def deviation_bounds(index: float, freedom: int, confidence: float) -> tuple[float, float]:
    """Interval of Pp or Cp: index sqrt(chi2/nu) at (1-c)/2 and (1+c)/2. Source: e-Handbook 6.1.6."""
    from scipy.special import gammaincinv

    ends = ((1.0 - confidence) / 2.0, (1.0 + confidence) / 2.0)
    low, high = (index * math.sqrt(2.0 * float(gammaincinv(freedom / 2.0, p)) / freedom) for p in ends)
    return low, high


@dataclass(frozen=True)
class Stability:
    """Several lots side by side: the scatter within them, and whether their means differ by more than it explains."""

    within: float  # pooled standard deviation
    freedom: int
    p: float  # of means as far apart


def stability(lots: Sequence[Sequence[float]]) -> Stability | None:
    """Pooled standard deviation within lots and the F test of their means; None below two lots or without scatter.

    s_w^2 = sum (x - m_lot)^2/(N - k); F = sum n (m_lot - m)^2/(k-1)/s_w^2. lots: values of each, one unit.
    Source: one-way analysis of variance (textbook); ISO 22514-2 asks for a stable process before Cp is spoken of.
    """
    from scipy.special import fdtrc

    of = [np.asarray(lot, dtype=float) for lot in lots if len(lot)]
    total, k = sum(len(lot) for lot in of), len(of)
    if k < 2 or total <= k:
        return None
    within = sum(float(((lot - lot.mean()) ** 2).sum()) for lot in of)
    middle = sum(float(lot.sum()) for lot in of) / total
    if within <= 1e-26 * total * middle**2:
        return None
    between = sum(len(lot) * float((lot.mean() - middle) ** 2) for lot in of)
    freedom = total - k
    ratio = (between / (k - 1)) / (within / freedom)
    return Stability(math.sqrt(within / freedom), freedom, float(fdtrc(k - 1, freedom, ratio)))


def capability_within(limits: Limits, mean: float, found: Stability, confidence: float) -> tuple[Index | None, Index]:
    """Cp and Cpk from the scatter within lots, with intervals.

    Cp = (U-L)/6 s_w, interval by chi-squared; Cpk = min(U-m, m-L)/3 s_w, interval Cpk -/+ z sqrt(1/9N + Cpk^2/2nu), an
    approximation. limits, mean: one unit; confidence [1]. Raises ValueError.
    Source: NIST/SEMATECH e-Handbook 6.1.6; Bissell 1990; ISO 22514-2 (names).
    """
    from scipy.special import ndtri

    point = capability(limits, mean, found.within)
    z = float(ndtri((1.0 + share("confidence", confidence)) / 2.0))
    reach = z * math.sqrt(1.0 / (9.0 * (found.freedom + 1)) + point.cpk**2 / (2.0 * found.freedom))
    cp = None if point.cp is None else Index(point.cp, *deviation_bounds(point.cp, found.freedom, confidence))
    return cp, Index(point.cpk, point.cpk - reach, point.cpk + reach)
