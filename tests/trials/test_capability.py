"""Lots judged by their distribution, and side by side. Simulated readings, seeded; the figures are laws, not values."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from firstoff.methods.conformity import Limits
from firstoff.trials.capability import across_lots
from firstoff.trials.gauges import Gauge
from firstoff.trials.readings import Reading, Trial
from firstoff.trials.verdicts import Judgement, judge

GAUGE = {"g": Gauge("g", (), 1e-6, "study", repeatability=1e-6)}


def judged(limits: Limits, **lots: np.ndarray) -> Judgement:
    readings = [Reading("x", float(v), f"P{i}", lot) for lot, of in lots.items() for i, v in enumerate(of)]
    return judge(Trial(tuple(readings)), {"x": limits}, GAUGE, "iso14253-1:2017")


def test_a_skewed_lot_is_judged_by_its_logarithms() -> None:
    x = np.random.default_rng(0).lognormal(0.0, 0.7, 60)
    (lot,) = judged(Limits(None, 40.0), a=x).lots
    assert lot.model == "lognormal" and lot.interval_high is not None and lot.factor is not None
    logs = np.log(x)
    assert lot.interval_high == pytest.approx(np.exp(logs.mean() + lot.factor * logs.std(ddof=1)), rel=1e-9)
    assert lot.verdict == "conforms" and "lognormal" in lot.reason


def test_a_lot_of_no_known_shape_is_proven_only_by_counting() -> None:
    rng = np.random.default_rng(1)
    humps = np.concatenate([rng.normal(-1.0, 0.1, 40), rng.normal(1.0, 0.1, 40)])
    limits = Limits(-2.0, 2.0)
    (many,) = judged(limits, a=humps).lots
    assert (many.model, many.factor, many.ppk) == ("none", None, None)
    assert many.verdict == "conforms" and "59 parts that all conform" in many.reason
    (few,) = judged(limits, a=np.concatenate([humps[:15], humps[-15:]])).lots
    assert few.verdict == "not proven"
    (bad,) = judged(Limits(-2.0, 1.0), a=humps).lots
    assert bad.verdict == "does not conform"


def test_counting_holds_its_confidence() -> None:
    """Monte Carlo: lots with just 5 % outside are called conforming by counting in fewer than one of twenty."""
    rng, runs, called = np.random.default_rng(2), 250, 0
    for _ in range(runs):
        x = np.where(rng.random(59) < 0.5, rng.normal(-1.0, 0.05, 59), rng.normal(1.0, 0.05, 59))
        x[rng.random(59) < 0.05] = 3.0
        called += judged(Limits(-2.0, 2.0), a=x).lots[0].verdict == "conforms"
    assert called / runs < 0.05 + 4.0 * (0.0475 / runs) ** 0.5


def test_lots_side_by_side() -> None:
    rng = np.random.default_rng(3)
    limits = Limits(-5.0, 5.0)
    (same,) = across_lots(judged(limits, a=rng.normal(0, 1, 25), b=rng.normal(0, 1, 25)), 0.95)
    assert same.cp and same.cpk and same.pp and same.lots == 2 and same.n == 50
    assert same.cp.value == pytest.approx(10.0 / 6.0 / (same.within or 0.0))
    (moved,) = across_lots(judged(limits, a=rng.normal(0, 1, 25), b=rng.normal(2, 1, 25)), 0.95)
    assert moved.cp is None and "not stable" in moved.words and moved.ppk is not None
    assert across_lots(judged(limits, a=rng.normal(0, 1, 25)), 0.95) == ()


def test_stable_lots_are_seldom_called_unstable() -> None:
    """Monte Carlo: F test at 1 %."""
    rng, runs = np.random.default_rng(4), 150
    of = [
        across_lots(judged(Limits(-9.0, 9.0), **{c: rng.normal(0, 1, 6) for c in "abcd"}), 0.95)[0] for _ in range(runs)
    ]
    assert np.mean(["not stable" in one.words for one in of]) < 0.01 + 4.0 * (0.0099 / runs) ** 0.5


def test_a_stated_distribution_is_taken_as_it_stands() -> None:
    rng = np.random.default_rng(5)
    x = rng.rayleigh(0.01, 12)
    readings = tuple(Reading("x", float(v), f"P{i}", "a") for i, v in enumerate(x))
    known = judge(Trial(readings), {"x": Limits(None, 0.06)}, GAUGE, "iso14253-1:2017", distributions={"x": "Rayleigh"})
    (lot,) = known.lots
    assert (lot.model, lot.model_why, lot.factor) == ("Rayleigh", "stated in the sheet", None)
    sigma = np.sqrt((x**2).mean() / 2.0)
    middle, high = (sigma * np.sqrt(-2.0 * np.log(p)) for p in (0.5, 0.00135))
    assert lot.ppk == pytest.approx((0.06 - middle) / (high - middle))
    assert lot.share_out_high is not None and lot.share_out_high <= 0.05  # exact: sigma^2 from 2 n sigma_hat^2 / chi2
    worst = sigma * np.sqrt(24.0 / stats.chi2.ppf(0.025, 24))
    assert lot.share_out_high == pytest.approx(np.exp(-(0.06**2) / (2.0 * worst**2)), rel=0.3)  # by 2000 draws
    assert lot.verdict == "conforms" and "as the sheet states" in lot.reason
    # readings below nought cannot be Rayleigh's: the test decides
    shifted = tuple(Reading("x", float(v) - 0.02, f"P{i}", "a") for i, v in enumerate(x))
    (lot,) = judge(
        Trial(shifted), {"x": Limits(None, 0.06)}, GAUGE, "iso14253-1:2017", distributions={"x": "Rayleigh"}
    ).lots
    assert lot.model == "normal"
