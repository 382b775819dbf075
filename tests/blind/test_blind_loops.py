"""Loops of this package's damper: as without loops where nothing is wrong, each fault's mark, what explain says."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch as api
from firstoff.launch.explaining import shifts, suspects
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.stations.damper.dynamic_rig import DynamicRig
from tests.blind import bench, damper, loop_bench, loops
from tests.blind.lots import Planted, World, draw, plant
from tests.blind.schedule import Order, make

SEED = 4
HIDDEN = loops.Hidden(0.08, 40e-6, 20e-6)


@pytest.fixture(scope="module")
def w() -> World:
    return bench.world_of(SEED, 1)


def numbers(w: World, crawling: bool = False, **changes: float) -> dict[str, float]:
    """The nominal damper, but for some parameters (station__parameter, added), reduced as a measured trace is."""
    x = {name: column.copy() for name, column in w.nominal.items()}
    for key, change in changes.items():
        name = key.replace("__", ".")
        x[name] = x.get(name, np.zeros(1)) + change
    travel, force, period = loops.cycles(x, w.laws[0], HIDDEN, crawling)
    t = np.arange(0.0, 3.0 * period, period / 600)
    grid = np.arange(len(travel) + 1.0) / len(travel)
    moved, read = (np.interp(t / period % 1.0, grid, np.append(a[-1], a)) for a in (travel, force[0]))
    return DynamicRig.reduce(t, moved, read, 0.05).numbers


def test_a_sound_damper_moves_as_the_one_without_loops(w: World) -> None:
    """Two codes of the same equations: peak forces at mid-stroke agree, and crawling is gas force and friction."""
    found = numbers(w)
    other = damper.show(w.nominal, w.laws[0], (loops.SPEED,), cycles=4, steps=240).columns
    assert found["mid_rebound"] == pytest.approx(float(other["rebound_0.52"][0]), rel=2e-3)
    assert found["mid_compression"] == pytest.approx(float(other["compression_0.52"][0]), rel=4e-3)
    crawl = numbers(w, crawling=True)
    # the gas force is that at rest at mid-stroke but for the rod's own volume (Boyle, polytropic)
    assert 0.5 * (crawl["rest_in"] + crawl["rest_out"]) == pytest.approx(float(other["static_gas_force"][0]), abs=1.0)
    assert crawl["rest_in"] < crawl["rest_out"] - 5.0
    rub = float(w.nominal["damping_rig.friction"][0]) * w.laws[0].running_friction
    assert 0.0 <= crawl["friction_in"] - rub < 6.0  # and what the bleed takes at 2 mm/s


def test_each_fault_leaves_its_mark(w: World) -> None:
    sound, crawl = numbers(w), numbers(w, crawling=True)
    late = numbers(w, dynamic_rig__intake_lag=0.05)
    assert late["dead_compression"] > sound["dead_compression"] + 1e-3
    assert abs(late["dead_rebound"] - sound["dead_rebound"]) < 3e-4
    bent = numbers(w, crawling=True, dynamic_rig__guide_angle=0.003)
    # contact force of a rod bent between guide and piston, 6 mu E I angle / length^2 each (beam theory, textbook)
    stiff = 6.0 * HIDDEN.rubbing * loops.MODULUS * math.pi / 64.0 * float(w.nominal["piston_rod.diameter"][0]) ** 4
    length = damper.DEAD_LENGTH + float(w.nominal["damping_rig.rod_travel"][0])
    for name, x in (("in", -0.04), ("out", 0.04)):
        more = bent[f"friction_{name}"] - crawl[f"friction_{name}"]
        assert more == pytest.approx(stiff * 0.003 / (length - x) ** 2, rel=0.03), name
    air, low = numbers(w, oil_fill__entrained_gas=0.05), numbers(w, oil_fill__volume=-45e-6)
    for of in (air, low):
        assert of["dead_compression"] > sound["dead_compression"] + 1e-3
        assert of["hysteresis_compression"] > sound["hysteresis_compression"] + 30.0
    assert abs(air["mid_rebound"] - sound["mid_rebound"]) < 10.0  # the peak force hardly says so


def explained(w: World, fault: str, size: float, folder: Path, monkeypatch: pytest.MonkeyPatch) -> LaunchExplanation:
    """A lot of six with this fault in all parts (none for an empty name), explained from forces and traces."""
    for module, name, fewer in ((shifts, "SIZES", 6), (shifts, "UNLIKE", 4), (suspects, "BUILDS", 192)):
        monkeypatch.setattr(module, name, fewer)  # quick; the bench runs it whole
    known = {f.name: f for f in w.plan.job.family.every_fault}
    seed = 21
    b = make(w, Order(loop_bench.FIRST, "healthy"), seed)
    rng = np.random.default_rng(seed)
    lots = []
    for label, n, name in (("L2", 6, fault), ("L1", 6, "")):
        columns = draw(w.values, n, rng)
        hit = [Planted(name, known[name].station, "all", size, np.ones(n, dtype=bool), known[name])] if name else []
        columns = plant(columns, hit)
        shell = columns["damping_rig.oil_temperature"]
        parts = [f"{label}-{i}" for i in range(n)]
        loops.write_traces(folder / "traces", columns, w.laws[b.law], HIDDEN, parts, shell, 0.5, rng)
        true = damper.show(columns, w.laws[b.law], w.speeds).columns
        names = [*w.forces, "static_gas_force", "friction"]
        rows = [",".join(["part", "lot", "temperature [degC]", *(f"{c} [N]" for c in names)])]
        for i, p in enumerate(parts):
            read = [f"{true[c][i] + 3.0 * rng.standard_normal():.0f}" for c in names]
            rows.append(",".join([p, label, f"{shell[i] - 273.15:.1f}", *read]))
        lots.append(folder / f"{label}.csv")
        lots[-1].write_text("\n".join(rows) + "\n", "utf-8")
    trial, good = api.read_trials(w.plan, lots[0], lots[1], traces=[folder / "traces"])
    return api.explain(w.plan, trial, good)


@pytest.mark.parametrize(
    ("fault", "size", "alike"),
    [
        ("intake_sticks", 0.05, ()),
        ("guide_crooked", 0.003, ()),
        ("oil_aerated", 0.06, ("oil_low",)),
        ("oil_low", 0.82, ("oil_aerated",)),
    ],
)
def test_traces_of_another_damper_name_the_fault(
    w: World, fault: str, size: float, alike: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = explained(w, fault, size, tmp_path, monkeypatch).found
    names = set(found.causes[0].name.split(" + "))
    assert fault in names or names & set(alike), [(c.name, c.probability) for c in found.causes[:3]]
    assert found.none < 0.05


def test_healthy_traces_accuse_nobody(w: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found = explained(w, "", 0.0, tmp_path, monkeypatch)
    assert found.found.none > 0.5 and max(found.found.stations.values()) < 0.3
    assert len(found.trial.runs) == 12  # six parts, two runs each


def test_launches_with_loops_are_planted_in_every_way(w: World) -> None:
    made = loop_bench.orders(w, 60, 1)
    kinds = [o.kind for o in made]
    assert kinds.count("healthy") == 18
    ways = {(f.name, who) for o in made for f, who in o.faults}
    known = {f.name: f for f in w.plan.job.family.every_fault}
    assert ways == {(name, who) for name in loop_bench.FAULTS for who in known[name].who}
    b = make(w, next(o for o in made if o.faults and o.faults[0][0].name == "intake_sticks"), 1)
    assert float(b.lot.columns[loops.LAG].max()) == pytest.approx(b.planted[0].size)


def test_table_counts_what_was_right() -> None:
    way = {"right": True, "station": True, "size_inside": True, "accused_wrongly": False, "cpu": 2.0}
    rows = [{"fault": "oil_low", "without": {**way, "right": False}, "with": way},
            {"fault": "", "without": way, "with": way}]  # fmt: skip
    said = loop_bench.report(rows)
    assert "0 of 1 (0 to 98 %)" in said and "1 of 1 (3 to 100 %)" in said and "2.00 from the forces" in said
