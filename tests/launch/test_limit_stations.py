"""Limits that the curve hides, through plan and predict of the sports car's sheet."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.predict import nominal
from firstoff.chain.station import Value
from firstoff.errors import InputFault
from firstoff.launch.account import plan_text
from firstoff.stations.damper.filling_limits import FillingLimits
from firstoff.stations.damper.strength_limits import StrengthLimits

EXAMPLE = Path(launch.__file__).parents[1] / "examples" / "low_sports_car_front"
NAMES = ("oil_level_tilted", "gas_pressure_hot", "foaming_margin", "oven_safety", "tube_safety", "rod_buckling_safety",
         "rod_safety", "bottoming_speed")  # fmt: skip


@pytest.fixture(scope="module")
def plan() -> launch.LaunchPlan:
    return launch.plan(launch.read_job(EXAMPLE / "damper.toml"))


def with_nominal(plan: launch.LaunchPlan, **changed: float) -> dict[str, float]:
    """Nominal characteristics with some parameters (`station__parameter`) put elsewhere, SI."""
    at = {name.replace("__", "."): value for name, value in changed.items()}

    def put(v: Value) -> Value:
        return replace(v, nominal=at.pop(v.name)) if v.name in at else v

    plans = {k: replace(p, values=tuple(put(v) for v in p.values)) for k, p in plan.plans.items()}
    assert not at
    return dict(nominal(plan.stations, plans))


def test_nominal_by_hand(plan: launch.LaunchPlan) -> None:
    """Drawing values put into the closed forms, on paper: oil, gas, oven, buckling, stop."""
    n = plan.nominal
    oil = 290e-6 * (1.0 + 7.5e-4 * (233.15 - 288.15))
    tube = 0.25 * math.pi * (n["bore"] ** 2 * 0.200 - n["rod_diameter"] ** 2 * 0.020)
    level = (oil - tube) / (0.25 * math.pi * (0.054**2 - (n["bore"] + 0.003) ** 2))
    assert n["oil_level_cold"] == pytest.approx(level, rel=1e-9)
    assert n["oil_level_tilted"] == pytest.approx(level - 0.027 * math.tan(math.radians(20.0)), rel=1e-9)
    charged_oil = 290e-6 * (1.0 + 7.5e-4 * (295.15 - 288.15))
    gas = 400e-6 - charged_oil
    rod = 0.25 * math.pi * n["rod_diameter"] ** 2
    hot = 701325.0 * 393.15 / 295.15 * gas / (gas - 290e-6 * 7.5e-4 * 98.0 - rod * 0.140)
    assert n["gas_pressure_hot"] == pytest.approx(hot, rel=1e-9)
    oven = 701325.0 * 353.15 / 295.15 * gas / (gas - 290e-6 * 7.5e-4 * 58.0)
    assert n["oven_pressure"] == pytest.approx(oven, rel=1e-9)
    ri, ro = 0.027, 0.0285
    hoop = (oven * (ro**2 + ri**2) - 2.0 * 101325.0 * ro**2) / (ro**2 - ri**2)
    assert n["oven_safety"] == pytest.approx(0.9 * 240e6 / hoop, rel=1e-9)
    energy = 60e3 * 0.030**2 * (0.5 + 3.0 / 4.0)
    assert n["bottoming_speed"] == pytest.approx(math.sqrt(2.0 * energy / 320.0), rel=1e-9)
    assert n["peak_pressure"] > n["gas_pressure"]


def test_they_are_computed_where_a_sheet_limits_them_and_only_there(plan: launch.LaunchPlan) -> None:
    assert set(NAMES) <= set(plan.characteristics)
    assert {FillingLimits.name, StrengthLimits.name} <= set(plan.plans)
    for name in NAMES:
        assert name in plan_text(plan)
    other = launch.plan(launch.read_job(EXAMPLE.parent / "soft_saloon_front" / "damper.toml"))
    assert not {FillingLimits.name, StrengthLimits.name} & set(other.plans)


def test_prediction_has_scatter_and_a_share_outside(plan: launch.LaunchPlan) -> None:
    found = launch.predict(plan, builds=1024)
    by_name = {c.characteristic.name: c for c in found.builds.characteristics}
    for name in NAMES:
        c = by_name[name]
        assert c.scatter is not None and c.outside is not None
        assert c.outside.without_value == 0
        assert name == "bottoming_speed" or c.scatter.sd > 0.0
    # first-order law of scatter: the level takes 1/area of the oil's scatter, its largest share by far
    area = 0.25 * math.pi * (0.054**2 - 0.039**2)
    assert by_name["oil_level_tilted"].scatter.sd == pytest.approx(1e-6 / area, rel=0.15)  # type: ignore[union-attr]


def test_laws(plan: launch.LaunchPlan) -> None:
    """Directions that anybody in the trade would name."""
    n = plan.nominal
    less_oil = with_nominal(plan, oil_fill__volume=280e-6)
    assert less_oil["oil_level_cold"] < n["oil_level_cold"]
    assert less_oil["gas_pressure_hot"] < n["gas_pressure_hot"]
    less_gas = with_nominal(plan, gas_charge__pressure=3e5)
    assert less_gas["foaming_margin"] < n["foaming_margin"] - 2e5
    assert less_gas["oven_safety"] > n["oven_safety"]
    assert with_nominal(plan, filling_limits__oven_temperature=453.15)["oven_safety"] < n["oven_safety"]
    assert with_nominal(plan, strength_limits__abuse_speed=5.0)["tube_safety"] < n["tube_safety"]
    assert with_nominal(plan, strength_limits__rod_length=0.5)["rod_buckling_safety"] < n["rod_buckling_safety"]
    assert with_nominal(plan, strength_limits__side_load=0.0)["rod_safety"] > n["rod_safety"]
    assert with_nominal(plan, strength_limits__tube_wall=3e-3)["tube_hoop_stress"] < 0.6 * n["tube_hoop_stress"]


def test_what_cannot_be_has_no_value(plan: launch.LaunchPlan) -> None:
    """Oil that leaves the gas no room, and a reserve tube narrower than the pressure tube."""
    full = with_nominal(plan, oil_fill__volume=390e-6)
    assert math.isnan(full.get("gas_pressure_hot", math.nan))
    narrow = with_nominal(plan, filling_limits__reserve_bore=0.030)
    assert math.isnan(narrow.get("oil_level_cold", math.nan))
    assert math.isfinite(narrow["gas_pressure_hot"])


def test_status_counts_a_dry_build(plan: launch.LaunchPlan) -> None:
    station = FillingLimits((1.04,))
    settled = plan.plans[station.name]
    columns = {v.name: np.array([v.nominal] * 2) for p in plan.plans.values() for v in p.values}
    for s in plan.stations:
        if s.name != station.name:
            columns |= s.run(plan.plans[s.name], columns)[0]
    columns["oil_volume_15"] = columns["oil_volume_15"] * np.array([1.0, 0.6])
    given, status = station.run(settled, columns)
    assert status[0] == 0
    assert status[1] != 0
    assert given["oil_level_cold"][1] < 0.0 < given["oil_level_cold"][0]


def test_cautions_name_oven_and_burst(plan: launch.LaunchPlan) -> None:
    said = " ".join(c for p in plan.plans.values() for c in p.cautions)
    assert "a charged damper in an oven can burst" in said
    assert "local codes" in said
    # the figure of the caution is the station's own
    shown = plan.nominal["oven_pressure"] / 1e5
    assert f"{shown:.3g} bar abs in a paint oven at 80 °C" in said


def test_drawings_that_exclude_themselves_are_refused(tmp_path: Path) -> None:
    text = (EXAMPLE / "damper.toml").read_text("utf-8")
    text = text.replace('"54 ±0.1 mm"', '"38 mm"').replace('travel = "140 mm"', 'travel = "190 mm"')
    (tmp_path / "plant.toml").write_text((EXAMPLE / "plant.toml").read_text("utf-8"), "utf-8")
    (tmp_path / "damper.toml").write_text(text, "utf-8")
    with pytest.raises(InputFault) as fault:
        launch.plan(launch.read_job(tmp_path / "damper.toml"))
    keys = {m.key: m for m in fault.value.messages}
    assert set(keys) == {"filling_limits.reserve_bore", "filling_limits.travel"}
    lines = text.splitlines()
    for m in keys.values():
        assert m.found in lines[m.line - 1]
        assert m.allowed


def test_drawing_data_that_is_missing_is_named(tmp_path: Path) -> None:
    text = (EXAMPLE / "damper.toml").read_text("utf-8").replace('reserve_bore = "54 ±0.1 mm"\n', "")
    (tmp_path / "plant.toml").write_text((EXAMPLE / "plant.toml").read_text("utf-8"), "utf-8")
    (tmp_path / "damper.toml").write_text(text, "utf-8")
    with pytest.raises(InputFault, match="reserve_bore"):
        launch.plan(launch.read_job(tmp_path / "damper.toml"))
