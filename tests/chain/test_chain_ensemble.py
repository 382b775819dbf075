"""Builds through stations. The contract is the project's own; no outside source."""

from __future__ import annotations

import numpy as np
import pytest
from chain_toys import linear, plan, toy, value

from firstoff.chain.ensemble import Ensemble, StationFault, run
from firstoff.chain.sample import sample
from firstoff.chain.status import Status
from firstoff.errors import InputFault, Message


def drawn(plans, n=64) -> Ensemble:
    return Ensemble(sample([v for p in plans.values() for v in p.values], 0, n, 3), {})


def test_columns_and_status_of_every_station():
    stations, plans = linear()
    known = drawn(plans)
    before = dict(known.columns)
    result = run(stations, plans, known)
    c = result.columns
    assert np.allclose(c["y"], c["s0.x"] + 2 * c["s1.x"] + 3 * c["s2.x"], rtol=0, atol=1e-12)
    assert set(result.status) == {"s0", "s1", "s2", "rig"}
    assert result.has_value.all() and result.n == 64
    assert known.columns == before and not known.status


def test_since_reruns_only_dependents_and_gives_the_same_as_all():
    stations, plans = linear()
    known = run(stations, plans, drawn(plans))
    changed = Ensemble(known.columns | {"s1.x": known.columns["s1.x"] + 1.0}, known.status)
    for s in stations:
        s.runs.clear()
    quick = run(stations, plans, changed, since="s1.x")
    assert [len(s.runs) for s in stations] == [0, 1, 0, 1]
    full = run(stations, plans, changed)
    assert all(np.array_equal(quick.columns[k], full.columns[k]) for k in full.columns)
    assert quick.columns["y"] == pytest.approx(known.columns["y"] + 2.0)


def test_a_number_that_is_none_is_marked_in_its_station_only():
    def bad(x):
        y = np.array([[1.0, 2.0]] * len(x["a.x"]))
        y[1, 1], y[2, 0] = np.nan, np.inf
        return {"curve": y}

    a = toy("a", bad, ["x"], gives=["curve"], flags=lambda x: np.full(len(x["a.x"]), 4, np.uint8))
    b = toy("b", lambda x: {"peak": x["curve"][:, 0]}, [], needs=["curve"], gives=["peak"])
    result = run([a, b], {"a": plan("a", value("a.x", part=1.0)), "b": plan("b")}, Ensemble({"a.x": np.zeros(4)}, {}))
    none, cavitating = int(Status.NO_VALUE), int(Status.CAVITATING)
    assert result.status["a"].tolist() == [cavitating, cavitating | none, cavitating | none, cavitating]
    assert result.status["b"].tolist() == [0, 0, none, 0]
    assert result.has_value.tolist() == [True, False, False, True]


def breaking(error):
    def function(x):
        raise error

    return function


def test_a_broken_station_is_named():
    a = toy("press", breaking(ZeroDivisionError("stroke")), [], gives=["y"])
    known = Ensemble({"x": np.zeros(3)}, {})
    with pytest.raises(StationFault, match="station press: ZeroDivisionError: stroke"):
        run([a], {"press": plan("press")}, known)
    a.function = breaking(InputFault([Message("is too thick")]))
    with pytest.raises(InputFault, match="press: is too thick"):
        run([a], {"press": plan("press")}, known)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "declared, not given: y; given, not declared: nothing"),
        ({"y": np.zeros(3), "z": np.zeros(3)}, "given, not declared: z"),
        ({"y": np.zeros(2)}, r"`y` has shape \(2,\) for 3 builds"),
    ],
)
def test_a_station_is_held_to_its_declaration(given, said):
    a = toy("press", lambda x: given, [], gives=["y"])
    with pytest.raises(StationFault, match="station press: .*" + said):
        run([a], {"press": plan("press")}, Ensemble({"x": np.zeros(3)}, {}))


def test_a_status_of_another_length_is_refused():
    a = toy("press", lambda x: {"y": np.zeros(3)}, [], gives=["y"], flags=lambda x: np.zeros(1, np.uint8))
    with pytest.raises(StationFault, match="station press: status of shape"):
        run([a], {"press": plan("press")}, Ensemble({"x": np.zeros(3)}, {}))


def test_missing_plan_and_missing_column_are_refused_by_name():
    stations, plans = linear()
    known = drawn(plans)
    del known.columns["s2.x"]
    with pytest.raises(InputFault) as fault:
        run(stations, {k: v for k, v in plans.items() if k != "s1"}, known)
    assert [m.key for m in fault.value.messages] == ["s1", "s2"]
    assert fault.value.messages[1].found == "s2.x"
