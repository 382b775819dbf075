"""A chain of two branches: what one of them spoils counts against its own characteristics only. Closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from chain_toys import plan, toy, value
from scipy.stats import norm

from firstoff.chain.blame import cure
from firstoff.chain.order import order, upstream
from firstoff.chain.predict import nominal_status, predict, values_of
from firstoff.chain.sensitivity import shares
from firstoff.chain.station import Characteristic
from firstoff.chain.status import Status

LIMIT = 1.5


def branches(at=0.0):
    """tube -> bore; valve (no value above `at` + 1 sd of its gap) -> row; rig reads both -> force; rod stands alone."""

    def flags(x):
        return np.where(x["valve.gap"] > 1.0, Status.OUT_OF_RANGE | Status.NO_VALUE, 0).astype(np.uint8)

    def row(x):
        return {"row": x["valve.gap"] + 0 * x["valve.width"]}

    stations = [
        toy("tube", lambda x: {"bore": x["tube.d"]}, ["d"], gives=["bore"]),
        toy("valve", row, ["gap", "width"], gives=["row"], flags=flags),
        toy("rod", lambda x: {"length": x["rod.l"]}, ["l"], needs=["valve.width"], gives=["length"]),
        toy("rig", lambda x: {"force": x["bore"] + x["row"]}, [], needs=["bore", "row"], gives=["force"]),
    ]
    limited = {name: Characteristic(name, "1", name, None, LIMIT) for name in ("bore", "row", "length", "force")}
    gap, width = value("valve.gap", at, part=1.0), value("valve.width", part=1.0)
    plans = {
        "tube": plan("tube", value("tube.d", part=1.0), gives=[limited["bore"]]),
        "valve": plan("valve", gap, width, gives=[limited["row"]]),
        "rod": plan("rod", value("rod.l", part=1.0), gives=[limited["length"]]),
        "rig": plan("rig", gives=[limited["force"]]),
    }
    return stations, plans


def test_upstream_follows_columns_and_not_drawn_parameters():
    found = upstream(order(branches()[0]))
    assert found["bore"] == {"tube"} and found["row"] == {"valve"}
    assert found["length"] == {"rod"}  # it reads valve.width, which is drawn before the valve runs
    assert found["force"] == {"tube", "valve", "rig"}


def test_a_branch_without_value_counts_only_downstream():
    p = predict(*branches(), 8192, 3)
    by = {c.characteristic.name: c for c in p.characteristics}
    lost = norm.sf(1.0)
    for name in ("bore", "length"):
        assert by[name].outside.without_value == 0
        assert by[name].outside.share == pytest.approx(norm.sf(LIMIT), abs=2e-3)
        assert by[name].scatter.sd == pytest.approx(1.0, rel=1e-2)
    for name in ("row", "force"):
        assert by[name].outside.without_value / 8192 == pytest.approx(lost, abs=2e-3)
        assert by[name].outside.high >= lost
    assert by["row"].scatter.maximum <= 1.0
    # any of four: a build is lost with the valve's, and outside with bore, length or, where it has a value, force
    assert p.any_outside.without_value + p.any_outside.rejects >= p.any_outside.rejects > lost * 8192
    assert p.any_outside.low <= p.any_outside.share <= p.any_outside.high


def test_a_spoilt_build_is_put_down_to_the_station_that_spoilt_it():
    p = predict(*branches(), 4096, 3)
    lost = p.status["valve"]["out of range, no value"]
    assert p.status["rig"] == {"ok": 4096 - lost, "spoilt at valve": lost}
    assert p.status["tube"] == {"ok": 4096} and p.status["rod"] == {"ok": 4096}
    assert set(p.blame) == {"valve"}
    assert (p.blame["valve"].builds, p.blame["valve"].parameter) == (lost, "valve.gap")
    # mean of a normal beyond +1: phi(1) / (1 - Phi(1))
    assert p.blame["valve"].deviation == pytest.approx(norm.pdf(1.0) / norm.sf(1.0), rel=0.02)


def test_nobody_is_blamed_for_what_no_parameter_explains():
    stations, plans = branches()
    rng = np.random.default_rng(1)
    stations[1].flags = lambda x: (rng.random(len(x["valve.gap"])) < 0.02).astype(np.uint8)
    found = predict(stations, plans, 4096, 3).blame["valve"]
    assert found.builds > 40 and found.parameter == ""


def test_shares_of_one_branch_keep_the_builds_that_the_other_loses():
    s = shares(*branches(), seed=1, n=1024)
    at = {name: i for i, name in enumerate(s.characteristics)}
    assert s.total[s.parameters.index("tube.d"), at["bore"]] == pytest.approx(1.0, abs=0.02)
    assert s.error[s.parameters.index("tube.d"), at["bore"]] < 0.1
    # force = bore + cut gap: the gap keeps the variance of a normal cut at +1
    h = norm.pdf(1.0) / norm.cdf(1.0)
    cut = 1.0 - h * (1.0 + h)
    assert s.total[s.parameters.index("valve.gap"), at["force"]] == pytest.approx(cut / (cut + 1.0), abs=0.06)


def test_results_do_not_depend_on_the_chunks_or_workers():
    one, other = (predict(*branches(), 3000, 3, chunk=chunk, workers=w) for chunk, w in ((4096, 1), (257, 3)))
    assert one.status == other.status
    for a, b in zip(one.characteristics, other.characteristics, strict=True):
        assert (a.below, a.above, a.outside) == (b.below, b.above, b.outside)
        assert a.scatter.mean == pytest.approx(b.scatter.mean, rel=1e-12)
    assert one.blame["valve"].deviation == pytest.approx(other.blame["valve"].deviation, rel=1e-12)


def test_at_nominal_the_station_at_fault_and_the_parameter_are_named():
    stations, plans = branches(at=1.04)
    assert nominal_status(stations, plans) == {"valve": "out of range, no value"}
    found = cure(stations, plans, values_of(order(stations), plans), "valve")
    assert found is not None
    assert (found.parameter, found.change) == ("valve.gap", -0.05)  # 1.04 x 0.98 is still above 1
    stations[1].flags = lambda x: np.ones(len(x["valve.gap"]), np.uint8)
    assert cure(stations, plans, values_of(order(stations), plans), "valve") is None
