"""How a lot, or a process, fills its limits, for any distribution, with the confidence that few parts allow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from firstoff.methods.capability import capability
from firstoff.methods.conformity import Limits
from firstoff.methods.distribution_fit import HIGH, LOW, Fit, beyond, fit, parameters_drawn, quantiles
from firstoff.methods.kappa import proportion
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
    share_out: tuple[float, float, float]  # outside the limits, and its interval


@dataclass(frozen=True)
class Outside:
    """A share outside the limits and the nearest index, with bounds of both at one confidence."""

    share: float
    share_low: float
    share_high: float
    nearest: Index


def normal_outside(limits: Limits, mean: float, s: float, n: int, confidence: float, guard: float = 0.0) -> Outside:
    """Share outside and Ppk of a normal population, with bounds that hold for any common error up to the guard band.

    For each limit the bounds of its distance (:func:`~firstoff.methods.tolerance_intervals.distance_bound`) at half
    the risk, shared by the limits. Share: the larger of the lower bounds, the sum of the upper ones. Ppk: the smaller
    lower and the smaller upper bound, over 3. With a guard band the widest of these over means moved by it either way.
    Exact for one limit, conservative for two. limits, mean, s, guard: one unit, s above 0; n [parts], 2 or more;
    confidence [1]. Raises ValueError. Source: noncentral t (Owen 1963); Bonferroni.
    """
    from scipy.special import ndtr

    point = capability(limits, mean, s)
    sides = [(limits.low, 1.0)] if limits.low is not None else []
    sides += [(limits.high, -1.0)] if limits.high is not None else []
    risk = (1.0 - share("confidence", confidence)) / 2.0 / len(sides)
    lows, highs, nearest, furthest = [point.share_out], [point.share_out], [], []
    for moved in (mean - guard, mean, mean + guard) if guard else (mean,):
        distances = [side * (moved - limit) / s for limit, side in sides]
        near = [distance_bound(d, n, 1.0 - risk) for d in distances]
        far = [distance_bound(d, n, risk) for d in distances]
        lows.append(max(float(ndtr(-d)) for d in far))
        highs.append(sum(float(ndtr(-d)) for d in near))
        nearest.append(min(near))
        furthest.append(min(far))
    index = Index(point.cpk, min(nearest) / 3.0, max(furthest) / 3.0)
    return Outside(point.share_out, min(lows), min(1.0, max(highs)), index)


def ppk_interval(limits: Limits, mean: float, s: float, n: int, confidence: float) -> tuple[float, float]:
    """Two-sided interval of Ppk of a normal population: exact for one limit, conservative for two.

    Arguments, range and source as there (:func:`normal_outside`).
    """
    found = normal_outside(limits, mean, s, n, confidence).nearest
    assert found.low is not None and found.high is not None
    return found.low, found.high


def performance(
    values: Sequence[float], limits: Limits, confidence: float, guard: float = 0.0, stated: str = ""
) -> Performance:
    """Pp and Ppk of a sample by the quantile method and its share outside, with intervals.

    Pp = (U-L)/(X99.865 - X0.135); Ppk = min((U-X50)/(X99.865-X50), (X50-L)/(X50-X0.135)); for a normal distribution
    these are (U-L)/6s and min(U-m, m-L)/3s. Intervals: normal Pp by chi-squared (exact), the rest as
    :func:`normal_outside`; other distributions by 2000 draws of their parameters (fixed seed), limits moved by the
    guard band; percentiles and none: share by Clopper and Pearson, no interval of an index.
    values (n,): 2 or more that differ, unit of the limits; confidence [1]; guard: of what all share, 0 or more;
    stated: the distribution, where it is known. The intervals hold given the distribution; its choice is not in them.
    Raises ValueError. Source: ISO 22514-2 (quantile method); NIST/SEMATECH e-Handbook 6.1.6.
    """
    found = fit(list(values), stated)
    if found.model == "normal":
        return _normal(found, limits, confidence, guard)
    x = np.asarray(values, dtype=float)
    if found.model in ("percentiles", "none"):
        return _counted(found, x, limits, confidence)
    a, b = parameters_drawn(found, DRAWS, SEED)
    at = [np.asarray(found.quantile(p)) for p in (LOW, 0.5, HIGH)]
    drawn = [quantiles(found.model, a, b, p) for p in (LOW, 0.5, HIGH)]
    ends = ((1.0 - share("confidence", confidence)) / 2.0, (1.0 + confidence) / 2.0)
    pp, ppk = _indices(limits, *at)
    pps, _ = _indices(limits, *drawn)
    moved = [Limits(*(None if x is None else x + m for x in (limits.low, limits.high))) for m in {-guard, 0.0, guard}]
    ppks = [np.quantile(_indices(of, *drawn)[1], ends) for of in moved]
    outs = [np.quantile(beyond(found.model, a, b, of), ends) for of in moved]
    whole = None if pp is None or pps is None else Index(float(pp), *map(float, np.quantile(pps, ends)))
    nearest = Index(float(ppk), float(min(q[0] for q in ppks)), float(max(q[1] for q in ppks)))
    out = float(beyond(found.model, np.asarray(found.a), np.asarray(found.b), limits))
    least, most = float(min(q[0] for q in outs)), float(max(q[1] for q in outs))
    x_low, x_mid, x_high = map(float, at)
    return Performance(whole, nearest, found, x_low, x_mid, x_high, (out, min(out, least), max(out, most)))


def _counted(found: Fit, x: FloatArray, limits: Limits, confidence: float) -> Performance:
    """Without a distribution: the share by counting; indices by percentiles where there are enough parts."""
    low, high = (-np.inf if limits.low is None else limits.low), (np.inf if limits.high is None else limits.high)
    out = proportion(int(((x < low) | (x > high)).sum()), len(x), confidence)
    if found.model == "none":
        return Performance(None, None, found, None, None, None, out)
    at = [np.asarray(v) for v in np.quantile(x, (LOW, 0.5, HIGH))]
    pp, ppk = _indices(limits, *at)
    x_low, x_mid, x_high = map(float, at)
    return Performance(None if pp is None else Index(float(pp)), Index(float(ppk)), found, x_low, x_mid, x_high, out)


def _indices(
    limits: Limits, low: FloatArray, middle: FloatArray, high: FloatArray
) -> tuple[FloatArray | None, FloatArray]:
    sides = [(limits.high - middle) / (high - middle)] if limits.high is not None else []
    sides += [(middle - limits.low) / (middle - low)] if limits.low is not None else []
    whole = None
    if limits.low is not None and limits.high is not None:
        whole = (limits.high - limits.low) / (high - low)
    return whole, np.asarray(np.minimum.reduce(sides))


def _normal(found: Fit, limits: Limits, confidence: float, guard: float) -> Performance:
    point = capability(limits, found.a, found.b)
    whole = None if point.cp is None else Index(point.cp, *deviation_bounds(point.cp, found.n - 1, confidence))
    of = normal_outside(limits, found.a, found.b, found.n, confidence, guard)
    x_low, x_mid, x_high = (found.quantile(p) for p in (LOW, 0.5, HIGH))
    return Performance(whole, of.nearest, found, x_low, x_mid, x_high, (of.share, of.share_low, of.share_high))


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
