"""Designs that cannot be are refused before anything is computed, one message each with file, line and key.

The allowed bounds are worked by hand beside each case; the sheet is the example's with one value changed.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from firstoff import launch
from firstoff.errors import InputFault, Message
from firstoff.launch.demo import copy_example

CASES = {
    # peak speed 1.5 m/s = pi S f: 5 mm need 5730 turns a minute; 1200 a minute need 1.5 / (pi 20) = 23.87 mm
    "damping_rig.stroke": ("plant.toml", "5 mm", "needs 5730 crank turns per minute for 1.5 m/s", "at least 23.873 mm"),
    "damping_rig.rod_travel": ("damper.toml", "40 mm", "less than half the rig's stroke of 100 mm", "at least 50 mm"),
    "piston_rod.diameter": ("damper.toml", "33 mm", "no smaller than the pressure tube", "below 32.055 mm"),
    # yields above 31.80 (1 + 360/206000) = 31.856 mm; 5 % more is 33.39 mm
    "pressure_tube.sizing_mandrel": ("damper.toml", "31.5 mm", "does not stretch the welded bore", "above 31.856 mm"),
    "piston_valve.rebound_disc_count": ("damper.toml", "3.5", "must be a whole number", "3 or 4"),
    "piston_valve.rebound_bleed_count": ("damper.toml", "0.5", "must be a whole number", "0 or 1"),
    "base_valve.intake_port_count": ("damper.toml", "7.2", "must be a whole number", "7 or 8"),
    "piston_valve.rebound_clamp_diameter": ("damper.toml", "25 mm", "the discs cannot lift", "below 22 mm"),
    "base_valve.compression_pressure_diameter": ("damper.toml", "7 mm", "inside the clamp of 8 mm", "8 mm to below 16"),
    "base_valve.intake_pressure_diameter": ("damper.toml", "21 mm", "outside the seat of 20 mm", "9 mm to below 20 mm"),
    "piston_valve.check_seat_diameter": ("damper.toml", "34 mm", "does not go into the pressure tube", "below 32.055"),
    "piston_valve.rebound_port_diameter": ("damper.toml", "6 mm", "does not fit between the clamp", "up to 5.5 mm"),
    # circle of (20 + 9) / 2 = 14.5 mm diameter, 45.55 mm round: 14 ports of 3.1 mm
    "base_valve.intake_port_count ": ("damper.toml", "15", "15 ports of 3.1 mm overlap", "up to 14"),
    # seat of 22 mm is 69.1 mm round: 38 notches of 1.8 mm
    "piston_valve.rebound_bleed_count ": ("damper.toml", "39", "wider together than the seat", "up to 38"),
    "base_valve.crimp_length": ("damper.toml", "11 mm", "leaves the relief spring of 10 mm loose", "below 10 mm"),
    # 8 mm solid and 0.5 mm of lift
    "base_valve.crimp_length ": (
        "damper.toml",
        "8.2 mm",
        "crushes the relief spring, solid at 8 mm",
        "at least 8.5 mm",
    ),
    "oil_fill.viscosity_100": ("damper.toml", "13 mm2/s", "oil grows thinner with heat", "below 12.5 mm2/s"),
    # (362 x 0.98 - pi/4 1.2487^2 x 15) / (1 + 7.5e-4 x 10) = 333.9 cm3
    "oil_fill.volume": ("damper.toml", "345 cm3", "leaves the gas no room", "up to 333.9 cm3"),
}


def changed(sheet: Path, file: str, key: str, value: str) -> int:
    """Put a value into a sheet; returns its line."""
    path = sheet.parent / file
    station, name = key.strip().split(".")
    lines = path.read_text("utf-8").splitlines()
    start = lines.index(f"[{station}]")
    at = next(i for i in range(start, len(lines)) if re.match(rf"{name} *=", lines[i]))
    lines[at] = f'{name} = "{value}"'
    if key.endswith("crimp_length "):
        lines[start] = '[base_valve]\nrelief_solid_length = "8 mm"'
        at += 1
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return at + 1


def faults(sheet: Path) -> list[Message]:
    found = []
    for verb in (launch.check, lambda file: launch.plan(launch.read_job(file))):
        with pytest.raises(InputFault) as caught:
            verb(sheet)
        found.append(list(caught.value.messages))
    assert found[0] == found[1]
    return found[0]


@pytest.mark.parametrize("key", list(CASES))
def test_one_fault_with_file_line_key_and_what_is_allowed(tmp_path: Path, key: str) -> None:
    file, value, what, allowed = CASES[key]
    sheet = copy_example("light_truck_front", tmp_path)
    line = changed(sheet, file, key, value)
    (message,) = faults(sheet)
    assert (Path(message.file), message.line, message.key) == (sheet.parent / file, line, key.strip())
    assert message.found == value
    assert what in message.what
    assert allowed in message.allowed


def test_too_thick_discs_wait_for_a_narrow_seat(tmp_path: Path) -> None:
    # a plate is thin up to a quarter of its free width, here (13 - 11) / 2 / 4 = 0.25 mm
    sheet = copy_example("light_truck_front", tmp_path)
    changed(sheet, "damper.toml", "piston_valve.rebound_seat_diameter", "13 mm")
    changed(sheet, "damper.toml", "piston_valve.rebound_pressure_diameter", "12 mm")
    changed(sheet, "damper.toml", "piston_valve.rebound_port_diameter", "0.8 mm")
    (message,) = faults(sheet)
    assert message.key == "piston_valve.rebound_disc_thickness"
    assert message.allowed == "up to 0.25 mm"


def test_every_fault_is_said_at_once_in_the_order_of_the_lines(tmp_path: Path) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    keys = ("pressure_tube.sizing_mandrel", "base_valve.crimp_length", "oil_fill.volume")
    lines = [changed(sheet, "damper.toml", key, CASES[key][1]) for key in keys]
    found = faults(sheet)
    assert [m.line for m in found] == lines
    assert sorted(lines) == lines


def test_a_half_filled_sheet_is_looked_at_as_far_as_it_goes(tmp_path: Path) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    text = sheet.read_text("utf-8")
    sheet.write_text(re.sub(r"(?m)^(diameter|welded_bore) = .*\n", "", text), "utf-8")
    assert not launch.check(sheet).enough_to_predict
    changed(sheet, "damper.toml", "piston_valve.rebound_disc_count", "3.5")
    with pytest.raises(InputFault) as caught:
        launch.check(sheet)
    assert [m.key for m in caught.value.messages] == ["piston_valve.rebound_disc_count"]


def test_an_impossible_design_still_proves_readings_by_its_limits(tmp_path: Path) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    changed(sheet, "damper.toml", "piston_rod.diameter", "33 mm")
    proof = launch.prove(launch.read_job(sheet), sheet.parent / "first_offs.csv")
    said = "\n".join(m.as_text() for m in proof.trial.messages)
    assert "piston_rod.diameter: is no smaller than the pressure tube" in said
    assert "judged by the limits alone" in said
    assert proof.against == ()


def test_a_gas_pressure_below_the_atmosphere_is_out_of_range(tmp_path: Path) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    line = changed(sheet, "damper.toml", "gas_charge.pressure", "0.9 bar abs")
    with pytest.raises(InputFault) as caught:
        launch.check(sheet)
    assert [(m.key, m.line) for m in caught.value.messages] == [("gas_charge.pressure", line)]
    assert "0.1 bar gauge to 40 bar gauge" in caught.value.messages[0].allowed


def test_a_scatter_that_leaves_the_allowed_range_is_remarked(tmp_path: Path) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    assert launch.check(sheet).messages == ()
    # 260 - 300 cm3 is below the 20 cm3 allowed
    line = changed(sheet, "damper.toml", "oil_fill.volume", "260 ±300 cm3")
    (remark,) = launch.check(sheet).messages
    assert (remark.level, remark.line, remark.key) == ("remark", line, "oil_fill.volume")
    assert remark.allowed == "20 cm3 to 5000 cm3"


def test_a_count_that_is_missing_is_asked_for_as_a_whole_number(tmp_path: Path) -> None:
    (sheet, _) = launch.new("damper", tmp_path)
    assert "# rebound_bleed_count = ...   # setting: number of bleed notches, a whole number" in sheet.read_text(
        "utf-8"
    )
    with pytest.raises(InputFault) as caught:
        launch.plan(launch.read_job(sheet))
    asked = {m.key: m.allowed for m in caught.value.messages}
    assert asked["piston_valve.rebound_bleed_count"] == "number of bleed notches, a whole number"
    assert asked["oil_fill.volume"].endswith(", in cm3")
