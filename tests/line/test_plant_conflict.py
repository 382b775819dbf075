"""Conflicts of windows and their least widening, against brute force on a line small enough to try everything."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations, product

import pytest

from firstoff.launch.line.takt import obstacle, takt_text, widened
from firstoff.line.hitting import smallest_hitting
from firstoff.line.jobs import jobs_of
from firstoff.line.mixed import solve_mixed
from firstoff.line.plant_conflict import Bound, conflict, widening
from firstoff.line.plant_line import LOAD, UNLOAD, Crane, PlantLine, Product, Step, Tank

F = Fraction


def line(windows: tuple[tuple[int, int | None], ...]) -> PlantLine:
    """One crane, a tank for each window, 3 m apart at 1 m/s, times in whole seconds."""
    names = [LOAD, *(f"bath {i}" for i in range(len(windows))), UNLOAD]
    tanks = tuple(Tank(n, n, F(3 * i), F(4), F(2), F(4)) for i, n in enumerate(names))
    steps = tuple(Step(f"bath {i}", F(low), None if high is None else F(high)) for i, (low, high) in enumerate(windows))
    return PlantLine("small", tanks, (Crane("one"),), (Product("rail", steps),), F(1), time_step=F(1))


TIGHT = line(((20, 26), (30, 34), (25, None)))


def possible(tried: PlantLine, period: int, kept: frozenset[Bound]) -> bool:
    """Whether the line has a cycle within the period with only these bounds: the general solver on a widened line."""
    steps = []
    for i, s in enumerate(tried.products[0].steps):
        low = s.least if Bound("rail", i, "least") in kept else F(0)
        high = s.most if Bound("rail", i, "most") in kept else None
        steps.append(replace(s, least=low, most=high))
    loose = replace(tried, products=(replace(tried.products[0], steps=tuple(steps)),))
    answer = solve_mixed(jobs_of(loose), 20.0)
    return answer.table is not None and answer.table.period <= period


@pytest.mark.parametrize("less", [1, 6, 14])
def test_smallest_conflict_equals_brute_force(less: int) -> None:
    # brute force: every set of bounds, by size, asked of the solver that knows nothing of conflicts
    best = solve_mixed(jobs_of(TIGHT), 20.0).table
    assert best is not None
    period = int(best.period) - less
    found = conflict(jobs_of(TIGHT), period, 60.0)
    bounds = [Bound("rail", i, side) for i in range(3) for side in ("least", "most")][:5]  # type: ignore[arg-type]
    if not possible(TIGHT, period, frozenset()):
        assert found is None  # cranes alone are too slow: no window is to blame
        return
    size = next(
        n for n in range(1, 6) if any(not possible(TIGHT, period, frozenset(c)) for c in combinations(bounds, n))
    )
    assert found is not None and found.smallest
    assert len(found.bounds) == size
    assert not possible(TIGHT, period, frozenset(found.bounds))
    for bound in found.bounds:
        assert possible(TIGHT, period, frozenset(found.bounds) - {bound})


@pytest.mark.parametrize("less", [1, 4])
def test_least_widening_equals_brute_force(less: int) -> None:
    best = solve_mixed(jobs_of(TIGHT), 20.0).table
    assert best is not None
    period = int(best.period) - less
    found = widening(jobs_of(TIGHT), period, 60.0)
    assert found is not None and found.proven
    wide = solve_mixed(jobs_of(widened(TIGHT, found)), 20.0).table
    assert wide is not None and wide.period <= period
    # brute force: every widening in whole seconds that costs less
    names = [Bound("rail", i, side) for i in range(3) for side in ("least", "most")][:5]  # type: ignore[arg-type]
    for by in product(range(found.cost), repeat=5):
        if 0 < sum(by) < found.cost:
            cheaper = replace(found, by=dict(zip(names, by, strict=True)))
            table = solve_mixed(jobs_of(widened(TIGHT, cheaper)), 20.0).table
            assert table is None or table.period > period


def test_costs_and_fixed_bounds_are_kept() -> None:
    best = solve_mixed(jobs_of(TIGHT), 20.0).table
    assert best is not None
    free = widening(jobs_of(TIGHT), int(best.period) - 2, 60.0)
    assert free is not None
    fixed = next(iter(free.by))
    other = widening(jobs_of(TIGHT), int(best.period) - 2, 60.0, fixed=[fixed])
    assert other is None or (fixed not in other.by and other.cost >= free.cost)
    dear = widening(jobs_of(TIGHT), int(best.period) - 2, 60.0, costs={fixed: 1000})
    assert dear is not None and dear.cost >= free.cost


def test_no_conflict_where_there_is_a_timetable() -> None:
    best = solve_mixed(jobs_of(TIGHT), 20.0).table
    assert best is not None
    assert conflict(jobs_of(TIGHT), int(best.period), 60.0) is None
    found = widening(jobs_of(TIGHT), int(best.period), 60.0)
    assert found is not None and found.cost == 0


def test_hitting_set_is_smallest() -> None:
    a, b, c = (Bound("p", i, "least") for i in range(3))
    assert smallest_hitting([a, b, c], [frozenset({a, b}), frozenset({b, c})]) == (b,)
    assert smallest_hitting([a, b, c], []) == ()


def test_obstacle_speaks_of_operations_and_replays_the_cure() -> None:
    best = solve_mixed(jobs_of(TIGHT), 20.0).table
    assert best is not None
    found = obstacle(TIGHT, best.period - 4, 60.0)
    text = "\n".join(takt_text(found))
    assert "SLOWER than the takt" in text and "bath" in text and "replayed" in text
    assert found.after is not None and found.after.period is not None and found.after.period <= best.period - 4
