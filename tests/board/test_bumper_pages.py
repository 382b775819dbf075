"""A bumper on the board: hit by hit force and room against their limits, cautions from the plan of each station."""

from __future__ import annotations

import html
import re
from pathlib import Path

from firstoff import launch
from firstoff.launch.account import in_unit
from firstoff.launch.demo import copy_example
from tests.board.conftest import Person
from tests.launch.test_bumper_hits import sheet

ROW = r'characteristic/(\w+)">.*?</a></th>\s*<td[^>]*>(.*?)</td><td[^>]*>(.*?)</td>\s*<td[^>]*>(.*?)</td>'


def test_hits_stand_with_force_and_room_and_every_place_of_work_with_its_cautions(
    planner: Person, folder: Path
) -> None:
    (folder / "rb").mkdir()
    plan = launch.plan(launch.read_job(sheet(folder / "rb")))
    page = html.unescape(planner.get("/launch/rb/tests"))
    for caution in plan.plans["impact"].cautions:
        assert caution in page
    for hit in ("middle", "corner"):
        own = page.split(f"<h4>{hit} ")[1].split("</table>")[0]
        found = {name: (unit, limits, nominal) for name, unit, limits, nominal in re.findall(ROW, own)}
        for name, unit in ((f"peak_force_{hit}", "kN"), (f"room_lamp_{hit}", "mm"), (f"permanent_set_{hit}", "mm")):
            assert found[name][0] == unit and found[name][2] == in_unit(plan.nominal[name], unit, 5)
    assert found["room_lamp_corner"][1] == "≥ 5" and "≤ 60" in page
    part = html.unescape(planner.get("/launch/rb/part"))  # where somebody stands with the part in hand
    assert plan.job.family.handling in part
    for name in ("draw", "pierce", "checking_fixture", "impact"):  # what is read there comes from these
        assert all(caution in part for caution in plan.plans[name].cautions), name
    rig = html.unescape(planner.get("/launch/rb/station/impact"))
    assert all(caution in rig for caution in plan.plans["impact"].cautions) and "peak_force_middle" in rig
    route = html.unescape(planner.get("/launch/rb"))
    assert 'href="/launch/rb/tests"' in route and "/launch/rb/station/impact" in route
    pressed = html.unescape(planner.get("/launch/rb/station/pierce"))
    assert all(caution in pressed for caution in plan.plans["pierce"].cautions) and "hole_plate" in pressed


def test_every_station_of_the_examples_has_its_page(planner: Person, folder: Path) -> None:
    copy_example("truck_front_bumper", folder / "fb")
    (folder / "fb" / "first_offs.csv").unlink()
    (folder / "fb" / "good_lot.csv").unlink()
    for key, name in (("fb", "bumper.toml"), ("lt3", "damper.toml")):
        for station in launch.plan(launch.read_job(folder / key / name)).route:
            assert station.title in html.unescape(planner.get(f"/launch/{key}/station/{station.name}"))
