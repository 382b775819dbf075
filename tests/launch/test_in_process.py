"""Readings beside the test of function: benches, parameters measured directly, rig checks, and their sheets."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import at_nominal
from firstoff.chain.station import Columns
from firstoff.errors import InputFault
from firstoff.launch.demo import copy_example
from firstoff.launch.explaining.explain import explain, read_trial
from firstoff.launch.explaining.suspects import prepare
from firstoff.launch.plan import LaunchPlan, with_checks


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return copy_example("light_truck_front", tmp_path)


@pytest.fixture
def plan(sheet: Path) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet))


def at_rest(plan: LaunchPlan, **changed: float) -> Columns:
    whole = with_checks(plan)
    columns = at_nominal(values_of(whole.stations, whole.plans))
    columns |= {name.replace("__", "."): np.array([value]) for name, value in changed.items()}
    return run(whole.stations, whole.plans, Ensemble(columns, {})).columns


def notch(area: float, depth: float, length: float) -> float:
    """Flow at 1 bar [m3/s]: dp = rho/(2 Cd^2) u^2 + 12 L/h^2 mu u, solved by the school's formula."""
    rho, mu, cd = 850.0, 15e-6 * 850.0, 0.70
    a, b, c = rho / (2 * cd**2), 12.0 * length / depth**2 * mu, -1e5
    return area * (-b + math.sqrt(b * b - 4 * a * c)) / (2 * a)


def test_bench_flows_of_the_example_are_those_of_its_notches(plan: LaunchPlan) -> None:
    # closed form: orifice and plate flow in series (Hagen-Poiseuille); below the cracking pressure only notches pass
    found = at_rest(plan)
    ring = 0.05e-6
    assert found["bench_flow_rebound"][0] == pytest.approx(notch(4 * 1.8e-3 * 0.2e-3 + ring, 0.2e-3, 1e-3), rel=1e-9)
    assert found["bench_leak_piston"][0] == pytest.approx(notch(ring, 0.2e-3, 1e-3), rel=1e-9)
    assert found["bench_flow_compression"][0] == pytest.approx(notch(2 * 1.5e-3 * 0.18e-3, 0.18e-3, 0.8e-3), rel=1e-9)
    assert found["bench_leak_intake"][0] == 0.0
    leaky = at_rest(plan, base_valve__intake_leak_area=0.3e-6)
    assert leaky["bench_leak_intake"][0] == pytest.approx(notch(0.3e-6, 0.18e-3, 0.8e-3), rel=1e-9)
    more = leaky["bench_flow_compression"][0] - found["bench_flow_compression"][0]
    assert more == pytest.approx(leaky["bench_leak_intake"][0], rel=1e-9)


def test_a_leak_of_the_intake_acts_as_notches_of_its_area_would(plan: LaunchPlan) -> None:
    # law: areas of one laminar loss add up, wherever they are
    leak = at_rest(plan, base_valve__intake_leak_area=0.54e-6)
    notches = at_rest(plan, base_valve__compression_bleed_count=4.0)
    for name in plan.job.characteristics:
        if name.startswith(("rebound", "compression")):
            assert leak[name][0] == pytest.approx(notches[name][0], rel=1e-12)


def test_gas_force_at_two_positions_obeys_the_gas_law(plan: LaunchPlan) -> None:
    # ideal gas at one temperature (Boyle): p V = const, V smaller by the rod's area times its way in
    found = at_rest(plan)
    rod = math.pi / 4 * found["rod_diameter"][0] ** 2
    p = {side: 101_325.0 - found[f"gas_force_{side}"][0] / rod for side in ("out", "in")}
    middle = found["gas_pressure"][0]
    warm = 260e-6 * 0.00075 * 3.0  # the oil grows by 3 K from charging to test
    room = found["gas_volume"][0] - warm - rod * 0.100
    assert p["out"] * (room + rod * 0.05) == pytest.approx(middle * room, rel=1e-9)
    assert p["in"] * (room - rod * 0.05) == pytest.approx(middle * room, rel=1e-9)
    assert found["gas_force_in"][0] < found["static_gas_force"][0] < found["gas_force_out"][0] < 0.0


def test_springs_weight_and_strokes(plan: LaunchPlan) -> None:
    found = at_rest(plan)
    assert found["spring_force_compression"][0] == pytest.approx(150e3 * (10.000e-3 - 9.633e-3))  # Hooke
    assert found["spring_force_rebound"][0] == pytest.approx(84.0)
    assert (found["cell_unclamped"][0], found["cell_dead_weight"][0]) == (0.0, 500.0)
    # kinematics: v = pi S f, at 1.5 m/s and 100 mm
    assert found["strokes_per_minute"][0] * 60 == pytest.approx(60 * 1.5 / (math.pi * 0.1))
    # the crimp moves the assembled preload, not the loose spring
    long = at_rest(plan, base_valve__crimp_length=9.733e-3)
    assert long["spring_force_compression"] == found["spring_force_compression"]
    assert long["base_relief_preload"][0] == pytest.approx(150e3 * 0.267e-3)


def test_checks_are_computed_when_the_sheet_limits_one(sheet: Path, plan: LaunchPlan) -> None:
    assert "valve_bench" not in plan.plans  # a prediction does not pay for what nobody asked
    entry = '\n[characteristics.bench_flow_rebound]\nunit = "l/min"\nlimits = "0.7 to 0.8 l/min"\n'
    sheet.write_text(sheet.read_text("utf-8") + entry, "utf-8")
    asked = launch.plan(launch.read_job(sheet))
    assert "valve_bench" in asked.plans and "rig_checks" not in asked.plans
    found = launch.predict(asked, builds=256, workers=1)
    flow = next(c for c in found.builds.characteristics if c.characteristic.name == "bench_flow_rebound")
    assert flow.outside is not None and flow.scatter is not None
    assert flow.scatter.mean == pytest.approx(asked.nominal["bench_flow_rebound"], rel=0.02)


LONG = "part,lot,group,characteristic,value,unit\n"


def write(path: Path, *rows: str) -> Path:
    path.write_text(LONG + "\n".join(rows) + "\n", "utf-8")
    return path


def test_a_parameter_is_read_and_expected_at_its_nominal(plan: LaunchPlan, tmp_path: Path) -> None:
    file = write(
        tmp_path / "r.csv", "P1,L,,base_valve.crimp_length,9.64,mm", "P1,L,,rebound_0.52,1.32,kN",
        "P1,L,,gas_charge.pressure,5.1,bar gauge", "rig,L,,cell_unclamped,30,N",
    )  # fmt: skip
    found = prepare(plan, read_trial(plan, file))
    s = found.scene
    assert s.parts == ("P1",)  # the rig is no part
    by_name = {name: i for i, name in enumerate(s.names)}
    crimp, pressure = by_name["base_valve.crimp_length"], by_name["gas_charge.pressure"]
    unit = found.units["base_valve.crimp_length"]
    assert s.expected[0, crimp] * unit == pytest.approx(9.633e-3)
    assert s.readings[0, crimp] * unit == pytest.approx(9.640e-3)
    # a sheet's ±0.020 mm is 3 sd, 30 % of the variance between lots; no model stands behind a drawing
    assert s.lot[crimp, crimp] * unit**2 == pytest.approx(0.3 * (0.020e-3 / 3) ** 2, rel=0.02)
    assert s.part[crimp, crimp] * unit**2 == pytest.approx(0.7 * (0.020e-3 / 3) ** 2, rel=0.02)
    assert s.model[crimp, crimp] * unit**2 == pytest.approx((5e-6) ** 2)  # the gauge's own u alone
    assert s.model[crimp, by_name["rebound_0.52"]] == 0.0
    assert s.readings[0, pressure] * found.units["gas_charge.pressure"] == pytest.approx(5.1e5 + 101_325.0)
    long = next(x for x in found.suspects if x.name == "crimp_long")
    assert long.shifts[:, crimp] * unit == pytest.approx(long.sizes)
    zero = next(x for x in found.suspects if x.name == "cell_zero")
    assert zero.shifts[:, by_name["cell_unclamped"]] == pytest.approx(zero.sizes)
    assert any("base_valve.crimp_length: gauge uncertainty unknown, u = 0.005 mm" in a for a in found.assumptions)


def test_a_pressure_must_say_which_it_is(plan: LaunchPlan, tmp_path: Path) -> None:
    file = write(tmp_path / "r.csv", "P1,L,,charge_pressure,6.0,bar", "P1,L,,friction,20,N gauge")
    with pytest.raises(InputFault) as fault:
        read_trial(plan, file)
    assert [m.what for m in fault.value.messages] == [
        "does not say gauge or absolute", "says gauge, which this value is not"
    ]  # fmt: skip


def test_loose_parts_need_no_temperature(plan: LaunchPlan, sheet: Path, tmp_path: Path) -> None:
    trial = read_trial(plan, sheet.parent / "first_offs.csv")
    more = read_trial(plan, write(tmp_path / "s.csv", *(f"S{i},L1,,spring_force_rebound,{69 + i % 3},N"
                                                        for i in range(6))))  # fmt: skip
    both = replace(trial, readings=(*trial.readings, *more.readings))
    before, after = explain(plan, trial), explain(plan, both)
    assert "damper_warm" not in after.found.faults  # the tests' own temperatures are known
    assert before.found.causes[0].name == after.found.causes[0].name == "rebound_relief_weak"
    assert after.found.causes[0].probability > before.found.causes[0].probability
    narrower = [c.high - c.low for c in (before.found.causes[0], after.found.causes[0]) if c.high and c.low]
    assert narrower[1] <= narrower[0]


def test_a_gauge_of_the_plant_sheet_may_measure_a_parameter(sheet: Path, tmp_path: Path) -> None:
    plant = sheet.parent / "plant.toml"
    entry = (
        '\n[[gauge]]\nname = "height gauge 3"\nmeasures = "base_valve.crimp_length"\nu = "0.002 mm"\nsource = "study"\n'
    )
    plant.write_text(plant.read_text("utf-8") + entry, "utf-8")
    job = launch.read_job(sheet)
    assert not job.remarks
    plan = launch.plan(job)
    found = prepare(plan, read_trial(plan, write(tmp_path / "r.csv", "P1,L,,base_valve.crimp_length,9.64,mm")))
    assert found.scene.noise[0, 0] * found.units["base_valve.crimp_length"] ** 2 == pytest.approx((2e-6) ** 2)


def test_prove_judges_a_parameter_by_its_tolerance_on_the_sheet(sheet: Path, tmp_path: Path) -> None:
    plant = sheet.parent / "plant.toml"
    entry = (
        '\n[[gauge]]\nname = "height gauge 3"\nmeasures = "base_valve.crimp_length"\nu = "0.002 mm"\nsource = "study"\n'
    )
    plant.write_text(plant.read_text("utf-8") + entry, "utf-8")
    readings = [f"P{i},L,,base_valve.crimp_length,{v},mm" for i, v in enumerate((9.635, 9.700))]
    proof = launch.prove(launch.read_job(sheet), write(tmp_path / "r.csv", *readings))
    verdicts = [v.verdict for v in proof.judgement.parts]
    assert verdicts == ["conforms", "does not conform"]
    assert (proof.judgement.parts[0].low, proof.judgement.parts[0].high) == pytest.approx((9.613e-3, 9.653e-3))


def add_faults(sheet: Path, *lines: str) -> None:
    plant = sheet.parent / "plant.toml"
    plant.write_text(plant.read_text("utf-8") + "\n[faults]\n" + "\n".join(lines) + "\n", "utf-8")


def test_the_plant_sheet_says_how_often_faults_happen(sheet: Path) -> None:
    add_faults(sheet, 'rebound_relief_weak = "3 per 200"', "cell_zero = 40", "no_gas = 0")
    plan = launch.plan(launch.read_job(sheet))
    faults = {f.name: f for f in plan.job.family.faults}
    assert [faults[n].per_thousand for n in ("rebound_relief_weak", "cell_zero", "no_gas")] == [15.0, 40.0, 0.0]
    found = explain(plan, read_trial(plan, sheet.parent / "first_offs.csv"))
    priors = {s.name: s.prior for s in found.prepared.suspects}
    assert priors["cell_zero"] == pytest.approx(0.040) and "no_gas" not in priors
    said = " | ".join(found.assumptions)
    assert "no gas is excluded: it never happens (plant.toml:" in said
    assert "rig: force cell not zeroed happens in 40 of 1000 launches (plant.toml:" in said


def test_a_wrong_rate_or_fault_is_named(sheet: Path) -> None:
    add_faults(sheet, "rebound_relief_week = 5", 'cell_zero = "often"', "no_gas = -1", "gas_low = 1001")
    with pytest.raises(InputFault) as fault:
        launch.read_job(sheet)
    said = {m.key: m for m in fault.value.messages}
    assert said["faults.rebound_relief_week"].nearest == "rebound_relief_weak"
    assert all(m.line > 0 and m.file.endswith("plant.toml") for m in said.values())
    assert {said[f"faults.{n}"].what for n in ("cell_zero", "no_gas", "gas_low")} == {"is not a rate"}


def test_the_wrong_piston_differs_in_ports_and_seat(plan: LaunchPlan) -> None:
    fault = next(f for f in plan.job.family.faults if f.name == "wrong_piston_small")
    moved = {m.name.split(".")[1] for m in fault.moves}
    assert {"rebound_port_diameter", "rebound_seat_diameter", "rebound_pressure_diameter"} <= moved
    small = at_rest(plan, **{m.name.replace(".", "__"): 0.9 * at_rest(plan)[m.name][0] for m in fault.moves})
    # physics: narrower ports and stiffer short discs make rebound harder at speed
    assert small["rebound_1.5"][0] > at_rest(plan)["rebound_1.5"][0]
