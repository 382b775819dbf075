"""Branch and bound on time-difference graphs: the compiled part.

An arc u -> v with (l, h) says t[v] - t[u] >= l - h P, P = p/q being the period of one load. A node of the search holds,
for every pair of moves i < j of one crane, the range low..high of the number k of whole periods between them:
k T + gap[i, j] <= t[j] - t[i] <= (k + 1) T - gap[j, i], with T = loads * P. All arithmetic is in whole numbers; the
value of an arc at P is l q - h p. A cycle of positive value and h > 0 raises P to l / h; one with h <= 0 closes the
node, for no longer period can mend it. All kernels stand in this one file, so that numba's cache notices every edit.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import int64, types

from firstoff.physics.jit import njit

Ints = npt.NDArray[np.int64]
NO_PATH = -(1 << 60)
NEVER = (1, 0)  # the period that is never reached
# numbers kept in `clock` between two calls: the node at work, the best found, the count of nodes
P, Q, BEST_P, BEST_Q, HEIGHT, ALIVE, NODES, FOUND = range(8)
DONE, PAUSED, FULL = range(3)  # how a call of `search` ends

_m, _v, _c = int64[:, ::1], int64[::1], int64[:, :, ::1]
_two = types.Tuple((int64,) * 2)  # type: ignore[no-untyped-call]
_four = types.Tuple((int64,) * 4)  # type: ignore[no-untyped-call]


@njit(types.void(_m, _m, _m, int64, int64, int64, int64, int64, int64))
def _offer(length: Ints, height: Ints, value: Ints, u: int, v: int, l: int, h: int, p: int, q: int) -> None:  # noqa: E741
    new = l * q - h * p
    if new > value[u, v]:
        value[u, v], length[u, v], height[u, v] = new, l, h


@njit(_two(int64, int64))
def _reduced(p: int, q: int) -> tuple[int, int]:
    a, b = p, q
    while b:
        a, b = b, a % b
    return p // a, q // a


@njit(int64(_m, _m, _m, _m, _m, _m, _m, int64, _v))
def close(
    length: Ints, height: Ints, value: Ints, arcs: Ints, gap: Ints, low: Ints, high: Ints, loads: int, clock: Ints
) -> int:
    """Longest paths between all moves at the least period >= clock[P]/clock[Q] that has no positive cycle.

    1 when there is such a period below clock[BEST_P]/clock[BEST_Q], else 0.
    """
    n = length.shape[0]
    while True:
        p, q = clock[P], clock[Q]
        if clock[BEST_Q] > 0 and p * clock[BEST_Q] >= clock[BEST_P] * q:
            return 0
        value[:] = NO_PATH
        for i in range(n):
            value[i, i] = length[i, i] = height[i, i] = 0
        for a in range(arcs.shape[0]):
            _offer(length, height, value, arcs[a, 0], arcs[a, 1], arcs[a, 2], arcs[a, 3], p, q)
        for i in range(n):
            for j in range(i + 1, n):
                if low[i, j] <= high[i, j]:  # else the two moves do not share a crane
                    _offer(length, height, value, i, j, gap[i, j], -loads * low[i, j], p, q)
                    _offer(length, height, value, j, i, gap[j, i], loads * (high[i, j] + 1), p, q)
        bad = -1
        for k in range(n):
            for i in range(n):
                first = value[i, k]
                if first == NO_PATH or i == k:
                    continue
                l, h = length[i, k], height[i, k]  # noqa: E741
                for j in range(n):
                    new = first + value[k, j]
                    if new > value[i, j] and value[k, j] != NO_PATH:
                        value[i, j], length[i, j], height[i, j] = new, l + length[k, j], h + height[k, j]
                if value[i, i] > 0:
                    bad = i
                    break
            if bad >= 0:
                break
        if bad < 0:
            return 1
        if height[bad, bad] <= 0:
            return 0
        clock[P], clock[Q] = _reduced(length[bad, bad], height[bad, bad])


@njit(_two(_m, _m, _m, int64, int64, int64, int64, _v))
def _outlook(length: Ints, height: Ints, value: Ints, u: int, v: int, l: int, h: int, clock: Ints) -> tuple[int, int]:  # noqa: E741
    """What the arc u -> v would cost: (1 when it closes the node else 0, value of the cycle it makes)."""
    if value[v, u] == NO_PATH:
        return 0, NO_PATH
    total = l * clock[Q] - h * clock[P] + value[v, u]
    if total <= 0:
        return 0, total
    whole, turns = l + length[v, u], h + height[v, u]
    if turns <= 0 or (clock[BEST_Q] > 0 and whole * clock[BEST_Q] >= clock[BEST_P] * turns):
        return 1, total
    return 0, total


@njit(int64(_m, _m, _m, int64, int64, int64, int64, _v))
def _add(length: Ints, height: Ints, value: Ints, u: int, v: int, l: int, h: int, clock: Ints) -> int:  # noqa: E741
    """Put the arc into the closed paths: 1 done, 0 when the period must rise first."""
    w = l * clock[Q] - h * clock[P]
    if w <= value[u, v]:
        return 1
    if value[v, u] != NO_PATH and w + value[v, u] > 0:
        return 0
    n = length.shape[0]
    for i in range(n):
        if value[i, u] == NO_PATH:
            continue
        first = value[i, u] + w
        li, hi = length[i, u] + l, height[i, u] + h
        if first <= value[i, v]:
            continue
        for j in range(n):
            if value[v, j] != NO_PATH and first + value[v, j] > value[i, j]:
                value[i, j] = first + value[v, j]
                length[i, j], height[i, j] = li + length[v, j], hi + height[v, j]
    return 1


@njit(int64(_m, _m, _m, _m, _m, _m, _m, int64, _v))
def tighten(
    length: Ints, height: Ints, value: Ints, arcs: Ints, gap: Ints, low: Ints, high: Ints, loads: int, clock: Ints
) -> int:
    """Take away every k at an end of its range that alone would close the node; 0 when nothing is left."""
    n = length.shape[0]
    changed = True
    while changed:
        changed = False
        for i in range(n):
            for j in range(i + 1, n):
                while low[i, j] < high[i, j]:
                    up = loads * (low[i, j] + 1)
                    if _outlook(length, height, value, j, i, gap[j, i], up, clock)[0]:
                        low[i, j] += 1
                        sound = _add(length, height, value, i, j, gap[i, j], -loads * low[i, j], clock)
                    elif _outlook(length, height, value, i, j, gap[i, j], -loads * high[i, j], clock)[0]:
                        sound = _add(length, height, value, j, i, gap[j, i], loads * high[i, j], clock)
                        high[i, j] -= 1
                    else:
                        break
                    changed = True
                    if not sound and not close(length, height, value, arcs, gap, low, high, loads, clock):
                        return 0
    return 1


@njit(int64(_m))
def assignment(cost: Ints) -> int:
    """Least total cost of a one-to-one assignment, by shortest augmenting paths (Kuhn and Munkres)."""
    n = cost.shape[0]
    far = 1 << 60
    rows, columns = np.zeros(n + 1, dtype=np.int64), np.zeros(n + 1, dtype=np.int64)
    match, way = np.zeros(n + 1, dtype=np.int64), np.zeros(n + 1, dtype=np.int64)
    for i in range(1, n + 1):
        match[0] = i
        column = 0
        least, used = np.full(n + 1, far, dtype=np.int64), np.zeros(n + 1, dtype=np.int64)
        while True:
            used[column] = 1
            row, step, following = match[column], far, 0
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


@njit(int64(_m, _m, _m, _m, _m, _m, int64, _v))
def crane_time(
    length: Ints, height: Ints, value: Ints, gap: Ints, low: Ints, high: Ints, loads: int, clock: Ints
) -> int:
    """A time the crane needs at least for one period, in whole units: least-cost assignment of next moves to moves.

    The cost of j next after i is the gap, or the longest path where the whole periods between the two are known; paths
    are straight lines over the period, so the lower of both ends of the range of periods holds all over it.
    """
    n = gap.shape[0]
    cost = np.full((n, n), 1 << 40, dtype=np.int64)
    for i in range(n):
        for j in range(n):
            if i == j:
                continue
            cost[i, j] = gap[i, j]
            a, b = min(i, j), max(i, j)
            if low[a, b] == high[a, b] and value[i, j] != NO_PATH:
                h = height[i, j] + (loads * low[a, b] if i < j else -loads * (low[a, b] + 1))
                here = length[i, j] + (-h * clock[P]) // clock[Q]
                there = length[i, j] + (-h * clock[BEST_P]) // clock[BEST_Q]
                cost[i, j] = max(gap[i, j], min(here, there))
    return assignment(cost)


@njit(_four(_m, _m, _m, _m, _m, _m, int64, _v))
def _choose(
    length: Ints, height: Ints, value: Ints, gap: Ints, low: Ints, high: Ints, loads: int, clock: Ints
) -> tuple[int, int, int, int]:
    """The pair to decide next, at which whole number of periods, and whether to try the later side first.

    Of the pairs that the earliest timetable breaks: the one with the costliest side. (-1, ..) when none is
    broken: the earliest timetable is a timetable.
    """
    n = length.shape[0]
    turn = clock[P] * loads
    best, bi, bj, bm, later = 0, -1, -1, 0, 0
    for i in range(n):
        for j in range(i + 1, n):
            if low[i, j] >= high[i, j]:
                continue
            x = value[0, j] - value[0, i]
            k = x // turn
            rest = x - k * turn
            if rest < gap[i, j] * clock[Q]:
                m = k
            elif rest > turn - gap[j, i] * clock[Q]:
                m = k + 1
            else:
                continue
            up = _outlook(length, height, value, i, j, gap[i, j], -loads * m, clock)[1]
            down = _outlook(length, height, value, j, i, gap[j, i], loads * m, clock)[1]
            score = max(up, down)
            if bi < 0 or score > best:
                best, bi, bj, bm = score, i, j, m
                later = 1 if up < down else 0
    return bi, bj, bm, later


@njit(int64(_m, _m, _m, _m, _c, _m, _v, _m, int64, int64, _v))
def search(
    arcs: Ints, gap: Ints, low: Ints, high: Ints, stack: Ints, marks: Ints, times: Ints, work: Ints, loads: int,
    nodes: int, clock: Ints,
) -> int:  # fmt: skip
    """Work on at most `nodes` nodes, depth first. Everything between two calls is in the arguments.

    `low`, `high`: the node at work; `stack[h]`: low and high of a node put off, one above the other; `marks[h]`: its
    period p, q. `times` receives the best timetable, in units of 1/q, q = clock[BEST_Q].
    """
    n = gap.shape[0]
    length, height, value = work[:n], work[n : 2 * n], work[2 * n :]
    last = clock[NODES] + nodes
    closed = 0  # whether the paths are those of the node at work
    while True:
        if not clock[ALIVE]:
            if clock[HEIGHT] == 0:
                return DONE
            clock[HEIGHT] -= 1
            top = clock[HEIGHT]
            low[:], high[:] = stack[top, :n], stack[top, n:]
            clock[P], clock[Q] = marks[top, 0], marks[top, 1]
            clock[ALIVE] = 1
            closed = 0
        if clock[NODES] >= last:
            return PAUSED
        if clock[HEIGHT] + 1 >= stack.shape[0]:
            return FULL
        clock[NODES] += 1
        clock[ALIVE] = 0
        if not closed and not close(length, height, value, arcs, gap, low, high, loads, clock):
            continue
        if not tighten(length, height, value, arcs, gap, low, high, loads, clock):
            continue
        if clock[BEST_Q] > 0:
            needed = crane_time(length, height, value, gap, low, high, loads, clock)
            if needed * clock[BEST_Q] >= clock[BEST_P] * loads:
                continue
        i, j, m, later = _choose(length, height, value, gap, low, high, loads, clock)
        if i < 0:
            clock[BEST_P], clock[BEST_Q] = clock[P], clock[Q]
            clock[FOUND] += 1
            times[:] = value[0]
            continue
        top = clock[HEIGHT]
        stack[top, :n], stack[top, n:] = low, high
        marks[top, 0], marks[top, 1] = clock[P], clock[Q]
        clock[HEIGHT] += 1
        if later:
            stack[top, n + i, j] = m - 1
            low[i, j] = m
            closed = _add(length, height, value, i, j, gap[i, j], -loads * m, clock)
        else:
            stack[top, i, j] = m
            high[i, j] = m - 1
            closed = _add(length, height, value, j, i, gap[j, i], loads * m, clock)
        clock[ALIVE] = 1
