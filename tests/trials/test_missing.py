"""What would prove it: the answer, put back into the lot's own rule, proves it, and one part less does not."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from firstoff.methods.conformity import RULES, Limits, decide, guard_factor, zones
from firstoff.methods.tolerance_intervals import one_sided_exact, two_sided_exact
from firstoff.trials.gauges import Gauge
from firstoff.trials.lots import judge_lot
from firstoff.trials.missing import MOST_PARTS, Missing, of_lot, of_part, parts_of_a_centred_lot
from firstoff.trials.verdicts import LotVerdict, PartVerdict

OLD, NEW = RULES


def lot(n: int, mean: float, sd: float, u: float, rule: str, low: float | None, high: float | None) -> LotVerdict:
    """A lot with exactly this mean and standard deviation, judged by the tool's own rule."""
    z = np.linspace(-1.0, 1.0, n)
    z = (z - z.mean()) / z.std(ddof=1)
    parts = [PartVerdict("x", f"P{i}", "", mean + sd * float(x), 1, low, high, "g", u, rule, "conforms", 1.0)
             for i, x in enumerate(z)]  # fmt: skip
    return judge_lot(parts, u)


@settings(max_examples=10)  # each judges six lots
@given(st.integers(3, 12), st.floats(-0.8, 0.8), st.floats(0.1, 0.5), st.floats(0.005, 0.1), st.sampled_from(RULES),
       st.sampled_from([(-1.0, 1.0), (None, 1.0), (-1.0, None)]))  # fmt: skip
def test_what_is_missing_proves_it(
    n: int, mean: float, sd: float, u: float, rule: str, limits: tuple[float | None, float | None]
) -> None:
    found = lot(n, mean, sd, u, rule, *limits)
    assume(found.verdict == "not proven")
    missing = of_lot(found, rule)
    if missing.parts is not None and missing.parts < 60:
        assert missing.parts > n
        assert lot(missing.parts, mean, sd, u, rule, *limits).verdict == "conforms"
        assert lot(missing.parts - 1, mean, sd, u, rule, *limits).verdict != "conforms"
    if missing.common_u is not None:
        assert lot(n, mean, sd, missing.common_u * 0.999, rule, *limits).verdict == "conforms"
        assert lot(n, mean, sd, missing.common_u * 1.01, rule, *limits).verdict != "conforms"
    if missing.sd is not None and missing.sd < sd:
        assert lot(n, mean, missing.sd * 0.999, u, rule, *limits).verdict == "conforms"
        assert lot(n, mean, missing.sd * 1.01, u, rule, *limits).verdict != "conforms"


def test_by_hand() -> None:
    # one-sided factors at 95 %/95 %: k(9) = 3.031, k(10) = 2.911 (ISO 16269-6:2014, from memory); least n for 3 sd: 10
    found = lot(5, 0.0, 1.0, 1e-9, NEW, None, 3.0)
    assert of_lot(found, NEW).parts == 10
    assert one_sided_exact(9, 0.95, 0.95) == pytest.approx(3.031, abs=2e-3)
    assert one_sided_exact(10, 0.95, 0.95) == pytest.approx(2.911, abs=5e-4)
    # no number of parts: 95 % of a normal lot need 1.645 sd on one side, however many are read
    assert of_lot(lot(5, 0.0, 1.0, 1e-9, NEW, None, 1.6), NEW).parts is None


def test_guard_factors_are_those_of_the_editions() -> None:
    # ISO 14253-1:2013: U = 2 u; 2017: one-sided 95 % of the normal distribution, 1.645 (both from memory)
    assert guard_factor(OLD) == 2.0
    assert guard_factor(NEW) == pytest.approx(1.6449, abs=5e-5)
    with pytest.raises(ValueError, match="rule must be"):
        guard_factor("mine")


def test_a_centred_lot() -> None:
    found = lot(4, 0.9, 0.3, 0.05, OLD, -1.0, 1.0)
    need = parts_of_a_centred_lot(found)
    assert need is not None
    assert two_sided_exact(need, 0.95, 0.95) * 0.3 + 0.1 <= 1.0 < two_sided_exact(need - 1, 0.95, 0.95) * 0.3 + 0.1
    assert parts_of_a_centred_lot(lot(4, 0.0, 0.9, 0.05, OLD, -1.0, 1.0)) is None


def test_a_mean_outside_is_proven_by_nothing() -> None:
    assert of_lot(lot(4, 1.05, 0.3, 0.2, OLD, -1.0, 1.0), OLD) == Missing()
    assert MOST_PARTS >= 100


@given(st.floats(0.5, 0.999), st.floats(0.05, 0.4), st.floats(0.0, 1.0), st.sampled_from(RULES))
def test_a_part_near_its_limit(value: float, u: float, repeats: float, rule: str) -> None:
    limits = Limits(-1.0, 1.0)
    gauge = Gauge("g", (), u, "study", repeatability=u * repeats)
    assume(decide(value, zones(limits, u, rule)) == "not proven")
    found = of_part(PartVerdict("x", "P", "", value, 1, -1.0, 1.0, "g", u, rule, "not proven", None), gauge)
    if found.readings is not None:
        enough = math.hypot(gauge.common() or 0.0, gauge.repeatability / math.sqrt(found.readings))
        before = math.hypot(gauge.common() or 0.0, gauge.repeatability / math.sqrt(found.readings - 1))
        assert decide(value, zones(limits, enough, rule)) == "conforms"
        assert decide(value, zones(limits, before, rule)) != "conforms"
    assert found.u is not None  # a reading inside is proven by a gauge that is fine enough
    assert decide(value, zones(limits, found.u * 0.999, rule)) == "conforms"


def test_a_part_outside_is_proven_by_no_gauge() -> None:
    v = PartVerdict("x", "P", "", 1.05, 1, -1.0, 1.0, "g", 0.2, NEW, "not proven", None)
    assert of_part(v, Gauge("g", (), 0.2, "study", repeatability=0.2)).u is None
