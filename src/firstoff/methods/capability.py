"""How a process fits its limits: capability indices, their confidence, and the share outside."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.methods.conformity import Limits
from firstoff.methods.ranges import ordered, real, share, whole
from firstoff.methods.tolerance_intervals import share_beyond_bound


@dataclass(frozen=True)
class Capability:
    """Indices without unit; None where a missing limit leaves an index undefined."""

    cp: float | None
    lower: float | None  # Cpl
    upper: float | None  # Cpu
    cpk: float
    k: float | None  # offset of the mean from the middle, in half tolerances
    share_out: float


def capability(limits: Limits, mean: float, s: float) -> Capability:
    """Capability indices from limits, mean and standard deviation.

    Cp = (USL-LSL)/6s; Cpk = min((USL-m)/3s, (m-LSL)/3s); k = |mid-m|/((USL-LSL)/2); share out = normal tails.
    With the standard deviation within lots these are Cp, Cpk; with that of all parts Pp, Ppk.
    limits, mean, s: one unit, s above 0, at least one limit. Raises ValueError.
    Source: NIST/SEMATECH e-Handbook 6.1.6; ISO 22514-2.
    """
    from scipy.special import ndtr

    mean, s = real("mean", mean), real("s", s, above=0.0)
    low, high = limits.low, limits.high
    ordered("LSL", low, "USL", high)
    lower = None if low is None else (mean - low) / (3.0 * s)
    upper = None if high is None else (high - mean) / (3.0 * s)
    sides = [side for side in (lower, upper) if side is not None]
    out = sum(float(ndtr(-3.0 * side)) for side in sides)
    if low is None or high is None:
        return Capability(None, lower, upper, min(sides), None, out)
    half = (high - low) / 2.0
    return Capability(half / (3.0 * s), lower, upper, min(sides), abs(low + half - mean) / half, out)


def cp_interval(cp: float, n: int, confidence: float) -> tuple[float, float]:
    """Two-sided confidence interval of Cp: Cp sqrt(chi2_{a/2,n-1}/(n-1)) and with 1-a/2, a = 1-confidence.

    cp [1], 0 or more; n [parts], 2 or more. Raises ValueError. Source: NIST/SEMATECH e-Handbook 6.1.6.
    """
    from scipy.stats import chi2

    cp, n, confidence = real("Cp", cp), whole("n", n, 2, 10_000_000), share("confidence", confidence)
    if cp < 0:
        raise ValueError(f"Cp must not be negative, not {cp:g}")
    low, high = (math.sqrt(float(chi2.ppf(q, n - 1)) / (n - 1)) for q in ((1 - confidence) / 2, (1 + confidence) / 2))
    return cp * low, cp * high


def _cpk_error(cpk: float, n: int) -> float:
    return math.sqrt(1.0 / (9.0 * n) + cpk**2 / (2.0 * (n - 1)))


def cpk_interval(cpk: float, n: int, confidence: float) -> tuple[float, float]:
    """Two-sided confidence interval of Cpk: Cpk -/+ z_{(1+c)/2} sqrt(1/(9n) + Cpk^2/(2(n-1))).

    cpk [1]; n [parts], 2 or more; confidence c [1]. An approximation, good above some 25 parts. Raises ValueError.
    Source: Bissell 1990.
    """
    return cpk_low(cpk, n, (1.0 + share("confidence", confidence)) / 2.0), _cpk_high(cpk, n, confidence)


def _cpk_high(cpk: float, n: int, confidence: float) -> float:
    return 2.0 * cpk - cpk_low(cpk, n, (1.0 + confidence) / 2.0)


def cpk_low(cpk: float, n: int, confidence: float) -> float:
    """One-sided lower confidence bound of Cpk: Cpk - z_c sqrt(1/(9n) + Cpk^2/(2(n-1))).

    Arguments, range and source as :func:`cpk_interval`.
    """
    from scipy.special import ndtri

    cpk, n = real("Cpk", cpk), whole("n", n, 2, 10_000_000)
    return cpk - float(ndtri(share("confidence", confidence))) * _cpk_error(cpk, n)


def share_outside(limits: Limits, mean: float, s: float, n: int, confidence: float) -> tuple[float, float, float]:
    """Estimated share of a normal population outside its limits, with a two-sided confidence interval.

    Point: normal tails at the sample's mean and s. Bounds: exact (noncentral t) for one limit; for two limits the
    larger of the lower bounds and the sum of the upper bounds of the tails, each at half the risk: conservative.
    limits, mean, s: one unit, s above 0; n [parts], 2 or more; confidence [1]. Returns share, low, high [1].
    Raises ValueError. Source: see :func:`firstoff.methods.tolerance_intervals.share_beyond_bound`.
    """
    point = capability(limits, mean, s).share_out
    confidence = share("confidence", confidence)
    distances = []
    if limits.low is not None:
        distances.append((mean - limits.low) / s)
    if limits.high is not None:
        distances.append((limits.high - mean) / s)
    risk = (1.0 - confidence) / 2.0 / len(distances)
    low = max(share_beyond_bound(d, n, risk) for d in distances)
    high = sum(share_beyond_bound(d, n, 1.0 - risk) for d in distances)
    return point, min(low, point), min(1.0, max(high, point))
