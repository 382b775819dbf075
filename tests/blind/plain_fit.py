"""The plain way to find a cause: fit the shift of every parameter by least squares, and blame the largest.

Slopes come from the explaining chain itself; each parameter is counted in its own ordinary sd, the rig's zero, gain and
speed in an assumed one. Misfits count in the gauge's u, shifts in those sd, and the sum of both squares is least.
Nobody is blamed while the readings lie within what such shifts and the gauge give in 99 of 100 lots.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import chi2

from firstoff.chain.ensemble import Ensemble, run
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.plan import plan as make_plan
from firstoff.trials.readings import Trial
from tests.blind.law import FloatArray

SURE = 0.99
RIG = {"damping_rig.zero": 3.0, "damping_rig.gain": 0.01, "damping_rig.speed": 0.01}  # sd: N, 1, 1: assumed
TEMPERATURE = "damping_rig.oil_temperature"


@dataclass(frozen=True)
class Blame:
    """The parameter with the largest shift; empty when none is large."""

    parameter: str
    who: str
    shift: float  # sd

    @property
    def station(self) -> str:
        return self.parameter.split(".")[0] if self.parameter else "none"


@dataclass(frozen=True)
class Slopes:
    """Shift of each characteristic (k, p) per sd of each parameter."""

    names: tuple[str, ...]
    parameters: tuple[str, ...]
    per_sd: FloatArray
    nominal: FloatArray


def slopes(plan: LaunchPlan) -> Slopes:
    """Central differences of one sd over every parameter that scatters, and the rig's own errors."""
    values = [v for p in plan.plans.values() for v in p.values]
    names = tuple(name for name in plan.characteristics if name in plan.job.characteristics)
    moving = [v for v in values if v.lot or v.part]
    sds = [math.hypot(*(s.sd for s in (v.lot, v.part) if s)) for v in moving]
    columns = {v.name: np.full(2 * len(moving) + 1, v.nominal) for v in values}
    for i, (v, sd) in enumerate(zip(moving, sds, strict=True)):
        columns[v.name][2 * i] += sd
        columns[v.name][2 * i + 1] -= sd
    found = run(plan.stations, plan.plans, Ensemble(columns, {})).columns
    table = np.stack([found[name] for name in names], axis=1)
    nominal = table[-1]
    force = np.array([name.startswith(("rebound", "compression", "static")) for name in names])
    fast = _at_speed(plan, names, 1.0 + RIG["damping_rig.speed"]) - nominal
    rig = [np.where(force, RIG["damping_rig.zero"], 0.0), np.where(force, RIG["damping_rig.gain"] * nominal, 0.0), fast]
    per_sd = np.column_stack([(table[0:-1:2] - table[1::2]).T / 2.0, *rig])
    return Slopes(names, (*(v.name for v in moving), *RIG), per_sd, nominal)


def _at_speed(plan: LaunchPlan, names: tuple[str, ...], factor: float) -> FloatArray:
    """Nominal readings of a rig that runs faster than it says."""
    settings = replace(plan.job.settings, speeds=tuple(v * factor for v in plan.job.settings.speeds))
    other = make_plan(replace(plan.job, settings=settings))
    stated = [g for s in plan.job.family.make(plan.job.settings) for g in s.gives]
    true = [g for s in plan.job.family.make(settings) for g in s.gives]
    named = dict(zip(stated, true, strict=True))
    return np.array([other.nominal[named[name]] for name in names])


def blame(plan: LaunchPlan, s: Slopes, trial: Trial, good: Trial | None) -> Blame:
    """The lot's mean against what was expected, and each part against the rest of its lot."""
    parts, table, warm = _table(trial, s.names)
    used = np.isfinite(table).all(axis=0)
    expected = s.nominal
    known = warm is not None
    if good is not None:
        _, other, good_warm = _table(good, s.names)
        expected = other.mean(axis=0)
        base = good_warm
    else:
        base = next(v.nominal for p in plan.plans.values() for v in p.values if v.name == TEMPERATURE)
    off = table.mean(axis=0) - expected
    columns = [i for i, p in enumerate(s.parameters) if not (known and p == TEMPERATURE)]
    if known and base is not None:
        i = s.parameters.index(TEMPERATURE)
        sd = next(math.hypot(*(x.sd for x in (v.lot, v.part) if x)) for p in plan.plans.values() for v in p.values
                  if v.name == TEMPERATURE)  # fmt: skip
        off = off - s.per_sd[:, i] * (warm - base) / sd
    u2 = np.array([_gauge(plan, name) ** 2 for name in s.names])[used]
    slope = s.per_sd[np.ix_(used, columns)]
    rows = [("all", off[used], 2.0 if good is not None else 1.0)]
    if len(parts) > 1:
        gap = 1.0 + 1.0 / (len(parts) - 1)
        rows += [(p, (table[i] - np.delete(table, i, axis=0).mean(axis=0))[used], gap) for i, p in enumerate(parts)]
    best, worst = Blame("", "", 0.0), float(chi2.ppf(SURE, len(u2)))
    for who, row, times in rows:
        pull = np.linalg.solve(times * (slope @ slope.T + np.diag(u2)), row)
        if row @ pull > worst:
            fit = times * slope.T @ pull
            at = int(np.argmax(np.abs(fit)))
            best, worst = Blame(s.parameters[columns[at]], who, float(fit[at])), float(row @ pull)
    return best


def _gauge(plan: LaunchPlan, name: str) -> float:
    return next((g.u for g in plan.job.gauges.values() if name in g.characteristics and g.u), 1.0)


def _table(trial: Trial, names: tuple[str, ...]) -> tuple[list[str], FloatArray, float | None]:
    """Mean reading of each part and characteristic, NaN where nothing was read, and the mean temperature if noted."""
    parts = list(dict.fromkeys(r.part for r in trial.readings))
    table = np.full((len(parts), len(names)), np.nan)
    for i, part in enumerate(parts):
        for j, name in enumerate(names):
            found = [r.value for r in trial.readings if r.part == part and r.characteristic == name]
            if found:
                table[i, j] = sum(found) / len(found)
    noted = [r.temperature for r in trial.readings if r.temperature is not None]
    return parts, table, sum(noted) / len(noted) if len(noted) == len(trial.readings) else None
