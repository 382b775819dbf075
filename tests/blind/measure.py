"""What is kept of one launch once it has been explained. Plain values only, so that a row can be written as JSON.

A measurement takes the launch, with the truth in it, and the explanation, and gives entries of the launch's row;
MEASURES lists them. Whoever adds a verb adds a function here and a table in `score`: `BlindLaunch.after` tells what the
same parts would truly read once a setting has been moved.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from firstoff import launch as api
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.trials.readings import Trial
from tests.blind import plain_fit
from tests.blind.correction import corrected
from tests.blind.identify import Visible
from tests.blind.lots import BlindLaunch, Planted

NONE, OTHER = "none", "something else"


@dataclass(frozen=True)
class Explained:
    """A launch's answer, and the readings it rests on."""

    found: LaunchExplanation
    trial: Trial
    good: Trial | None
    seconds: float  # by the clock
    cpu: float


def explained(b: BlindLaunch, folder: Path) -> Explained:
    """The launch through the public interface: readings written as CSV, read back, explained."""
    readings, good_file = b.write(folder)
    plan = b.world.plan
    trial = api.read_trial(plan, readings)
    good = api.read_trial(plan, good_file) if good_file else None
    start, used = time.perf_counter(), time.process_time()
    found = api.explain(plan, trial, good)
    return Explained(found, trial, good, time.perf_counter() - start, time.process_time() - used)


def truth(b: BlindLaunch, seen: Visible | None) -> dict[str, Any]:
    """What was planted, and whether it can be seen."""
    planted = [
        {"fault": p.name, "station": p.station, "who": p.who, "size": p.size, "declared": p.declared,
         "inside": p.inside, "discrete": getattr(p.fault, "kind", "") == "discrete",
         "label": _label(b, p)}
        for p in b.planted
    ]  # fmt: skip
    row: dict[str, Any] = {
        "number": b.number, "kind": b.kind, "scatter": b.scatter, "damper": b.law, "parts": b.parts,
        "good_lot": b.good is not None, "temperature": b.noted.temperature,
        "gas_and_friction": b.noted.gas_and_friction, "diameters": b.noted.diameters, "planted": planted,
        "visible": False, "identifiable": False, "fault_identifiable": False,
    }  # fmt: skip
    if seen is not None:
        row |= {
            "visible": bool(seen.visible), "identifiable": bool(seen.identifiable),
            "fault_identifiable": bool(seen.fault_identifiable), "distance": float(np.sqrt(seen.distance)),
            "nearest": seen.nearest, "to_nearest": _root(seen.to_nearest), "nearest_fault": seen.nearest_fault,
            "to_nearest_fault": _root(seen.to_nearest_fault),
        }  # fmt: skip
    return row


def _label(b: BlindLaunch, p: Planted) -> str:
    """The affected parts in the words of an explanation."""
    first = int(np.flatnonzero(p.affected)[0])
    return {"all": "all parts", "one": f"part L2-{first + 1:02d}", "group": f"group {b.groups[first]}"}[p.who]


def _root(square: float) -> float | None:
    return float(np.sqrt(square)) if np.isfinite(square) else None


def answer(b: BlindLaunch, found: LaunchExplanation) -> dict[str, Any]:
    """What `explain` says. Probabilities over stations are made to sum to one: a pair counts for both of its own."""
    e = found.found
    stations = {**dict.fromkeys((s.name for s in b.world.plan.stations), 0.0), **e.stations}
    classes = {**stations, NONE: e.none, OTHER: e.other}
    whole = sum(classes.values())
    classes = {name: float(p / whole) for name, p in classes.items()}
    lead = max(classes, key=lambda name: classes[name])
    row: dict[str, Any] = {
        "classes": classes, "lead": lead, "lead_p": classes[lead],
        "stations": {name: float(p) for name, p in e.stations.items()}, "none": float(e.none), "other": float(e.other),
        "faults": {name: float(p) for name, p in list(e.faults.items())[:6]}, "causes": [],
    }  # fmt: skip
    for c in e.causes[:3]:
        row["causes"].append({"name": c.name, "who": c.who, "p": float(c.probability), "size": _plain(c.size),
                              "low": _plain(c.low), "high": _plain(c.high), "alike": list(c.alike)})  # fmt: skip
    row["size_inside"] = _size_inside(b, found)
    return row


def _plain(x: float | None) -> float | None:
    return None if x is None else float(x)


def _size_inside(b: BlindLaunch, found: LaunchExplanation) -> bool | None:
    """Whether the stated 90 % interval holds the planted size; None when the question does not arise.

    It arises for one declared fault with a size inside its declared range, when the most probable single cause that
    names it strikes the right parts.
    """
    if b.kind != "declared" or not b.planted[0].inside or found.faults[b.planted[0].name].kind == "discrete":
        return None
    p = b.planted[0]
    cause = next((c for c in found.found.causes if c.name == p.name), None)
    if cause is None or cause.low is None or cause.high is None or found.found.causes[0] is not cause:
        return None
    return bool(cause.low <= p.size <= cause.high)


def plainly(b: BlindLaunch, s: plain_fit.Slopes, e: Explained) -> dict[str, Any]:
    """What the plain least-squares fit says."""
    found = plain_fit.blame(b.world.plan, s, e.trial, e.good)
    return {"plain": {"station": found.station, "parameter": found.parameter, "who": found.who, "sd": found.shift}}


Measure = Callable[[BlindLaunch, LaunchExplanation], dict[str, Any]]
MEASURES: tuple[Measure, ...] = (answer, corrected)
