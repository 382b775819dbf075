"""Gauge studies: statsmodels for sums of squares and kappas, certified regression, coverage by simulation (seeded)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from firstoff.methods.gauge_line import linearity
from firstoff.methods.gauge_study import anova, components
from firstoff.methods.gauge_uncertainty import deviation_interval, gauge_uncertainty, grr_interval
from firstoff.methods.kappa import cohen, cohen_by_part, fleiss, proportion


def crossed(rng: np.random.Generator, people: int, trials: int, parts: int, sds: tuple[float, ...]) -> np.ndarray:
    """A study with standard deviations of people, interaction, parts, repeats."""
    a, i, p, e = sds
    return np.asarray(
        rng.normal(0, a, (people, 1, 1)) + rng.normal(0, i, (people, 1, parts)) + rng.normal(0, p, (1, 1, parts))
        + rng.normal(0, e, (people, trials, parts))
    )  # fmt: skip


def test_sums_of_squares_against_statsmodels() -> None:
    """Reference library: statsmodels.stats.anova.anova_lm of the crossed model."""
    import pandas
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    table = crossed(np.random.default_rng(7), 3, 3, 10, (0.5, 0.3, 2.0, 0.4))
    rows = [(a, p, table[a, t, p]) for a in range(3) for t in range(3) for p in range(10)]
    frame = pandas.DataFrame(rows, columns=["a", "p", "y"])
    wanted = anova_lm(ols("y ~ C(a) * C(p)", frame).fit())
    found = anova(table)
    names = {"appraiser": "C(a)", "part": "C(p)", "appraiser_x_part": "C(a):C(p)", "repeatability": "Residual"}
    for ours, theirs in names.items():
        assert found.ss[ours] == pytest.approx(wanted.loc[theirs, "sum_sq"], rel=1e-9)
        assert found.df[ours] == wanted.loc[theirs, "df"]
    assert found.f_interaction == pytest.approx(wanted.loc["C(a):C(p)", "F"], rel=1e-9)
    assert found.p_interaction == pytest.approx(wanted.loc["C(a):C(p)", "PR(>F)"], rel=1e-9)


@pytest.mark.parametrize("sds", [(0.0, 0.0, 2.0, 1.0), (0.5, 0.5, 2.0, 1.0), (1.0, 0.0, 2.0, 0.5)])
def test_intervals_of_repeatability_and_grr_cover(sds: tuple[float, ...]) -> None:
    """Monte Carlo. Repeatability: exact. Both together: modified large sample, at least what it says."""
    rng, runs = np.random.default_rng(3), 1000
    held = np.zeros(2)
    for _ in range(runs):
        table = crossed(rng, 4, 3, 8, sds)
        found, parts = anova(table), components(table, False)
        ev = math.sqrt(parts.repeatability)
        ends = (deviation_interval(ev, found.df["repeatability"], 0.9), grr_interval(found, parts, 4, 3, 8, 0.9))
        for i, ((low, high), true) in enumerate(zip(ends, (sds[3], math.hypot(sds[0], sds[1], sds[3])), strict=True)):
            held[i] += low <= true <= high
    slack = 4.0 * math.sqrt(0.09 / runs)
    assert held[0] / runs == pytest.approx(0.9, abs=slack)
    assert held[1] / runs >= 0.9 - slack


def test_the_grr_interval_of_pooled_studies_covers() -> None:
    """Monte Carlo of the whole procedure, the interaction pooled where its p is above 0.25."""
    rng, runs, held = np.random.default_rng(9), 1000, 0
    for _ in range(runs):
        table = crossed(rng, 3, 3, 10, (0.6, 0.0, 2.0, 1.0))
        found = anova(table)
        low, high = grr_interval(found, components(table, found.p_interaction > 0.25), 3, 3, 10, 0.9)
        held += low <= math.hypot(0.6, 1.0) <= high
    assert held / runs >= 0.9 - 4.0 * math.sqrt(0.09 / runs)


def test_kappas_against_statsmodels() -> None:
    """Reference library: statsmodels.stats.inter_rater."""
    from statsmodels.stats.inter_rater import cohens_kappa, fleiss_kappa

    rng = np.random.default_rng(0)
    for q in (2, 3, 4):
        table = rng.integers(0, 30, (q, q)) + 20 * np.eye(q, dtype=int)
        wanted, found = cohens_kappa(table), cohen(table, 0.95)
        assert found.kappa == pytest.approx(wanted.kappa, rel=1e-12)
        assert found.high is not None and found.low is not None
        assert (found.high - found.low) / 2 == pytest.approx(1.959964 * wanted.std_kappa, rel=1e-6)
        ratings = rng.multinomial(6, np.full(q, 1 / q), 20)
        assert fleiss(ratings, 0.95).kappa == pytest.approx(fleiss_kappa(ratings), rel=1e-12)


def test_intervals_of_kappas_cover_what_they_say() -> None:
    """Monte Carlo: two people who each judge right in 9 of 10; true kappa by the definition. Approximations: where
    people nearly always agree, they hold a few per cent less than they say (86 % of 90 % at a kappa of 0.88)."""
    rng, runs, n, right = np.random.default_rng(2), 800, 60, 0.9
    agree = right**2 + (1 - right) ** 2
    true = (agree - 0.5) / 0.5
    held = np.zeros(3)
    for _ in range(runs):
        bad = rng.random(n) < 0.5
        said = bad[:, np.newaxis] ^ (rng.random((n, 2)) > right)
        table = np.array([[np.sum((said[:, 0] == i) & (said[:, 1] == j)) for j in (0, 1)] for i in (0, 1)])
        tables = np.zeros((n, 2, 2), dtype=int)
        tables[np.arange(n), said[:, 0].astype(int), said[:, 1].astype(int)] = 1
        counts = np.stack([(~said).sum(axis=1), said.sum(axis=1)], axis=1)
        for i, found in enumerate((cohen(table, 0.9), cohen_by_part(tables, 0.9), fleiss(counts, 0.9))):
            assert found.low is not None and found.high is not None
            held[i] += found.low <= true <= found.high
    assert np.abs(held / runs - 0.9).max() < 4.0 * math.sqrt(0.09 / runs)


def test_proportions_against_scipy() -> None:
    """Reference library: scipy.stats.binomtest, exact interval."""
    for count, n in ((0, 10), (3, 10), (10, 10), (499, 500)):
        wanted = stats.binomtest(count, n).proportion_ci(0.9, "exact")
        assert proportion(count, n, 0.9) == pytest.approx((count / n, wanted.low, wanted.high), rel=1e-9, abs=1e-12)


def test_the_bias_interval_covers_and_the_slope_is_seldom_seen_where_there_is_none() -> None:
    """Monte Carlo: t tests at 5 %."""
    rng, runs = np.random.default_rng(5), 1500
    x = np.repeat([2.0, 4.0, 6.0, 8.0, 10.0], 6)
    seen = np.zeros(2)
    for _ in range(runs):
        found = linearity(x.tolist(), (x + rng.normal(0, 0.2, len(x))).tolist())
        assert found.slope_p is not None
        seen += found.bias_p < 0.05, found.slope_p < 0.05
    assert np.abs(seen / runs - 0.05).max() < 4.0 * math.sqrt(0.0475 / runs)


def test_the_largest_bias_is_on_the_line_only_where_the_line_counts() -> None:
    x = [1.0, 1.0, 2.0, 2.0, 3.0, 3.0]
    steep = linearity(x, [v + 0.1 * v + e for v, e in zip(x, (0.001, -0.001) * 3, strict=True)])
    assert steep.largest == pytest.approx(0.3, abs=0.002)
    flat = linearity(x, [v + 0.1 + e for v, e in zip(x, (0.05, -0.05, -0.05, 0.05, 0.05, -0.05), strict=True)])
    assert flat.largest == flat.bias


def test_uncertainty_from_the_study_refuses_nothing_at_all() -> None:
    with pytest.raises(ValueError, match="no uncertainty"):
        gauge_uncertainty(None, None, None, None)
    assert gauge_uncertainty(2.0, None, None, None, resolution=1.0).u == 2.0
