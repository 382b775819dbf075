"""Rainflow count of a history, three-point rule with half cycles at the ends."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from firstoff.physics.jit import njit
from firstoff.physics.ranges import FloatArray, Numbers, within


@njit("Tuple((f8[::1], f8[::1], i8))(f8[::1])")
def _count(series: FloatArray) -> tuple[FloatArray, FloatArray, int]:
    """Ranges, counts and how many of them, in the order they are closed."""
    n = series.size
    turns, depth = np.empty(n), 0
    ranges, counts, found = np.empty(n), np.empty(n), 0
    last, rising, started = series[0], False, False
    for i in range(1, n + 1):
        end = i == n
        if not end:
            x = series[i]
            if x == last:
                continue
            if not started or (x > last) == rising:
                # the run goes on: its end moves
                if not started:
                    turns[0], depth, started = last, 1, True
                rising, last = x > last, x
                continue
        turns[depth] = last
        depth += 1
        while depth >= 3:
            before, newest = abs(turns[depth - 2] - turns[depth - 3]), abs(turns[depth - 1] - turns[depth - 2])
            if newest < before:
                break
            ranges[found] = before
            if depth == 3:  # the range holds the start: half a cycle, and the start is dropped
                counts[found] = 0.5
                turns[0], turns[1] = turns[1], turns[2]
                depth = 2
            else:
                counts[found] = 1.0
                turns[depth - 3] = turns[depth - 1]
                depth -= 2
            found += 1
        if not end:
            rising, last = series[i] > last, series[i]
    for i in range(depth - 1):
        ranges[found], counts[found] = abs(turns[i + 1] - turns[i]), 0.5
        found += 1
    return ranges, counts, found


def cycles(series: Numbers) -> tuple[FloatArray, FloatArray]:
    """Ranges of a history and how often each occurs, as they are closed: whole cycles 1, half cycles 0.5.

    Three-point rule: a range closes when the next one is at least as large; if it holds the start it counts half, as
    does what is left at the end.

    series (n,), n >= 2, any unit, in order of time; results (m,), unit of the series and cycles. No quantising, no
    filter. Source: ASTM E1049-85, clause 5.4.4. ValueError for a series too short or without a change.
    """
    values = np.ascontiguousarray(np.atleast_1d(within("the series", series)))
    if values.size < 2:
        raise ValueError("a history needs two values or more")
    if not np.any(values != values[0]):
        raise ValueError("the history never changes")
    ranges, counts, found = _count(values)
    return ranges[:found], counts[:found]


def table(ranges: FloatArray, counts: FloatArray, digits: int = 12) -> tuple[FloatArray, FloatArray]:
    """The count as a table: each range once, rising, with its cycles; ranges equal to `digits` figures are one."""
    scale = float(np.max(ranges))
    key: npt.NDArray[np.float64] = np.round(ranges / scale, digits)
    kept, first, inverse = np.unique(key, return_index=True, return_inverse=True)
    summed = np.zeros(kept.size)
    np.add.at(summed, inverse, counts)
    return ranges[first], summed
