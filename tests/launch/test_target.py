"""From a vehicle to a force table: the examples, what the search promises, and faults of the sheet."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from firstoff import launch
from firstoff.errors import InputFault
from firstoff.launch.demo import copy_example
from firstoff.launch.vehicle_target.account import limits_toml, target_text
from firstoff.launch.vehicle_target.search import BAND, LEVELS, run, tracks
from firstoff.launch.vehicle_target.sections import SECTIONS
from firstoff.launch.vehicle_target.target import Target, target
from firstoff.launch.vehicle_target.vehicle import Vehicle, read_vehicle
from firstoff.launch.vehicle_target.write import write_target
from firstoff.physics.vehicle.curves import Shape, table
from firstoff.physics.vehicle.linear import respond

EXAMPLES = Path(launch.__file__).parents[1] / "examples"
NAMES = ("low_sports_car_front", "soft_saloon_front", "light_truck_front")


@pytest.fixture(scope="module")
def found() -> dict[str, Target]:
    curve = EXAMPLES / "light_truck_front" / "damper.toml"
    return {
        name: target(read_vehicle(EXAMPLES / name / "vehicle.toml"), curve if "truck" in name else None)
        for name in NAMES
    }


def test_three_vehicles_come_out_plainly_different(found: dict[str, Target]) -> None:
    """A regression test of the headline numbers (the code's own), and their order, which is the trade's."""
    sports, saloon, truck = (found[name] for name in NAMES)
    assert sports.shape.level > saloon.shape.level
    assert sports.equivalent_level > 1.5 * saloon.equivalent_level
    assert saloon.best.comfort < sports.best.comfort < truck.best.comfort
    at = [next(r for r in t.table if r.speed == 0.26) for t in (sports, saloon, truck)]
    assert at[0].rebound > 2.0 * at[1].rebound
    assert saloon.vehicle.wish.comfort_share > truck.vehicle.wish.comfort_share > sports.vehicle.wish.comfort_share


@pytest.mark.parametrize("name", NAMES)
def test_best_levels_of_the_linear_damper_are_those_of_the_frequency_domain(
    name: str, found: dict[str, Target]
) -> None:
    """scipy's scalar minimum over the spectra of the linear model against the search in time, to a step of the grid."""
    t = found[name]
    car = t.vehicle.car

    def over_roads(level: float, field: str) -> float:
        c = [2.0 * level * np.sqrt(car.spring * car.sprung)]
        each = [respond(car.sprung, car.unsprung, car.spring, c, car.tyre, d.road, car.tyre_damping, BAND, 1500)
                for d in t.vehicle.drives]  # fmt: skip
        return sum(d.share * float(getattr(r, field)[0]) ** 2 for d, r in zip(t.vehicle.drives, each, strict=True))

    for field, level in (("comfort", t.comfort_level), ("wheel_load", t.load_level)):
        best = minimize_scalar(over_roads, bounds=(0.03, 0.9), args=(field,), method="bounded").x
        nearest = min(LEVELS, key=lambda x: over_roads(x, field))
        assert level == pytest.approx(nearest)
        assert min(LEVELS) > best or abs(level - best) <= 0.1


@pytest.mark.parametrize("name", NAMES)
def test_nothing_tried_is_better_and_allowed(name: str, found: dict[str, Target]) -> None:
    """Brute force over all that was driven: no allowed curve has a lower index."""
    t = found[name]
    wish = t.vehicle.wish
    allowed = [d for d in t.driven if d.shape and d.shape.level >= wish.least_level
               and d.shape.ratio >= wish.least_ratio and not d.bottomed and d.drop <= wish.drop]  # fmt: skip
    assert t.best in allowed
    assert t.index(t.best) == min(t.index(d) for d in allowed)
    assert t.index(t.best) < min(t.index(d) for d in t.linear() if d.shape and d.shape.level >= wish.least_level)
    assert len(t.driven) > 300


@pytest.mark.parametrize("name", NAMES)
def test_statistical_linearisation_agrees_with_time(name: str, found: dict[str, Target]) -> None:
    """Roberts and Spanos' linearisation, iterated in the frequency domain, against the simulation: 4 %."""
    for ride, line in zip(found[name].best.roads, found[name].linearised, strict=True):
        assert line.comfort == pytest.approx(ride.comfort, rel=0.04)
        assert line.load_coefficient == pytest.approx(ride.load_coefficient, rel=0.04)
        assert line.ride_height == pytest.approx(ride.ride_height, abs=0.4e-3)


@pytest.mark.parametrize("name", NAMES[:2])
def test_the_model_sheet_holds_the_recommended_table_and_can_be_made(name: str, found: dict[str, Target]) -> None:
    wanted = tomllib.loads(limits_toml(found[name]))["damping"]
    sheet = tomllib.loads((EXAMPLES / name / "damper.toml").read_text("utf-8"))["damping"]
    assert [{k: v for k, v in row.items() if k != "safety"} for row in sheet] == wanted
    plan = launch.plan(launch.read_job(EXAMPLES / name / "damper.toml"))
    assert not plan.warnings
    for c in plan.characteristics.values():
        value = plan.nominal[c.name]
        assert c.low is None or value >= c.low, c.name
        assert c.high is None or value <= c.high, c.name


def test_the_curve_of_a_model_sheet_is_driven_beside(found: dict[str, Target]) -> None:
    t = found["light_truck_front"]
    assert t.against is not None
    assert t.against.forces[list(t.against.speeds).index(0.0)] == 0.0
    assert t.index(t.against) == pytest.approx(t.index(t.best), rel=0.05)
    assert t.against_name in target_text(t)


def test_workers_do_not_matter_and_the_seed_does_little(found: dict[str, Target]) -> None:
    vehicle = found["soft_saloon_front"].vehicle
    shape = Shape(0.3, 2.0, 0.2, 0.5)
    curve = table(shape, vehicle.car.sprung, vehicle.car.spring)
    one, same, other = (run(vehicle, tracks(vehicle, seed), *curve) for seed in (1, 1, 2))
    assert one.roads == same.roads
    assert one.comfort != other.comfort
    assert one.comfort == pytest.approx(other.comfort, rel=0.02)


def test_page_figure_limits_and_json(tmp_path: Path, found: dict[str, Target]) -> None:
    t = found["light_truck_front"]
    written = {p.name for p in write_target(t, tmp_path)}
    assert written == {"target.md", "target.svg", "limits.toml"}
    page = (tmp_path / "target.md").read_text("utf-8")
    for words in ("Why:", "roll, pitch", "not a certificate", "Assumed", "statistical linearisation"):
        assert words in page
    json.dumps(t.as_dict(), allow_nan=False)
    with pytest.raises(InputFault, match="another sheet"):
        write_target(found["soft_saloon_front"], tmp_path)


def test_nothing_helps_a_corner_without_travel(found: dict[str, Target]) -> None:
    vehicle = found["low_sports_car_front"].vehicle
    short = replace(vehicle, car=replace(vehicle.car, bump_travel=0.01, bump_clearance=0.01))
    t = target(short)
    assert [m.key for m in t.warnings] == ["vehicle.bump_travel"]
    assert "WARNING" in target_text(t)


SHEET = """
[vehicle]
name = "x"
body_mass = "390 kg"
wheel_mass = "42 kg"
spring_rate = "21 N/mm"
tyre_rate = "210 N/mm"
bump_travel = "95 mm"
rebound_travel = "105 mm"

[[road]]
class = "B"
speed = "110 km/h"

[target]
comfort_share = "70 %"
"""


def read(tmp_path: Path, text: str) -> Vehicle:
    path = tmp_path / "vehicle.toml"
    path.write_text(text, "utf-8")
    return read_vehicle(path)


def test_least_sheet_is_enough(tmp_path: Path) -> None:
    vehicle = read(tmp_path, SHEET)
    assert vehicle.drives[0].road.roughness == pytest.approx(64e-6)  # class B, tests/reference/damper/road_classes.json
    assert vehicle.car.bump_clearance == vehicle.car.bump_travel
    assert any("contact_length" in a for a in vehicle.assumed)
    assert vehicle.wish.bump_share == 0.0


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("tyre_rate", "tire_rate", "did you mean tyre_rate"),
        ('class = "B"', 'class = "K"', "allowed: A | B"),
        ('class = "B"', 'class = "B"\nroughness = "64e-6 m^3"', "states its roughness twice"),
        ('class = "B"', "", "states no roughness"),
        ('"390 kg"', '"390 N"', "body_mass"),
        ('"390 kg"', '"3 kg"', "is out of range"),
        ('name = "x"', 'name = "x"\nbump_stop_clearance = "99 mm"', "more than the whole bump travel"),
        ('"70 %"', '"70 %"\nspeeds = ["0.1 m/s", "0.1 m/s"]', "holds a speed twice"),
        ('"70 %"', '"70 %"\nleast_ratio = 3\nmost_ratio = 2', "is above most_ratio"),
        ('"70 %"', '"70 %"\n[[bump]]\nheight = "0 mm"\nlength = "1 m"\nspeed = "30 km/h"', "is no bump"),
        ("[[road]]", "[[rode]]", "did you mean [road]"),
    ],
)
def test_faults_name_file_line_and_key(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in SHEET
    with pytest.raises(InputFault) as fault:
        read(tmp_path, SHEET.replace(old, new, 1))
    text = str(fault.value)
    assert said in text
    assert "vehicle.toml" in text
    assert all(m.line > 0 for m in fault.value.messages if m.what != "is missing")


def test_a_new_vehicle_sheet_runs_as_it_is(tmp_path: Path) -> None:
    (path,) = launch.new("vehicle", tmp_path, "my car")
    assert read_vehicle(path).name == "my car"
    report = launch.check(path)
    assert "1 road and 1 bump" in report.summary
    for section in SECTIONS:
        for key in section.keys:
            assert f"{key.name} = " in path.read_text("utf-8")


def test_examples_are_copied_whole(tmp_path: Path) -> None:
    for name in NAMES:
        assert copy_example(name, tmp_path / name).is_file()
        assert (tmp_path / name / "vehicle.toml").is_file()
