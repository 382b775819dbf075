"""What `correct` would have done to the same parts, in the damper that made them.

A launch counts when its lot has the mean of some limited characteristic outside because of a fault in the parts, and
would have all of them inside without that fault: then a correction exists. The first one proposed is carried out on
the very parts: settings are moved with the fault still inside, a cure takes the fault out if it is the planted one and
changes nothing if it is not.

The limits are those of the sheet, moved by what this damper type reads beside the drawing's figures: a customer agrees
limits on a master of the very damper. With the sheet's own, most types would lie outside with nothing wrong at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from firstoff import launch as api
from firstoff.chain.fault import Fault
from firstoff.chain.fault import Move as Moved
from firstoff.chain.station import Characteristic
from firstoff.launch.correcting.correct import LaunchCorrection
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.launch.plan import LaunchPlan
from tests.blind import damper
from tests.blind.lots import BlindLaunch, FloatArray

Limits = Mapping[str, Characteristic]


def corrected(b: BlindLaunch, found: LaunchExplanation) -> dict[str, Any]:
    """Verdict of `correct`, whether a correction exists, and whether the first one brings the lot's means back."""
    e = found.found
    limits = _agreed(b)
    case = _case(b, limits)
    if e.none >= 0.5:
        return {"correction": {"verdict": "not asked", **case, "back": False}}
    proposed = api.correct(replace(found, plan=_with(found.plan, limits)))
    back = case["exists"] and bool(proposed.corrections) and _inside(b, _carried_out(b, proposed), limits)
    named = {p.name for p in b.planted}
    return {
        "correction": {
            "verdict": proposed.verdict, **case, "back": bool(back),
            "moves": [m.parameter for m in proposed.corrections[0].moves] if proposed.corrections else [],
            "cause_right": bool(named & set(proposed.top.name.split(" + "))),
        }
    }  # fmt: skip


def _agreed(b: BlindLaunch) -> Limits:
    """The sheet's limits about what this damper type reads with every value at its mean."""
    w = b.world
    own = damper.show(w.nominal, w.laws[b.law], w.speeds).columns
    found = {}
    for name, c in w.plan.job.characteristics.items():
        beside = float(own[name][0]) - w.plan.nominal[name] if name in own and name in w.plan.nominal else 0.0
        ends = (None if end is None else end + beside for end in (c.low, c.high))
        found[name] = replace(c, **dict(zip(("low", "high"), ends, strict=True)))
    return found


def _with(plan: LaunchPlan, limits: Limits) -> LaunchPlan:
    """The plan with other limits."""
    job = replace(plan.job, characteristics={**plan.job.characteristics, **limits})
    plans = {n: replace(p, gives=tuple(limits.get(c.name, c) for c in p.gives)) for n, p in plan.plans.items()}
    return replace(plan, job=job, plans=plans)


def _case(b: BlindLaunch, limits: Limits) -> dict[str, bool]:
    real = [p for p in b.planted if p.fault.acts == "parameters" and p.who != "one" and p.declared]
    temperature = b.world.plan.job.family.temperature
    real = [p for p in real if temperature not in _moved(p)]
    rig = [p for p in b.planted if p.declared and (p.fault.acts != "parameters" or temperature in _moved(p))]
    if not real or len(real) < len(b.planted):
        return {"exists": False, "rig": bool(rig) and len(rig) == len(b.planted)}
    out = not _inside(b, dict(b.lot.columns), limits)
    cured = dict(b.lot.columns)
    for p in real:
        _cure(b, cured, p)
    return {"exists": out and _inside(b, cured, limits), "rig": False}


def _moved(p: Any) -> list[str]:
    return [m.name if hasattr(m, "name") else m[0] for m in p.fault.moves]


def _cure(b: BlindLaunch, columns: dict[str, FloatArray], p: Any) -> None:
    """The moved parameters back at nominal in the affected parts."""
    for name in _moved(p):
        if name in columns:
            columns[name] = np.where(p.affected, b.world.nominal.get(name, np.zeros(1))[0], columns[name])
    if "twin.friction_excess" in columns:
        columns["twin.friction_excess"] = np.where(p.affected, 0.0, columns["twin.friction_excess"])


def _carried_out(b: BlindLaunch, proposed: LaunchCorrection) -> dict[str, FloatArray]:
    columns = dict(b.lot.columns)
    chosen = proposed.corrections[0]
    here = np.ones(b.parts, dtype=bool)
    if chosen.where.startswith("group "):
        here = np.array([f"group {g}" == chosen.where for g in b.groups])
    for move in chosen.moves:
        if not move.cure:  # a fault that multiplies acts on the setting as it is moved: shims under a stiffer spring
            by = np.full(b.parts, move.after - move.before)
            for p in b.planted:
                if isinstance(p.fault, Fault) and Moved(move.parameter, "scale") in p.fault.moves:
                    by = np.where(p.affected, by * p.size, by)
            columns[move.parameter] = columns[move.parameter] + np.where(here, by, 0.0)
        for p in b.planted:
            if move.cure and p.name == move.parameter:
                _cure(b, columns, p)
    return columns


def _inside(b: BlindLaunch, columns: Mapping[str, FloatArray], limits: Limits) -> bool:
    """Whether the mean of every limited characteristic lies inside, over all parts and over each group hit."""
    w = b.world
    shown = damper.show(columns, w.laws[b.law], w.speeds).columns
    hit = np.ones(b.parts, dtype=bool)
    sets = [hit] + [p.affected for p in b.planted] + [~p.affected for p in b.planted if not p.affected.all()]
    for name, c in limits.items():
        for of in sets if name in shown else ():
            mean = float(np.mean(shown[name][of]))
            if (c.low is not None and mean < c.low) or (c.high is not None and mean > c.high):
                return False
    return True
