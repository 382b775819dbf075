"""Planted faults of plating: nine points on five bars name each, or the group that does the same to every reading."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plated import sheet

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import applied
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.launch.correcting.correct import correct
from firstoff.launch.explaining.explain import explain
from firstoff.launch.explaining.suspects import Prepared, prepare
from firstoff.launch.plan import LaunchPlan
from firstoff.trials.explain import Explanation
from firstoff.trials.explain import explain as compare
from firstoff.trials.readings import Reading, Trial


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet(tmp_path_factory.mktemp("plating"))))


ALIKE = {"efficiency_low", "ammeter_off", "time_short"}
PLANTED = {
    "basket_left_dead": 0.0, "rack_towards_off": 0.05, "shield_moved": -0.055, "contact_worn": 0.75,
    "bright_efficiency_low": 0.85, "anode_bag_torn": 5.0, "transfer_late": 500.0, "chrome_bath_cold": -8.0,
}  # fmt: skip
VOLTAGES = ("voltage_semi", "voltage_bright", "voltage_chrome")


def lot(plan: LaunchPlan, faults: dict[str, float], seed: int, volts: bool = False) -> Trial:
    """Five bars read at nine points, and looked at; each reading with its gauge's error, voltages with 2 %."""
    columns = sample(values_of(plan.stations, plan.plans), 0, 5, seed, parts_per_lot=5)
    declared = {f.name: f for f in plan.job.family.faults}
    for name, size in faults.items():
        columns = applied(columns, declared[name], size)
    made = run(plan.stations, plan.plans, Ensemble(columns, {})).columns
    gauges = [g for g in plan.job.gauges.values() if g.name[:4] in ("coul", "eye ", "styl")]
    u = {name: g.u or 0.0 for g in gauges for name in g.characteristics}
    u |= {name: 0.02 * float(made[name][0]) for name in (VOLTAGES if volts else ())}
    rng = np.random.default_rng(seed)
    readings = []
    for name, size in u.items():
        shown = made[name] + rng.normal(0.0, size, 5)
        readings += [Reading(name, float(shown[i]), f"B{i + 1}", "L1") for i in range(5)]
    return Trial(tuple(readings), "")


@pytest.fixture(scope="module")
def prepared(plan: LaunchPlan) -> Prepared:
    return prepare(plan, lot(plan, {}, 7))


def seen(plan: LaunchPlan, prepared: Prepared, trial: Trial) -> Explanation:
    """The explanation of a trial with the columns of the one that was prepared: the chain is run once for all."""
    scene = prepared.scene
    read = np.array([[next(r.value for r in trial.readings if (r.part, r.characteristic) == (part, name))
                      for name in scene.names] for part in scene.parts])  # fmt: skip
    units = np.array([prepared.units[name] for name in scene.names])
    return compare(replace(scene, readings=read / units), prepared.suspects)


@pytest.mark.parametrize("fault", PLANTED)
def test_nine_points_on_five_bars_name_the_fault_or_its_group(plan: LaunchPlan, prepared: Prepared, fault: str) -> None:
    found = seen(plan, prepared, lot(plan, {fault: PLANTED[fault]}, 11))
    first = found.causes[0]
    told = [(c.name, c.probability, c.alike) for c in found.causes[:4]]
    assert fault == first.name or fault in first.alike, told
    layer, _, kind = fault.partition("_")
    if kind in ALIKE and layer in ("semi", "bright"):
        # efficiency, ammeter and time of a layer do the same to every thickness: coupon and ampere-hours tell
        assert {f"{layer}_{k}" for k in ALIKE} <= {first.name, *first.alike}, told
    elif not first.alike:  # a moved shield hardly shows, and its group says so
        assert found.faults[fault] > 0.6, told


def test_a_healthy_lot_is_not_accused(plan: LaunchPlan, prepared: Prepared) -> None:
    assert compare(prepared.scene, prepared.suspects).none > 0.5


def test_voltages_tell_a_cold_bath_and_an_ammeter_from_an_efficiency(plan: LaunchPlan) -> None:
    prepared = prepare(plan, lot(plan, {}, 7, volts=True))
    for fault, size in (("nickel_bath_cold", -20.0), ("bright_ammeter_off", 0.8)):
        found = seen(plan, prepared, lot(plan, {fault: size}, 11, volts=True))
        assert found.causes[0].name == fault, [(c.name, c.probability) for c in found.causes[:4]]


def test_what_to_measure_next_and_the_way_back(plan: LaunchPlan) -> None:
    found = explain(plan, lot(plan, {"semi_efficiency_low": 0.8}, 11))
    best = {r.measurement.name for r in found.next[:3]}
    assert "coupon" in best and best & {"ampere_hours", "crane_log"}, best
    # the share of semi-bright nickel has fallen below 60 %: more current or time in that bath brings it back
    way = correct(found)
    assert way.verdict == "move"
    moved = {move.parameter for move in way.corrections[0].moves}
    assert moved & {"nickel.density_semi", "nickel.time_semi", "nickel.density_bright", "nickel.time_bright"}, moved
    assert way.outside > 0.5 and way.corrections[0].probability > 0.9
    # shields, anodes and the rack can be moved as well
    assert {"anodes.shield_shift", "anodes.anode_shift", "anodes.rack_along"} <= set(plan.job.changes)
