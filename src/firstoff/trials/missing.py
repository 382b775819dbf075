"""What would turn `not proven` into `conforms`: more parts, more readings of a part, or a better gauge."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.methods.conformity import Limits, decide, guard_factor, zones
from firstoff.methods.tolerance_intervals import one_sided_exact, two_sided_exact
from firstoff.trials.gauges import Gauge
from firstoff.trials.verdicts import LotVerdict, PartVerdict

MOST_PARTS = 500  # a trial of first-offs is no longer one beyond this: assumed
MOST_READINGS = 20  # repeats of one part, likewise


@dataclass(frozen=True)
class Missing:
    """Each way by itself, if mean and scatter stay as they were read. None: this way does not lead there."""

    parts: int | None = None  # of the lot in all
    common_u: float | None = None  # largest standard uncertainty common to the readings, SI, with the parts at hand
    sd: float | None = None  # largest standard deviation of the lot, SI, with the parts at hand


def of_lot(v: LotVerdict, rule: str) -> Missing:
    """What a lot lacks whose tolerance interval does not fit its limits.

    parts: least n with k(n) s <= d, d the distance of the mean from the nearer limit less the guard band g; common_u:
    (d + g - k s) / (g/u); sd: d / k. Source: the lot's own rule, solved (see `lots.judge_lot`).
    """
    if v.sd is None or v.factor is None or v.widened is None or (v.low is None and v.high is None):
        return Missing()
    reach = min((abs(limit - v.mean) for limit in (v.low, v.high) if limit is not None), default=math.inf)
    if (v.low is not None and v.mean < v.low) or (v.high is not None and v.mean > v.high):
        return Missing()
    distance = reach - v.widened
    parts = least_parts(distance / v.sd, v) if distance > 0 else None
    guard = reach - v.factor * v.sd
    common = guard / guard_factor(rule) if 0 < guard < v.widened else None
    return Missing(parts, common, distance / v.factor if distance > 0 else None)


def least_parts(factor: float, v: LotVerdict) -> int | None:
    """Least number of parts of which the tolerance factor of the lot's rule is at most `factor`; None beyond any."""

    def k(n: int) -> float:
        both = v.low is not None and v.high is not None
        return (two_sided_exact if both else one_sided_exact)(n, v.coverage, v.confidence)

    if factor <= 0 or k(MOST_PARTS) > factor:
        return None
    low, high = 1, MOST_PARTS  # k(low) > factor, or low = 1 which is no sample; k(high) <= factor
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if k(middle) > factor else (low, middle)
    return high


def parts_of_a_centred_lot(v: LotVerdict) -> int | None:
    """Least number of parts that would prove a lot of the same scatter whose mean lies in the middle of its limits."""
    if not v.sd or v.widened is None or v.low is None or v.high is None:
        return None
    return least_parts(((v.high - v.low) / 2.0 - v.widened) / v.sd, v)


@dataclass(frozen=True)
class MissingOfPart:
    """Each way by itself, if the mean of the readings stays. None: this way does not lead there."""

    readings: int | None = None  # of this part in all
    u: float | None = None  # largest standard uncertainty of one gauge, SI


def of_part(v: PartVerdict, gauge: Gauge | None) -> MissingOfPart:
    """What a part lacks whose reading lies inside its limits, but too near for the gauge."""
    limits = Limits(v.low, v.high)
    if v.verdict != "not proven" or v.u is None or not _inside(v.value, limits):
        return MissingOfPart()

    def proven(u: float | None) -> bool:
        return u is not None and u > 0 and decide(v.value, zones(limits, u, v.rule)) == "conforms"

    counts = range(v.readings + 1, MOST_READINGS + 1)
    readings = next((r for r in counts if proven(gauge.of_mean(r))), None) if gauge else None
    low, high = 0.0, v.u
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if proven(middle) else (low, middle)
    return MissingOfPart(readings, low if low > 1e-9 * v.u else None)


def _inside(value: float, limits: Limits) -> bool:
    return (limits.low is None or value > limits.low) and (limits.high is None or value < limits.high)
