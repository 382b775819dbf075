"""Shares of scatter against closed forms: Ishigami & Homma (1990), a linear sum, a product."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from chain_toys import linear, plan, toy, value

from firstoff.chain.sensitivity import shares
from firstoff.chain.station import Characteristic
from firstoff.errors import InputFault

HALF = np.pi / np.sqrt(3)  # standard deviation of a uniform value on -pi .. pi


def ishigami():
    """sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1 through three stations."""
    one = toy("one", lambda x: {"wave": np.sin(x["one.x"])}, ["x"], gives=["wave"])
    two = toy("two", lambda x: {"bump": 7 * np.sin(x["two.x"]) ** 2}, ["x"], gives=["bump"])
    rig = toy(
        "rig",
        lambda x: {"y": x["wave"] * (1 + 0.1 * x["rig.x"] ** 4) + x["bump"], "wave2": 2 * x["wave"]},
        ["x"],
        needs=["wave", "bump"],
        gives=["y", "wave2"],
    )
    plans = {
        name: plan(name, value(f"{name}.x", part=HALF, shape="uniform"), gives=gives)
        for name, gives in (
            ("one", []),
            ("two", []),
            ("rig", [Characteristic("y", "1", "y"), Characteristic("wave2", "1", "wave")]),
        )
    }
    return [one, two, rig], plans


def test_ishigami():
    a, b = 7.0, 0.1
    v1, v2 = 0.5 * (1 + b * np.pi**4 / 5) ** 2, a**2 / 8
    v13 = b**2 * np.pi**8 * (1 / 18 - 1 / 50)
    first, total = np.array([v1, v2, 0.0]), np.array([v1 + v13, v2, v13])
    variance = v1 + v2 + v13
    s = shares(*ishigami(), seed=3, n=8192)
    assert s.parameters == ("one.x", "two.x", "rig.x") and s.characteristics == ("y", "wave2")
    assert s.first[:, 0] == pytest.approx(first / variance, abs=0.01)
    assert s.total[:, 0] == pytest.approx(total / variance, abs=0.01)
    assert np.array_equal(s.by_station, s.total)  # one parameter each
    # what is not downstream of a parameter is exactly untouched by it
    assert s.total[:, 1].tolist() == [pytest.approx(1.0, abs=0.01), 0.0, 0.0]
    assert s.error[1:, 1].tolist() == [0.0, 0.0]


def test_stated_errors_hold_at_the_usual_size():
    a, b = 7.0, 0.1
    v1, v2 = 0.5 * (1 + b * np.pi**4 / 5) ** 2, a**2 / 8
    v13 = b**2 * np.pi**8 * (1 / 18 - 1 / 50)
    first = np.array([v1, v2, 0.0]) / (v1 + v2 + v13)
    total = np.array([v1 + v13, v2, v13]) / (v1 + v2 + v13)
    hits = []
    for seed in range(30):
        s = shares(*ishigami(), seed=seed)
        hits += [np.abs(s.first[:, 0] - first) <= s.first_error[:, 0], np.abs(s.total[:, 0] - total) <= s.error[:, 0]]
    assert np.mean(hits) >= 0.93
    assert max(s.error[:, 0]) < 0.12


def test_linear_shares_are_the_variances_lot_and_part_as_one():
    s = shares(*linear((1.0, 2.0, 3.0), lot=0.6, part=0.8), seed=1, n=4096)
    exact = np.array([1, 4, 9]) / 14
    assert s.first[:, 0] == pytest.approx(exact, abs=0.015)
    assert s.total[:, 0] == pytest.approx(exact, abs=0.015)
    assert s.stations == ("s0", "s1", "s2", "rig")
    assert s.by_station[:, 0] == pytest.approx([*exact, 0.0], abs=0.015)
    assert s.station_error[3, 0] == 0.0


def test_product_has_interactions_that_a_station_does_not_count_twice():
    # y = (1 + x1)(1 + x2) x3 with means 0, variances 0.25, 0.25 and 1: V = 1.25^2; the variance of a product is exact
    mill = toy("mill", lambda x: {"p": (1 + x["mill.a"]) * (1 + x["mill.b"])}, ["a", "b"], gives=["p"])
    rig = toy("rig", lambda x: {"y": x["p"] * x["rig.c"]}, ["c"], needs=["p"], gives=["y"])
    plans = {
        "mill": plan("mill", value("mill.a", part=0.5), value("mill.b", part=0.5)),
        "rig": plan("rig", value("rig.c", lot=np.sqrt(0.5), part=np.sqrt(0.5)), gives=[Characteristic("y", "1", "y")]),
    }
    s = shares([mill, rig], plans, seed=5, n=8192)
    variance = 1.25**2
    assert s.first[:, 0] == pytest.approx([0.0, 0.0, 1.0 / variance], abs=0.02)
    assert s.total[:, 0] == pytest.approx([0.25 * 1.25 / variance] * 2 + [1.0], abs=0.03)
    # the station carries V - 1, less than the sum of its parameters' totals
    assert s.by_station[:, 0] == pytest.approx([(variance - 1) / variance, 1.0], abs=0.03)
    assert s.by_station[0, 0] < s.total[:2, 0].sum() - 0.02


def test_only_dependent_stations_are_rerun():
    stations, plans = linear()
    shares(stations, plans, seed=1, n=64)
    # A and B everywhere, then each term once (its station is the same group) and the sum once per term
    assert [len(s.runs) for s in stations] == [3, 3, 3, 5]


def test_workers_change_nothing():
    one, two = (shares(*ishigami(), seed=2, n=256, workers=w) for w in (1, 2))
    for name in ("first", "total", "by_station", "first_error", "error", "station_error"):
        assert np.array_equal(getattr(one, name), getattr(two, name))


def test_noise_around_nothing_reads_zero():
    for seed in range(5):
        s = shares(*linear((1.0, 0.01)), seed=seed, n=256)
        assert s.first.min() >= 0 and s.first.max() <= 1 and s.total.min() >= 0 and s.total.max() <= 1
        assert abs(s.first[1, 0]) <= s.first_error[1, 0] + 1e-4


def test_builds_without_a_value_are_dropped_and_counted():
    press = toy(
        "press", lambda x: {"y": np.where(x["press.x"] > 1, np.nan, x["press.x"] + x["press.z"])}, "xz", (), "y"
    )
    known = plan("press", value("press.x", part=1.0), value("press.z", part=1.0), gives=[Characteristic("y", "1", "y")])
    s = shares([press], {"press": known}, seed=1, n=4096)
    bad = 0.158655  # upper tail of the normal beyond 1 standard deviation
    assert s.dropped[0] == pytest.approx(4096 * (1 - (1 - bad) ** 2), rel=0.02)
    # x is cut at +1: its variance is that of a truncated normal, 1 - h (h + 1) with h = -phi(1) / Phi(1) mirrored
    h = 0.2419707 / (1 - bad)
    cut = 1 - h * (1.0 + h)
    assert s.total[:, 0] == pytest.approx([cut / (cut + 1), 1 / (cut + 1)], abs=0.03)
    none = toy("press", lambda x: {"y": np.full(len(x["press.x"]), np.nan)}, "xz", (), "y")
    lost = shares([none], {"press": known}, seed=1, n=64)
    assert lost.dropped == (64, 64) and np.all(lost.error == 1.0) and np.all(lost.total == 0.0)


def test_a_chain_without_scatter_has_no_shares():
    stations, plans = linear(lot=None, part=None)
    s = shares(stations, plans, seed=1, n=16)
    assert s.first.shape == (0, 1) and s.by_station.tolist() == [[0.0]] * 4


@pytest.mark.parametrize("n", [0, 8, 1000])
def test_an_n_that_is_no_power_of_two_is_refused(n):
    with pytest.raises(InputFault, match="power of two"):
        shares(*linear(), seed=1, n=n)


def test_parameters_drawn_together_share_what_they_carry():
    # y = a + b + c, each of variance 1, b following a with 0.6: var 3 + 2 * 0.6; the pair carries all but c's 1
    a, b, c = (value(f"press.{n}", part=1.0) for n in "abc")
    b = replace(b, follows="press.a", correlation=0.6)
    press = toy("press", lambda x: {"y": x["press.a"] + x["press.b"] + x["press.c"]}, "abc", gives=["y"])
    known = plan("press", a, b, c, gives=[Characteristic("y", "1", "y")])
    s = shares([press], {"press": known}, seed=1, n=2048)
    assert s.total[:, 0] == pytest.approx([3.2 / 4.2, 3.2 / 4.2, 1.0 / 4.2], abs=0.02)
    assert s.by_station[0, 0] == pytest.approx(1.0, abs=0.01)
