"""Write the example's readings: eight first-offs of one lot whose rebound relief springs sit 15 N under their preload,
and six parts of a known-good lot on the same rig.

    python -m tools.make_example_readings

Invented data for the demonstration: the chain itself makes the parts, the gauges of the plant sheet add their error.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.sample import sample
from firstoff.sheets.units import from_si

EXAMPLE = Path(launch.__file__).parents[1] / "examples" / "light_truck_front"
PARTS, SEED, SHORT = 8, 42, 15.0  # N under the preload
GOOD_PARTS, GOOD_SEED = 6, 7


def write(plan: launch.LaunchPlan, file: str, label: str, lot: str, parts: int, seed: int, short: float) -> None:
    """One lot's readings on the damping rig."""
    values = [
        dataclasses.replace(v, nominal=v.nominal - short) if v.name == "piston_valve.rebound_relief_preload" else v
        for p in plan.plans.values()
        for v in p.values
    ]
    made = run(plan.stations, plan.plans, Ensemble(sample(values, 0, parts, seed, parts_per_lot=parts), {}))
    rng = np.random.default_rng(seed)
    columns = {}
    for gauge in plan.job.gauges.values():
        for name in gauge.characteristics:
            if gauge.name.startswith("damping rig"):
                unit = plan.job.characteristics[name].unit
                read = made.columns[name] + rng.normal(0.0, gauge.u or 0.0, parts)
                step = gauge.resolution
                columns[f"{name} [{unit}]"] = from_si(np.round(read / step) * step, unit)
    shell = from_si(made.columns["damping_rig.oil_temperature"], "degC")
    lines = ["part,lot,gauge,temperature [degC]," + ",".join(columns)]
    for i in range(parts):
        cells = ",".join(f"{column[i]:g}" for column in columns.values())
        lines.append(f"{label}-{i + 1:02d},{lot},damping rig 2,{shell[i]:.1f},{cells}")
    (EXAMPLE / file).write_text("\n".join(lines) + "\n", "utf-8")


def main() -> None:
    plan = launch.plan(launch.read_job(EXAMPLE / "damper.toml"))
    write(plan, "first_offs.csv", "FO", "L1", PARTS, SEED, SHORT)
    write(plan, "good_lot.csv", "GL", "L0", GOOD_PARTS, GOOD_SEED, 0.0)


if __name__ == "__main__":
    main()
