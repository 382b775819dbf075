"""Sizes of first-offs: brute force and simulation; the factors themselves are checked elsewhere."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.methods.conformity import Limits
from firstoff.methods.first_off_size import (
    factor,
    interval_chance,
    interval_size,
    room,
    share_of_success_run,
    share_proven,
    size_for_chance,
)
from firstoff.methods.sampling_plans import demonstration_size

TWO, UPPER = Limits(-4.0, 4.0), Limits(None, 4.0)


@settings(max_examples=15, deadline=None)
@given(st.floats(-1.5, 1.5), st.sampled_from([TWO, UPPER]), st.sampled_from([0.0, 0.3]))
def test_the_size_is_the_least_whose_interval_fits(mean: float, limits: Limits, guard: float) -> None:
    """Brute force: counted up from two parts."""
    n = interval_size(limits, mean, 1.0, guard, 0.9, 0.9)
    wanted = next((m for m in range(2, 400) if factor(m, limits, 0.9, 0.9) <= room(limits, mean, 1.0, guard)), 0)
    assert n == wanted


def test_nothing_proves_what_is_foreseen_outside() -> None:
    assert interval_size(TWO, 5.0, 1.0, 0.0, 0.95, 0.95) == 0
    assert interval_size(TWO, 0.0, 1.0, 2.1, 0.95, 0.95) == 0  # 1.9 sd hold no 95 % of a normal lot
    assert size_for_chance(0.9, TWO, 2.0, 1.0, 1.0, 0.0, 0.95, 0.95) == 0  # the lots' own offset
    assert share_proven(8, TWO, 5.0, 1.0, 0.0, 0.95) == 0.0


@pytest.mark.parametrize(("limits", "n", "lot"), [(TWO, 8, 0.0), (UPPER, 6, 0.4), (TWO, 12, 0.3)])
def test_the_chance_is_the_share_of_lots_that_are_proven(limits: Limits, n: int, lot: float) -> None:
    """Monte Carlo, seeded: lots with an offset of their own, each judged by its interval."""
    rng, runs = np.random.default_rng(n), 40_000
    x = rng.normal(0.5, lot or 1e-12, (runs, 1)) + rng.normal(size=(runs, n))
    mean, s, k = x.mean(axis=1), x.std(axis=1, ddof=1), factor(n, limits, 0.95, 0.95)
    held = mean + k * s <= 4.0
    if limits.low is not None:
        held &= mean - k * s >= -4.0
    chance = interval_chance(n, limits, 0.5, 1.0, lot, 0.0, 0.95, 0.95)
    assert held.mean() == pytest.approx(chance, abs=4.0 * math.sqrt(chance * (1.0 - chance) / runs))


def test_the_size_for_a_chance_is_the_least_that_reaches_it() -> None:
    of = (TWO, 0.3, 1.0, 0.2, 0.1, 0.95, 0.95)
    n = size_for_chance(0.8, *of)
    assert interval_chance(n, *of) >= 0.8 > interval_chance(n - 1, *of)


@pytest.mark.parametrize("limits", [TWO, UPPER])
def test_the_share_proven_is_that_of_the_factor(limits: Limits) -> None:
    share = share_proven(10, limits, 1.0, 1.0, 0.0, 0.9)
    assert factor(10, limits, share, 0.9) == pytest.approx(3.0, rel=1e-6)


def test_a_success_run_read_backwards() -> None:
    """NIST/SEMATECH e-Handbook 8.3.1 (binomial demonstration): the size proves the share, one part fewer does not."""
    n = demonstration_size(0.95, 0.95)
    assert n == 59
    assert share_of_success_run(n, 0.95) >= 0.95 > share_of_success_run(n - 1, 0.95)
