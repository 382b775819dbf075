"""Longest paths in the graph of time differences, kept closed while arcs are added: compiled kernels.

An arc u -> v with (l, h) says t[v] - t[u] >= l - h P, P = p/q being the period of one load. All arithmetic is in whole
numbers: the value of an arc at P is l q - h p. A cycle of positive value and h > 0 raises P to l / h; one with h <= 0
is a conflict, for no longer period can mend it. Whatever is concluded is written down as the literals it rests on.
"""

from __future__ import annotations

from numba import int64, types

from firstoff.line.desk import (  # isort: skip
    ALWAYS, ARCS, BEFORE, BEST_P, BEST_Q, BROKEN, BUFFER, CLAUSE, CODE, COUNT, CRANES, Desk, FLOOR_P, FLOOR_Q, FROM,
    H, HEAD, HIGH, HIGH0, HOLDS, Ints, JOINED, L, LAST_HIGH, LAST_LOW, LEVEL, LEVEL_OF, LIT, LOADS, LOW, LOW0,
    NO_PATH, OLD, P, PARTS, Q, RAISES, RAISE_POOL, REASON, REASONS, REPLACED, ROOM, SIZE, START, TAIL, TRAIL, UNTIL,
    VALID,
)  # fmt: skip
from firstoff.physics.jit import part

_one, _two, _four = int64[::1], int64[:, ::1], int64[:, :, :, ::1]
_pair = types.Tuple((int64, int64))  # type: ignore[no-untyped-call]


@part
def at_least(number: Ints, v: int, m: int) -> int:
    """The literal `number v >= m`; one more is its opposite."""
    return 2 * (number[v, CODE] + m - number[v, LOW0] - 1)


@part
def state(number: Ints, bounds: Ints, lit: int) -> int:
    """1: the literal is true, -1: false, 0: open."""
    v, m = bounds[lit >> 1, 0], bounds[lit >> 1, 1]
    side = 1 - 2 * (lit & 1)
    if number[v, LOW] >= m:
        return side
    return -side if number[v, HIGH] < m else 0


@part
def since(number: Ints, bounds: Ints, trail: Ints, lit: int) -> int:
    """The entry of the trail that made the literal true; -1 when it always was."""
    v, m = bounds[lit >> 1, 0], bounds[lit >> 1, 1]
    upper = lit & 1
    t = number[v, LAST_HIGH] if upper else number[v, LAST_LOW]
    while t >= 0:
        old = trail[t, OLD]
        if (old >= m) if upper else (old < m):
            return t
        t = trail[t, BEFORE]
    return -1


@part
def enqueue(desk: Desk, lit: int, clause: int, begin: int, count: int) -> None:
    """Make the literal true, for the reason in a clause, or in `count` literals of the pool."""
    number, trail, clock = desk.number, desk.trail, desk.clock
    t, v, m = clock[TRAIL], desk.bounds[lit >> 1, 0], desk.bounds[lit >> 1, 1]
    trail[t, LIT], trail[t, LEVEL_OF] = lit, clock[LEVEL]
    trail[t, CLAUSE], trail[t, FROM], trail[t, COUNT] = clause, begin, count
    holds = clock[HOLDS] if clause < 0 else desk.clause[clause, VALID]
    if clock[LEVEL] == 0:  # nothing will ask for this reason again, so all that it rests on counts now
        start, size = (begin, count) if clause < 0 else (desk.clause[clause, START], desk.clause[clause, SIZE])
        for k in range(start, start + size):
            other = desk.pool[k] if clause < 0 else desk.arena[k] ^ 1
            if other != lit ^ 1:
                entry = since(number, desk.bounds, trail, other)
                if entry >= 0:
                    holds = min(holds, trail[entry, UNTIL])
    trail[t, UNTIL] = holds
    if lit & 1:
        trail[t, OLD], trail[t, BEFORE] = number[v, HIGH], number[v, LAST_HIGH]
        number[v, HIGH], number[v, LAST_HIGH] = m - 1, t
    else:
        trail[t, OLD], trail[t, BEFORE] = number[v, LOW], number[v, LAST_LOW]
        number[v, LOW], number[v, LAST_LOW] = m, t
    clock[TRAIL] = t + 1


@part
def push_path(arc: Ints, via: Ints, buffer: Ints, clock: Ints, i: int, j: int) -> None:
    """The literals that the path i -> j rests on."""
    m = clock[BUFFER]
    while i != j:
        a = via[i, j]
        for k in range(REASON, REASON + REASONS):
            if arc[a, k] < 0:
                break
            buffer[m] = arc[a, k]
            m += 1
        i = arc[a, HEAD]
    clock[BUFFER] = m


@part
def push_floor(desk: Desk, whole: int, turns: int) -> None:
    """Why P is long enough for whole - turns P to be positive; turns <= 0."""
    clock, raises = desk.clock, desk.raises
    if whole * clock[FLOOR_Q] - turns * clock[FLOOR_P] > 0:
        return
    for r in range(clock[RAISES]):
        if whole * raises[r, 1] - turns * raises[r, 0] > 0:
            for k in range(raises[r, 2], raises[r, 3]):
                desk.buffer[clock[BUFFER]] = desk.raise_pool[k]
                clock[BUFFER] += 1
            return
    clock[BROKEN] = 1


@part
def _reduced(p: int, q: int) -> tuple[int, int]:
    a, b = p, q
    while b:
        a, b = b, a % b
    return p // a, q // a


@part
def cycle(desk: Desk, whole: int, turns: int) -> int:
    """What a positive cycle means whose literals are in the buffer: 1 a conflict, 2 the period has risen."""
    clock, raises = desk.clock, desk.raises
    clock[HOLDS] = ALWAYS
    if turns <= 0:
        push_floor(desk, whole, turns)
        return 1
    if whole * clock[BEST_Q] >= clock[BEST_P] * turns:
        clock[HOLDS] = whole * PARTS // turns
        return 1
    r, begin, size = clock[RAISES], clock[RAISE_POOL], clock[BUFFER]
    if r >= raises.shape[0] or begin + size > desk.raise_pool.shape[0]:
        clock[BROKEN] = 1
        return 1
    clock[P], clock[Q] = _reduced(whole, turns)
    for k in range(size):
        desk.raise_pool[begin + k] = desk.buffer[k]
    raises[r, 0], raises[r, 1], raises[r, 2], raises[r, 3] = clock[P], clock[Q], begin, begin + size
    clock[RAISES], clock[RAISE_POOL] = r + 1, begin + size
    return 2


@part
def _better(value: Ints, height: Ints, via: Ints, value_on: Ints, height_on: Ints, first: int, h: int, a: int) -> None:
    """The paths of one move, where those by way of another are longer. Without a branch: the compiler makes it wide."""
    for j in range(value.shape[0]):
        new = first + value_on[j]
        better = new > value[j]
        value[j] = new if better else value[j]
        height[j] = h + height_on[j] if better else height[j]
        via[j] = a if better else via[j]


@part
def _all_pairs(value: Ints, height: Ints, via: Ints) -> tuple[int, int]:
    """Floyd and Warshall; two moves of a positive cycle, or (-1, -1)."""
    n = value.shape[0]
    for k in range(n):
        for i in range(n):
            if i == k:
                continue
            if value[i, k] + value[k, i] > 0:
                return i, k
            _better(value[i], height[i], via[i], value[k], height[k], value[i, k], height[i, k], via[i, k])
    return -1, -1


@part
def close(desk: Desk) -> int:
    """All paths anew, at the least P >= the present one without a positive cycle; 1 when there is none."""
    arc, current, value, height, via, clock = desk.arc, desk.current, desk.value, desk.height, desk.via, desk.clock
    n = value.shape[0]
    while True:
        p, q = clock[P], clock[Q]
        for i in range(n):
            for j in range(n):
                value[i, j] = NO_PATH
            value[i, i] = height[i, i] = 0
        for k in range(clock[ROOM] + n * n):
            a = k if k < clock[ROOM] else current[(k - clock[ROOM]) // n, (k - clock[ROOM]) % n]
            i, j = arc[a, TAIL], arc[a, HEAD]
            if i != j and arc[a, L] * q - arc[a, H] * p > value[i, j]:
                value[i, j], height[i, j], via[i, j] = arc[a, L] * q - arc[a, H] * p, arc[a, H], a
        i, k = _all_pairs(value, height, via)
        if i < 0:
            return 0
        turns = height[i, k] + height[k, i]
        whole = (value[i, k] + value[k, i] + turns * p) // q
        clock[BUFFER] = 0
        push_path(arc, via, desk.buffer, clock, i, k)
        push_path(arc, via, desk.buffer, clock, k, i)
        if cycle(desk, whole, turns) == 1:
            return 1


@part
def add(desk: Desk, a: int) -> int:
    """Put an arc into the closed paths: 0 done, 1 a conflict, 2 the period has risen and all must be closed anew."""
    arc, value, height, via, clock = desk.arc, desk.value, desk.height, desk.via, desk.clock
    u, v, l, h = arc[a, TAIL], arc[a, HEAD], arc[a, L], arc[a, H]  # noqa: E741
    n, p, q = value.shape[0], clock[P], clock[Q]
    w = l * q - h * p
    if w <= value[u, v]:
        return 0
    if w + value[v, u] > 0:
        clock[BUFFER] = 0
        push_path(arc, via, desk.buffer, clock, v, u)
        for k in range(REASON, REASON + REASONS):
            if arc[a, k] >= 0:
                desk.buffer[clock[BUFFER]] = arc[a, k]
                clock[BUFFER] += 1
        turns = h + height[v, u]
        return cycle(desk, (w + value[v, u] + turns * p) // q, turns)
    for i in range(n):
        if value[i, u] + w > value[i, v]:
            first = a if i == u else via[i, u]
            _better(value[i], height[i], via[i], value[v], height[v], value[i, u] + w, height[i, u] + h, first)
    return 0


@part
def push_cranes(desk: Desk, u: int, v: int, shut: int) -> None:
    """Why the cranes of moves u, v make the gap u -> v as long as it is; `shut`: the move whose crane is left out."""
    number, gap, buffer, clock = desk.number, desk.gap, desk.buffer, desk.clock
    n, last = gap.shape[2], clock[CRANES] - 1
    one, two = n * n + u, n * n + v
    a, b = number[two, LOW] - number[one, HIGH] + last, number[two, HIGH] - number[one, LOW] + last
    if gap[0, b, u, v] != gap[a, b, u, v]:
        if number[two, LOW] > number[two, LOW0] and shut != v:
            buffer[clock[BUFFER]] = at_least(number, two, number[two, LOW])
            clock[BUFFER] += 1
        if number[one, HIGH] < number[one, HIGH0] and shut != u:
            buffer[clock[BUFFER]] = at_least(number, one, number[one, HIGH] + 1) + 1
            clock[BUFFER] += 1
    else:
        a = 0
    if gap[a, 2 * last, u, v] != gap[a, b, u, v]:
        if number[two, HIGH] < number[two, HIGH0] and shut != v:
            buffer[clock[BUFFER]] = at_least(number, two, number[two, HIGH] + 1) + 1
            clock[BUFFER] += 1
        if number[one, LOW] > number[one, LOW0] and shut != u:
            buffer[clock[BUFFER]] = at_least(number, one, number[one, LOW])
            clock[BUFFER] += 1


@part
def renew(desk: Desk, u: int, v: int) -> int:
    """The arc u -> v as the bounds now have it: its number when it is a stronger one, else -1."""
    number, arc, current, clock = desk.number, desk.arc, desk.current, desk.clock
    n, last = current.shape[0], clock[CRANES] - 1
    one, two, k = n * n + u, n * n + v, min(u, v) * n + max(u, v)
    l = desk.gap[  # noqa: E741
        number[two, LOW] - number[one, HIGH] + last, number[two, HIGH] - number[one, LOW] + last, u, v
    ]
    h = -clock[LOADS] * number[k, LOW] if u < v else clock[LOADS] * (number[k, HIGH] + 1)
    old = current[u, v]
    if arc[old, L] == l and arc[old, H] == h:
        return -1
    a = clock[ARCS]
    clock[ARCS] = a + 1
    arc[a, TAIL], arc[a, HEAD], arc[a, L], arc[a, H], arc[a, REPLACED] = u, v, l, h, old
    keep, clock[BUFFER] = clock[BUFFER], 0
    if u < v and number[k, LOW] > number[k, LOW0]:
        desk.buffer[0] = at_least(number, k, number[k, LOW])
        clock[BUFFER] = 1
    elif u > v and number[k, HIGH] < number[k, HIGH0]:
        desk.buffer[0] = at_least(number, k, number[k, HIGH] + 1) + 1
        clock[BUFFER] = 1
    if last:
        push_cranes(desk, u, v, -1)
    for r in range(REASONS):
        arc[a, REASON + r] = desk.buffer[r] if r < clock[BUFFER] else -1
    clock[BUFFER] = keep
    current[u, v] = a
    return a


@part
def join(desk: Desk) -> int:
    """Bring the arcs of all new literals into the paths; 1 on a conflict, whose literals are then in the buffer."""
    number, clock = desk.number, desk.clock
    n, anew = desk.current.shape[0], False
    while clock[JOINED] < clock[TRAIL]:
        lit = desk.trail[clock[JOINED], LIT]
        clock[JOINED] += 1
        v = desk.bounds[lit >> 1, 0]
        begin, end = (v % n, v % n + 1) if v < n * n else (0, n)
        u = v // n if v < n * n else v - n * n
        for w in range(begin, end):
            if u == w or number[min(u, w) * n + max(u, w), LOW] > number[min(u, w) * n + max(u, w), HIGH]:
                continue
            for back in range(2):
                a = renew(desk, w, u) if back else renew(desk, u, w)
                if a < 0 or anew:
                    continue
                end_of_add = add(desk, a)
                if end_of_add == 1:
                    return 1
                anew = end_of_add == 2
    return close(desk) if anew else 0
