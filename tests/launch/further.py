"""Further readings of a launch made by `blind.launch_with`: more parts of the same lot, the same parts, or the rig."""

from __future__ import annotations

from dataclasses import replace
from fnmatch import fnmatchcase

import numpy as np
from blind import change

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import Fault
from firstoff.chain.measurement import Measurement
from firstoff.chain.order import order
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.chain.station import Columns
from firstoff.launch.plan import LaunchPlan, with_checks
from firstoff.trials.readings import Reading, Trial


def built(plan: LaunchPlan, fault: Fault, size: float, seed: int, n: int) -> Columns:
    """The first n parts of the lot that `launch_with` draws for this seed, all with the fault, and what checks read."""
    whole = with_checks(plan)
    columns = sample(values_of(plan.stations, plan.plans), 0, n, 1000 + seed, parts_per_lot=n)
    columns |= {v.name: np.full(n, v.nominal) for p in whole.plans.values() for v in p.values if v.name not in columns}
    if fault.acts == "parameters":
        for move in fault.moves:
            columns[move.name] = change(columns[move.name], move.how, size)
    found = run(whole.stations, whole.plans, Ensemble(columns, {})).columns
    if fault.acts == "speed":  # the drive turns at the size times the speed it says; of the checks only strokes show it
        settings, family = plan.job.settings, plan.job.family
        true = replace(settings, speeds=tuple(v * size for v in settings.speeds))
        chain = order((*family.make(true), *(c for c in family.make_checks(true) if c.name in whole.plans)))
        again = run(chain, {s.name: s.plan(true) for s in chain}, Ensemble(columns, {})).columns  # type: ignore[attr-defined]
        found = {**found, "strokes_per_minute": again["strokes_per_minute"]}
    if fault.acts == "readings":
        for name in list(found):
            for move in fault.moves:
                if fnmatchcase(name, move.name):
                    found[name] = change(found[name], move.how, size)
    return found


def measured(plan: LaunchPlan, trial: Trial, fault: Fault, size: float, seed: int, m: Measurement, parts: int) -> Trial:
    """The trial with the readings of one measurement, as its gauge would show them. `parts`: tested so far."""
    rng = np.random.default_rng([seed, 77])
    true = built(plan, fault, size, seed, parts + m.parts)
    rows = {"lot": range(parts, parts + m.parts), "same": range(min(m.parts, parts)), "rig": range(1)}[m.on]
    more = []
    for i in rows:
        label = f"P{i}" if m.on == "same" else "rig" if m.on == "rig" else f"N{i}"
        for r in m.reads:
            value = float(true[r.name][i])
            shown = value + rng.normal(0.0, np.hypot(r.u, r.relative * abs(value)))
            more.append(Reading(r.name, shown, label, trial.readings[0].lot))
    return Trial((*trial.readings, *more), trial.file)
