"""Learning from conflicts: clauses with two watched literals each, and the first unique implication point.

From memory: the usual method of satisfiability solvers (Marques-Silva and Sakallah 1999; Moskewicz et al. 2001), with
bounds of whole numbers as literals.
"""

from __future__ import annotations

from numba import int64, types

from firstoff.line.desk import (  # isort: skip
    ALWAYS, ARENA, BUFFER, CLAUSE, CLAUSES, CODE, CONFLICTS, COUNT, Desk, FROM, Floats, HOLDS, Ints, LEVEL_OF, LIT,
    LOW0, OLD, SIZE, SPREAD, SPREAD_TO, START, TRAIL, UNTIL, USED, VALID,
)  # fmt: skip
from firstoff.line.paths import enqueue, since, state
from firstoff.physics.jit import part

_one, _two = int64[::1], int64[:, ::1]
_three = types.Tuple((int64,) * 3)  # type: ignore[no-untyped-call]
SHORT = 2  # a clause of so few levels is never thrown away
RECENT = 2000  # nor one used within so many conflicts


@part
def _visit(desk: Desk, lit: int) -> int:
    """Every clause that watches the literal, which has become false; 1 on a conflict."""
    number, bounds, arena, clause, link, first = (
        desk.number, desk.bounds, desk.arena, desk.clause, desk.link, desk.first,
    )  # fmt: skip
    before, w = -1, first[lit]
    while w >= 0:
        following, c = link[w], w >> 1
        start, which = clause[c, START], w & 1
        other = arena[start + 1 - which]
        held = state(number, bounds, other)
        if held <= 0:
            moved = False
            for k in range(start + 2, start + clause[c, SIZE]):
                new = arena[k]
                if state(number, bounds, new) >= 0:
                    arena[start + which], arena[k] = new, lit
                    link[w], first[new] = first[new], w
                    moved = True
                    break
            if moved:
                if before < 0:
                    first[lit] = following
                else:
                    link[before] = following
                w = following
                continue
            clause[c, USED] = desk.clock[CONFLICTS]
            if held < 0:
                size = clause[c, SIZE]
                desk.clock[HOLDS] = clause[c, VALID]
                for k in range(size):
                    desk.buffer[k] = arena[start + k] ^ 1
                desk.clock[BUFFER] = size
                return 1
            enqueue(desk, other, c, 0, 0)
        before, w = w, following
    return 0


@part
def spread(desk: Desk) -> int:
    """Follow the clauses from all new literals; 1 on a conflict, whose literals are then in the buffer."""
    clock, trail, number = desk.clock, desk.trail, desk.number
    while clock[SPREAD_TO] < clock[TRAIL]:
        t = clock[SPREAD_TO]
        clock[SPREAD_TO] = t + 1
        lit = trail[t, LIT]
        v, m = desk.bounds[lit >> 1, 0], desk.bounds[lit >> 1, 1]
        upper = lit & 1
        begin, end = (m, trail[t, OLD]) if upper else (trail[t, OLD] + 1, m)
        for k in range(begin, end + 1):
            false = 2 * (number[v, CODE] + k - number[v, LOW0] - 1) + 1 - upper
            if desk.first[false] >= 0 and _visit(desk, false):
                return 1
    return 0


@part
def _mark(
    number: Ints,
    bounds: Ints,
    trail: Ints,
    needed: Ints,
    weight: Floats,
    clock: Ints,
    lit: int,
    level: int,
    bump: float,
) -> int:
    """Let the clause need this literal; 1 when that is a new one of the conflict's own level."""
    t = since(number, bounds, trail, lit)
    if t < 0:
        return 0
    if trail[t, LEVEL_OF] == 0:
        clock[HOLDS] = min(clock[HOLDS], trail[t, UNTIL])
        return 0
    if needed[t] < 0:
        needed[t] = lit >> 1
        weight[bounds[lit >> 1, 0]] += bump
        return 1 if trail[t, LEVEL_OF] == level else 0
    needed[t] = min(needed[t], lit >> 1) if lit & 1 else max(needed[t], lit >> 1)
    return 0


@part
def _covered(number: Ints, bounds: Ints, trail: Ints, needed: Ints, lit: int) -> int:
    """The period up to which the clause says this literal anyway; -1 when it does not."""
    t = since(number, bounds, trail, lit)
    if t < 0:
        return ALWAYS
    if trail[t, LEVEL_OF] == 0:
        return trail[t, UNTIL]
    if needed[t] < 0:
        return -1
    return ALWAYS if (needed[t] <= lit >> 1 if lit & 1 else needed[t] >= lit >> 1) else -1


@part
def _redundant(desk: Desk, t: int) -> int:
    """Whether the reason of an entry lies in what the clause says anyway."""
    holds = desk.trail[t, UNTIL]
    number, bounds, trail, needed = desk.number, desk.bounds, desk.trail, desk.needed
    c = trail[t, CLAUSE]
    if c < 0 and trail[t, FROM] < 0:
        return 0  # a decision
    begin, size = (desk.clause[c, START], desk.clause[c, SIZE]) if c >= 0 else (trail[t, FROM], trail[t, COUNT])
    for k in range(begin, begin + size):
        lit = desk.arena[k] ^ 1 if c >= 0 else desk.pool[k]
        if lit != trail[t, LIT] ^ 1:
            holds = min(holds, _covered(number, bounds, trail, needed, lit))
            if holds < 0:
                return 0
    desk.clock[HOLDS] = min(desk.clock[HOLDS], holds)
    return 1


@part
def _write(desk: Desk, t: int) -> tuple[int, int, int]:
    """The clause from the marks at and below entry t of the trail; as `analyse` returns it."""
    trail, needed, learned = desk.trail, desk.needed, desk.learned
    learned[0] = (2 * needed[t] + (trail[t, LIT] & 1)) ^ 1
    size, level, levels, newest = 1, 0, 1, trail[t, LEVEL_OF]
    for k in range(t - 1, -1, -1):
        if trail[k, LEVEL_OF] == 0:
            break
        if needed[k] < 0 or _redundant(desk, k):
            continue
        learned[size] = (2 * needed[k] + (trail[k, LIT] & 1)) ^ 1
        if trail[k, LEVEL_OF] != newest:
            newest = trail[k, LEVEL_OF]
            levels += 1
        if trail[k, LEVEL_OF] > level:
            level = trail[k, LEVEL_OF]
            learned[1], learned[size] = learned[size], learned[1]
        size += 1
    return level, size, levels


@part
def analyse(desk: Desk, bump: float) -> tuple[int, int, int]:
    """Learn a clause from the literals in the buffer.

    The level to go back to, -1 when nothing is left to search; how many literals stand in `learned`, the one that
    then becomes true first; over how many levels they are spread.
    """
    number, bounds, trail, needed, weight = desk.number, desk.bounds, desk.trail, desk.needed, desk.weight
    top = 0
    for k in range(desk.clock[BUFFER]):
        t = since(number, bounds, trail, desk.buffer[k])
        if t >= 0:
            top = max(top, trail[t, LEVEL_OF])
    if top == 0:
        return -1, 0, 0
    open_ones = 0
    for k in range(desk.clock[BUFFER]):
        open_ones += _mark(number, bounds, trail, needed, weight, desk.clock, desk.buffer[k], top, bump)
    t = desk.clock[TRAIL] - 1
    while trail[t, LEVEL_OF] > top:
        t -= 1
    end = t
    while True:
        while needed[t] < 0:
            t -= 1
        if open_ones == 1:
            break
        needed[t] = -2
        desk.clock[HOLDS] = min(desk.clock[HOLDS], trail[t, UNTIL])
        c = trail[t, CLAUSE]
        begin, size = (desk.clause[c, START], desk.clause[c, SIZE]) if c >= 0 else (trail[t, FROM], trail[t, COUNT])
        if c >= 0:
            desk.clause[c, USED] = desk.clock[CONFLICTS]
        for k in range(begin, begin + size):
            lit = desk.arena[k] ^ 1 if c >= 0 else desk.pool[k]
            if lit != trail[t, LIT] ^ 1:
                open_ones += _mark(number, bounds, trail, needed, weight, desk.clock, lit, top, bump)
        open_ones -= 1
        t -= 1
    found = _write(desk, t)
    for k in range(end, -1, -1):
        if trail[k, LEVEL_OF] == 0:
            break
        needed[k] = -1
    return found


@part
def keep(desk: Desk, size: int, levels: int) -> int:
    """Put the learned clause, of two literals or more, among the others."""
    clock, clause = desk.clock, desk.clause
    c, start = clock[CLAUSES], clock[ARENA]
    clause[c, START], clause[c, SIZE], clause[c, SPREAD], clause[c, USED] = start, size, levels, clock[CONFLICTS]
    clause[c, VALID] = clock[HOLDS]
    for k in range(size):
        desk.arena[start + k] = desk.learned[k]
    clock[ARENA], clock[CLAUSES] = start + size, c + 1
    for which in range(2):
        lit = desk.learned[which]
        desk.link[2 * c + which], desk.first[lit] = desk.first[lit], 2 * c + which
    return c


@part
def _limit(clause: Ints, count: int) -> int:
    """Over how many levels a clause may be spread so that about half of all stay."""
    limit = SHORT
    while True:
        kept = 0
        for c in range(count):
            kept += 1 if clause[c, SPREAD] <= limit else 0
        if 2 * kept >= count:
            return limit
        limit += 1


@part
def thin_out(desk: Desk) -> None:
    """Throw away the worse half of the clauses; only before any decision, when all that follows has been followed."""
    clock, clause, arena = desk.clock, desk.clause, desk.arena
    count, recent = clock[CLAUSES], clock[CONFLICTS] - RECENT
    limit = _limit(clause, count)
    for lit in range(desk.first.shape[0]):
        desk.first[lit] = -1
    kept = start = 0
    for c in range(count):
        begin, end = clause[c, START], clause[c, START] + clause[c, SIZE]
        leave = clause[c, SPREAD] > limit and clause[c, USED] < recent
        for k in range(begin, end):
            leave = leave or state(desk.number, desk.bounds, arena[k]) > 0
        if leave:
            continue
        clause[kept, START], clause[kept, SPREAD], clause[kept, USED] = start, clause[c, SPREAD], clause[c, USED]
        clause[kept, VALID] = clause[c, VALID]
        for k in range(begin, end):
            if state(desk.number, desk.bounds, arena[k]) == 0:
                arena[start] = arena[k]
                start += 1
            else:
                entry = since(desk.number, desk.bounds, desk.trail, arena[k] ^ 1)
                clause[kept, VALID] = min(clause[kept, VALID], desk.trail[entry, UNTIL] if entry >= 0 else ALWAYS)
        clause[kept, SIZE] = start - clause[kept, START]
        for which in range(2):
            lit = arena[clause[kept, START] + which]
            desk.link[2 * kept + which], desk.first[lit] = desk.first[lit], 2 * kept + which
        kept += 1
    clock[CLAUSES], clock[ARENA] = kept, start
    for t in range(clock[TRAIL]):
        desk.trail[t, CLAUSE], desk.trail[t, FROM], desk.trail[t, COUNT] = -1, 0, 0
