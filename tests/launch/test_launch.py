"""The verbs on the example launch: laws that any correct tool must keep, and the planted fault."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.sample import at_nominal, sample
from firstoff.chain.station import Columns
from firstoff.launch.demo import copy_example
from firstoff.launch.plan import LaunchPlan

SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.04, 1.5)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> LaunchPlan:
    return launch.plan(launch.read_job(copy_example("light_truck_front", tmp_path_factory.mktemp("launch"))))


def build(plan: LaunchPlan, **moved: float) -> Columns:
    """One build at nominal, with some parameters moved; `station__parameter` stands for `station.parameter`."""
    columns = at_nominal([v for p in plan.plans.values() for v in p.values])
    columns |= {name.replace("__", "."): np.array([value]) for name, value in moved.items()}
    return run(plan.stations, plan.plans, Ensemble(columns, {})).columns


def at(plan: LaunchPlan, name: str) -> float:
    return next(v.nominal for p in plan.plans.values() for v in p.values if v.name == name)


def test_nominal_part_is_inside_its_limits(plan: LaunchPlan) -> None:
    for c in plan.characteristics.values():
        value = plan.nominal[c.name]
        assert c.low is None or value >= c.low
        assert c.high is None or value <= c.high


def test_force_grows_with_speed(plan: LaunchPlan) -> None:
    # common practice, no source: a passive valve's force never falls with speed
    forces = [plan.nominal[f"compression_{v:g}"] for v in reversed(SPEEDS)]
    forces += [plan.nominal[f"rebound_{v:g}"] for v in SPEEDS]
    assert all(a < b for a, b in zip(forces, forces[1:], strict=False))


@settings(max_examples=25, deadline=None)
@given(st.floats(0.1, 0.3), st.floats(1.01, 1.5))
def test_more_bleed_never_raises_the_force(plan: LaunchPlan, depth_mm: float, more: float) -> None:
    less = build(plan, piston_valve__rebound_bleed_depth=depth_mm * 1e-3)
    wide = build(plan, piston_valve__rebound_bleed_depth=depth_mm * more * 1e-3)
    for v in SPEEDS:
        assert wide[f"rebound_{v:g}"][0] <= less[f"rebound_{v:g}"][0] * (1 + 1e-9)


@settings(max_examples=15, deadline=None)
@given(st.floats(1.0, 30.0))
def test_a_weak_rebound_spring_shows_only_above_its_opening(plan: LaunchPlan, weak: float) -> None:
    now = build(plan, piston_valve__rebound_relief_preload=at(plan, "piston_valve.rebound_relief_preload") - weak)
    assert now["rebound_1.04"][0] < plan.nominal["rebound_1.04"] - weak
    assert now["rebound_0.05"][0] == pytest.approx(plan.nominal["rebound_0.05"], rel=1e-9)
    assert now["compression_1.04"][0] == pytest.approx(plan.nominal["compression_1.04"], rel=1e-9)


def test_a_deeper_crimp_stiffens_compression_only(plan: LaunchPlan) -> None:
    now = build(plan, base_valve__crimp_length=at(plan, "base_valve.crimp_length") - 0.2e-3)
    assert now["compression_1.5"][0] < plan.nominal["compression_1.5"] - 5.0
    assert now["base_relief_preload"][0] == pytest.approx(plan.nominal["base_relief_preload"] + 30.0)  # 150 N/mm
    assert now["rebound_1.5"][0] == pytest.approx(plan.nominal["rebound_1.5"], rel=1e-9)


def test_static_gas_force_is_the_gas_law(plan: LaunchPlan) -> None:
    # p (V)/T constant, by hand from the sheet: 5 bar gauge at 22 degC, rod 12.487 mm in by 100 mm, oil 25 degC
    area = np.pi / 4 * 0.012487**2
    room = 362e-6 - 260e-6 * (1 + 7.5e-4 * (22 - 15))
    left = room - 260e-6 * (1 + 7.5e-4 * (25 - 15)) + 260e-6 * (1 + 7.5e-4 * (22 - 15)) - area * 0.1
    pressure = 601325.0 * (298.15 / 295.15) * room / left
    assert plan.nominal["static_gas_force"] == pytest.approx(-(pressure - 101325.0) * area, rel=1e-4)


def test_more_oil_than_room_is_counted_and_named(plan: LaunchPlan) -> None:
    values = [v for p in plan.plans.values() for v in p.values]
    columns = sample(values, 0, 8, seed=1)
    columns["oil_fill.volume"][3] = 400e-6
    found = run(plan.stations, plan.plans, Ensemble(columns, {}))
    assert list(np.flatnonzero(~found.has_value)) == [3]
    assert np.isnan(found.columns["rebound_0.52"][3])


def test_same_numbers_on_one_worker_and_two(plan: LaunchPlan) -> None:
    one = launch.predict(plan, builds=6000, seed=5, workers=1)
    two = launch.predict(plan, builds=6000, seed=5, workers=2)
    assert one.builds == two.builds
    assert np.array_equal(one.shares.total, two.shares.total)
    assert launch.predict(plan, builds=6000, seed=6, workers=1).builds != one.builds


def test_inch_and_millimetre_sheets_agree(tmp_path: Path, plan: LaunchPlan) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    text = sheet.read_text("utf-8")

    def inches(match: re.Match[str]) -> str:
        return f'= "{float(match[1]) / 25.4!r} in"'

    turned, count = re.subn(r'= "([0-9.]+) mm"', inches, text)
    turned, more = re.subn(
        r'= "([0-9.]+) ±([0-9.]+) mm"',
        lambda m: f'= "{float(m[1]) / 25.4!r} ±{float(m[2]) / 25.4!r} in"',
        turned,
    )
    assert count + more > 30
    sheet.write_text(turned, "utf-8")
    other = launch.plan(launch.read_job(sheet))
    for name, value in plan.nominal.items():
        assert other.nominal[name] == pytest.approx(value, rel=1e-9), name


def test_one_lot_scatters_less_than_the_plant(plan: LaunchPlan) -> None:
    # a lot's common offset cannot show within it: sd of parts of one lot is smaller
    values = [v for p in plan.plans.values() for v in p.values]
    lot = run(plan.stations, plan.plans, Ensemble(sample(values, 0, 512, 1, parts_per_lot=512), {}))
    plant = run(plan.stations, plan.plans, Ensemble(sample(values, 0, 512, 1), {}))
    assert lot.columns["rebound_1.04"].std() < 0.9 * plant.columns["rebound_1.04"].std()


def test_the_planted_spring_is_judged(tmp_path: Path) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    proof = launch.prove(launch.read_job(sheet), tmp_path / "first_offs.csv")
    bad = {v.characteristic for v in proof.judgement.lots if v.verdict == "does not conform"}
    assert bad == {"rebound_0.52", "rebound_1.04", "rebound_1.5"}


def test_limits_alone_are_enough_to_prove(tmp_path: Path) -> None:
    (tmp_path / "m.toml").write_text(
        '[model]\nname = "m"\nfamily = "damper"\nplant = "p.toml"\n[characteristics.rod_runout]\nunit = "mm"\n'
        'limits = "<= 0.05 mm"\n',
        "utf-8",
    )
    (tmp_path / "p.toml").write_text(
        '[plant]\nname = "p"\n[[gauge]]\nname = "dial"\nmeasures = "rod_runout"\nu = "2 um"\nsource = "assumed: x"\n',
        "utf-8",
    )
    (tmp_path / "r.csv").write_text("\ufeffPart;rod_runout [um]\n\nA;12,5\nB;60\nC;50\n", "utf-8")
    proof = launch.prove(launch.read_job(tmp_path / "m.toml"), tmp_path / "r.csv")
    assert [v.verdict for v in proof.judgement.parts] == ["conforms", "does not conform", "not proven"]


def test_measured_capability_outranks_the_tolerance(plan: LaunchPlan) -> None:
    value = next(v for v in plan.plans["piston_valve"].values if v.name.endswith("rebound_relief_preload"))
    assert value.lot is not None
    assert value.part is not None
    assert (value.lot.sd, value.part.sd) == (1.3, 1.1)
    assert "spring check" in value.lot.source


def test_lot_and_part_share_add_up_to_the_stated_total(plan: LaunchPlan) -> None:
    value = next(v for v in plan.plans["piston_valve"].values if v.name.endswith("rebound_disc_thickness"))
    assert value.lot is not None
    assert value.part is not None
    assert np.hypot(value.lot.sd, value.part.sd) == pytest.approx(0.008e-3 / 3, rel=1e-12)  # ± read as 3 sd


def settled(tmp_path: Path, given: str, capability: str = "") -> object:
    """The example's rod diameter written as `given`, with measured scatter or without."""
    sheet = copy_example("light_truck_front", tmp_path)
    text = re.sub(r'(\[piston_rod\]\ndiameter = )"[^"]*"', rf'\1"{given}"', sheet.read_text("utf-8"))
    sheet.write_text(text, "utf-8")
    plant = tmp_path / "plant.toml"
    if capability:
        entry = f'\n[[capability]]\nparameter = "piston_rod.diameter"\nsource = "data"\n{capability}\n'
        plant.write_text(plant.read_text("utf-8") + entry, "utf-8")
    return launch.plan(launch.read_job(sheet)).plans["piston_rod"].values[0]


def levels(value: object) -> list[tuple[float, float, str]]:
    spreads = (value.lot, value.part)  # type: ignore[attr-defined]
    return [(s.sd * 1e3, s.offset * 1e3, s.shape) if s else (0.0, 0.0, "") for s in spreads]


def test_a_range_keeps_its_ends(tmp_path: Path) -> None:
    lot, part = levels(settled(tmp_path, "12.48 to 12.50 mm"))
    assert lot == (pytest.approx(0.02 / np.sqrt(12)), pytest.approx(0.0), "uniform")  # sd of a uniform distribution
    assert part[0] == 0.0


def test_a_level_that_was_not_measured_keeps_the_drawings_share(tmp_path: Path) -> None:
    lot, part = levels(settled(tmp_path, "12.487 +0.012/-0.006 mm", 'part_sd = "1 um"'))
    assert lot[0] == pytest.approx(0.009 / 3 * np.sqrt(0.5))
    assert part[:2] == (pytest.approx(0.001), pytest.approx(0.003))  # the mean stays in the middle of the tolerance


def test_a_named_level_read_from_a_tolerance_is_listed_as_assumed(tmp_path: Path) -> None:
    value = settled(tmp_path, "12.487 mm, lot ±0.003 mm, part ±0.006 mm")
    assert value.assumed  # type: ignore[attr-defined]
    assert [sd for sd, _, _ in levels(value)] == [pytest.approx(0.001), pytest.approx(0.002)]


def test_limits_must_fit_what_the_station_computes(tmp_path: Path) -> None:
    from firstoff.errors import InputFault

    sheet = copy_example("light_truck_front", tmp_path)
    text = sheet.read_text("utf-8")
    entry = '\n[characteristics.charge_pressure]\nunit = "bar"\nlimits = "{}"\n'
    sheet.write_text(text + entry.format("5.0 ±0.4 bar"), "utf-8")
    with pytest.raises(InputFault, match="gauge or abs"):
        launch.plan(launch.read_job(sheet))
    sheet.write_text(text + entry.format("5.0 bar gauge ±0.4 bar"), "utf-8")
    limits = launch.plan(launch.read_job(sheet)).characteristics["charge_pressure"]
    assert limits.low == pytest.approx(4.6e5 + 101325.0)
    sheet.write_text(text.replace('unit = "mm"\nlimits = "32 ±0.03 mm"', 'unit = "N"\nlimits = "32 ±0.03 N"'), "utf-8")
    (tmp_path / "plant.toml").write_text('[plant]\nname = "p"\n[damping_rig]\nstroke = "100 mm"\n', "utf-8")
    with pytest.raises(InputFault, match="another dimension"):
        launch.plan(launch.read_job(sheet))


def test_an_oil_that_thickens_with_heat_is_a_build_without_value(plan: LaunchPlan) -> None:
    values = [v for p in plan.plans.values() for v in p.values]
    columns = sample(values, 0, 8, seed=1)
    columns["oil_fill.viscosity_100"][2] = 20e-6
    found = run(plan.stations, plan.plans, Ensemble(columns, {}))
    assert list(np.flatnonzero(~found.has_value)) == [2]


def test_the_port_loses_pressure_at_its_own_speed() -> None:
    # second route: port and disc gap as two passages in series at equal flow, solved by brentq
    from scipy.optimize import brentq

    from firstoff.physics.damper.valve import flow, valve_row

    rho, mu, cd, port, port_a, dp = 860.0, 0.3, 0.7, 8e-6, 1.1e5, 6e5
    fields = {"disc_perimeter": 0.05, "disc_compliance": 2.5e-11, "disc_preload": 2.5e5}
    gap = 0.05 * 2.5e-11 * (dp - 2.5e5)

    def loss(q: float) -> float:
        return rho / (2 * cd**2) * ((q / port) ** 2 + (q / gap) ** 2) + port_a * mu * q / port

    wanted = brentq(lambda q: loss(q) - dp, 0.0, 1e-3, xtol=1e-16)
    found = flow(dp, valve_row(port_area=port, port_a=port_a, **fields), rho, mu, cd)
    assert found == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(
    ("written", "moved"),
    [
        ('diameter = "12.487 ±0.010 mm"', 'diameter = "39 mm"'),
        ('viscosity_40 = "12.5 mm2/s, sd 0.3 mm2/s"', 'viscosity_40 = "2.5 mm2/s"'),
        ('inner_volume = "362 ±3 cm3"', 'inner_volume = "250 ±3 cm3"'),
        ('rebound_clamp_diameter = "11 mm"', 'rebound_clamp_diameter = "18 mm"'),
    ],
)
def test_a_launch_that_cannot_work_is_counted_and_drawn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, written: str, moved: str
) -> None:
    from importlib import import_module

    monkeypatch.setattr(import_module("firstoff.launch.plan"), "contradictions", lambda job: [])  # which refuses them
    sheet = copy_example("light_truck_front", tmp_path)
    sheet.write_text(sheet.read_text("utf-8").replace(written, moved), "utf-8")
    found = launch.predict(launch.plan(launch.read_job(sheet)), builds=64)
    assert found.builds.any_outside.share == 1.0
    assert any("no value" in words for of_station in found.builds.status.values() for words in of_station)
    assert launch.write_prediction(found, tmp_path / "out")
    assert launch.write_curve(found, tmp_path / "out")


def test_a_scatter_drawn_below_absolute_zero_loses_only_those_builds(tmp_path: Path) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    plant = tmp_path / "plant.toml"
    entry = '\n[[capability]]\nparameter = "gas_charge.temperature"\nlot_sd = "200 K"\npart_sd = "0 K"\nsource = "x"\n'
    plant.write_text(plant.read_text("utf-8") + entry, "utf-8")
    found = launch.predict(launch.plan(launch.read_job(sheet)), builds=256)
    assert 0 < found.builds.any_outside.without_value < 256


def test_a_scatter_in_degrees_celsius_is_a_difference_or_refused(tmp_path: Path) -> None:
    from firstoff.errors import InputFault

    sheet = copy_example("light_truck_front", tmp_path)
    plant = tmp_path / "plant.toml"
    text = plant.read_text("utf-8")
    entry = '\n[[capability]]\nparameter = "gas_charge.temperature"\nlot_sd = "{}"\nsource = "x"\n'
    plant.write_text(text + entry.format("2 K"), "utf-8")
    value = launch.plan(launch.read_job(sheet)).plans["gas_charge"].values[1]
    assert value.lot is not None
    assert value.lot.sd == pytest.approx(2.0)
    plant.write_text(text + entry.format("2 degC"), "utf-8")
    with pytest.raises(InputFault, match="temperature, not a difference"):
        launch.read_job(sheet)


def test_a_station_whose_model_fails_at_nominal_is_named_by_check_and_plan(tmp_path: Path, plan: LaunchPlan) -> None:
    from firstoff.launch.account import plan_text

    assert plan.warnings == []
    sheet = copy_example("light_truck_front", tmp_path)
    text = sheet.read_text("utf-8")
    moved = text.replace('intake_port_diameter = "3.10', 'intake_port_diameter = "0.40')  # starves the rebound
    assert moved != text
    sheet.write_text(moved, "utf-8")
    report = launch.check(sheet)
    assert [m.key for m in report.messages] == ["damping_rig"]
    assert "cavitating at nominal settings" in report.messages[0].what
    assert "WARNING  damping_rig: " in plan_text(launch.plan(report.job))


def test_a_part_named_like_a_formula_is_harmless_in_a_spreadsheet(tmp_path: Path) -> None:
    from firstoff.launch.account_proof import verdicts_csv

    sheet = copy_example("light_truck_front", tmp_path)
    (tmp_path / "r.csv").write_text("part,friction [N]\n=1+1,20\n", "utf-8")
    page = verdicts_csv(launch.prove(launch.read_job(sheet), tmp_path / "r.csv"))
    assert page.splitlines()[1].startswith("'=1+1,")


def test_an_oil_is_thicker_or_thinner_as_a_whole(plan: LaunchPlan) -> None:
    from dataclasses import replace

    from firstoff.chain.predict import values_of

    together = [v for v in values_of(plan.stations, plan.plans) if not v.name.startswith("damping_rig.oil_temp")]
    cold = [v for v in values_of(plan.stations, plan.plans) if v.name.startswith("damping_rig.oil_temp")]
    cold = [replace(v, nominal=253.15, lot=None, part=None) for v in cold]  # 60 K below the first known point
    alone = [replace(v, follows="", correlation=0.0) for v in together]
    spread = {}
    for name, values in (("together", together), ("alone", alone)):
        columns = run(plan.stations, plan.plans, Ensemble(sample([*values, *cold], 0, 4096, 1), {})).columns
        spread[name] = columns["oil_viscosity"].std() / columns["oil_viscosity"].mean()
        thick, thin = columns["oil_fill.viscosity_40"], columns["oil_fill.viscosity_100"]
        assert (thick.std(), thin.std()) == pytest.approx((0.3e-6, 0.06e-6), rel=0.02)  # as the sheet states them
    # Walther's law is a straight line through two points: independent errors of both ends turn it
    assert spread["together"] < 0.75 * spread["alone"]


def test_soft_discs_stiffen_at_speed_and_a_stop_ends_their_lift(plan: LaunchPlan) -> None:
    off = {"piston_valve__disc_stiffening": 0.0, "base_valve__disc_stiffening": 0.0}
    plain = build(plan, **off)
    # a stiffer check costs force at speed, and next to nothing where it lifts by less than its thickness
    assert plan.nominal["compression_1.5"] < plain["compression_1.5"][0] - 50.0
    assert plan.nominal["compression_0.05"] == pytest.approx(plain["compression_0.05"][0], rel=5e-3)
    stopped = build(plan, piston_valve__check_lift_stop=1e-4)
    assert stopped["compression_1.5"][0] < plan.nominal["compression_1.5"] - 50.0
    assert stopped["compression_0.05"][0] == pytest.approx(plan.nominal["compression_0.05"], rel=1e-9)
    assert build(plan, piston_valve__check_lift_stop=5e-3)["compression_1.5"][0] == pytest.approx(
        plan.nominal["compression_1.5"], rel=1e-12
    )
