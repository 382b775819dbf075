"""A share of rejects and how well it is known."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import betaincinv, stdtrit

_PLENTY = 10  # rejects, and good builds, in every replicate: from there the mean of the replicates is as good as normal
_MANY_LOTS = 30  # lots in every replicate, for the same reason
_FEWEST_SCRAMBLES = 4
_FEW_LOTS = 2  # wholly rejected lots; fewer can hide a rare bad lot that no replicate met


def clopper_pearson(rejects: float, builds: float, confidence: float = 0.95) -> tuple[float, float]:
    """Exact interval of a binomial share.

    low = B(a; x, n - x + 1), high = B(1 - a; x + 1, n - x), B the beta quantile, a = (1 - confidence) / 2. With none or
    all rejected only one side is open, so it gets the whole risk: none gives high = 1 - (1 - confidence)^(1/n), about
    3 / n at 95 %.

    rejects: x, 0 to n; builds: n > 0, both may be fractions (an effective sample size). Returns (low, high) in [0, 1].
    Raises ValueError outside these ranges. Source: Clopper & Pearson (1934), Biometrika 26, 404; the one-sided bound
    at zero: Hanley & Lippman-Hand (1983), JAMA 249, 1743.
    """
    if not (builds > 0 and 0 <= rejects <= builds and 0 < confidence < 1):
        raise ValueError(f"{rejects} rejects of {builds} builds at confidence {confidence}")
    risk = 1.0 - confidence
    if rejects == 0:
        return 0.0, -math.expm1(math.log(risk) / builds)
    if rejects == builds:
        return risk ** (1.0 / builds), 1.0
    low = betaincinv(rejects, builds - rejects + 1.0, risk / 2)
    high = betaincinv(rejects + 1.0, builds - rejects, 1.0 - risk / 2)
    return float(low), float(high)


def rate_interval(
    rejects: Sequence[int], builds: Sequence[int], lots: int | None = None, confidence: float = 0.95
) -> tuple[float, float]:
    """Interval of a share of rejects from independent scrambles (replicates) of the same ensemble.

    With p the pooled share, v = R/(R-1) sum_r w_r^2 (p_r - p)^2 the variance of p (w_r: the replicate's part of all
    builds) and t the Student quantile of R - 1 degrees of freedom:

    - at least 10 rejects and 10 good builds, and 30 lots, in each of at least 4 replicates: p ± max(t sqrt(v), half a
      build of one replicate);
    - else Clopper-Pearson on n* = p(1-p)/v (z/t)^2 builds, n* never above n: so never narrower than for independent
      builds;
    - none or all rejected, or one replicate: n* = n; where builds share lots, n* is the number of lots, as builds of
      one lot can all fail together, and so it is when rejects, or good builds, would not fill two lots.

    rejects, builds: per replicate, equal lengths. lots: independent lots in all, None when each build has its own.
    Returns (low, high) in [0, 1]. Raises ValueError for counts that cannot be. Sources: Korn & Graubard (1998), Survey
    Methodology 24, 193 (effective sample size); Owen (2013), Monte Carlo theory, methods and examples, ch. 17
    (replicates); the limits 10, 30, 4 and 2 are common practice, no source: their coverage is tested by simulation.
    """
    if not builds or len(rejects) != len(builds) or min(builds) < 1:
        raise ValueError("every replicate needs builds and a count of rejects")
    x, m = np.asarray(rejects, dtype=np.float64), np.asarray(builds, dtype=np.float64)
    if np.any(x < 0) or np.any(x > m):
        raise ValueError("rejects must lie between 0 and the number of builds")
    n, total, replicates = float(m.sum()), float(x.sum()), len(m)
    independent = n if lots is None else float(min(lots, n))
    share = total / n
    few_lots = lots is not None and min(share, 1 - share) * independent < _FEW_LOTS
    if replicates == 1 or total in (0.0, n) or few_lots:
        return clopper_pearson(share * independent, independent, confidence)
    variance = replicates / (replicates - 1) * float(np.sum((m / n) ** 2 * (x / m - share) ** 2))
    t = float(stdtrit(replicates - 1, 0.5 + confidence / 2))
    plenty = min(x.min(), (m - x).min()) >= _PLENTY and independent / replicates >= _MANY_LOTS
    if plenty and replicates >= _FEWEST_SCRAMBLES:
        half = max(t * math.sqrt(variance), 0.5 / float(m.min()))
        return max(0.0, share - half), min(1.0, share + half)
    z = float(stdtrit(n - 1, 0.5 + confidence / 2))
    # few rejects can fall evenly on the replicates by chance
    effective = independent if variance == 0 else min(n, share * (1 - share) / variance * (z / t) ** 2)
    return clopper_pearson(share * effective, effective, confidence)
