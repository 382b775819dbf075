"""Speed of the plating stations: 10,000 bars from rack to thickness, against the tank's field solved for each of them.

`plating-builds`: racking, anodes, nickel, chromium and thickness of the chromed example, seconds of one core for 10,000
builds; the alternative solves the boundary elements on the fine mesh four times a build (semi-bright, bright, strike,
chromium), its factorisation kept, timed on three builds. error: largest difference of thickness at a plating point,
over the thickest, of builds whose rack, anodes and baskets stand as drawn. `plating-prepare`: the field of that layout
without any cache.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.launch.plan import LaunchPlan
from firstoff.physics.plating import deposit, faraday
from firstoff.stations.bumper.finish import tank_field

EXAMPLE = Path(launch.__file__).parents[1] / "examples" / "chrome_rear_bumper" / "bumper.toml"
STATIONS = ("racking", "anodes", "nickel", "chrome", "thickness")
BUILDS, SOLVED = 10_000, 3


def _through(plan: LaunchPlan, columns: dict[str, Any]) -> dict[str, Any]:
    found = Ensemble(columns, {})
    for station in plan.stations:
        if station.name in STATIONS:
            given, _ = station.run(plan.plans[station.name], found.columns)
            found = Ensemble({**found.columns, **given}, {})
    return found.columns


def _solved(plan: LaunchPlan, cell: Any, rows: Any, columns: dict[str, Any], k: int) -> Any:
    """Nickel of build k at the plating points, by the field itself; chromium is solved as well, for its time."""
    bumper, field = plan.job.settings.drawing, tank_field.kept(plan.plans["anodes"].data["tank"])
    drawn, bar = bumper.plating, int(columns["bar_number"][k])
    at = {name: float(np.asarray(column[k]).flat[0]) for name, column in columns.items()}
    total = np.zeros(len(drawn.points))
    for layer in ("semi", "bright"):
        kappa = at[f"nickel.conductivity_{layer}"] * (1.0 + 0.015 * (at[f"nickel.temperature_{layer}"] - 328.15))
        current = at[f"nickel.density_{layer}"] * at[f"nickel.ammeter_{layer}"] * field.area
        whole = tank_field.densities(cell, rows, drawn.nickel_law, field.bars, current, kappa)[:-1]
        own = whole.reshape(field.bars, -1)[bar, field.first_point :] * at["bar_current"]
        bath = deposit.Bath(faraday.metals()["Ni"], at[f"nickel.efficiency_{layer}"], at["nickel.threshold"], 1e9)
        total += deposit.thickness(own, at[f"nickel.time_{layer}"], bath)
    for key in ("density_strike", "density"):
        tank_field.densities(cell, rows, drawn.chrome_law, field.bars, at[f"chrome.{key}"] * field.area, 50.0)
    return total


def rows() -> list[dict[str, Any]]:
    plan = launch.plan(launch.read_job(EXAMPLE))
    bumper = plan.job.settings.drawing
    drawn, fine = bumper.plating, tank_field.layout_surface(bumper, 2e-3)
    begin = time.process_time()
    field = tank_field.compute(bumper, drawn, 2e-3)
    prepared = time.process_time() - begin
    values = list(values_of(plan.stations, plan.plans))
    columns = sample(values, 0, BUILDS, 1)
    run(plan.stations, plan.plans, Ensemble({n: c[:8] for n, c in columns.items()}, {}))  # kernels compiled
    begin = time.process_time()
    built = _through(plan, columns)
    ours = time.process_time() - begin
    drawn_places = {v.name: np.full(SOLVED, v.nominal) for v in values if v.name.startswith("anodes.")}
    still = {name: column[:SOLVED] for name, column in columns.items()} | drawn_places
    near = _through(plan, still)
    cell, picked = tank_field.cell_of(bumper, drawn, fine, {}), tank_field.point_rows(drawn, fine, fine)
    _ = cell.response
    begin = time.process_time()
    exact = [_solved(plan, cell, picked, near, k) for k in range(SOLVED)]
    theirs = (time.process_time() - begin) / SOLVED * BUILDS
    names = [f"nickel_{p.name}" for p in drawn.points]
    error = max(float(np.abs(np.array([near[n][k] for n in names]) - exact[k]).max() / exact[k].max())
                for k in range(SOLVED))  # fmt: skip
    del built
    return [
        {"id": "plating-builds", "load": f"{BUILDS} builds, rack to thickness, {field.panels} triangles",
         "seconds": ours, "alternative": "field solved for each build, factorisation kept",
         "alternative_seconds": theirs, "ratio": theirs / ours, "error": error, "peak_pss_mb": None},
        {"id": "plating-prepare", "load": f"field of a layout, {field.panels} triangles, no cache", "seconds": prepared,
         "alternative": "", "alternative_seconds": None, "ratio": None, "error": field.conserved, "peak_pss_mb": None},
    ]  # fmt: skip
