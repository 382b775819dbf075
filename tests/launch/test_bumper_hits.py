"""From coil to hit: the example's bar on its brackets, with one thing wrong in each build."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.station import FloatArray
from firstoff.errors import InputFault
from firstoff.launch.hit_film import _bracket, film_hits
from firstoff.launch.plan import LaunchPlan, left_out, with_asked
from firstoff.launch.setup_pages import setup_pages
from firstoff.physics.impact import protocol
from firstoff.stations.bumper.mounting.impact_sheet import RADII
from firstoff.stations.settle import nominals

EXAMPLE = Path(launch.__file__).parents[1] / "examples" / "truck_rear_bumper"
HITS = """
[mounting]
bracket = "450 mm"

[[guarded_point]]
name = "lamp"
along = "740 mm"
clearance = "40 mm"

[[guarded_point]]
name = "tank"
along = "0 mm"
clearance = "60 mm"

[[hit]]
name = "middle"
kind = "pendulum"
protocol = "part581"

[[hit]]
name = "corner"
kind = "corner"
protocol = "part581"

[characteristics.room_lamp_corner]
unit = "mm"
limits = ">= 5 mm"

[characteristics.peak_force_middle]
unit = "kN"
limits = "<= 60 kN"

"""
MARK = "# Tonnage of the hits"
NOMINAL, SOFT, LOOSE, SHIM, MISSING, THICK = range(6)


def sheet(folder: Path, text: str = HITS) -> Path:
    for name in ("bumper.toml", "plant.toml"):
        shutil.copy(EXAMPLE / name, folder / name)
    file = folder / "bumper.toml"
    own = file.read_text("utf-8")
    if "[mounting]" in own:  # the example's own hits make room for these
        own = own[: own.index("[mounting]")] + own[own.index(MARK) :]
    file.write_text(own.replace(MARK, text + MARK), "utf-8")
    return file


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet(tmp_path_factory.mktemp("hits"))))


@pytest.fixture(scope="module")
def columns(plan: LaunchPlan) -> dict[str, FloatArray]:
    x = {name: np.full(6, value) for name, value in nominals(plan.stations, plan.job.settings).items()}
    for key in ("proof_stress", "tensile_strength"):
        x[f"coil.{key}"][SOFT] *= 0.85
    x["assembly.torque"][LOOSE] *= 0.2
    x["assembly.shim_right"][SHIM] = 3e-3
    x["impact.bracket_left"][MISSING] = 0.0
    x["coil.thickness"][THICK] *= 1.1
    found = run(plan.stations, plan.plans, Ensemble(x, {}))
    assert not found.status["impact"].any()
    return found.columns


def test_a_soft_coil_shows_as_more_set_and_less_force(columns: dict[str, FloatArray]) -> None:
    stays, force = columns["permanent_set_middle"], columns["peak_force_middle"]
    assert stays[SOFT] > 1.05 * stays[NOMINAL] > 0.0
    assert force[SOFT] < force[NOMINAL] < force[THICK]
    assert columns["intrusion_middle"][THICK] < columns["intrusion_middle"][NOMINAL]


def test_loose_bolts_let_the_joint_slip_within_its_hole(columns: dict[str, FloatArray]) -> None:
    slip, gap = columns["joint_slip_corner"], columns["slip_gap"]
    assert slip[NOMINAL] == 0.0
    assert 0.0 < slip[LOOSE] <= gap[LOOSE] * (1.0 + 1e-9)
    assert columns["slip_load"][LOOSE] == pytest.approx(0.2 * columns["slip_load"][NOMINAL], rel=1e-9)


def test_a_shim_moves_the_lamp_by_the_lever_of_the_brackets(columns: dict[str, FloatArray]) -> None:
    more = columns["room_lamp_corner"][SHIM] - columns["room_lamp_corner"][NOMINAL]
    assert more == pytest.approx(3e-3 * 0.5 * (1.0 + 740.0 / 450.0), rel=1e-6)


def test_in_a_corner_hit_the_near_bracket_bears_more_than_the_impact_and_the_far_one_pulls(
    columns: dict[str, FloatArray],
) -> None:
    assert columns["bracket_push_corner"][NOMINAL] > columns["peak_force_corner"][NOMINAL]
    assert columns["bracket_pull_corner"][NOMINAL] > 0.0
    assert columns["bracket_pull_corner"][MISSING] < 0.2 * columns["bracket_pull_corner"][NOMINAL]


def test_the_room_is_the_clearance_less_the_intrusion(columns: dict[str, FloatArray]) -> None:
    assert columns["room_tank_middle"][NOMINAL] == pytest.approx(0.060 - columns["intrusion_middle"][NOMINAL], abs=1e-9)


def test_the_film_of_a_hit_shows_the_force_and_the_rooms_that_the_station_gives(plan: LaunchPlan) -> None:
    middle, corner = film_hits(plan)
    assert (middle.name, corner.name) == ("middle", "corner")
    for hit in (middle, corner):
        assert hit.scene.filtered.max() == pytest.approx(plan.nominal[f"peak_force_{hit.name}"], rel=1e-3)
        for kept in hit.scene.kept:
            assert kept.room.min() == pytest.approx(plan.nominal[f"room_{kept.name}_{hit.name}"], abs=5e-5)


def test_explaining_other_readings_leaves_the_hits_out_and_says_so(plan: LaunchPlan) -> None:
    short = with_asked(plan, {"gap_upper_lip"})
    assert "impact" in plan.plans and "impact" not in short.plans
    assert not {f.name for f in short.job.family.faults} & {"load_cell_low"}
    assert set(left_out(short)) == {"room_lamp_corner", "peak_force_middle"}
    assert left_out(plan) == []


def test_the_rig_has_a_setup_sheet_that_says_what_the_pendulum_stores(plan: LaunchPlan) -> None:
    pages = dict(setup_pages(plan))
    lines = dict(pages["rig-impact"].lines)
    speed = 2.5 * 1609.344 / 3600.0
    stored, height = 0.5 * 1800.0 * speed**2, speed**2 / (2.0 * 9.80665)  # m v2/2 = m g h (textbook)
    assert f"{stored:.4g} J" in lines["middle: the pendulum stores"]
    assert f"{1e3 * height:.1f} mm" in lines["middle: the pendulum stores"]
    assert any("second catch" in c for c in pages["rig-impact"].cautions)


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('bracket = "450 mm"', 'bracket = "900 mm"', "beyond the bar"),
        ('kind = "pendulum"\nprotocol = "part581"', 'kind = "pendulum"', "needs a speed"),
        ('kind = "pendulum"\nprotocol = "part581"', 'kind = "barrier"\nprotocol = "r42"', "has none for a barrier"),
        ('along = "740 mm"', 'along = "1000 mm"', "beyond the bar"),
        ('name = "corner"\nkind', 'name = "middle"\nkind', "is taken"),
    ],
)
def test_a_wrong_sheet_is_told_where_it_is_wrong(tmp_path: Path, old: str, new: str, what: str) -> None:
    assert old in HITS
    with pytest.raises(InputFault) as caught:
        launch.read_job(sheet(tmp_path, HITS.replace(old, new)))
    assert any(what in str(m) and m.line for m in caught.value.messages)


def test_protocols_say_their_speeds_their_source_and_what_they_measure() -> None:
    """2.5 and 1.5 mph as 49 CFR 581.5(a) prints them; 4 and 2.5 km/h of UN R42, 10 km/h of the insurers from memory."""
    assert protocol.speed("part581", "pendulum") == pytest.approx(2.5 * 1609.344 / 3600.0)
    assert protocol.speed("part581", "corner") == pytest.approx(1.5 * 1609.344 / 3600.0)
    assert protocol.speed("r42", "pendulum") == pytest.approx(4.0 / 3.6)
    assert protocol.speed("r42", "barrier") is None
    assert protocol.speed("insurers", "barrier") == pytest.approx(10.0 / 3.6)
    assert protocol.speed("insurers", "pendulum") is None
    assert protocol.facts("insurers")["barrier_radius"].si == pytest.approx(RADII["contoured barrier"])
    assert "from memory" in protocol.source("insurers")
    assert "from memory" in protocol.source("r42")
    assert all("compl" not in protocol.measures(name) for name in protocol.PROTOCOLS)


def test_shaking_follows_thickness_brackets_and_torque(plan: LaunchPlan) -> None:
    whole = with_asked(plan, {"first_frequency"})
    assert "impact" not in whole.plans
    x = {name: np.full(4, value) for name, value in nominals(whole.stations, whole.job.settings).items()}
    for c in whole.plans["vibration"].values:
        x[c.name] = np.full(4, c.nominal)
    x["vibration.bracket_vertical"][1] *= 1.21
    x["assembly.torque"][2] *= 0.5
    x["vibration.hours"][3] *= 2.0
    found = run(whole.stations, whole.plans, Ensemble(x, {})).columns
    first, reserve, damage = (found[name] for name in ("first_frequency", "slip_reserve", "bracket_damage"))
    assert first[0] < first[1] < 1.1 * first[0]  # a bar on springs: between none and the root of the stiffness
    assert reserve[2] == pytest.approx(0.5 * reserve[0], rel=1e-9)
    assert damage[3] == pytest.approx(2.0 * damage[0], rel=1e-9) and damage[0] > 0.0
    assert found["lamp_separation"][0] > 0.0


def test_a_second_pair_of_brackets_stiffens_the_shaken_bar(plan: LaunchPlan) -> None:
    drawing = plan.job.settings.drawing
    four = replace(drawing, mounted=replace(drawing.mounted, inner=0.2))
    job = replace(plan.job, settings=replace(plan.job.settings, drawing=four))
    one, two = (with_asked(launch.plan(each), {"first_frequency"}).nominal for each in (plan.job, job))
    assert len(four.mounted.places) == 4
    assert one["first_frequency"] < two["first_frequency"]
    assert two["bracket_stress_rms"] < one["bracket_stress_rms"]  # more of them share the load


def test_brackets_of_a_film_have_names_of_their_own() -> None:
    places = np.array([-0.45, -0.2, 0.2, 0.45])
    assert [_bracket(float(x), places) for x in places] == [
        "bracket, left", "bracket, left inner", "bracket, right inner", "bracket, right"
    ]  # fmt: skip
