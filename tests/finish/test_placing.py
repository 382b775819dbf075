"""Placing rack, anodes and shields: against a grid of layouts, the tank's symmetry, and full solutions."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace

import numpy as np
import pytest

from firstoff import launch
from firstoff.errors import InputFault
from firstoff.launch.finishing.placing import place, places_dict, places_text
from firstoff.launch.plan import LaunchPlan
from firstoff.stations.bumper.finish.placing import Places, bounds_of, reduced_rows, spread_of
from firstoff.stations.bumper.finish.plating_common import field_in
from firstoff.stations.bumper.finish.plating_drawing import Tank
from firstoff.stations.bumper.finish.tank_field import FARTHEST
from tests.launch.plated import sheet as plated_sheet


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> LaunchPlan:
    return launch.plan(launch.read_job(plated_sheet(tmp_path_factory.mktemp("placed"))))


@pytest.fixture(scope="module")
def found(plan: LaunchPlan) -> Places:
    return place(plan, "charge")


def test_no_layout_of_a_grid_is_better(plan: LaunchPlan, found: Places) -> None:
    nickel, drawn = plan.plans["nickel"], plan.job.settings.drawing.plating
    field, at = field_in(nickel), {v.name: v.nominal for v in nickel.values}
    assert field is not None
    density, kappa = at["nickel.density_semi"], at["nickel.conductivity_semi"]
    steps = [np.linspace(*found.bounds[name], 5) for name in found.moves]
    for x in itertools.product(*steps):
        rows = reduced_rows(field, dict(zip(found.moves, x, strict=True)), density * field.area, kappa)
        assert spread_of(field, drawn, rows, density).worst <= found.after.worst * 1.003
    assert found.after.worst > found.before.worst


def test_a_symmetric_tank_asks_for_a_rack_in_its_middle(found: Places) -> None:
    assert abs(found.moves["rack_along"]) <= 0.01  # of 60 mm: the face's cells leave it that flat
    for name, value in found.moves.items():
        low, high = found.bounds[name]
        assert low - 1e-9 <= value <= high + 1e-9


def test_full_solutions_bear_it_out(found: Places) -> None:
    # what the reduced field promises is kept within the width of its second order, and the moved layout is better
    assert found.solved_after.worst == pytest.approx(found.after.worst, rel=0.05)
    assert found.charge < 1.0
    assert found.solved_before.worst == pytest.approx(found.before.worst, rel=0.02)


def test_bounds_leave_room(plan: LaunchPlan) -> None:
    drawn = plan.job.settings.drawing.plating
    assert all(-FARTHEST <= low <= 0.0 <= high <= FARTHEST for low, high in bounds_of(drawn, 1.6).values())
    # by hand: a tank of 1.70 m for a bar of 1.60 m leaves 50 mm a side, 30 mm of them stay free
    narrow = bounds_of(replace(drawn, tank=Tank(1.70, 1.1, 1.2)), 1.60)
    assert narrow["rack_along"] == pytest.approx((-0.02, 0.02))
    # anodes at 440 mm before the middle, wall at 470 mm: the 30 mm to the wall stay
    assert bounds_of(replace(drawn, tank=Tank(2.5, 0.94, 1.2)), 1.6)["anode_shift"][1] == 0.0


def test_account(found: Places) -> None:
    assert "solved in full" in places_text(found) and "anodes.rack_towards" in places_text(found)
    json.dumps(places_dict(found), allow_nan=False)


def test_without_a_tank_it_is_refused(plan: LaunchPlan) -> None:
    plans = {name: settled for name, settled in plan.plans.items() if name != "nickel"}
    with pytest.raises(InputFault, match="draw no tank"):
        place(replace(plan, plans=plans))
