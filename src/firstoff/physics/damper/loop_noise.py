"""How well a trace settles the numbers of its loop: the scatter between its cycles."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.loop import LOOP_FIELDS, Loop, loop_of, mean_cycle

FloatArray = npt.NDArray[np.float64]


def number_covariance(loop: Loop, places: tuple[float, float], share: float = 0.5) -> FloatArray:
    """Covariance (13, 13) of LOOP_FIELDS of a mean cycle, from its cycles by the jackknife.

    V = (n - 1)/n sum (q_i - q)(q_i - q)' over the numbers q_i of the mean of all cycles but one, times
    (t_97.5%(n - 1) / 1.96)^2 for the few cycles; correlations times 1 - 2/(n - 1), for as few tell little of them
    (assumed). Rows of numbers that some mean does not have are nan. Drift between the cycles counts as scatter.

    loop: of `reduce`, n >= 2 cycles; places, share as there. ValueError for a single cycle.
    Source: Efron and Tibshirani, An Introduction to the Bootstrap, ch. 11 (jackknife; from memory);
    JCGM 100:2008, G.3.2 (t factor).
    """
    from scipy.stats import norm, t

    n, steps = loop.each_travel.shape
    if n < 2:
        raise ValueError("a single cycle says nothing about its own scatter")
    moments = np.linspace(0.0, loop.period, steps + 1)
    sums = loop.each_travel.sum(axis=0), loop.each_force.sum(axis=0)
    numbers = np.empty((n, len(LOOP_FIELDS)))
    for i in range(n):
        travel, force = ((s - a[i]) / (n - 1) for s, a in zip(sums, (loop.each_travel, loop.each_force), strict=True))
        numbers[i] = list(loop_of(moments, *mean_cycle(travel, force, loop.period), places, share).values())
    off = numbers - numbers.mean(axis=0)
    few = (t.ppf(0.975, n - 1) / norm.ppf(0.975)) ** 2
    found = few * (n - 1) / n * off.T @ off
    keep = np.full(found.shape, max(0.0, 1.0 - 2.0 / (n - 1)))
    np.fill_diagonal(keep, 1.0)
    return np.asarray(found * keep)
