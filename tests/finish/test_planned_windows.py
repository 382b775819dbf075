"""Windows that the plated bumper of the example puts to a line with its presses, baths and cranes."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest

from firstoff import launch
from firstoff.launch.finishing.account import finish_dict, finish_text
from firstoff.launch.finishing.computed import BRIGHT, CHROME, SEMI, layer_of, planned_windows
from firstoff.launch.finishing.plan import FinishPlan, plan_finish
from firstoff.launch.plan import LaunchPlan
from tests.launch.plated import sheet as plated_sheet

HERE = Path(__file__).parent
LINE = Path(launch.__file__).parents[1] / "examples" / "bumper_plating" / "plant.toml"
RECIPE = {'"840 to 960 s"': '"1500 to 2700 s"', '"600 to 720 s"': '"900 to 1500 s"', '"120 to 160 s"': '"120 to 240 s"',
          "parts = 6": "parts = 2", "2000 A": "805 A", "2200 A": "805 A", "5500 A": "1500 A"}  # fmt: skip


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    model = plated_sheet(tmp_path_factory.mktemp("plated"))
    line = re.sub(r"\[plant\]\nname = .*\n", "", LINE.read_text("utf-8"))
    for old, new in RECIPE.items():
        assert old in line
        line = line.replace(old, new)
    plant = model.parent / "plant.toml"
    plant.write_text(plant.read_text("utf-8") + line + (HERE / "supplies.toml").read_text("utf-8"), "utf-8")
    buffed = (HERE / "buffing.toml").read_text("utf-8") + '\n[on_line]\nproduct = "front bumper"\n'
    model.write_text(model.read_text("utf-8") + buffed, "utf-8")
    return model


@pytest.fixture(scope="module")
def plan(sheet: Path) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet))


@pytest.fixture(scope="module")
def finish(plan: LaunchPlan) -> FinishPlan:
    found = plan_finish(plan)
    assert found is not None
    return found


def test_operations_are_known_by_their_names() -> None:
    names = {"semi-bright nickel": SEMI, "bright nickel": BRIGHT, "chrome": CHROME, "chrome rinse 1": "",
             "rinse after nickel": "", "electroclean": ""}  # fmt: skip
    assert {name: layer_of(name) for name in names} == names


def test_dwells_by_hand(plan: LaunchPlan, finish: FinishPlan) -> None:
    """Both nickel layers grow alike at one density: times stand for thickness.

    Share of semi-bright t_s/(t_s + t_b) >= 60 % at 34 and 18 min: t_s >= 27 min, t_b <= 22.67 min. Chromium and total
    nickel: the thinnest point's least thickness over what it has.
    """
    bare = planned_windows(plan, finish.product, sure=False)
    dwells = {d.parameter: d for d in bare.dwells}
    assert dwells[SEMI].least == pytest.approx(27.0 * 60.0, rel=1e-6)
    assert dwells[BRIGHT].most == pytest.approx(34.0 * 60.0 * (1.0 / 0.6 - 1.0), rel=1e-6)
    front = [p.name for p in plan.job.settings.drawing.plating.points if not p.back]
    thin = min(plan.nominal[f"nickel_{name}"] for name in front)
    per_second = thin / (52.0 * 60.0)
    assert dwells[BRIGHT].least == pytest.approx(18.0 * 60.0 - (thin - 25e-6) / per_second, rel=1e-3)
    assert dwells[CHROME].most is None and dwells[CHROME].least < dwells[CHROME].planned
    # the strike and what follows it grow at rates of their own: less time would do where it is thick enough
    assert min(plan.nominal[f"chrome_{name}"] for name in front) > 0.25e-6


def test_timetable_keeps_the_computed_windows(finish: FinishPlan) -> None:
    held = {h.operation: h for h in finish.held}
    semi = held["semi-bright nickel"]
    kept = {d.parameter: d for d in finish.planned.dwells}
    # scatter is kept to the limit of 27 min, half the ramp of 20 s comes on top, whole seconds inwards
    assert kept[SEMI].least > 27 * 60 and semi.both[0] == math.ceil(kept[SEMI].least + 10)
    assert (
        kept[BRIGHT].least > 0.0 and kept[BRIGHT].most is not None and kept[BRIGHT].most < 34.0 * 60.0 * (1 / 0.6 - 1)
    )
    soaks = {s.operation: s.time for s in finish.soaks}
    assert soaks["semi-bright nickel"] >= semi.both[0]
    nickel, chromium = finish.plated
    assert nickel.worst >= 25e-6 and chromium.worst >= 0.25e-6 and nickel.best > nickel.worst
    air = held["bright nickel to chrome, in air"]
    # 180 s less three standard deviations of 12 s, less the longest rinse of 45 s
    assert air.product == (None, 99) and air.both == (None, 75)


def test_recipe_with_another_current_is_told(finish: FinishPlan) -> None:
    assert len(finish.planned.differs) == 1 and "chrome" in finish.planned.differs[0]
    text = finish_text(finish)
    assert "WARNING" in text and "at nominal settings" in text and "bars between the two" in text
    json.dumps(finish_dict(finish), allow_nan=False)


def test_mirror_takes_the_nickel_that_is_plated(plan: LaunchPlan) -> None:
    # bright nickel of the face: 18 of 52 min of what nine tenths of it reach; 1/e of a flaw a 10 um
    bright = plan.nominal["face_nickel_p10"] * 18.0 / 52.0
    left = plan.nominal["scratch_depth"] * 2.718281828 ** (-bright / 10e-6)
    assert plan.nominal["flaw_levelled"] == pytest.approx(left, rel=0.01)
    assert "mirror.bright_nickel" not in {v.name for v in plan.plans["mirror"].values}
