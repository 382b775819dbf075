"""Is a measured value inside its limits, given how well it was measured?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from firstoff.methods.ranges import ordered, real

FloatArray = npt.NDArray[np.float64]
Rule = Literal["iso14253-1:2013", "iso14253-1:2017"]
RULES: tuple[Rule, ...] = ("iso14253-1:2013", "iso14253-1:2017")
PROVEN = 0.95  # conformance probability asked for by the 2017 edition


@dataclass(frozen=True)
class Limits:
    """Tolerance limits, SI; None where a side has no limit."""

    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        for name, value in (("low", self.low), ("high", self.high)):
            if value is not None:
                real(name, value)
        if self.low is not None or self.high is not None:
            ordered("low", self.low, "high", self.high)


@dataclass(frozen=True)
class Zones:
    """Readings that prove conformity lie in [accept_low, accept_high]; readings that prove the opposite lie below
    `reject_low` or above `reject_high`. None: no limit on that side. `empty`: no reading can prove conformity."""

    accept_low: float | None
    accept_high: float | None
    reject_low: float | None
    reject_high: float | None
    guard: float
    empty: bool = False


def conformance_probability(y: float | FloatArray, u: float | FloatArray, limits: Limits) -> FloatArray:
    """Probability that the true value is inside the limits, nothing else being known about it.

    p_C = Phi((T_U-y)/u) - Phi((T_L-y)/u), a missing limit counting as infinite. y: measured value or values;
    u: standard uncertainty, same unit, above 0 (broadcast against y). Returns the shape of y.
    Raises ValueError on u <= 0. Source: JCGM 106:2012 clause 7, normal distribution, flat prior.
    """
    from scipy.special import ndtr

    y, u = np.asarray(y, dtype=float), np.asarray(u, dtype=float)
    if not np.all(u > 0):
        raise ValueError("u must be above 0")
    # counted from the smaller tail on both sides, so that 1 - p_C keeps its digits
    above = ndtr((y - limits.high) / u) if limits.high is not None else np.zeros(y.shape)
    below = ndtr((limits.low - y) / u) if limits.low is not None else np.zeros(y.shape)
    return np.asarray(np.clip(1.0 - above - below, 0.0, 1.0))


def probability_of_one(y: float, u: float, limits: Limits) -> float:
    """:func:`conformance_probability` of a single reading, without the cost of arrays. u above 0 is not checked."""
    scale = u * math.sqrt(2.0)
    above = 0.5 * math.erfc((limits.high - y) / scale) if limits.high is not None else 0.0
    below = 0.5 * math.erfc((y - limits.low) / scale) if limits.low is not None else 0.0
    return min(1.0, max(0.0, 1.0 - above - below))


def posterior(y: float, u: float, prior_mean: float, prior_sd: float) -> tuple[float, float]:
    """Best estimate and standard uncertainty when the process is known beforehand.

    1/u'^2 = 1/u0^2 + 1/u^2; y' = u'^2 (y0/u0^2 + y/u^2). y, u: reading and its standard uncertainty; prior_mean y0,
    prior_sd u0: the process; all in one unit, u and u0 above 0. Raises ValueError.
    Source: JCGM 106:2012, normal prior and normal likelihood (clauses 6 and 7; equation from memory).
    """
    u, prior_sd = real("u", u, above=0.0), real("prior_sd", prior_sd, above=0.0)
    weight = 1.0 / (1.0 + (u / prior_sd) ** 2)
    return weight * real("y", y) + (1.0 - weight) * real("prior_mean", prior_mean), u * math.sqrt(weight)


@lru_cache(maxsize=2)
def guard_factor(rule: str) -> float:
    """Guard band over standard uncertainty, g/u: 2 of the 2013 edition, z_0.95 = 1.645 of the 2017 edition.

    Raises ValueError. Source: ISO 14253-1:2013 and ISO 14253-1:2017 (both from memory).
    """
    from scipy.special import ndtri

    if rule not in RULES:
        raise ValueError(f"rule must be one of {', '.join(RULES)}, not {rule!r}")
    return 2.0 if rule == RULES[0] else float(ndtri(PROVEN))


@lru_cache(maxsize=4096)
def zones(limits: Limits, u: float, rule: str) -> Zones:
    """Zones of acceptance and rejection of a decision rule.

    2013: limits moved by g = U = 2u, inwards to accept, outwards to reject. 2017: the readings at which p_C = 0.95 and
    p_C = 0.05; for one limit, or u small against the tolerance, that is g = 1.645u. With a coarse gauge the exact
    zones are narrower. A reading inside the limits never proves nonconformity.
    u: standard uncertainty, unit of the limits, above 0. Raises ValueError.
    Source: ISO 14253-1:2013 and ISO 14253-1:2017 (both from memory), JCGM 106:2012 clause 8.
    """
    u = real("u", u, above=0.0)
    ordered("low", limits.low, "high", limits.high)
    guard = guard_factor(rule) * u
    low, high = limits.low, limits.high
    if rule == RULES[1] and low is not None and high is not None and high - low < 20.0 * u:
        return _exact_zones(low, high, u, guard)
    moved = Zones(
        None if low is None else low + guard,
        None if high is None else high - guard,
        None if low is None else low - guard,
        None if high is None else high + guard,
        guard,
    )
    empty = low is not None and high is not None and high - low < 2.0 * guard
    return Zones(None, None, moved.reject_low, moved.reject_high, guard, True) if empty else moved


def _exact_zones(low: float, high: float, u: float, guard: float) -> Zones:
    """Zones of two limits from p_C itself, solved for the distance of the reading from the middle."""
    from scipy.optimize import brentq

    half, middle = (high - low) / 2.0 / u, low + (high - low) / 2.0
    scaled = Limits(-half, half)

    def solve(wanted: float, start: float) -> float | None:
        if conformance_probability(start, 1.0, scaled) <= wanted:
            return None
        return float(brentq(lambda x: float(conformance_probability(x, 1.0, scaled)) - wanted, start, half + 8.0)) * u

    accept, reject = solve(PROVEN, 0.0), solve(1.0 - PROVEN, half)
    out = half * u if reject is None else reject
    if accept is None:
        return Zones(None, None, middle - out, middle + out, guard, True)
    return Zones(middle - accept, middle + accept, middle - out, middle + out, guard)


def decide(y: float, found: Zones) -> Literal["conforms", "does not conform", "not proven"]:
    """The word of the rule for one reading. Equality with an acceptance limit conforms."""
    if (found.reject_low is not None and y < found.reject_low) or (
        found.reject_high is not None and y > found.reject_high
    ):
        return "does not conform"
    inside = (found.accept_low is None or y >= found.accept_low) and (
        found.accept_high is None or y <= found.accept_high
    )
    return "conforms" if inside and not found.empty else "not proven"
