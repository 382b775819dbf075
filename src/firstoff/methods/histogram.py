"""Quantiles of streams of numbers from counts on a fixed grid: memory does not grow with the numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from firstoff.methods.moments import Moments

FloatArray = npt.NDArray[np.float64]
CountArray = npt.NDArray[np.int64]

BINS = 4096
_REACH = 8.0  # standard deviations of the pilot on either side


@dataclass(frozen=True)
class Grid:
    """Equal bins for each of c streams, from `low` (c,) in steps of `width` (c,); one more bin below and above."""

    low: FloatArray
    width: FloatArray
    bins: int = BINS


def grid(pilot: Moments, bins: int = BINS) -> Grid:
    """Bins over the pilot's mean ± 8 standard deviations, or twice its reach where that is more.

    pilot: moments of the first builds. A stream that does not scatter gets a grid of a millionth of its size.
    """
    low, high = np.minimum(pilot.low, pilot.mean), np.maximum(pilot.high, pilot.mean)  # an empty pilot has no extremes
    reach = np.maximum.reduce([_REACH * pilot.sd, 2.0 * (high - pilot.mean), 2.0 * (pilot.mean - low)])
    # below the rounding of the numbers there is nothing to resolve
    least = np.abs(pilot.mean) * np.where(reach > 0.0, 1e-12, 1e-6)
    reach = np.maximum(reach, np.maximum(least, 1e-300))
    return Grid(pilot.mean - reach, 2.0 * reach / bins, bins)


def tally(g: Grid, x: FloatArray) -> CountArray:
    """Counts (c, bins + 2) of finite numbers x (c, n), NaN left out; the first and last count what lies outside."""
    streams = len(g.low)
    place = np.floor((x - g.low[:, np.newaxis]) / g.width[:, np.newaxis])
    there = ~np.isnan(place)
    # clipped while still a float: a number far outside has no place among the integers
    index = np.where(there, np.clip(place, -1.0, float(g.bins)), 0.0).astype(np.int64) + 1
    index += (np.arange(streams) * (g.bins + 2))[:, np.newaxis]
    counts = np.bincount(index[there], minlength=streams * (g.bins + 2))
    return counts.reshape(streams, g.bins + 2)


def quantiles(
    g: Grid, counts: CountArray, stream: int, shares: Sequence[float], low: float, high: float
) -> tuple[tuple[float, ...], float]:
    """Quantiles of one stream, and the width of the widest bin that any of them fell into (their resolution).

    The order statistics around rank h = (n - 1) p are placed evenly inside their bins and interpolated linearly, so a
    result differs from the quantile of all the numbers by at most the resolution.

    counts: (c, bins + 2), some number in `stream`; shares: p in [0, 1]; low, high: least and largest of the numbers,
    which bound the outermost bins. Raises ValueError for an empty stream. Source: Hyndman & Fan (1996), American
    Statistician 50, 361, definition 7, on binned data.
    """
    row = counts[stream]
    below = np.cumsum(row)
    n = int(below[-1])
    if n == 0:
        raise ValueError("no numbers, no quantiles")
    start, width, end = float(g.low[stream]), float(g.width[stream]), float(g.low[stream] + g.bins * g.width[stream])
    resolution = 0.0

    def order_statistic(j: int) -> float:
        nonlocal resolution
        k = int(np.searchsorted(below, j, side="right"))
        left, right = start + (k - 1) * width, start + k * width
        if k == 0:
            left, right = low, start
        elif k == g.bins + 1:
            left, right = end, high
        resolution = max(resolution, right - left)
        inside = (j - (int(below[k]) - int(row[k])) + 0.5) / int(row[k])
        return min(max(left + (right - left) * inside, low), high)

    found = []
    for share in shares:
        h = (n - 1) * share
        j = math.floor(h)
        a = order_statistic(j)
        b = order_statistic(min(j + 1, n - 1)) if h > j else a
        found.append(a + (b - a) * (h - j))
    return tuple(found), resolution
