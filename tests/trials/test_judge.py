"""Verdicts on parts and lots: hand-worked cases and simulation of the stated probabilities."""

from __future__ import annotations

import json
import math
from dataclasses import asdict

import numpy as np
import pytest
from scipy import stats

from firstoff.trials.gauges import Gauge
from firstoff.trials.readings import Reading, Trial
from firstoff.trials.verdicts import Judgement, Limits, Prior, judge

OLD, NEW = "iso14253-1:2013", "iso14253-1:2017"
LIMITS = {"length": Limits(9.95, 10.05)}
GAUGE = Gauge("caliper", ("length",), 0.005, "certificate")


def trial(*values: float, part: str = "", gauge: str = "") -> Trial:
    return Trial(tuple(Reading("length", v, part or f"P{i}", gauge=gauge, line=i + 2) for i, v in enumerate(values)))


def one(value: float, rule: str, **changes: object) -> Judgement:
    return judge(trial(value), LIMITS, {"caliper": GAUGE}, rule, **changes)  # type: ignore[arg-type]


def test_editions_on_one_part() -> None:
    """ISO 14253-1, both editions (from memory): same reading, different word."""
    assert one(10.041, OLD).parts[0].verdict == "not proven"
    new = one(10.041, NEW).parts[0]
    assert new.verdict == "conforms"
    assert new.p_conform == pytest.approx(stats.norm.cdf(0.009 / 0.005), rel=1e-9)
    assert one(10.07, OLD).parts[0].verdict == one(10.07, NEW).parts[0].verdict == "does not conform"


def test_unknown_gauge_proves_nothing() -> None:
    for gauges in ({}, {"caliper": Gauge("caliper", ("length",), None)}, {"rig": Gauge("rig", ("force",), 1.0)}):
        found = judge(trial(10.0, 10.001, 20.0), LIMITS, gauges, OLD)
        assert {part.verdict for part in found.parts} == {"not proven"}
        assert all("gauge uncertainty unknown" in part.reason for part in found.parts)
        assert found.lots[0].verdict == "not proven" and "gauge uncertainty unknown" in found.lots[0].reason


def test_assumed_gauge_is_said() -> None:
    assumed = {"g": Gauge("g", (), 0.005, "assumed: a tenth of the tolerance")}
    found = judge(trial(10.0), LIMITS, assumed, OLD).parts[0]
    assert found.verdict == "conforms" and "assumed" in found.reason


def test_a_named_gauge_that_nobody_declared() -> None:
    found = judge(trial(10.0, gauge="micrometer 7"), LIMITS, {"caliper": GAUGE}, OLD).parts[0]
    assert found.verdict == "not proven" and "micrometer 7" in found.reason


def test_no_limits_and_no_characteristic() -> None:
    found = judge(trial(10.0, 10.1), {}, {"caliper": GAUGE}, OLD)
    assert {p.verdict for p in found.parts} == {"not proven"} and found.lots[0].reason == "no limits are given"


def test_repeats_average_only_the_repeatability() -> None:
    """JCGM 100: u^2 = u_cal^2 + d^2/12 + u_rep^2/m for the mean of m readings."""
    gauge = Gauge.combined("cmm", ["length"], 0.003, 0.004, 0.001, "study")
    assert gauge.u == pytest.approx(math.sqrt(0.003**2 + 0.004**2 + 0.001**2 / 12))
    found = judge(trial(10.01, 10.02, 10.03, 10.04, part="A"), LIMITS, {"cmm": gauge}, OLD).parts
    assert len(found) == 1 and found[0].readings == 4 and found[0].value == pytest.approx(10.025)
    assert found[0].u == pytest.approx(math.sqrt(0.003**2 + 0.001**2 / 12 + 0.004**2 / 4))
    unsplit = judge(trial(10.0, 10.0, part="A"), LIMITS, {"caliper": GAUGE}, OLD).parts[0]
    assert unsplit.u == pytest.approx(0.005)  # nothing averages out when the split is not known


def test_the_worst_fitting_gauge_counts() -> None:
    gauges = {"a": Gauge("a", (), 0.001), "b": Gauge("b", (), 0.004)}
    assert judge(trial(10.0), LIMITS, gauges, OLD).parts[0].u == 0.004


def test_a_known_process_changes_the_2017_verdict() -> None:
    """JCGM 106: with a process well inside the limits the same reading conforms with a higher probability."""
    prior = {"length": Prior(10.0, 0.01)}
    with_prior, without = one(10.046, NEW, priors=prior).parts[0], one(10.046, NEW).parts[0]
    assert without.verdict == "not proven" and with_prior.verdict == "conforms"
    assert with_prior.accept_high is not None and with_prior.accept_high > 10.046
    limit = one(with_prior.accept_high, NEW, priors=prior).parts[0]
    assert limit.p_conform == pytest.approx(0.95, abs=1e-6)
    assert one(10.046, OLD, priors=prior).parts[0].verdict == "not proven"  # a guard band knows no process


def test_a_coarse_gauge_proves_nothing() -> None:
    coarse = {"tape": Gauge("tape", (), 0.5)}
    for rule in (OLD, NEW):
        found = judge(trial(10.0), LIMITS, coarse, rule).parts[0]
        assert found.verdict == "not proven" and "too coarse" in found.reason


def test_lot_words() -> None:
    gauges = {"caliper": Gauge("caliper", (), 0.0005)}
    rng = np.random.default_rng(1)
    good = judge(trial(*rng.normal(10.0, 0.005, 30)), LIMITS, gauges, OLD).lots[0]
    assert good.verdict == "conforms" and good.n == 30 and good.conforming == 30
    assert good.ppk is not None and good.ppk_low is not None and good.ppk_low < good.ppk
    wide = judge(trial(*rng.normal(10.0, 0.02, 5)), LIMITS, gauges, OLD).lots[0]
    assert wide.verdict == "not proven"
    off = judge(trial(*rng.normal(10.0, 0.005, 10), 10.2), LIMITS, gauges, OLD).lots[0]
    assert off.verdict == "does not conform" and "1 of 11" in off.reason
    single = judge(trial(10.0), LIMITS, gauges, OLD).lots[0]
    assert single.verdict == "not proven" and single.sd is None
    flat = judge(trial(10.0, 10.0, 10.0), LIMITS, gauges, OLD).lots[0]
    assert flat.verdict == "not proven" and "do not differ" in flat.reason


def test_mean_outside_fails_the_lot_though_no_part_is_proven_bad() -> None:
    gauges = {"g": Gauge.combined("g", (), 0.0001, 0.02, 0.0, "study")}
    values = 10.06 + np.random.default_rng(2).normal(0.0, 0.003, 30)
    found = judge(trial(*values), LIMITS, gauges, OLD)
    assert {p.verdict for p in found.parts} == {"not proven"}
    assert found.lots[0].verdict == "does not conform" and "mean" in found.lots[0].reason


def test_common_error_of_the_gauge_is_not_hidden_by_small_scatter() -> None:
    """30 parts within 0.001 mm, 0.002 mm inside the limit: the interval fits, but the certificate's u is 0.005 mm."""
    values = 10.047 + np.random.default_rng(6).normal(0.0, 0.0003, 30)
    assert judge(trial(*values), LIMITS, {"caliper": GAUGE}, OLD).lots[0].verdict == "not proven"


def test_lots_are_judged_apart() -> None:
    readings = [Reading("length", 10.0 + 0.001 * i, f"P{i}", lot=f"L{i % 2}") for i in range(10)]
    found = judge(Trial(tuple(readings)), LIMITS, {"caliper": GAUGE}, OLD)
    assert [(lot.lot, lot.n) for lot in found.lots] == [("L0", 5), ("L1", 5)]


@pytest.mark.parametrize("limits", [Limits(-2.2, 2.2), Limits(None, 2.0)])
def test_a_bad_lot_is_rarely_called_good(limits: Limits) -> None:
    """A lot that just misses the 95 % coverage must not conform in more than 5 % of trials (Monte Carlo)."""
    reach = stats.norm.ppf(0.975) if limits.low is not None else stats.norm.ppf(0.95)
    assert limits.high is not None
    sd = limits.high / reach * 1.0001
    gauges = {"g": Gauge("g", (), 1e-6 * sd)}
    rng = np.random.default_rng(8)
    runs, called_good = 1500, 0
    for sample in rng.normal(0.0, sd, (runs, 15)):
        # parts beyond a limit fail by their own verdict; judged here is the interval alone
        lot = judge(trial(*sample), {"length": limits}, gauges, OLD).lots[0]
        low_ok = limits.low is None or (lot.interval_low is not None and lot.interval_low >= limits.low)
        called_good += low_ok and lot.interval_high is not None and lot.interval_high <= limits.high
    assert 0 < called_good / runs <= 0.05 + 3.0 * math.sqrt(0.05 * 0.95 / runs)


def test_results_are_plain_and_finite() -> None:
    found = judge(trial(10.0, 10.01, 9.99), LIMITS, {"caliper": GAUGE}, NEW)
    json.dumps(asdict(found), allow_nan=False)


def test_wrong_words_are_refused() -> None:
    with pytest.raises(ValueError, match="rule"):
        judge(trial(10.0), LIMITS, {}, "2013")
    with pytest.raises(ValueError, match="coverage"):
        judge(trial(10.0), LIMITS, {}, OLD, coverage=1.0)
    with pytest.raises(ValueError, match="repeatability"):
        Gauge("g", (), 0.1, repeatability=0.2)


def test_a_large_trial_is_judged_whole() -> None:
    """200 parts by 150 characteristics."""
    rng = np.random.default_rng(9)
    values = rng.normal(10.0, 0.01, (200, 150))
    readings = [Reading(f"c{c}", float(values[p, c]), f"P{p}") for p in range(200) for c in range(150)]
    limits = {f"c{c}": Limits(9.95, 10.05) for c in range(150)}
    found = judge(Trial(tuple(readings)), limits, {"g": Gauge("g", (), 0.001)}, NEW)
    assert len(found.parts) == 30_000 and len(found.lots) == 150


def test_a_retest_does_not_cure_a_failing_part():
    # one reading outside by more than 3 u, then one well inside: their mean lies inside, and proves nothing
    readings = [Reading("f", 1190.0, "A", "L1"), Reading("f", 1260.0, "A", "L1")]
    readings += [Reading("f", v, p, "L1") for p, v in (("B", 1300.0), ("C", 1310.0), ("D", 1305.0))]
    gauges = {"rig": Gauge("rig", u=6.0, source="study")}
    found = judge(Trial(tuple(readings)), {"f": Limits(1210.0, 1440.0)}, gauges, "iso14253-1:2017")
    assert (found.parts[0].verdict, found.parts[0].repeats_agree) == ("not proven", False)
    assert found.lots[0].verdict == "not proven"


def test_repeats_of_one_gauge_seldom_contradict_each_other():
    # the critical range is crossed by 5 % of pairs of normal readings (ISO 5725-6); its factor for two is 1.96 sqrt(2)
    from firstoff.trials.verdicts import _Case

    pairs = np.random.default_rng(3).normal(size=(1500, 2))
    crossed = np.mean([not _Case.agree(list(pair), 1.0) for pair in pairs])
    assert 0.035 < crossed < 0.065
    assert _Case.agree([0.0, 2.77], 1.0) and not _Case.agree([0.0, 2.78], 1.0)


def test_intervals_of_share_and_ppk_hold_the_common_error_of_the_gauge() -> None:
    # one-sided limit, so that the bounds are exact: the readings with all of u common cover the true share at least as
    # often as stated, though each trial's mean is off by one draw of the gauge
    rng = np.random.default_rng(11)
    limits, u, n, runs = {"length": Limits(None, 10.03)}, 0.01, 10, 400
    gauge = {"g": Gauge("g", (), u, "certificate")}
    truth = stats.norm.sf(10.03, 10.0, 0.01)
    held = bare = 0
    for _ in range(runs):
        values = rng.normal(10.0, 0.01, n) + rng.normal(0.0, u)
        found = judge(trial(*map(float, values)), limits, gauge, NEW).lots[0]
        assert found.share_out_low is not None and found.share_out_high is not None and found.ppk_low is not None
        held += found.share_out_low <= truth <= found.share_out_high
        free = judge(trial(*map(float, values)), limits, {"g": Gauge("g", (), 1e-9, "none")}, NEW).lots[0]
        assert free.share_out_low is not None and free.share_out_high is not None and free.ppk_low is not None
        bare += free.share_out_low <= truth <= free.share_out_high
        assert free.share_out == found.share_out and found.ppk_low < free.ppk_low
    assert held / runs >= 0.95
    assert bare / runs < 0.90  # without it the interval holds too rarely
