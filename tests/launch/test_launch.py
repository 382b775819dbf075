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
