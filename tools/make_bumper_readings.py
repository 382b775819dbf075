"""Write the bumper examples' readings: first-offs with a planted fault, and parts of a known-good lot.

    python -m tools.make_bumper_readings

Invented data for the demonstration: the chain itself makes the parts, the gauges of the plant sheet add their error.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import applied
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.launch.job import Job
from firstoff.sheets.units import from_si

EXAMPLES = Path(launch.__file__).parents[1] / "examples"


@dataclass(frozen=True)
class Lot:
    """Parts of one lot, and what is wrong with them."""

    file: str
    label: str
    lot: str
    parts: int
    seed: int
    faults: Mapping[str, float]  # fault -> its size


LOTS = {
    "truck_front_bumper": (
        Lot("first_offs.csv", "FO", "H93", 6, 21, {"lubricant_dry": 1.6}),
        Lot("good_lot.csv", "GL", "H88", 5, 8, {}),
    ),
    "chrome_rear_bumper": (
        Lot("first_offs.csv", "FO", "P12", 5, 17, {"basket_left_dead": 0.0}),
        Lot("good_lot.csv", "GL", "P09", 5, 9, {}),
    ),
    "truck_rear_bumper": (
        Lot("first_offs.csv", "FO", "H71", 6, 42, {"restrike_open": -0.6e-3}),
        Lot("good_lot.csv", "GL", "H68", 5, 7, {}),
    ),
}  # fmt: skip


def table(plan: launch.LaunchPlan, lot: Lot) -> str:
    """The lot as its gauges read it."""
    columns = sample(values_of(plan.stations, plan.plans), 0, lot.parts, lot.seed, parts_per_lot=lot.parts)
    faults = {f.name: f for f in plan.job.family.faults}
    for name, size in lot.faults.items():
        columns = applied(columns, faults[name], size)
    made = run(plan.stations, plan.plans, Ensemble(columns, {}))
    rng = np.random.default_rng(lot.seed)
    read = {}
    for gauge in plan.job.gauges.values():
        for name in (n for n in gauge.characteristics if n in made.columns):
            unit = plan.job.characteristics[name].unit
            shown = made.columns[name] + rng.normal(0.0, gauge.u or 0.0, lot.parts)
            if gauge.resolution:
                shown = np.round(shown / gauge.resolution) * gauge.resolution
            read[f"{name} [{unit}]"] = from_si(shown, unit)
    lines = ["part,lot," + ",".join(read)]
    for i in range(lot.parts):
        cells = ",".join(f"{float(column[i]):.6g}" for column in read.values())
        lines.append(f"{lot.label}-{i + 1:02d},{lot.lot},{cells}")
    return "\n".join(lines) + "\n"


def pressed(job: Job) -> Job:
    """The launch up to the pressed bar: none of these is bolted on or hit."""
    drawing = replace(job.settings.drawing, impact=None, mounted=None)
    return replace(job, settings=replace(job.settings, drawing=drawing))


def main() -> None:
    for example, lots in LOTS.items():
        plan = launch.plan(pressed(launch.read_job(EXAMPLES / example / "bumper.toml")))
        for lot in lots:
            (EXAMPLES / example / lot.file).write_text(table(plan, lot), "utf-8")


if __name__ == "__main__":
    main()
