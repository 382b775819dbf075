"""Mean, standard deviation and extremes of streams of numbers, mergeable chunk by chunk."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
CountArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Moments:
    """What is kept of the numbers of each of c streams; arrays are (c,)."""

    count: CountArray
    mean: FloatArray
    m2: FloatArray  # sum of squared deviations from the mean
    low: FloatArray
    high: FloatArray

    @property
    def sd(self) -> FloatArray:
        """Standard deviation with count - 1; 0 for fewer than two numbers."""
        return np.asarray(np.sqrt(self.m2 / np.maximum(self.count - 1, 1)))


def moments(x: FloatArray) -> Moments:
    """Moments of one chunk x (c, n) of finite numbers, n may be 0; NaN stands for a number that is not there."""
    streams, n = x.shape
    missing = np.isnan(x)
    if n and not missing.any():
        mean = x.mean(axis=1)
        m2 = np.square(x - mean[:, np.newaxis]).sum(axis=1)
        return Moments(np.full(streams, n), mean, m2, x.min(axis=1), x.max(axis=1))
    found = Moments(
        np.zeros(streams, np.int64),
        np.zeros(streams),
        np.zeros(streams),
        np.full(streams, math.inf),
        np.full(streams, -math.inf),
    )
    for i in range(streams):
        row = x[i][~missing[i]]
        if row.size:
            found.count[i], found.mean[i] = row.size, row.mean()
            found.m2[i] = np.square(row - found.mean[i]).sum()
            found.low[i], found.high[i] = row.min(), row.max()
    return found


def merge(a: Moments, b: Moments) -> Moments:
    """Moments of both chunks together; merged in a fixed order the result is the same to the last bit.

    mean = mean_a + d n_b / n, M2 = M2_a + M2_b + d^2 n_a n_b / n, with d = mean_b - mean_a and n = n_a + n_b.
    a, b: of the same streams. Source: Chan, Golub & LeVeque (1983), American Statistician 37, 242, eq. 2.1.
    """
    n = a.count + b.count
    some = np.maximum(n, 1)
    d = b.mean - a.mean
    mean = np.where(a.count == 0, b.mean, a.mean + d * (b.count / some))
    m2 = a.m2 + b.m2 + np.square(d) * (a.count * b.count / some)
    return Moments(n, mean, m2, np.minimum(a.low, b.low), np.maximum(a.high, b.high))
