"""The time that the cranes' own work takes at least, whatever the windows: the least-cost assignment of next moves."""

from __future__ import annotations

import numpy as np
from numba import int64

from firstoff.line.desk import BEST_P, BEST_Q, CRANES, DESK, HIGH, LOADS, LOW, Desk, Ints, P, Q
from firstoff.line.kernel import follow
from firstoff.physics.jit import njit

FAR = 1 << 40


@njit(int64(int64[:, ::1]))
def assignment(cost: Ints) -> int:
    """Least total cost of a one-to-one assignment, by shortest augmenting paths (Kuhn and Munkres)."""
    n = cost.shape[0]
    rows, columns = np.zeros(n + 1, dtype=np.int64), np.zeros(n + 1, dtype=np.int64)
    match, way = np.zeros(n + 1, dtype=np.int64), np.zeros(n + 1, dtype=np.int64)
    for i in range(1, n + 1):
        match[0] = i
        column = 0
        least, used = np.full(n + 1, FAR << 10, dtype=np.int64), np.zeros(n + 1, dtype=np.int64)
        while True:
            used[column] = 1
            row, step, following = match[column], FAR << 10, 0
            for j in range(1, n + 1):
                if not used[j]:
                    reduced = cost[row - 1, j - 1] - rows[row] - columns[j]
                    if reduced < least[j]:
                        least[j], way[j] = reduced, column
                    if least[j] < step:
                        step, following = least[j], j
            for j in range(n + 1):
                if used[j]:
                    rows[match[j]] += step
                    columns[j] -= step
                else:
                    least[j] -= step
            column = following
            if match[column] == 0:
                break
        while column:
            match[column] = match[way[column]]
            column = way[column]
    total = 0
    for j in range(1, n + 1):
        total += cost[match[j] - 1, j - 1]
    return total


@njit(int64(DESK))
def least(desk: Desk) -> int:
    """Time of all cranes together for one period, in whole units."""
    n, last = desk.value.shape[0], desk.clock[CRANES] - 1
    cost = desk.gap[last, last].copy()
    if last == 0 and n > 1:
        for i in range(n):
            cost[i, i] = FAR
    return assignment(cost)


@njit(int64(DESK))
def too_much(desk: Desk) -> int:
    """Whether no period of the range that was just begun leaves the cranes time enough.

    The cost of j next after i is the gap, or the longest path less the most whole periods there can be between the
    two; paths are straight lines over the period, so the lower of both ends of the range holds all over it.
    """
    if follow(desk):
        return 1
    value, height, number, clock = desk.value, desk.height, desk.number, desk.clock
    n, last, loads = value.shape[0], clock[CRANES] - 1, clock[LOADS]
    cost = desk.gap[last, last].copy()
    for i in range(n):
        for j in range(n):
            if i == j:
                cost[i, i] = FAR if last == 0 and n > 1 else cost[i, i]
                continue
            h = height[i, j]
            l = (value[i, j] + h * clock[P]) // clock[Q]  # noqa: E741
            h += loads * number[i * n + j, HIGH] if i < j else -loads * (number[j * n + i, LOW] + 1)
            here, there = l + (-h * clock[P]) // clock[Q], l + (-h * clock[BEST_P]) // clock[BEST_Q]
            cost[i, j] = max(cost[i, j], min(here, there))
    return 1 if assignment(cost) * clock[BEST_Q] >= clock[BEST_P] * loads * (last + 1) else 0
