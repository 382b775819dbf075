"""Nickel and chromium on the bumper: the field on its own mesh, laws of the stations, planted faults, the way back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import applied
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.chain.station import FloatArray
from firstoff.launch.explaining.explain import explain
from firstoff.launch.explaining.suspects import Prepared, prepare
from firstoff.launch.plan import LaunchPlan
from firstoff.stations.bumper.finish import tank_field
from firstoff.stations.bumper.finish.plating_common import lowest
from firstoff.trials.explain import Explanation
from firstoff.trials.explain import explain as compare
from firstoff.trials.readings import Reading, Trial

EXAMPLE = Path(launch.__file__).parents[1] / "examples" / "chrome_rear_bumper"
UM = 1e-6
# a rack of one bar and a tank that is quick to solve
QUICK = (("bars = 2", "bars = 1"), ('depth = "1200 mm"', 'depth = "900 mm"\nfineness = "0.7"'),
         ('height = "850 mm"', 'height = "500 mm"'), ('height = "650 mm"', 'height = "400 mm"'))  # fmt: skip


def sheet(folder: Path, model: tuple[tuple[str, str], ...] = (), plant: tuple[tuple[str, str], ...] = QUICK) -> Path:
    for name, pairs in (("bumper.toml", model), ("plant.toml", plant)):
        text = (EXAMPLE / name).read_text("utf-8")
        for old, new in pairs:
            assert old in text, old
            text = text.replace(old, new)
        (folder / name).write_text(text, "utf-8")
    from firstoff.stations.bumper.pressing.faults import FAULTS

    with (folder / "plant.toml").open("a", encoding="utf-8") as file:  # the press shop is not among the suspects here
        file.write("\n[faults]\n" + "".join(f"{f.name} = 0\n" for f in FAULTS))
    return folder / "bumper.toml"


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
    assert "none asked for at 420 MPa" in lines["hydrogen relief"]
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


# --- planted faults ---------------------------------------------------------------------------------------------------

ALIKE = {"efficiency_low", "ammeter_off", "time_short"}
PLANTED = {
    "basket_left_dead": 0.0, "rack_towards_off": 0.05, "shield_moved": -0.055, "contact_worn": 0.75,
    "bright_efficiency_low": 0.85, "semi_time_short": 0.85, "anode_bag_torn": 5.0, "transfer_late": 500.0,
    "chrome_bath_cold": -8.0,
}  # fmt: skip
VOLTAGES = ("voltage_semi", "voltage_bright", "voltage_chrome")


def lot(plan: LaunchPlan, faults: dict[str, float], seed: int, volts: bool = False) -> Trial:
    """Five bars read at nine points, and looked at; each reading with its gauge's error, voltages with 2 %."""
    columns = sample(values_of(plan.stations, plan.plans), 0, 5, seed, parts_per_lot=5)
    declared = {f.name: f for f in plan.job.family.faults}
    for name, size in faults.items():
        columns = applied(columns, declared[name], size)
    made = run(plan.stations, plan.plans, Ensemble(columns, {})).columns
    gauges = [g for g in plan.job.gauges.values() if g.name[:4] in ("coul", "eye ", "styl")]
    u = {name: g.u or 0.0 for g in gauges for name in g.characteristics}
    u |= {name: 0.02 * float(made[name][0]) for name in (VOLTAGES if volts else ())}
    rng = np.random.default_rng(seed)
    readings = []
    for name, size in u.items():
        shown = made[name] + rng.normal(0.0, size, 5)
        readings += [Reading(name, float(shown[i]), f"B{i + 1}", "L1") for i in range(5)]
    return Trial(tuple(readings), "")


@pytest.fixture(scope="module")
def prepared(plan: LaunchPlan) -> Prepared:
    return prepare(plan, lot(plan, {}, 7))


def seen(plan: LaunchPlan, prepared: Prepared, trial: Trial) -> Explanation:
    """The explanation of a trial with the columns of the one that was prepared: the chain is run once for all."""
    scene = prepared.scene
    read = np.array([[next(r.value for r in trial.readings if (r.part, r.characteristic) == (part, name))
                      for name in scene.names] for part in scene.parts])  # fmt: skip
    units = np.array([prepared.units[name] for name in scene.names])
    return compare(replace(scene, readings=read / units), prepared.suspects)


@pytest.mark.parametrize("fault", PLANTED)
def test_nine_points_on_five_bars_name_the_fault_or_its_group(plan: LaunchPlan, prepared: Prepared, fault: str) -> None:
    found = seen(plan, prepared, lot(plan, {fault: PLANTED[fault]}, 11))
    first = found.causes[0]
    told = [(c.name, c.probability, c.alike) for c in found.causes[:4]]
    assert fault == first.name or fault in first.alike, told
    layer, _, kind = fault.partition("_")
    if kind in ALIKE and layer in ("semi", "bright"):
        # efficiency, ammeter and time of a layer do the same to every thickness: coupon and ampere-hours tell
        assert {f"{layer}_{k}" for k in ALIKE} <= {first.name, *first.alike}, told
    elif not first.alike:  # a moved shield hardly shows, and its group says so
        assert found.faults[fault] > 0.6, told


def test_a_healthy_lot_is_not_accused(plan: LaunchPlan, prepared: Prepared) -> None:
    assert compare(prepared.scene, prepared.suspects).none > 0.5


def test_voltages_tell_a_cold_bath_and_an_ammeter_from_an_efficiency(plan: LaunchPlan) -> None:
    prepared = prepare(plan, lot(plan, {}, 7, volts=True))
    for fault, size in (("nickel_bath_cold", -20.0), ("bright_ammeter_off", 0.8)):
        found = seen(plan, prepared, lot(plan, {fault: size}, 11, volts=True))
        assert found.causes[0].name == fault, [(c.name, c.probability) for c in found.causes[:4]]


def test_coupon_and_ampere_hours_are_what_to_measure_next(plan: LaunchPlan) -> None:
    found = explain(plan, lot(plan, {"bright_efficiency_low": 0.85}, 11))
    best = {r.measurement.name for r in found.next[:3]}
    assert "coupon" in best and best & {"ampere_hours", "crane_log"}, best
