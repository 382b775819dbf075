"""The search of a correction on linear problems, against brute force, integer programming and closed forms."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from firstoff.trials.correct import (
    LEAD,
    SAME,
    SAME_SHARE,
    Aim,
    Candidate,
    Movable,
    different,
    neighbours,
    probability,
    rank,
    room,
    score,
    search,
)

INF = np.inf


def movable(name: str, per_step: list[float], low: int, high: int, minutes: float = 10.0, **trouble: float) -> Movable:
    steps = np.arange(low, high + 1)
    return Movable(name, steps, np.outer(steps, per_step), minutes, **trouble)  # type: ignore[arg-type]


def aim(start: list[float], sd: float = 1.0, unsure: float = 0.5, half: float = 10.0) -> Aim:
    c = len(start)
    return Aim(
        np.full(c, -half), np.full(c, half), np.full(c, sd), np.array([start]), np.full((1, c), unsure), np.ones(1)
    )


def random_problem(seed: int) -> tuple[Aim, list[Movable]]:
    rng = np.random.default_rng(seed)
    movables = [movable(f"m{i}", list(rng.normal(0.0, 2.0, 3)), -3, 4, float(rng.integers(5, 60))) for i in range(4)]
    return aim(list(rng.normal(0.0, 14.0, 3))), movables


def by_hand(a: Aim, means: np.ndarray) -> np.ndarray:
    """Share outside, summed over the characteristics, and what leads the search: by scipy's own normal distribution."""
    s = np.hypot(a.sd, a.unsure[0])
    law = stats.norm(means, s)
    beyond = np.clip(np.maximum(a.low - means, means - a.high) / s, 0.0, None)
    return np.asarray((law.cdf(a.low) + law.sf(a.high) + LEAD * beyond).sum(axis=-1))


@pytest.mark.parametrize("seed", range(8))
def test_no_correction_of_one_two_or_three_settings_is_better(seed: int) -> None:
    # brute force over every combination of whole steps
    a, movables = random_problem(seed)
    found = {c.names: c for c in search(a, movables)}
    for size in (1, 2, 3):
        for chosen in combinations(movables, size):
            moved = [[m.shifts[i] for i, s in enumerate(m.steps) if s] for m in chosen]
            best = by_hand(a, a.start[0] + np.array([np.sum(shifts, axis=0) for shifts in product(*moved)])).min()
            c = found.get(frozenset(m.name for m in chosen))
            if c is None:
                assert size == 3  # looked at only when no pair brings all back
                continue
            at = sum(m.shifts[list(m.steps).index(dict(c.moves)[m.name])] for m in chosen)
            assert float(by_hand(a, a.start[0] + at)) == pytest.approx(c.score, abs=1e-12)
            assert c.score <= best * 1.0201 + 2e-6


def test_what_brings_all_means_back_is_found_when_integer_programming_says_there_is_one() -> None:
    # scipy.optimize.milp (HiGHS): whole steps with every mean inside its limits, over the same settings
    needed = 0
    for seed in range(16):
        a, movables = random_problem(100 + seed)
        a = Aim(a.low, a.high, np.full(3, 0.01), a.start, np.full((1, 3), 0.01), a.weights)
        effects = np.array([m.shifts[list(m.steps).index(1)] for m in movables]).T
        possible = False
        for chosen in combinations(range(4), 3):  # three settings, as the search
            rows = optimize.LinearConstraint(effects[:, chosen], a.low - a.start[0] + 0.1, a.high - a.start[0] - 0.1)
            answer = optimize.milp(np.zeros(3), constraints=rows, integrality=np.ones(3), bounds=optimize.Bounds(-3, 4))
            possible = possible or answer.success
        stays = bool((np.abs(a.start[0]) < 9.9).all())
        needed += possible and not stays
        found = search(a, movables)
        if found and found[0].probability > 0.99:
            moved = [m.shifts[list(m.steps).index(dict(found[0].moves).get(m.name, 0))] for m in movables]
            assert (np.abs(a.start[0] + sum(moved)) < 10.0).all()
        else:
            assert stays or not possible
    assert needed >= 4  # else this shows nothing


@given(
    st.lists(st.floats(-30.0, 30.0), min_size=2, max_size=2),
    st.lists(st.tuples(st.floats(-5.0, 5.0), st.floats(-5.0, 5.0), st.integers(-6, 0), st.integers(0, 6)), max_size=4),
)
def test_a_correction_is_a_whole_number_of_allowed_steps(
    start: list[float], settings: list[tuple[float, float, int, int]]
) -> None:
    movables = [movable(f"m{i}", [x, y], low, high) for i, (x, y, low, high) in enumerate(settings)]
    allowed = {m.name: set(m.steps.tolist()) for m in movables}
    for c in search(aim(start), movables):
        assert c.moves
        assert len({name for name, _ in c.moves}) == len(c.moves) <= 3
        for name, steps in c.moves:
            assert isinstance(steps, int) and steps != 0 and steps in allowed[name]
        for near in neighbours(c, {m.name: m for m in movables}):
            assert all(steps in allowed[name] and steps for name, steps in near)


@pytest.mark.parametrize("coverage", [0.8, 0.95, 0.997])
def test_room_of_the_mean(coverage: float) -> None:
    # definition, by scipy's root finder; one-sided by the normal quantile
    low, high = np.array([-3.0, -INF, 2.0, -INF, -1.0]), np.array([5.0, 4.0, INF, INF, 1.0])
    sd = np.array([1.2, 2.0, 0.5, 1.0, 3.0])
    lowest, highest = room(low, high, sd, coverage)
    end = optimize.brentq(
        lambda m: stats.norm.cdf(5.0, m, 1.2) - stats.norm.cdf(-3.0, m, 1.2) - coverage, 1.0, 5.0, xtol=1e-12
    )
    if stats.norm.cdf(4.0 / 1.2) - stats.norm.cdf(-4.0 / 1.2) >= coverage:
        assert highest[0] == pytest.approx(end, abs=1e-9)
        assert lowest[0] == pytest.approx(2.0 - end, abs=1e-9)  # symmetric about the middle, 1
    z = stats.norm.ppf(coverage)
    assert highest[1] == pytest.approx(4.0 - 2.0 * z)
    assert lowest[2] == pytest.approx(2.0 + 0.5 * z)
    assert (lowest[1], highest[2]) == (-INF, INF)
    assert (lowest[3], highest[3]) == (-INF, INF)
    assert lowest[4] > highest[4]  # scatter wider than the limits: no mean will do


def test_score_and_probability_against_simulation() -> None:
    rng = np.random.default_rng(3)
    two = Aim(
        np.array([-10.0, -INF]), np.array([10.0, 4.0]), np.array([3.0, 2.0]),
        np.array([[8.0, 1.0], [2.0, -3.0]]), np.array([[1.5, 0.5], [0.5, 1.0]]), np.array([0.3, 0.7]), 0.9,
    )  # fmt: skip
    n = 400_000
    way = (rng.random(n) > 0.3).astype(int)
    means = two.start[way] + rng.normal(size=(n, 2)) * two.unsure[way]
    parts = means + rng.normal(size=(n, 2)) * two.sd
    outside = ((parts < two.low) | (parts > two.high)).sum(axis=1).mean()
    assert float(score(two, two.start[:, None, :])[0]) == pytest.approx(outside, abs=0.004)  # 3 sd of the simulation
    inside = stats.norm.cdf((two.high - means) / two.sd) - stats.norm.cdf((two.low - means) / two.sd)
    back = (inside >= 0.9).all(axis=1).mean()
    bound = float(probability(two, two.start[:, None, :])[0])
    assert bound <= back + 0.003  # Boole: a lower bound
    assert bound == pytest.approx(back, abs=0.03)


def test_one_setting_goes_where_the_closed_form_says() -> None:
    # symmetric limits, one characteristic: the share outside grows with |m| (normal distribution), so the answer is the
    # least step whose share is as good as that of the mean nearest the middle
    for start in (-23.0, 4.4, 17.7):
        a = aim([start], sd=2.0, unsure=1.0)
        (c,) = search(a, [movable("m", [0.7], -60, 60)])
        nearest_middle = start - 0.7 * round(start / 0.7)
        target = float(by_hand(a, np.array([nearest_middle]))) * SAME + SAME_SHARE
        direction = -int(np.sign(start))
        steps = next(k for k in range(1, 60) if by_hand(a, np.array([start + direction * k * 0.7])) <= target)
        assert c.moves[0][1] == direction * steps
        assert abs(start + 0.7 * c.moves[0][1]) < 2.0


def test_ranking_is_by_probability_in_bands_then_by_trouble() -> None:
    def c(name: str, p: float, minutes: float, cost: float = 0.0, approval: bool = False) -> Candidate:
        return Candidate(((name, 1),), 1e-3, p, minutes, cost, approval)

    sure, quick = c("sure", 0.99, 60.0), c("quick", 0.96, 10.0)
    doubtful, asked, dear = c("doubtful", 0.80, 1.0), c("asked", 0.97, 10.0, 0.0, True), c("dear", 0.98, 10.0, 5.0)
    ordered = rank([doubtful, dear, asked, sure, quick])
    assert [x.moves[0][0] for x in ordered] == ["quick", "asked", "dear", "sure", "doubtful"]


def test_what_only_adds_a_setting_is_not_shown_twice() -> None:
    def c(*names: str) -> Candidate:
        return Candidate(tuple((n, 1) for n in names), 0.0, 0.9, 1.0, 0.0, False)

    shown = different([c("a"), c("a", "b"), c("b", "c"), c("b", "d"), c("b", "e"), c("b"), c("f")], count=4)
    assert [x.names for x in shown] == [{"a"}, {"b", "c"}, {"b", "d"}, {"b"}]


def test_a_step_without_a_value_is_never_taken() -> None:
    m = movable("m", [-1.0], -3, 12)
    broken = Movable("m", m.steps, np.where(m.steps[:, None] > 5, np.nan, m.shifts))
    (c,) = search(aim([14.0]), [broken])
    assert c.moves == (("m", 5),)
