"""Force loops among the readings: what only a rig in motion shows is found, and without them nothing changes."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.launch.demo import copy_example
from firstoff.launch.explaining.explain import explain, read_trial
from firstoff.launch.plan import LaunchPlan, with_asked, with_checks
from firstoff.trials.readings import Reading, Trial

LOOPS = {
    "loop_rebound": 6.0, "loop_compression": 6.0, "loop_energy": 1.4, "loop_dead_rebound": 2e-4,
    "loop_dead_compression": 2e-4, "loop_hysteresis_rebound": 4.0, "loop_hysteresis_compression": 4.0,
    "crawl_friction_in": 2.0, "crawl_friction_out": 2.0, "crawl_gas_in": 2.0, "crawl_gas_out": 2.0,
}  # fmt: skip
PARTS = 6


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_example("light_truck_front", tmp_path_factory.mktemp("launch"))


@pytest.fixture(scope="module")
def plan(sheet: Path) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet))


def planted(plan: LaunchPlan, name: str, how: str, size: float, seed: int) -> Trial:
    """First-offs of one lot, all with the fault: forces, and the force loop of each."""
    whole = with_asked(plan, LOOPS)
    columns = sample(values_of(whole.stations, whole.plans), 0, PARTS, seed, parts_per_lot=PARTS)
    columns[name] = columns[name] + size if how == "add" else columns[name] * size
    true = run(whole.stations, whole.plans, Ensemble(columns, {})).columns
    gauges = {
        n: g.u or 0.0 for g in plan.job.gauges.values() if g.name.startswith("damping") for n in g.characteristics
    }
    rng = np.random.default_rng(seed)
    shell = true["damping_rig.oil_temperature"]
    return Trial(
        tuple(
            Reading(n, float(true[n][i] + rng.normal(0.0, u)), f"P{i}", "L", temperature=float(shell[i]))
            for n, u in {**gauges, **LOOPS}.items()
            for i in range(PARTS)
        ),
        "loops.csv",
    )


@pytest.mark.parametrize(
    ("name", "how", "size", "fault"),
    [
        ("dynamic_rig.intake_lag", "add", 0.06, "intake_sticks"),
        ("dynamic_rig.guide_angle", "add", math.radians(0.25), "guide_crooked"),
        ("oil_fill.volume", "scale", 0.81, "oil_low"),
        ("oil_fill.entrained_gas", "add", 0.06, "oil_aerated"),
        ("damping_rig.friction", "add", 35.0, "friction_high"),
    ],
)
def test_what_a_loop_shows_is_found(plan: LaunchPlan, name: str, how: str, size: float, fault: str) -> None:
    found = explain(plan, planted(plan, name, how, size, 7))
    top = found.found.causes[0]
    assert (top.name, top.who) == (fault, "all parts")
    assert top.probability > 0.8
    assert found.faults[fault].title and found.found.none < 1e-3


def test_without_loop_readings_nothing_is_computed_and_nothing_added(plan: LaunchPlan, sheet: Path) -> None:
    trial = read_trial(plan, sheet.parent / "first_offs.csv")
    found = explain(plan, trial)
    assert not {"intake_sticks", "guide_crooked"} & set(found.faults)
    assert not set(LOOPS) & set(found.wide.names)
    assert "dynamic_rig" not in with_checks(plan).plans and "dynamic_rig" not in plan.plans
    assert with_asked(plan, {"rebound_0.52"}).plans.keys() == plan.plans.keys()


def test_limit_of_a_sheet_puts_the_loop_into_the_chain(plan: LaunchPlan, sheet: Path) -> None:
    text = sheet.read_text("utf-8")
    limited = sheet.parent / "limited.toml"
    limited.write_text(
        text + '\n[characteristics.loop_dead_compression]\nunit = "mm"\nlimits = "<= 4 mm"\n'
        '\n[dynamic_rig]\nintake_lag = "1 ms"\n', "utf-8")  # fmt: skip
    settled = launch.plan(launch.read_job(limited))
    assert "dynamic_rig" in settled.plans
    assert {"intake_sticks", "guide_crooked"} <= {f.name for f in settled.job.family.faults}
    found = launch.predict(settled, 128, 1)
    rates = {c.characteristic.name: c.outside for c in found.builds.characteristics}
    assert rates["loop_dead_compression"] is not None and rates["loop_dead_compression"].without_value == 0
    same = {n: v for n, v in settled.nominal.items() if n in plan.nominal}
    assert same == plan.nominal  # the loop beside it changes no other characteristic


def test_plant_may_say_how_often_a_valve_sticks(sheet: Path) -> None:
    plant = sheet.parent / "plant.toml"
    plant.write_text(plant.read_text("utf-8") + "\n[faults]\nintake_sticks = 0\n", "utf-8")
    settled = launch.plan(launch.read_job(sheet))
    assert settled.job.family.every_fault[-2].per_thousand == 0
    trial = planted(settled, "dynamic_rig.intake_lag", "add", 0.06, 7)
    assert "intake_sticks" not in explain(settled, trial).found.faults
