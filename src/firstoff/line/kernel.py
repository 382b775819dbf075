"""The search itself: decide, follow up, learn from conflicts, go back. Compiled; see desk.py for the arrays.

A place of the search holds for every pair of moves i < j the range low..high of the number k of whole periods between
them: k T + gap[i, j] <= t[j] - t[i] <= (k + 1) T - gap[j, i], with T = loads * P; and for every move the range of its
cranes. The earliest timetable of the paths is a timetable as soon as it breaks none of the pairs.
"""

from __future__ import annotations

from numba import int64

from firstoff.line.clauses import analyse, keep, spread, thin_out

from firstoff.line.desk import (  # isort: skip
    ALWAYS, ARCS, ARENA, BEFORE, BEST_P, BEST_Q, BROKEN, BUFFER, CLAUSES, CONFLICTS, CRANES, DESK, DONE, Desk,
    FLOOR_P, FLOOR_Q, FOUND, FULL, H, HEAD, HIGH, HIGH0, HOLDS, Ints, JOINED, KEPT, L, LAST_HIGH, LAST_LOW, LEVEL,
    LIT, LOADS, LOW, LOW0, OLD, P, PARTS, PATIENCE, PAUSED, POOL, Q, RAISES, RAISE_POOL, REPLACED, ROOM, SINCE,
    SIZE, SPREAD, SPREAD_TO, START, TAIL, TRAIL, UNTIL, USED, VALID,
)  # fmt: skip
from firstoff.line.paths import at_least, close, enqueue, join, push_cranes, push_floor, push_path, state
from firstoff.physics.jit import njit, part

DECAY = 1.0  # of the weight that earlier conflicts have; measured: to count all alike is best
KEEP = 20000  # clauses before the first thinning out
RESTART = 100  # conflicts before the first restart; each run is a tenth longer than the one before


@part
def _imply(desk: Desk, lit: int, u: int, v: int, whole: int, turns: int) -> int:
    """The literal, since its opposite with an arc v -> u would close a cycle with the path u -> v; 1 on a conflict.

    Literals of the arc that the path does not account for stand in the buffer.
    """
    clock = desk.clock
    push_path(desk.arc, desk.via, desk.buffer, clock, u, v)
    clock[HOLDS] = ALWAYS if turns <= 0 else whole * PARTS // turns
    if turns <= 0:
        push_floor(desk, whole, turns)
    size, begin = clock[BUFFER], clock[POOL]
    if state(desk.number, desk.bounds, lit) < 0:
        desk.buffer[size] = lit ^ 1
        clock[BUFFER] = size + 1
        return 1
    for k in range(size):
        desk.pool[begin + k] = desk.buffer[k]
    clock[POOL] = begin + size
    enqueue(desk, lit, -1, begin, size)
    return 0


@part
def look(desk: Desk) -> int:
    """Rule out every whole number of periods, at an end of its range, that alone would be a conflict.

    2 when something was ruled out, 1 on a conflict, 0 when there is nothing more.
    """
    number, value, height, arc, current, clock = (
        desk.number, desk.value, desk.height, desk.arc, desk.current, desk.clock,
    )  # fmt: skip
    n, p, q, best_p, best_q, loads = value.shape[0], clock[P], clock[Q], clock[BEST_P], clock[BEST_Q], clock[LOADS]
    some = 0
    for i in range(n):
        for j in range(i + 1, n):
            k = i * n + j
            while number[k, LOW] < number[k, HIGH]:
                turns, l = loads * (number[k, LOW] + 1), arc[current[j, i], L]  # noqa: E741
                total, u, v = l * q - turns * p + value[i, j], i, j
                turns += height[i, j]
                lit = at_least(number, k, number[k, LOW] + 1)
                if total <= 0 or (turns > 0 and (total + turns * p) // q * best_q < best_p * turns):
                    turns, l = -loads * number[k, HIGH], arc[current[i, j], L]  # noqa: E741
                    total, u, v = l * q - turns * p + value[j, i], j, i
                    turns += height[j, i]
                    lit = at_least(number, k, number[k, HIGH]) + 1
                    if total <= 0:
                        break
                    if turns > 0 and (total + turns * p) // q * best_q < best_p * turns:
                        break
                clock[BUFFER] = 0
                if clock[CRANES] > 1:
                    push_cranes(desk, v, u, -1)
                if _imply(desk, lit, u, v, (total + turns * p) // q, turns):
                    return 1
                some = 2
    return some


@part
def _crane_shut(desk: Desk, i: int, crane: int) -> int:
    """Whether move i cannot be this crane's: 0 it can, 2 no longer, 1 on a conflict. `crane` is an end of its range."""
    number, value, height, clock, gap = desk.number, desk.value, desk.height, desk.clock, desk.gap
    n, p, q, last = value.shape[0], clock[P], clock[Q], clock[CRANES] - 1
    mine = n * n + i
    low, high = number[mine, LOW], number[mine, HIGH]
    for j in range(n):
        if j == i:
            continue
        k, other = min(i, j) * n + max(i, j), n * n + j
        for back in range(2):
            u, v = (j, i) if back else (i, j)
            a, b = number[other, LOW] - crane, number[other, HIGH] - crane
            l = gap[last - b, last - a, u, v] if back else gap[last + a, last + b, u, v]  # noqa: E741
            h = -clock[LOADS] * number[k, LOW] if u < v else clock[LOADS] * (number[k, HIGH] + 1)
            total = l * q - h * p + value[v, u]
            turns = h + height[v, u]
            whole = (total + turns * p) // q
            if total <= 0 or (turns > 0 and whole * clock[BEST_Q] < clock[BEST_P] * turns):
                continue
            clock[BUFFER] = 0
            number[mine, LOW] = number[mine, HIGH] = crane
            push_cranes(desk, u, v, i)
            number[mine, LOW], number[mine, HIGH] = low, high
            if u < v and number[k, LOW] > number[k, LOW0]:
                desk.buffer[clock[BUFFER]] = at_least(number, k, number[k, LOW])
                clock[BUFFER] += 1
            elif u > v and number[k, HIGH] < number[k, HIGH0]:
                desk.buffer[clock[BUFFER]] = at_least(number, k, number[k, HIGH] + 1) + 1
                clock[BUFFER] += 1
            lit = at_least(number, mine, low + 1) if crane == low else at_least(number, mine, high) + 1
            return 1 if _imply(desk, lit, v, u, whole, turns) else 2
    return 0


@part
def look_at_cranes(desk: Desk) -> int:
    """Rule out every crane, at an end of the range of a move, that alone would be a conflict; as `look`."""
    number, n, some = desk.number, desk.value.shape[0], 0
    for i in range(n):
        mine = n * n + i
        while number[mine, LOW] < number[mine, HIGH]:
            found = _crane_shut(desk, i, number[mine, LOW])
            if found == 0:
                found = _crane_shut(desk, i, number[mine, HIGH])
            if found == 1:
                return 1
            if found == 0:
                break
            some = 2
    return some


@part
def follow(desk: Desk) -> int:
    """Everything that follows from the literals so far; 1 on a conflict, whose literals are then in the buffer."""
    while True:
        if spread(desk) or join(desk):
            return 1
        found = look(desk)
        if found == 0 and desk.clock[CRANES] > 1:
            found = look_at_cranes(desk)
        if found < 2:
            return found


@part
def choose(desk: Desk) -> int:
    """The literal to try next; -1 when the earliest timetable breaks nothing and every crane is settled.

    Of the pairs that the earliest timetable breaks: the one that has had most to do with conflicts, and of its two
    sides the one that costs less.
    """
    number, value, arc, current, clock = desk.number, desk.value, desk.arc, desk.current, desk.clock
    n, p, q, loads = value.shape[0], clock[P], clock[Q], clock[LOADS]
    turn = p * loads
    best, lit = -1.0, -1
    for i in range(n):
        for j in range(i + 1, n):
            k = i * n + j
            if number[k, LOW] >= number[k, HIGH]:
                continue
            forth, back = arc[current[i, j], L] * q, arc[current[j, i], L] * q
            x = value[0, j] - value[0, i]
            m = x // turn
            if x - m * turn >= forth:
                if x - m * turn <= turn - back:
                    continue
                m += 1
            later = forth + m * turn + value[j, i]
            earlier = back - m * turn + value[i, j]
            score = desk.weight[k] + 1e-9 * max(later, earlier, 0) / q
            if score > best:
                best = score
                lit = at_least(number, k, m) + (0 if later < earlier else 1)
    if lit < 0 and clock[CRANES] > 1:
        for i in range(n * n, n * n + n):
            if number[i, LOW] < number[i, HIGH] and desk.weight[i] > best:
                best, lit = desk.weight[i], at_least(number, i, number[i, HIGH])
    return lit


@part
def _copy(source: Ints, target: Ints) -> None:
    for i in range(source.shape[0]):
        for j in range(source.shape[1]):
            target[i, j] = source[i, j]


@part
def save(desk: Desk) -> None:
    """Before a decision: keep the paths, for the way back."""
    clock, n = desk.clock, desk.value.shape[0]
    saved, marks = desk.saved[clock[LEVEL]], desk.marks[clock[LEVEL]]
    _copy(desk.value, saved[:n])
    _copy(desk.height, saved[n : 2 * n])
    _copy(desk.via, saved[2 * n :])
    marks[0], marks[1], marks[2], marks[3] = clock[P], clock[Q], clock[TRAIL], clock[POOL]
    marks[4], marks[5], marks[6] = clock[ARCS], clock[RAISES], clock[RAISE_POOL]


@part
def go_back(desk: Desk, level: int) -> None:
    """To just before the decision that opened the level above."""
    clock, n, number, trail, arc = desk.clock, desk.value.shape[0], desk.number, desk.trail, desk.arc
    if level == clock[LEVEL]:
        return
    marks, saved = desk.marks[level], desk.saved[level]
    _copy(saved[:n], desk.value)
    _copy(saved[n : 2 * n], desk.height)
    _copy(saved[2 * n :], desk.via)
    for t in range(clock[TRAIL] - 1, marks[2] - 1, -1):
        lit = trail[t, LIT]
        v = desk.bounds[lit >> 1, 0]
        if lit & 1:
            number[v, HIGH], number[v, LAST_HIGH] = trail[t, OLD], trail[t, BEFORE]
        else:
            number[v, LOW], number[v, LAST_LOW] = trail[t, OLD], trail[t, BEFORE]
    for a in range(clock[ARCS] - 1, marks[4] - 1, -1):
        desk.current[arc[a, TAIL], arc[a, HEAD]] = arc[a, REPLACED]
    clock[P], clock[Q], clock[TRAIL], clock[POOL] = marks[0], marks[1], marks[2], marks[3]
    clock[ARCS], clock[RAISES], clock[RAISE_POOL] = marks[4], marks[5], marks[6]
    clock[SPREAD_TO] = clock[JOINED] = clock[TRAIL]
    clock[LEVEL] = level


@part
def _take_along(desk: Desk, top: int) -> None:
    """Keep the clauses that hold up to `top`, and the literals before any decision that do; else as at the start."""
    clock, clause, arena, number, trail = desk.clock, desk.clause, desk.arena, desk.number, desk.trail
    count = 0
    for t in range(clock[TRAIL]):
        if trail[t, UNTIL] >= top:
            desk.learned[count], desk.needed[count] = trail[t, LIT], t
            count += 1
    for k in range(count):
        trail[k, UNTIL] = trail[desk.needed[k], UNTIL]
    for v in range(number.shape[0]):
        number[v, LOW], number[v, HIGH] = number[v, LOW0], number[v, HIGH0]
        number[v, LAST_LOW] = number[v, LAST_HIGH] = -1
    for lit in range(desk.first.shape[0]):
        desk.first[lit] = -1
    kept = start = 0
    for c in range(clock[CLAUSES]):
        if clause[c, VALID] < top:
            continue
        begin, size = clause[c, START], clause[c, SIZE]
        clause[kept, START], clause[kept, SIZE], clause[kept, SPREAD] = start, size, clause[c, SPREAD]
        clause[kept, USED], clause[kept, VALID] = 0, clause[c, VALID]
        for k in range(size):
            arena[start + k] = arena[begin + k]
        for which in range(2):
            lit = arena[start + which]
            desk.link[2 * kept + which], desk.first[lit] = desk.first[lit], 2 * kept + which
        start += size
        kept += 1
    clock[CLAUSES], clock[ARENA], clock[TRAIL], clock[LEVEL] = kept, start, 0, 0
    for k in range(count):
        lit, clock[HOLDS] = desk.learned[k], trail[k, UNTIL]
        desk.needed[k] = -1
        if state(number, desk.bounds, lit) == 0:
            enqueue(desk, lit, -1, 0, 0)


@part
def _all_gone(desk: Desk) -> None:
    """Forget all that was learned."""
    clock, number = desk.clock, desk.number
    for v in range(number.shape[0]):
        number[v, LOW], number[v, HIGH] = number[v, LOW0], number[v, HIGH0]
        number[v, LAST_LOW] = number[v, LAST_HIGH] = -1
    for lit in range(desk.first.shape[0]):
        desk.first[lit] = -1
    clock[CLAUSES] = clock[ARENA] = clock[TRAIL] = clock[LEVEL] = 0
    clock[HOLDS] = ALWAYS
    for k in range(desk.links.shape[0]):
        desk.learned[0], desk.learned[1] = desk.links[k, 0], desk.links[k, 1]
        keep(desk, 2, 1)


@njit(int64(DESK, int64, int64, int64, int64))
def begin(desk: Desk, p: int, q: int, best_p: int, best_q: int) -> int:
    """Set out to search all periods from p/q on and below best_p/best_q; 1 when there are none.

    What was learned before is taken along as far as it holds there.
    """
    clock, number, n, loads = desk.clock, desk.number, desk.value.shape[0], desk.clock[LOADS]
    if clock[BEST_Q] > 0 and p * clock[FLOOR_Q] >= clock[FLOOR_P] * q:
        go_back(desk, 0)
        _take_along(desk, -(-best_p * PARTS // best_q))
    else:
        _all_gone(desk)
    for i in range(n):
        for j in range(n):
            a, k = clock[ROOM] + i * n + j, min(i, j) * n + max(i, j)
            desk.current[i, j] = a
            desk.arc[a, TAIL], desk.arc[a, HEAD], desk.arc[a, L] = i, j, desk.gap[0, 2 * (clock[CRANES] - 1), i, j]
            desk.arc[a, H] = -loads * number[k, LOW0] if i < j else loads * (number[k, HIGH0] + 1)
    clock[ARCS] = clock[ROOM] + n * n
    clock[P], clock[Q], clock[FLOOR_P], clock[FLOOR_Q], clock[BEST_P], clock[BEST_Q] = p, q, p, q, best_p, best_q
    clock[SPREAD_TO] = clock[JOINED] = clock[POOL] = clock[RAISES] = clock[RAISE_POOL] = 0
    clock[FOUND] = clock[CONFLICTS] = clock[SINCE] = 0
    clock[PATIENCE], clock[KEPT] = RESTART, max(KEEP, 2 * clock[CLAUSES])
    return close(desk)


@part
def _found(desk: Desk) -> int:
    """Keep the earliest timetable as the best; 0 when no shorter period is left, else a conflict is in the buffer."""
    clock = desk.clock
    clock[BEST_P], clock[BEST_Q] = clock[P], clock[Q]
    clock[FOUND] += 1
    n = desk.times.shape[0]
    for i in range(n):
        desk.times[i], desk.made_by[i] = desk.value[0, i], desk.number[n * n + i, LOW]
    if clock[RAISES] == 0:
        return 0
    raised = desk.raises[clock[RAISES] - 1]
    clock[BUFFER], clock[HOLDS] = raised[3] - raised[2], ALWAYS
    for k in range(clock[BUFFER]):
        desk.buffer[k] = desk.raise_pool[raised[2] + k]
    return 1


@part
def _learn(desk: Desk) -> int:
    """Learn from the conflict and go back; restart from time to time. 0 when nothing is left to search."""
    clock, weight = desk.clock, desk.weight
    last = weight.shape[0] - 1
    clock[CONFLICTS] += 1
    clock[SINCE] += 1
    level, size, levels = analyse(desk, weight[last])
    if level < 0:
        return 0
    weight[last] /= DECAY
    if weight[last] > 1e100:
        for i in range(last + 1):
            weight[i] *= 1e-100
    go_back(desk, level)
    enqueue(desk, desk.learned[0], keep(desk, size, levels) if size > 1 else -1, 0, 0)
    if clock[SINCE] >= clock[PATIENCE]:
        clock[SINCE], clock[PATIENCE] = 0, clock[PATIENCE] + clock[PATIENCE] // 10
        go_back(desk, 0)
        if clock[CLAUSES] >= clock[KEPT]:
            if follow(desk):
                return 0
            thin_out(desk)
            clock[KEPT] += clock[KEPT] // 10
    return 1


@njit(int64(DESK, int64))
def search(desk: Desk, conflicts: int) -> int:
    """Work until `conflicts` more conflicts. `times` then has the best timetable found, in 1/BEST_Q."""
    clock = desk.clock
    last = clock[CONFLICTS] + conflicts
    while not clock[BROKEN]:
        if (
            clock[LEVEL] + 2 >= desk.saved.shape[0]
            or clock[CLAUSES] + 2 >= desk.clause.shape[0]
            or clock[ARENA] + desk.learned.shape[0] >= desk.arena.shape[0]
        ):
            return FULL
        if not follow(desk):
            lit = choose(desk)
            if lit >= 0:
                save(desk)
                clock[LEVEL] += 1
                enqueue(desk, lit, -1, -1, 0)
                continue
            if not _found(desk):
                return DONE
        if not _learn(desk):
            return DONE
        if clock[CONFLICTS] >= last:
            return PAUSED
    return DONE


@njit(int64(DESK, int64, int64))
def lift(desk: Desk, p: int, q: int) -> int:
    """From here on only periods from p/q on count; 1 when none is left."""
    clock = desk.clock
    go_back(desk, 0)
    clock[FLOOR_P], clock[FLOOR_Q] = p, q
    if p * clock[Q] <= clock[P] * q:
        return 0
    clock[P], clock[Q], clock[RAISES], clock[RAISE_POOL] = p, q, 0, 0
    return close(desk)
