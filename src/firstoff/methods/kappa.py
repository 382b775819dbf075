"""Do people who sort parts by eye agree, with each other and with the reference?"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from firstoff.methods.ranges import share, whole

IntArray = npt.NDArray[np.int64]
MOST = 10_000_000


class Agreement(NamedTuple):
    """Kappa and its confidence interval; None where all ratings are of one category and no interval follows."""

    kappa: float
    low: float | None
    high: float | None


def _counts(table: npt.ArrayLike) -> IntArray:
    found = np.asarray(table)
    if found.ndim != 2 or min(found.shape) < 1 or not np.issubdtype(found.dtype, np.number):
        raise ValueError("the table must have rows and columns of counts")
    if not np.all(np.isfinite(found)) or np.any(found < 0) or np.any(found != np.rint(found)) or found.max() > MOST:
        raise ValueError("the table must hold counts, 0 or more")
    return found.astype(np.int64)


def cohen(table: npt.ArrayLike, confidence: float) -> Agreement:
    """Cohen's kappa of two raters, with its large-sample interval.

    k = (po - pe)/(1 - pe); var = [A + B - C]/((1-pe)^2 n), A = sum pii (1 - (pi. + p.i)(1-k))^2,
    B = (1-k)^2 sum_{i!=j} pij (p.i + pj.)^2, C = (k - pe(1-k))^2. table (q, q): parts by the category of the first
    rater (row) and the second (column). confidence [1]. Raises ValueError when only one category was ever used.
    Source: Cohen 1960; Fleiss, Cohen and Everitt 1969 (variance).
    """
    from scipy.special import ndtri

    counts = _counts(table)
    n, q = int(counts.sum()), len(counts)
    if counts.shape != (q, q) or q < 2 or n < 1:
        raise ValueError("the table must be square, with 2 or more categories and 1 or more parts")
    p = counts / n
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    agreed, expected = float(np.trace(p)), float(rows @ columns)
    if expected >= 1.0:
        raise ValueError("both raters used one category only: kappa is not defined")
    kappa = (agreed - expected) / (1.0 - expected)
    a = float((np.diag(p) * (1.0 - (rows + columns) * (1.0 - kappa)) ** 2).sum())
    off = p * (columns[:, np.newaxis] + rows[np.newaxis, :]) ** 2
    b = (1.0 - kappa) ** 2 * float(off.sum() - np.trace(off))
    c = (kappa - expected * (1.0 - kappa)) ** 2
    error = math.sqrt(max(0.0, a + b - c) / n) / (1.0 - expected)
    reach = float(ndtri((1.0 + share("confidence", confidence)) / 2.0)) * error
    return Agreement(kappa, max(-1.0, kappa - reach), min(1.0, kappa + reach))


def fleiss(table: npt.ArrayLike, confidence: float) -> Agreement:
    """Fleiss' kappa of m ratings a part, with an interval by the jackknife over parts.

    k = (P - Pe)/(1 - Pe), P = mean of (sum_j n_ij^2 - m)/(m(m-1)), Pe = sum_j p_j^2. Interval: pseudo-values
    n k - (n-1) k_(i), mean -/+ t s/sqrt(n), n - 1 degrees of freedom. table (n, q): ratings of each part (row) by
    category; every part has the same m of 2 or more. confidence [1]. Raises ValueError when one category only was used.
    Source: Fleiss 1971; jackknife (Efron 1982).
    """
    from scipy.special import stdtrit

    counts = _counts(table)
    m = int(counts[0].sum())
    if np.any(counts.sum(axis=1) != m) or m < 2:
        raise ValueError("every part must have the same number of ratings, 2 or more")
    n = len(counts)
    per_part = (counts.astype(float) ** 2).sum(axis=1) - m
    totals = counts.sum(axis=0).astype(float)

    def of(agreement: float, used: npt.NDArray[np.float64], parts: int) -> float:
        expected = float(((used / (parts * m)) ** 2).sum())
        return math.nan if expected >= 1.0 else (agreement / (parts * m * (m - 1)) - expected) / (1.0 - expected)

    whole_kappa = of(float(per_part.sum()), totals, n)
    if math.isnan(whole_kappa):
        raise ValueError("one category only was ever used: kappa is not defined")
    if n < 3:
        return Agreement(whole_kappa, None, None)
    left = np.array([of(float(per_part.sum() - per_part[i]), totals - counts[i], n - 1) for i in range(n)])
    if np.isnan(left).any():
        return Agreement(whole_kappa, None, None)
    pseudo = n * whole_kappa - (n - 1) * left
    reach = float(stdtrit(n - 1, (1.0 + share("confidence", confidence)) / 2.0)) * float(pseudo.std(ddof=1))
    middle, reach = float(pseudo.mean()), reach / math.sqrt(n)
    return Agreement(whole_kappa, max(-1.0, middle - reach), min(1.0, middle + reach))


def proportion(count: int, n: int, confidence: float) -> tuple[float, float, float]:
    """A share with its exact two-sided interval: count/n, Beta quantiles at (1-c)/2 on each side.

    count, n [parts or ratings], 0 <= count <= n, n 1 or more; confidence c [1]. Raises ValueError.
    Source: Clopper and Pearson 1934.
    """
    from scipy.special import betaincinv

    n = whole("n", n, 1, MOST)
    count, risk = whole("count", count, 0, n), (1.0 - share("confidence", confidence)) / 2.0
    low = float(betaincinv(count, n - count + 1, risk)) if count else 0.0
    high = float(betaincinv(count + 1, n - count, 1.0 - risk)) if count < n else 1.0
    return count / n, low, high


def cohen_by_part(tables: npt.ArrayLike, confidence: float) -> Agreement:
    """Cohen's kappa of ratings that come several to a part, with an interval by the jackknife over parts.

    Repeats of one part are no independent parts: its ratings are left out together. k of the sum of all tables;
    interval as :func:`fleiss`. tables (n, q, q): ratings of each part by both raters' category; confidence [1].
    Raises ValueError as :func:`cohen`. Source: Cohen 1960; jackknife (Efron 1982).
    """
    from scipy.special import stdtrit

    found = np.asarray(tables)
    if found.ndim != 3:
        raise ValueError("the tables must be one square table a part")
    total, n = found.sum(axis=0), len(found)
    kappa = cohen(total, confidence).kappa
    if n < 3:
        return Agreement(kappa, None, None)
    try:
        left = np.array([cohen(total - table, confidence).kappa for table in found])
    except ValueError:
        return Agreement(kappa, None, None)
    pseudo = n * kappa - (n - 1) * left
    reach = float(stdtrit(n - 1, (1.0 + confidence) / 2.0)) * float(pseudo.std(ddof=1)) / math.sqrt(n)
    middle = float(pseudo.mean())
    return Agreement(kappa, max(-1.0, middle - reach), min(1.0, middle + reach))
