"""Shares of variance of a result by its inputs (Sobol indices), with their uncertainty."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def indices(
    f_a: FloatArray, f_b: FloatArray, f_ab: FloatArray, weights: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """First and total order Sobol index of one group of inputs, for c results at once.

    S = mean(f_B (f_AB - f_A)) / V, S_T = mean((f_A - f_AB)^2) / (2 V), with f_A and f_B centred on their common mean
    and V their common variance; AB is sample A with the group's columns taken from the independent sample B.

    f_a, f_b, f_ab: (c, n), n >= 2, finite. weights: (r, n), each row summing to 1, for r weighted estimates
    (bootstrap); None is one estimate with equal weights. Returns two arrays (r, c); 0 where a result does not vary.
    Not clipped: noise may carry an index a little below 0 or above 1.

    Source: Saltelli et al. (2010), Computer Physics Communications 181, 259, table 2 (b) and (f); centring: Sobol &
    Levitan (1999), Computer Physics Communications 117, 52.
    """
    n = f_a.shape[1]
    w = np.full((1, n), 1.0 / n) if weights is None else weights
    middle = 0.5 * (f_a.mean(axis=1) + f_b.mean(axis=1))[:, np.newaxis]
    a, b, ab = f_a - middle, f_b - middle, f_ab - middle
    shift = w @ (0.5 * (a + b)).T  # the weighted mean, measured from the plain one
    variance = w @ (0.5 * (a * a + b * b)).T - shift * shift
    first = w @ (b * (ab - a)).T - shift * (w @ (ab - a).T)
    total = 0.5 * (w @ np.square(a - ab).T)
    # rounding alone makes a constant result scatter by some units in the last place
    floor = np.square(1e-12 * np.abs(middle.T))
    varies = variance > np.maximum(floor, 0.0)
    safe = np.where(varies, variance, 1.0)
    return np.where(varies, first / safe, 0.0), np.where(varies, total / safe, 0.0)


def bootstrap_errors(
    f_a: FloatArray, f_b: FloatArray, f_ab: FloatArray, rng: np.random.Generator, resamples: int = 200
) -> tuple[FloatArray, FloatArray]:
    """Half-widths (c,) of the 95 % intervals of both indices: 1.96 standard deviations over resampled rows.

    Rows of a Sobol sample are more even than random ones, so the interval is rather too wide than too narrow.
    f_a, f_b, f_ab: as for `indices`. Source: Archer, Saltelli & Sobol (1997), J. Stat. Comput. Simul. 58, 99.
    """
    n = f_a.shape[1]
    weights = rng.multinomial(n, np.full(n, 1.0 / n), size=resamples) / n
    first, total = indices(f_a, f_b, f_ab, weights)
    return 1.96 * first.std(axis=0, ddof=1), 1.96 * total.std(axis=0, ddof=1)
