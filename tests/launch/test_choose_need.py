"""What would do when nothing in the bin meets the table: against the closed form of an orifice, and by the kernel."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from few_parts import few

from firstoff import launch
from firstoff.chain.predict import nominal
from firstoff.chain.station import Plan
from firstoff.errors import InputFault
from firstoff.launch.demo import copy_example
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.valve_choice.account import choose_text, need_text
from firstoff.launch.valve_choice.choose import choose
from firstoff.launch.valve_choice.need import needs
from firstoff.launch.valve_choice.search import tables_of
from firstoff.launch.valve_choice.sheet import write_sheet
from firstoff.physics.damper.oil import liquid_density

TABLE = """
[[damping]]
speed = "{v} m/s"
rebound = "{force} ±{width} N"
"""


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return copy_example("light_truck_front", tmp_path)


def orifice_sheet(sheet: Path, table: str) -> LaunchPlan:
    """The example with a rebound valve that is its bleed alone: discs and relief held shut, oil of one density."""
    text = sheet.read_text("utf-8")
    head, _, rest = text.partition("# The customer's table")
    rest = rest[rest.index("[characteristics.static_gas_force]") :]
    for old, new in (
        ('rebound_bleed_length = "1.0 mm"', 'rebound_bleed_length = "0.01 mm"\nring_leak_area = "0 mm2"'),
        ('rebound_bleed_depth = "0.20 ±0.008 mm"', 'rebound_bleed_depth = "0.50 mm"'),
        ('rebound_land_height = "20 ±4 um"', 'rebound_land_height = "500 um"'),
        ('rebound_disc_thickness = "0.30 ±0.008 mm"', 'rebound_disc_thickness = "1 mm"'),
        ("rebound_disc_count = 4", "rebound_disc_count = 20"),
        ('rebound_relief_preload = "84 ±6 N"', 'rebound_relief_preload = "5000 N"'),
        ("[oil_fill]", '[oil_fill]\nentrained_gas = "0 %"'),
        ("[damping_rig]", '[damping_rig]\noil_compressibility = "0 1/GPa"'),
    ):
        assert old in rest, old
        rest = rest.replace(old, new)
    sheet.write_text(head + table + "\n" + rest, "utf-8")
    return launch.plan(launch.read_job(sheet))


def test_the_area_of_an_orifice_is_that_of_the_closed_form(sheet: Path) -> None:
    # source: orifice equation dp = rho/(2 Cd^2) (Q/A)^2 + a mu Q/A (textbook), with a nearly sharp edge
    before = orifice_sheet(sheet, TABLE.format(v=1.0, force=900, width=100))
    now = before.nominal["rebound_1"]
    goal = 1.5 * now
    plan = orifice_sheet(_again(sheet),
                         TABLE.format(v=1.0, force=round(goal, 6), width=0.5))  # fmt: skip
    value = {v.name: v.nominal for p in plan.plans.values() for v in p.values}
    area = np.pi / 4.0 * (plan.nominal["bore"] ** 2 - plan.nominal["rod_diameter"] ** 2)
    flow, cd = area * 1.0, value["piston_valve.discharge_coefficient"]
    temperature = value["damping_rig.oil_temperature"]
    rho = float(liquid_density(np.array([temperature]), value["oil_fill.density_15"], value["oil_fill.expansion"])[0])
    laminar = 12.0 * 1e-5 / 5e-4**2 * _viscosity(plan)
    width, depth, count = (value[f"piston_valve.rebound_bleed_{k}"] for k in ("width", "depth", "count"))

    def drop(opening: float) -> float:
        u = flow / opening
        return rho / (2.0 * cd**2) * u**2 + laminar * u

    wanted = drop(width * depth * count) + (goal - now) / area  # all else is as before
    root = np.sqrt(laminar**2 + 2.0 * rho * wanted / cd**2)
    needed = flow / (2.0 * wanted / (laminar + root))
    assert drop(needed) == pytest.approx(wanted, rel=1e-12)
    found = {n.parameter: n for n in needs(plan, plan.plans, tables_of(plan))}
    made = found["piston_valve.rebound_bleed_width"]
    assert made.does and made.low < made.value < made.high
    assert made.value * depth * count == pytest.approx(needed, rel=2e-4)  # the goal has a tolerance of 0.5 N
    # and the force of an orifice goes with the square of speed and, nearly, with the inverse square of the area
    assert needed / (width * depth * count) == pytest.approx(np.sqrt(drop(width * depth * count) / wanted), rel=1e-3)
    assert "rebound bleed notches" in need_text(made) and "would do" in need_text(made)


def _again(sheet: Path) -> Path:
    """The example's sheet anew: a closed one has been changed."""
    sheet.unlink()
    return copy_example("light_truck_front", sheet.parent)


def _viscosity(plan: LaunchPlan) -> float:
    from firstoff.chain.ensemble import Ensemble, run
    from firstoff.chain.predict import values_of
    from firstoff.chain.sample import at_nominal

    built = run(plan.stations, plan.plans, Ensemble(at_nominal(values_of(plan.stations, plan.plans)), {}))
    return float(built.columns["oil_viscosity"][0])


def test_what_would_do_does_by_the_whole_chain(sheet: Path) -> None:
    # a table that thicker compression discs, which are not in the bin, would meet
    plan = launch.plan(launch.read_job(sheet))
    base = plan.plans["base_valve"]
    thick = [replace(v, nominal=4.2e-4) if v.name.endswith("compression_disc_thickness") else v for v in base.values]
    wanted = nominal(plan.stations, {**plan.plans, "base_valve": replace(base, values=tuple(thick))})
    text = sheet.read_text("utf-8")
    for speed, now in ((0.52, "-440 ±50 N"), (1.04, "-760 ±75 N"), (1.5, "-1085 ±90 N"), (0.26, "-290 ±40 N")):
        middle = wanted[f"compression_{speed:g}"]
        text = text.replace(now, f"{middle:.0f} ±{0.06 * abs(middle):.0f} N")
    sheet.write_text(text, "utf-8")
    plan = launch.plan(launch.read_job(sheet))
    ranges = {"rebound_discs": "4", "compression_discs": "3", "shims": "2", "crimp_steps": "1"}
    found = choose(plan, few(sheet.with_name("parts.toml"), **ranges), builds=64, workers=1)
    assert found.meeting == 0 and found.choices[0].trial is None
    doing = [n for n in found.needs if n.does]
    assert {n.direction for n in found.needs} == {"compression"} and doing
    plans = dict(found.choices[0].plans)
    assert "base_valve.compression_disc_thickness" in {n.parameter for n in doing}
    for need in doing:
        if need.parameter.endswith("relief_rate"):
            continue  # its preload goes with it
        station, step = need.parameter.split(".")[0], 1e-3 * need.now
        for x, inside in ((need.value, True), (need.low, True), (need.high, True), (need.low - step, False)):
            values = tuple(replace(v, nominal=x) if v.name == need.parameter else v for v in plans[station].values)
            forces = nominal(plan.stations, {**plans, station: replace(plans[station], values=values)})
            names = [n for n in plan.characteristics if n.startswith("compression_")]
            limits = {n: (plan.characteristics[n].low or 0.0, plan.characteristics[n].high or 0.0) for n in names}
            out = [n for n, (low, high) in limits.items() if not low - 1e-6 <= forces[n] <= high + 1e-6]
            assert (not out) == inside, (need.parameter, x, out)
    said = choose_text(found)
    assert "Nothing in the bin meets the table" in said and "would do" in said
    with pytest.raises(InputFault, match="no valve of the bin meets the table"):
        write_sheet(found, sheet.with_name("new.toml"))


def test_when_no_single_dimension_does_the_nearest_is_said(sheet: Path) -> None:
    text = sheet.read_text("utf-8").replace("235 ±70 N", "900 ±20 N")
    sheet.write_text(text, "utf-8")
    plan = launch.plan(launch.read_job(sheet))
    found = needs(plan, plan.plans, tables_of(plan))
    assert len(found) == 1 and not found[0].does and 1.0 < found[0].use < found[0].use_now
    assert "no single dimension would do" in need_text(found[0])
    assert np.isnan(found[0].low)


def test_two_dimensions_that_would_do_together_do_by_the_whole_chain(sheet: Path) -> None:
    # a table that thinner discs over narrower ports would meet, and neither alone
    plan = launch.plan(launch.read_job(sheet))
    changed = {"piston_valve.rebound_disc_thickness": 2.66e-4, "piston_valve.rebound_port_diameter": 1.2e-3}
    wanted = nominal(plan.stations, _with(plan, changed))
    text = sheet.read_text("utf-8")
    for speed, now in ((0.13, "475 ±80 N"), (0.26, "785 ±95 N"), (0.52, "1340 ±115 N"), (1.04, "1740 ±125 N"),
                       (1.5, "2030 ±140 N")):  # fmt: skip
        assert now in text
        text = text.replace(now, f"{wanted[f'rebound_{speed:g}']:.0f} ±{0.04 * wanted[f'rebound_{speed:g}']:.0f} N")
    sheet.write_text(text, "utf-8")
    plan = launch.plan(launch.read_job(sheet))
    (found,) = needs(plan, plan.plans, tables_of(plan))
    assert found.does and found.second is not None and "no single dimension would do" in need_text(found)
    name, _, _, was, value = found.second
    at = {v.name: v.nominal for p in plan.plans.values() for v in p.values}
    assert (at[found.parameter], at[name]) == (found.now, was)
    moved = {found.parameter: found.value, name: value}
    if "piston_valve.rebound_relief_rate" in moved:  # as far compressed as before
        preload, rate = (f"piston_valve.rebound_relief_{k}" for k in ("preload", "rate"))
        moved[preload] = at[preload] * moved[rate] / at[rate]
    forces = nominal(plan.stations, _with(plan, moved))
    for c in plan.characteristics.values():
        if c.name.startswith("rebound_") and c.low is not None and c.high is not None:
            assert c.low <= forces[c.name] <= c.high, c.name


def _with(plan: LaunchPlan, changed: dict[str, float]) -> dict[str, Plan]:
    """The plans with other nominals."""
    return {
        name: replace(p, values=tuple(replace(v, nominal=changed.get(v.name, v.nominal)) for v in p.values))
        for name, p in plan.plans.items()
    }
