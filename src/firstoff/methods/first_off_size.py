"""How many first parts prove that a lot keeps its limits, when its scatter is foreseen."""

from __future__ import annotations

import math

from firstoff.methods.conformity import Limits
from firstoff.methods.ranges import not_negative, real, share, whole
from firstoff.methods.tolerance_intervals import _scale_nodes, distance_bound, one_sided_exact, two_sided_exact

NEAREST = 1.0 - 1e-9  # share; nearer to all of a lot nothing is said
MOST = 10_000  # parts; a plan that asks for more is no plan for first parts


def _two(limits: Limits) -> bool:
    return limits.low is not None and limits.high is not None


def factor(n: int, limits: Limits, coverage: float, confidence: float) -> float:
    """Exact tolerance factor k of n parts: two-sided for two limits, one-sided for one."""
    return (two_sided_exact if _two(limits) else one_sided_exact)(n, coverage, confidence)


def room(limits: Limits, mean: float, sd: float, guard: float = 0.0) -> float:
    """Distance of the nearer limit from the mean, less the guard band, in standard deviations.

    K = min(U-g-m, m-g-L)/s. limits, mean m, guard g (0 or more), sd s (above 0): one unit. Negative: the mean is
    outside. Raises ValueError, also without any limit.
    """
    mean, sd, guard = real("mean", mean), real("sd", sd, above=0.0), not_negative("guard", guard)
    sides = [mean - limits.low] if limits.low is not None else []
    sides += [limits.high - mean] if limits.high is not None else []
    if not sides:
        raise ValueError("at least one limit must be given")
    return (min(sides) - guard) / sd


def interval_size(limits: Limits, mean: float, sd: float, guard: float, coverage: float, confidence: float) -> int:
    """Smallest n whose tolerance interval keeps the limits when mean and scatter come out as foreseen; 0 when none.

    min n: k(n) <= K, k exact (two-sided for two limits, one-sided for one), K of :func:`room`. A sample scatters about
    what is foreseen, so that this n proves the lot about every second time: see :func:`interval_chance`.
    limits, mean, sd, guard as in :func:`room`; coverage, confidence [1]. 0 also above 10 000 parts. Raises ValueError.
    Source: ISO 16269-6:2014 (factor).
    """
    found = room(limits, mean, sd, guard)
    if found <= 0.0 or factor(MOST, limits, coverage, confidence) > found:
        return 0
    low, high = 1, 2
    while factor(high, limits, coverage, confidence) > found:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if factor(middle, limits, coverage, confidence) > found else (low, middle)
    return high


def interval_chance(
    n: int, limits: Limits, mean: float, sd: float, lot: float, guard: float, coverage: float, confidence: float
) -> float:
    """Chance that the tolerance interval of n parts of one lot keeps the limits, the lot being as foreseen.

    E_w[ Phi((U-g-k s w-m)/q) - Phi((L+g+k s w-m)/q) ]+, w = sqrt(chi2_nu/nu), q^2 = lot^2 + s^2/n, nu = n-1.
    lot: standard deviation of the means of lots, 0 or more, in the unit of the others. Else as
    :func:`interval_size`. Raises ValueError. Source: mean and variance of a normal sample are independent (textbook).
    """
    import numpy as np
    from scipy.special import ndtr

    n = whole("n", n, 2, MOST)
    room(limits, mean, sd, guard)
    k = factor(n, limits, coverage, confidence)
    q = math.hypot(not_negative("lot", lot), sd / math.sqrt(n))
    w, weights = _scale_nodes(n - 1)
    high = 1.0 if limits.high is None else ndtr((limits.high - guard - k * sd * w - mean) / q)
    low = 0.0 if limits.low is None else ndtr((limits.low + guard + k * sd * w - mean) / q)
    return float(min(1.0, max(0.0, weights @ np.maximum(high - low, 0.0))))


def size_for_chance(
    chance: float, limits: Limits, mean: float, sd: float, lot: float, guard: float, coverage: float, confidence: float
) -> int:
    """Smallest n with :func:`interval_chance` of at least `chance` [1]; 0 when no n up to 10 000 reaches it.

    Arguments as there. The chance grows with n wherever the foreseen mean keeps the limits.
    """
    chance = share("chance", chance)

    def falls_short(n: int) -> bool:
        return interval_chance(n, limits, mean, sd, lot, guard, coverage, confidence) < chance

    least = interval_size(limits, mean, sd, guard, coverage, confidence)
    if not least or falls_short(MOST):
        return 0
    low, high = 1, 2
    while falls_short(high):
        low, high = high, min(2 * high, MOST)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if falls_short(middle) else (low, middle)
    return high


def share_proven(n: int, limits: Limits, mean: float, sd: float, guard: float, confidence: float) -> float:
    """Largest share inside the limits that n parts prove when mean and scatter come out as foreseen; 0 for none.

    max p: k(n, p, confidence) <= K. Arguments as :func:`interval_size`. Source: as there, read backwards.
    """
    from scipy.special import ndtr

    found = room(limits, mean, sd, guard)
    if found <= 0.0 or n < 2:
        return 0.0
    if not _two(limits):
        return min(NEAREST, float(ndtr(distance_bound(found, n, confidence))))
    low, high = 1e-6, NEAREST
    if two_sided_exact(n, low, confidence) > found:
        return 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if two_sided_exact(n, middle, confidence) <= found else (low, middle)
    return low


def share_of_success_run(n: int, confidence: float) -> float:
    """Share inside proven by n parts that all conform: R = (1-C)^(1/n). n [parts], 1 or more; confidence C [1].

    Raises ValueError. Source: success run, binomial demonstration without failure (e-Handbook 8.3.1).
    """
    return math.pow(1.0 - share("confidence", confidence), 1.0 / whole("n", n, 1, 10_000_000))
