"""Joints, trim, lamps, air and hitch of the example bumpers against closed forms, and what a wrong sheet is told."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.station import FloatArray
from firstoff.errors import InputFault
from firstoff.launch.plan import LaunchPlan, with_asked
from firstoff.launch.setup_pages import setup_pages
from firstoff.stations.settle import nominals

EXAMPLES = Path(launch.__file__).parents[1] / "examples"
NOMINAL, TORQUE, HOT, PLACE, PLATED = range(5)


def planned(name: str) -> LaunchPlan:
    return with_asked(launch.plan(launch.read_job(EXAMPLES / name / "bumper.toml")), ())


@pytest.fixture(scope="module")
def plan() -> LaunchPlan:
    return planned("truck_rear_bumper")


@pytest.fixture(scope="module")
def columns(plan: LaunchPlan) -> dict[str, FloatArray]:
    at = nominals(plan.stations, plan.job.settings)
    x = {name: np.full(5, value) for name, value in at.items()}
    x["assembly.torque"][TORQUE] *= 1.1
    x["fit_up.hot"][HOT] = 80.0
    x["fit_up.lamp_place"][PLACE] = 0.7e-3
    x["assembly.plated_embedding"][PLATED] = 12e-6
    return run(plan.stations, plan.plans, Ensemble(x, {})).columns


def test_bolts_follow_the_torque_and_lose_to_plating(columns: dict[str, FloatArray]) -> None:
    share, left = columns["proof_share"], columns["bolt_preload"]
    assert share[TORQUE] == pytest.approx(1.1 * share[NOMINAL], rel=1e-9)
    # M12x1.75: 84.3 mm2 (ISO 898-1), over 2.5 diameters; a quarter more compliance of the clamped parts
    stiff = 2.06e11 * 84.27e-6 / 0.030
    assert left[NOMINAL] - left[PLATED] == pytest.approx(12e-6 * stiff * 0.8, rel=1e-3)
    assert columns["strip_reserve"][NOMINAL] > 1.0


def test_prying_by_hand(columns: dict[str, FloatArray]) -> None:
    # EN 1993-1-8, mode 1: F = 4 M/m, M = l t2 fy/4; prying 2 M/n
    moment = 0.090 * 0.005**2 * 355e6 / 4.0
    assert columns["joint_pull"][NOMINAL] == pytest.approx(4.0 * moment / 0.025)
    pried = 2.0 * moment / 0.020
    assert columns["prying_share"][NOMINAL] == pytest.approx(pried / (4.0 * moment / 0.025 + pried))


def test_slots_and_holes_by_hand(columns: dict[str, FloatArray]) -> None:
    room, around = columns["slot_room_step_pad"], columns["clearance_plate_holder"]
    assert columns["growth_step_pad"][NOMINAL] == pytest.approx(98e-6 * 1.6 * 60.0)
    assert room[NOMINAL] == pytest.approx(0.5 * (19e-3 - 6e-3) - 0.5 * 98e-6 * 1.6 * 60.0)
    assert room[NOMINAL] - room[HOT] == pytest.approx(0.5 * 98e-6 * 1.6 * 20.0)
    assert around[NOMINAL] - around[PLACE] == pytest.approx(0.7e-3, abs=1e-6)


def test_the_hitch_is_a_safety_matter_and_has_a_page_that_says_so(plan: LaunchPlan) -> None:
    assert "0.75 mm each way" in dict(plan.plans["assembly"].setup)["slip in a hit"]  # half of 13.5 less 12 mm
    given = plan.plans["towing"].gives
    assert given and all(c.safety for c in given)
    page = dict(setup_pages(plan))["rig-towing"]
    assert any("physical test" in text for text in page.cautions)
    assert dict(page.lines)["rating"].startswith("class 3: trailer of 2268 kg")


def test_air_and_no_slip_of_the_front_bumper() -> None:
    front = planned("truck_front_bumper")
    assert front.nominal["cooling_area"] == pytest.approx(0.42 * 0.048 * 0.7)
    assert front.job.characteristics["joint_slip_corner"].high == 0.0
    assert "forbidden" in dict(front.plans["assembly"].setup)["slip in a hit"]


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('aperture = "plate"', 'aperture = "plat"', "is no hole of the face"),
        ('pin = "6 mm"', 'pin = "20 mm"', "does not go into the slot"),
        ('rating = "3"', 'rating = "9"', "rating"),
    ],
)
def test_a_wrong_sheet_is_told_where_it_is_wrong(tmp_path: Path, old: str, new: str, what: str) -> None:
    for name in ("bumper.toml", "plant.toml"):
        shutil.copy(EXAMPLES / "truck_rear_bumper" / name, tmp_path / name)
    file = tmp_path / "bumper.toml"
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), "utf-8")
    with pytest.raises(InputFault) as caught:
        launch.read_job(file)
    assert any(what in str(m) and m.line for m in caught.value.messages)
