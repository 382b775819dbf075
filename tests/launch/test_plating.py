"""Nickel and chromium on the bumper: the field on its own mesh, laws of the stations, maps, sheets."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from plated import EXAMPLE, sheet

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.chain.station import FloatArray
from firstoff.errors import InputFault
from firstoff.launch.demo import copy_example
from firstoff.launch.plan import LaunchPlan
from firstoff.stations.bumper.finish import tank_field
from firstoff.stations.bumper.finish.plating_common import lowest
from firstoff.stations.bumper.finish.scanned import read_stl

UM = 1e-6


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet(tmp_path_factory.mktemp("plating"))))


@pytest.fixture(scope="module")
def field(plan: LaunchPlan) -> tank_field.Field:
    return tank_field.kept(plan.plans["anodes"].data["tank"])


@pytest.fixture(scope="module")
def built(plan: LaunchPlan) -> Callable[..., dict[str, FloatArray]]:
    """Columns of the part at nominal, with some parameters at other values: one build a value."""
    still = {v.name: np.array([v.nominal]) for v in values_of(plan.stations, plan.plans)}
    rest = run(plan.stations, plan.plans, Ensemble(still, {}))

    def build(**changed: tuple[float, ...]) -> dict[str, FloatArray]:
        n = len(next(iter(changed.values())))
        columns = {name: np.repeat(column, n, axis=0) for name, column in rest.columns.items()}
        status = {name: np.repeat(flags, n) for name, flags in rest.status.items()}
        names = [name.replace("__", ".") for name in changed]
        columns |= {name: np.array(values) for name, values in zip(names, changed.values(), strict=True)}
        return run(plan.stations, plan.plans, Ensemble(columns, status), names).columns

    return build


# --- the field on the bar's own mesh ----------------------------------------------------------------------------------


def test_current_is_conserved_on_the_bars_own_mesh(field: tank_field.Field) -> None:
    # by integrating front and back of the cells against the cell's current: conservation of charge, 1e-3 asked
    assert field.conserved < 1e-3
    model = field.of_bar("nickel", 0)
    for density in (200.0, 400.0, 900.0):
        row = model.run(density * field.area, 12.0).density[0]
        carried = float(field.areas @ row[: len(field.areas)] + row[len(field.areas)] * field.areas.sum())
        assert carried == pytest.approx(density * field.area, rel=1e-3)


def test_polynomials_against_full_solutions_on_unseen_builds(plan: LaunchPlan, field: tank_field.Field) -> None:
    # second route: the boundary elements themselves, solved anew for each of these builds on the fine mesh
    bumper = plan.job.settings.drawing
    drawn, fine = bumper.plating, tank_field.layout_surface(bumper, 2e-3)
    cell = tank_field.cell_of(bumper, drawn, fine, {})
    rows = tank_field.point_rows(drawn, fine, fine)
    rng, worst = np.random.default_rng(5), 0.0
    for bath, law in (("nickel", drawn.nickel_law), ("chrome", drawn.chrome_law)):
        (low, high), _ = tank_field.RANGES[bath]
        middle = np.sqrt(low * high)
        kappa = 10.0 if bath == "nickel" else 50.0
        for _ in range(2):
            current = field.area * middle * rng.uniform(0.6, 1.7)
            conducts = kappa * rng.uniform(0.85, 1.15)
            exact = tank_field.densities(cell, rows, law, 1, current, conducts)[:-1]
            near = field.of_bar(bath, 0).run(current, conducts).density[0]
            points = slice(field.first_point, None)
            worst = max(worst, float(np.abs(near - exact)[points].max() / np.abs(exact[points]).max()))
            assert float(np.abs(near - exact)[:-1].mean() / exact.mean()) < 0.005
    assert worst < 0.005


def test_a_finer_mesh_moves_the_points_by_less_than_what_the_plan_says(
    plan: LaunchPlan, field: tank_field.Field
) -> None:
    bumper = plan.job.settings.drawing
    drawn = bumper.plating
    finer = tank_field.surface_of(bumper, 2e-3, 1.4)
    rows = tank_field.point_rows(drawn, finer, finer)[len(finer.place) + 1 :]
    cell = tank_field.cell_of(bumper, drawn, finer, {})
    area = 2.0 * float(finer.areas.sum())
    exact = tank_field.densities(cell, rows, drawn.nickel_law, 1, 340.0 * area, 10.0)[:-1]
    coarse = field.of_bar("nickel", 0).run(340.0 * field.area, 10.0).density[0][field.first_point :]
    off = np.abs(coarse / exact - 1.0)
    assert float(np.median(off)) < 0.04
    assert float(off.max()) < 0.12  # at the edges, where the current crowds


def test_moves_against_a_solution_of_the_moved_tank(
    plan: LaunchPlan, built: Callable[..., dict[str, FloatArray]]
) -> None:
    # a step that was not solved for the model, on its own mesh: the rack 17 mm nearer to the front anodes
    bumper = plan.job.settings.drawing
    drawn, fine = bumper.plating, tank_field.layout_surface(bumper, 2e-3)
    plain = tank_field.surface_of(bumper, 2e-3, tank_field.PLAIN_FINENESS, plain=True)
    rows = tank_field.point_rows(drawn, plain, fine)[len(fine.place) + 1 :]
    at = [tank_field.densities(tank_field.cell_of(bumper, drawn, plain, moved), rows, drawn.nickel_law, 1, 400.0, 11.0)
          for moved in ({}, {"rack_towards": 0.017})]  # fmt: skip
    pattern = built(anodes__rack_towards=(0.017,))["pattern"][0][len(fine.place) + 1 :]
    np.testing.assert_allclose(pattern, (at[1] / at[0])[:-1], rtol=2e-3)


# --- laws of the stations ---------------------------------------------------------------------------------------------


def test_thickness_is_faradays_of_the_density_at_the_point(
    plan: LaunchPlan, built: Callable[..., dict[str, FloatArray]], field: tank_field.Field
) -> None:
    # F by CODATA, M(Ni) by IUPAC, density 8908 kg/m3: d = i eta t M/(2 F rho), eta = e (1 - i0/i)
    found = built(nickel__density_semi=(340.0,))
    at = {v.name: v.nominal for v in values_of(plan.stations, plan.plans)}
    share = 1.0 - at["racking.bare_tips"]
    k = next(i for i, p in enumerate(plan.job.settings.drawing.plating.points) if p.name == "left")
    thick = 0.0
    for layer in ("semi", "bright"):
        density = at[f"nickel.density_{layer}"] * field.area
        i = field.of_bar("nickel", 0).run(density, 10.0).density[0][field.first_point + k] * share
        metal = i - at["nickel.threshold"]
        thick += (metal * at[f"nickel.efficiency_{layer}"] * at[f"nickel.time_{layer}"] * 58.6934e-3
                  / (2.0 * 96485.33212 * 8908.0))  # fmt: skip
    assert found["nickel_left"][0] == pytest.approx(thick, rel=1e-9)


def test_laws_of_nickel(built: Callable[..., dict[str, FloatArray]]) -> None:
    found = built(nickel__time_semi=(2040.0, 1020.0), nickel__time_bright=(1080.0, 540.0))
    np.testing.assert_allclose(found["nickel_left"][1], 0.5 * found["nickel_left"][0])  # thickness goes with time
    np.testing.assert_allclose(found["semi_share_left"][0], found["semi_share_left"][1])
    contact = built(racking__contact=(1.0, 0.7))["nickel_left"]
    assert contact[1] == pytest.approx(0.7 * contact[0], rel=0.01)  # threshold aside
    # a dead basket takes from its own end and leaves the far one what it had, or more
    dead = built(anodes__basket_left=(1.0, 0.0))
    assert dead["nickel_left_end"][1] < 0.9 * dead["nickel_left_end"][0]
    assert dead["nickel_right_end"][1] > dead["nickel_right_end"][0]
    # the rack nearer to the front anodes: more on the face, less behind
    near = built(anodes__rack_towards=(0.0, 0.03))
    assert near["back_nickel_mean"][1] < near["back_nickel_mean"][0]
    # a better conducting bath leaves more to geometry: worse throwing power, and a lower voltage
    better = built(nickel__conductivity_semi=(8.0, 16.0))
    assert better["voltage_semi"][1] < better["voltage_semi"][0]
    assert built(nickel__particles=(1.0, 4.0))["shelf_roughness"][1] > 2.0 * 0.03e-6


def test_laws_of_chromium(built: Callable[..., dict[str, FloatArray]]) -> None:
    late = built(chrome__transfer_time=(90.0, 180.0, 600.0, 1200.0))["bare_area_chrome"]
    assert late[0] == late[1] == 0.0 < late[3] and late[2] <= late[3]  # nothing happens while nickel stays active
    burnt = built(chrome__density_strike=(1400.0, 2200.0, 3000.0))["burnt_area_chrome"]
    assert burnt[0] < burnt[1] < burnt[2]
    bare = built(chrome__density_strike=(1400.0, 500.0, 250.0))
    assert bare["bare_area_chrome"][0] < bare["bare_area_chrome"][1] < bare["bare_area_chrome"][2]
    assert bare["chrome_left"][2] == 0.0  # what the strike leaves bare stays so
    cloudy = built(chrome__interruption=(0.0, 2.0, 8.0))["whitewash_area"]
    assert cloudy[0] == 0.0 and cloudy[1] == pytest.approx(0.5, abs=0.02) and cloudy[2] == pytest.approx(1.0, abs=0.02)
    cold = built(chrome__temperature=(315.15, 305.15))
    assert cold["burnt_area_chrome"][1] > cold["burnt_area_chrome"][0]
    assert cold["chrome_left"][1] > cold["chrome_left"][0]


def test_lowest_share_of_an_area_by_brute_force() -> None:
    # second route: the surface as a hundred thousand equal pieces
    rng = np.random.default_rng(3)
    values, areas = rng.lognormal(size=(2, 2000)), rng.uniform(0.5, 2.0, 2000)
    for row in values:
        pieces = np.repeat(row, np.round(areas * 1000).astype(int))
        for share in (0.02, 0.1):
            found = lowest(row[None, :], areas, share)[0][0]
            assert found == pytest.approx(np.quantile(pieces, share), rel=0.05)


def test_limits_of_the_class_come_from_the_standard(plan: LaunchPlan) -> None:
    # ASTM B456, SC 3 with microporous chromium on steel: 25 um double nickel, 60 % semi-bright, 0.25 um (from memory)
    limits = plan.job.characteristics
    assert limits["nickel_left"].low == pytest.approx(25 * UM)
    assert limits["semi_share_left"].low == pytest.approx(0.6)
    assert limits["chrome_left"].low == pytest.approx(0.25 * UM)
    assert limits["nickel_back"].low is None
    lines = dict(plan.plans["chrome"].setup)
    assert "ASTM B456 (from memory" in lines["limits from"]
    assert "none asked for at 441.8 MPa" in lines["hydrogen relief"]
    assert any("carcinogen" in text for text in plan.plans["nickel"].cautions)
    assert any("Hexavalent" in text for text in plan.plans["chrome"].cautions)


def test_a_field_comes_back_from_the_cache_as_it_was(field: tank_field.Field, tmp_path: Path) -> None:
    tank_field._store(tmp_path / "a.npz", field)
    back = tank_field._load(tmp_path / "a.npz", field.name)
    assert back is not None
    for bath in ("nickel", "chrome"):
        np.testing.assert_array_equal(back.reduced[bath].coefficients, field.reduced[bath].coefficients)
    np.testing.assert_array_equal(back.moves, field.moves)
    (tmp_path / "a.npz").write_bytes(b"torn")
    assert tank_field._load(tmp_path / "a.npz", field.name) is None


def test_a_bumper_without_plating_points_has_no_plating_stations() -> None:
    job = launch.read_job(EXAMPLE.parent / "truck_rear_bumper" / "bumper.toml")
    assert not {"racking", "anodes", "nickel", "chrome", "thickness"} & {s.name for s in job.family.make(job.settings)}


# --- the practical way ------------------------------------------------------------------------------------------------

MAP = (("service_condition = 3", 'service_condition = 3\nmap = "map.csv"\nmap_area = "120 dm2"\nmap_u = "0.06"'),)
TANK = "# The nickel tank"
POINTS = ("middle", "left", "right", "left_end", "right_end", "upper_edge", "lower_edge", "lower_wall", "back")


def mapped(folder: Path, rows: str) -> Path:
    """The example without its tank: a map of a similar bar in its place."""
    own = (("[characteristics.face_nickel_p10]", "[characteristics.other_p10]"),)
    file = sheet(folder, MAP + own, ())
    plant = (folder / "plant.toml").read_text("utf-8")
    gauges = plant.index('[[gauge]]\nname = "coulometer, nickel"')
    (folder / "plant.toml").write_text(plant[: plant.index(TANK)] + plant[gauges:], "utf-8")
    (folder / "map.csv").write_text("point,thickness [um],current [A],time [min],layer\n" + rows, "utf-8")
    return file


def test_a_measured_map_is_scaled_by_ampere_minutes_over_area(tmp_path: Path) -> None:
    # by hand: 30 um on 120 dm2 after 400 A for 50 min; here 3.4 A/dm2 for 34 + 18 min, 3 % of it on the tips
    rows = "".join(f"{p},30,400,50,nickel\n{p},0.4,1000,3,chrome\n" for p in POINTS) + "left,36,400,50,nickel\n"
    plan = launch.plan(launch.read_job(mapped(tmp_path, rows)))
    assert "anodes" not in plan.plans
    assert plan.nominal["nickel_middle"] == pytest.approx(30e-6 * 3.4 * 52.0 * 0.97 / (400.0 * 50.0 / 120.0), rel=1e-6)
    assert plan.nominal["nickel_left"] == pytest.approx(1.1 * plan.nominal["nickel_middle"], rel=1e-6)
    charge = (9.0 * 150.0 + 14.0 * 10.0) / 60.0 * 0.97
    assert plan.nominal["chrome_middle"] == pytest.approx(0.4e-6 * charge / (1000.0 * 3.0 / 120.0), rel=1e-6)
    # a point read once carries the 6 % of carrying over; one read twice its own scatter too: 3/33 over the root of 2
    sds = {v.name: v.lot.sd for v in plan.plans["nickel"].values if v.lot is not None}
    assert sds["nickel.carried_middle"] == pytest.approx(0.06)
    own = np.std([30.0, 36.0], ddof=1) / 33.0 / np.sqrt(2.0)
    assert sds["nickel.carried_left"] == pytest.approx(float(np.hypot(own, 0.06)), rel=1e-3)
    found = sample(values_of(plan.stations, plan.plans), 0, 512, 1)
    built = run(plan.stations, plan.plans, Ensemble(found, {})).columns["nickel_middle"]
    assert float(built.std() / built.mean()) == pytest.approx(0.06, rel=0.2)


@pytest.mark.parametrize(
    ("rows", "what"),
    [
        ("midle,30,400,50,nickel\n", "did you mean middle"),
        ("middle,-3,400,50,nickel\n", "no number above 0 in line 2"),
        ("middle,30,400,50,copper\n", "no such layer"),
        ("middle,30,400,50,nickel\n", "has no nickel for some plating points"),
    ],
)
def test_a_wrong_map_is_refused_by_its_line(tmp_path: Path, rows: str, what: str) -> None:
    with pytest.raises(InputFault) as fault:
        launch.read_job(mapped(tmp_path, rows))
    assert what in "\n".join(m.as_text() for m in fault.value.messages)


# --- sheets -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("model", "plant", "what"),
    [
        ((('along = "-800 mm"\nup', 'along = "-1200 mm"\nup'),), (), "beyond the bar"),
        ((('up = "60 mm"', 'up = "300 mm"'),), (), "off the section"),
        ((('name = "right"', 'name = "left"'),), (), "is taken"),
        ((), (('length = "2500 mm"', 'length = "1700 mm"'),), "does not fit the tank"),
        ((), (('depth = "420 mm"', 'depth = "90 mm"'),), "does not fit the tank"),
        (
            (),
            (('away = "60 mm"\ndepth = "250 mm"', 'away = "0 mm"\ndepth = "250 mm"'),),
            "between the bars and the walls",
        ),
        ((), (('away = "440 mm"', 'away = "-400 mm"'),), "no anode before the face"),
    ],
)
def test_a_layout_that_cannot_be_is_refused(
    tmp_path: Path, model: tuple[tuple[str, str], ...], plant: tuple[tuple[str, str], ...], what: str
) -> None:
    with pytest.raises(InputFault) as fault:
        launch.read_job(sheet(tmp_path, model, plant))
    assert what in "\n".join(m.as_text() for m in fault.value.messages)


def test_a_trivalent_bath_has_windows_of_its_own(tmp_path: Path, plan: LaunchPlan) -> None:
    # the field does not depend on the bath: it is taken from the cache
    other = launch.plan(
        launch.read_job(sheet(tmp_path, (('chromium = "mp"', 'chromium = "mp"\nchrome_bath = "trivalent"'),)))
    )
    at = {v.name: v.nominal for v in other.plans["chrome"].values}
    usual = {v.name: v.nominal for v in plan.plans["chrome"].values}
    assert at["chrome.temperature"] < usual["chrome.temperature"] and at["chrome.covering"] < usual["chrome.covering"]
    assert not any(text.startswith("Hexavalent") for text in other.plans["chrome"].cautions)
    assert "no chromium(VI)" in dict(other.plans["chrome"].setup)["bath"]


def test_an_stl_of_the_drawn_surface_is_plated_as_the_drawing(
    tmp_path: Path, plan: LaunchPlan, field: tank_field.Field
) -> None:
    # second route: the drawn triangles written as text and as binary, turned over, and read back as the real part
    bumper = plan.job.settings.drawing
    mesh = tank_field.layout_surface(bumper, 2e-3).mesh
    corners = 1e3 * mesh.corners[:, ::-1]
    text = "".join("facet normal 0 0 0\nouter loop\n" + "".join(f"vertex {x:.6f} {y:.6f} {z:.6f}\n" for x, y, z in t)
                   + "endloop\nendfacet\n" for t in corners)  # fmt: skip
    (tmp_path / "bar.stl").write_text(f"solid bar\n{text}endsolid bar\n", "ascii")
    packed = b"".join(np.zeros(3, "<f4").tobytes() + t.astype("<f4").tobytes() + b"\0\0" for t in corners)
    (tmp_path / "bar_b.stl").write_bytes(bytes(80) + len(corners).to_bytes(4, "little") + packed)
    one, two = read_stl(tmp_path / "bar.stl"), read_stl(tmp_path / "bar_b.stl")
    assert len(one.points) == len(two.points) == len(mesh.points)
    named = (("service_condition = 3", 'service_condition = 3\nsurface = "bar.stl"'),)
    drawn = launch.read_job(sheet(tmp_path, named)).settings.drawing
    surface = tank_field.layout_surface(drawn, 2e-3)
    assert float(surface.areas.sum()) == pytest.approx(float(mesh.areas.sum()), rel=1e-6)
    rows = tank_field.point_rows(drawn.plating, surface, surface)[len(surface.areas) + 1 :]
    current = 340.0 * field.area
    cell = tank_field.cell_of(drawn, drawn.plating, surface, {})
    exact = tank_field.densities(cell, rows, drawn.plating.nickel_law, 1, current, 10.0)[:-1]
    usual = field.of_bar("nickel", 0).run(current, 10.0).density[0][field.first_point :]
    flat = [k for k, p in enumerate(drawn.plating.points) if p.name in ("left", "right", "left_end", "right_end")]
    np.testing.assert_allclose(exact[flat], usual[flat], rtol=0.08)  # the points are looked up in another way
    (tmp_path / "bar.stl").write_text("solid bar\nendsolid bar\n", "ascii")
    with pytest.raises(InputFault, match="no triangles"):
        launch.read_job(sheet(tmp_path, named))


def test_a_slip_in_the_drawing_is_one_message(tmp_path: Path) -> None:
    sheet = copy_example("chrome_rear_bumper", tmp_path)
    sheet.write_text(sheet.read_text("utf-8").replace("service_condition = 3", "service_condition = 9"), "utf-8")
    with pytest.raises(InputFault) as refused:
        launch.read_job(sheet)
    assert [m.key for m in refused.value.messages] == ["plating.service_condition"]
