"""The bench on a few launches: launches are what they say, figures are those of textbooks, answers are not absurd."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from firstoff import launch as api
from tests.blind import bench, score
from tests.blind.identify import Knowledge, covariance, look, model_spread
from tests.blind.lots import Planted, World, draw, plant, shown
from tests.blind.measure import NONE, OTHER
from tests.blind.plain_fit import blame
from tests.blind.schedule import Order, make, orders
from tests.blind.undeclared import undeclared

SEED = 4


@pytest.fixture(scope="module")
def w() -> World:
    return bench.world_of(SEED, 1)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return bench.knowledge_of(SEED, 1, 0)


@pytest.fixture(scope="module")
def ran() -> tuple[list[dict[str, Any]], dict[str, Any]]:
    return bench.run(8, SEED, workers=1, laws=1)


def fault(w: World, name: str) -> Any:
    return next(f for f in w.plan.job.family.faults if f.name == name)


def test_every_declared_fault_is_planted_in_every_way(w: World) -> None:
    made = {(f.name, who) for o in orders(w, 200, 1) if o.kind == "declared" for f, who in o.faults}
    assert made == {(f.name, who) for f in w.plan.job.family.faults for who in f.who}
    kinds = [o.kind for o in orders(w, 200, 1)]
    assert {kind: kinds.count(kind) for kind in set(kinds)} == {
        "declared": 112, "healthy": 44, "undeclared": 26, "double": 18
    }  # fmt: skip


def test_a_launch_follows_from_its_seed_and_number_alone(w: World, tmp_path: Path) -> None:
    o = next(o for o in orders(w, 200, 1) if o.kind == "declared")
    first, again, other = make(w, o, 1), make(w, o, 1), make(w, o, 2)
    files = [b.write(tmp_path)[0].read_text("utf-8") for b in (first, again, other)]
    assert files[0] == files[1] != files[2]


def test_a_correction_moves_the_same_parts(w: World) -> None:
    b = make(w, Order(0, "healthy"), 1)
    assert b.after({})["rebound_1.04"] == pytest.approx(b.lot.true["rebound_1.04"])
    more = b.after({"piston_valve.rebound_relief_preload": 10.0})["rebound_1.04"] - b.lot.true["rebound_1.04"]
    # physics: the relief's extra opening pressure, 10 N over its seat, on the ring area, less what flow makes of it
    full = 10.0 / (np.pi / 4 * 7.14e-3**2) * np.pi / 4 * (0.032**2 - 0.0125**2)
    assert (more > 0.3 * full).all() and (more < full).all()


def test_scatter_of_lots_is_what_the_slopes_say(w: World, knowledge: Knowledge) -> None:
    # simulation of the lots themselves against error propagation (JCGM 100:2008, 5.1.2)
    b = make(w, Order(0, "healthy"), 1)
    rng = np.random.default_rng(9)
    single = [draw(w.values, 1, rng) for _ in range(120)]
    columns = {name: np.concatenate([s[name] for s in single]) for name in single[0]}
    true, good = shown(columns, w.laws[0], w.speeds, (), quick=True)
    assert good.all()
    for name in w.forces:
        slope = [(s[knowledge.names.index(name)], lot, part) for s, lot, part in knowledge.slopes.values()]
        sd = np.sqrt(sum(d**2 * (lot**2 + part**2) for d, lot, part in slope))
        assert np.std(true[name], ddof=1) == pytest.approx(sd, rel=0.3), name
    assert np.linalg.eigvalsh(covariance(b, knowledge, model_spread([knowledge], w), "all")).min() > 0


def planted(w: World, name: str, size: float, seed: int = 3) -> Any:
    b = make(w, Order(0, "declared", ((fault(w, name), "all"),)), seed)
    f = fault(w, name)
    exact = (Planted(f.name, f.station, "all", size, np.ones(b.parts, dtype=np.bool_), f),)
    return type(b)(**{**{k: getattr(b, k) for k in b.__dataclass_fields__}, "planted": exact})


def test_identifiable_means_seen_and_told_from_other_stations(w: World, knowledge: Knowledge) -> None:
    spread = model_spread([knowledge], w)
    large, small = (look(planted(w, "rebound_relief_weak", s), knowledge, spread) for s in (0.65, 0.995))
    assert large.identifiable and not small.visible
    assert large.distance > small.distance
    # physics: a gas force is added to every force, as a zero of the cell is (textbook force balance)
    zero = look(planted(w, "gas_low", -2e5), knowledge, spread)
    assert zero.nearest == "cell_zero" and not zero.identifiable


def test_undeclared_faults_are_unlike_declared_ones(w: World, knowledge: Knowledge) -> None:
    hidden = undeclared(w.plan.job.family.faults)
    assert len(hidden) >= 10
    stations = {s.name for s in w.plan.stations}
    moved = [frozenset(m.name for m in f.moves) for f in w.plan.job.family.faults]
    for u in hidden:
        assert u.station in stations
        assert frozenset(name for name, _ in u.moves) not in moved
        at = Planted(u.name, u.station, "all", 0.5 * (u.low + u.high), np.ones(1, dtype=np.bool_), u)
        true, _ = shown(plant(w.nominal, [at]), w.laws[0], w.speeds, [at], quick=True)
        assert max(abs(true[n][0] / knowledge.nominal[knowledge.names.index(n)] - 1.0) for n in w.forces) > 0.01, u.name


def test_answers_are_complete_and_not_absurd(ran: tuple[list[dict[str, Any]], dict[str, Any]]) -> None:
    rows, found = ran
    assert [r["number"] for r in rows] == list(range(8))
    for r in rows:
        assert sum(r["classes"].values()) == pytest.approx(1.0)
        assert {NONE, OTHER, "piston_valve"} <= set(r["classes"])
    json.dumps({"rows": rows, "figures": found}, allow_nan=False)
    seen = found["right station, identifiable"]
    assert seen["of"] >= 2 and seen["share"] >= 0.5
    assert found["healthy accused, scatter 1.0"]["hits"] <= 1
    assert 0.0 <= found["Brier, leading"] <= 0.6
    text = score.report(rows, found)
    assert "Reliability of an accused station" in text and "true, down" in text


def test_rates_and_scores_are_those_of_the_textbook() -> None:
    # Clopper-Pearson of 0 in 10: upper end 1 - 0.025^(1/10) (closed form)
    assert score.rate([False] * 10)["high"] == pytest.approx(1.0 - 0.025**0.1)
    row = {"kind": "healthy", "classes": {NONE: 0.7, OTHER: 0.1, "piston_valve": 0.2}, "lead": NONE, "lead_p": 0.7,
           "planted": []}  # fmt: skip
    assert score.brier([row]) == pytest.approx(0.3**2 + 0.1**2 + 0.2**2)
    assert score.brier_lead([row]) == pytest.approx(0.3**2)
    ill = {**row, "kind": "declared", "planted": [{"fault": "a", "station": "piston_valve"}]}
    assert score.brier([ill]) == pytest.approx(0.7**2 + 0.1**2 + 0.8**2)
    assert score.at_declared_frequency([row, row, ill], {"a": 100.0}) == pytest.approx([0.45, 0.45, 0.1])
    bins = score.reliability([row, ill], lambda r: r["lead_p"], score.right_station)
    assert [(b["of"], b["hits"]) for b in bins if b["of"]] == [(2, 1)]


def test_the_plain_fit_blames_the_spring_that_is_far_off(w: World, tmp_path: Path) -> None:
    f = fault(w, "rebound_relief_weak")
    b = make(w, Order(0, "declared", ((f, "all"),)), 7)
    readings, good = b.write(tmp_path)
    trial, anchor = api.read_trial(w.plan, readings), api.read_trial(w.plan, good) if good else None
    s = bench.slopes_of(SEED, 1)
    assert b.planted[0].size < 0.95
    found = blame(w.plan, s, trial, anchor)
    assert found.station == "piston_valve"  # the parameter it may well miss: that is what it is compared for
    assert abs(found.shift) > 2.0
