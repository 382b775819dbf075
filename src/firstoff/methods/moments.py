"""Mean, standard deviation and extremes of streams of numbers, mergeable chunk by chunk."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Moments:
    """What is kept of `count` numbers of each of c streams; arrays are (c,)."""

    count: int
    mean: FloatArray
    m2: FloatArray  # sum of squared deviations from the mean
    low: FloatArray
    high: FloatArray

    @property
    def sd(self) -> FloatArray:
        """Standard deviation with count - 1; 0 for fewer than two numbers."""
        return np.sqrt(self.m2 / max(self.count - 1, 1))


def moments(x: FloatArray) -> Moments:
    """Moments of one chunk x (c, n) of finite numbers; n may be 0."""
    streams, n = x.shape
    if n == 0:
        zero = np.zeros(streams)
        return Moments(0, zero, zero, np.full(streams, math.inf), np.full(streams, -math.inf))
    mean = x.mean(axis=1)
    m2 = np.square(x - mean[:, np.newaxis]).sum(axis=1)
    return Moments(n, mean, m2, x.min(axis=1), x.max(axis=1))


def merge(a: Moments, b: Moments) -> Moments:
    """Moments of both chunks together; merged in a fixed order the result is the same to the last bit.

    mean = mean_a + d n_b / n, M2 = M2_a + M2_b + d^2 n_a n_b / n, with d = mean_b - mean_a and n = n_a + n_b.
    a, b: of the same streams. Source: Chan, Golub & LeVeque (1983), American Statistician 37, 242, eq. 2.1.
    """
    if a.count == 0 or b.count == 0:
        return b if a.count == 0 else a
    n = a.count + b.count
    d = b.mean - a.mean
    mean = a.mean + d * (b.count / n)
    m2 = a.m2 + b.m2 + np.square(d) * (a.count * b.count / n)
    return Moments(n, mean, m2, np.minimum(a.low, b.low), np.maximum(a.high, b.high))
