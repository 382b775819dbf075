"""Launches with a planted fault, made by the chain itself: the same model that explains them, so a friendly test.

What it can show is whether the bookkeeping of causes is right, not whether the model is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import Fault
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.plan import plan as make_plan
from firstoff.trials.readings import Reading, Trial

# nominals that the explaining model has wrong, as factors: a damper whose drawing and physics differ a little
CROOKED = {
    "piston_valve.discharge_coefficient": 1.03,
    "piston_valve.rebound_pressure_diameter": 1.02,
    "piston_valve.disc_modulus": 0.97,
    "base_valve.compression_pressure_diameter": 0.98,
    "base_valve.compression_port_diameter": 1.02,
    "base_valve.port_length": 1.5,
    "damping_rig.oil_compressibility": 1.3,
}


@dataclass(frozen=True)
class Planted:
    trial: Trial
    fault: Fault | None
    who: str
    parts: int


def launch_with(
    plan: LaunchPlan, fault: Fault | None, seed: int, scatter: float = 1.0, temperatures: bool = True,
    size: float | None = None, parts: int | None = None, who: str | None = None, crooked: bool = False,
) -> Planted:  # fmt: skip
    """One lot of first-offs with the fault in it; scatter: true over stated; crooked: made by another damper."""
    rng = np.random.default_rng(seed)
    n = parts or int(rng.integers(5, 9))

    def wider(spread: object) -> object:
        return replace(spread, sd=spread.sd * scatter) if spread else None  # type: ignore[attr-defined,type-var]

    values = [replace(v, lot=wider(v.lot), part=wider(v.part)) for v in values_of(plan.stations, plan.plans)]
    if crooked:
        values = [replace(v, nominal=v.nominal * CROOKED.get(v.name, 1.0)) for v in values]
    columns = sample(values, 0, n, 1000 + seed, parts_per_lot=n)
    groups = ["AB"[i % 2] for i in range(n)]
    affected = np.ones(n, dtype=bool)
    chosen = ""
    if fault:
        chosen = who or str(rng.choice(fault.who))
        if chosen == "one":
            affected = np.arange(n) == rng.integers(n)
        elif chosen == "group":
            affected = np.array(groups) == "B"
        if size is None:
            drawn = fault.sizes.grid(500)
            size = float(rng.choice(drawn))
    stations, plans, stated = plan.stations, plan.plans, {}
    if fault and fault.acts == "speed":
        settings = replace(plan.job.settings, speeds=tuple(v * size for v in plan.job.settings.speeds))
        other = make_plan(replace(plan.job, settings=settings))
        stations, plans = other.stations, other.plans
        before, after = (plan.job.family.make(each) for each in (plan.job.settings, settings))
        stated = dict(zip([g for s in before for g in s.gives], [g for s in after for g in s.gives], strict=True))
    elif fault and fault.acts == "parameters":
        for move in fault.moves:
            columns[move.name] = np.where(affected, change(columns[move.name], move.how, size), columns[move.name])
    built = run(stations, plans, Ensemble(columns, {}))
    readings = []
    for gauge in plan.job.gauges.values():
        if not gauge.name.startswith("damping rig"):
            continue
        for name in gauge.characteristics:
            true = built.columns[stated.get(name, name)]
            if fault and fault.acts == "readings":
                for move in fault.moves:
                    if fnmatchcase(name, move.name):
                        true = np.where(affected, change(true, move.how, size), true)
            shown = np.round((true + rng.normal(0.0, gauge.u or 0.0, n)) / gauge.resolution) * gauge.resolution
            shell = built.columns["damping_rig.oil_temperature"]
            readings += [
                Reading(name, float(shown[i]), f"P{i}", "L", groups[i], gauge.name,
                        float(shell[i]) if temperatures else None)
                for i in range(n) if np.isfinite(shown[i])
            ]  # fmt: skip
    return Planted(Trial(tuple(readings), "blind"), fault, chosen, n)


def change(column: np.ndarray, how: str, size: float | None) -> np.ndarray:
    assert size is not None
    return {"add": column + size, "scale": column * size, "set": np.full_like(column, size)}[how]
