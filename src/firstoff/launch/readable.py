"""What a readings file may hold: characteristics, what the check stations give, and parameters measured directly."""

from __future__ import annotations

from firstoff.chain.station import Characteristic
from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan, with_checks


def parameters(job: Job) -> dict[str, Characteristic]:
    """Every `station.parameter` as something that can be measured; a tolerance of the sheet makes its limits."""
    found = {}
    for station in (*job.family.stations, *job.family.checks):
        for p in station.parameters:
            name = f"{station.name}.{p.name}"
            stated = job.settings.given.get(name)
            low, high = (stated.low, stated.high) if stated is not None else (None, None)
            found[name] = Characteristic(name, p.unit, p.what, low, high, pressure=p.pressure, exact=True)
    return found


def readable(job: Job, settled: LaunchPlan | None) -> dict[str, Characteristic]:
    """Everything the sheet names, what the stations compute when the sheet is whole, checks, parameters."""
    computed = with_checks(settled).characteristics if settled else {}  # a sheet of limits alone is enough to prove
    return {**checked_beside(job), **computed, **job.characteristics}


def checked_beside(job: Job) -> dict[str, Characteristic]:
    """What nobody asks for and anybody may measure: parameters, and what the check stations give; not what is named."""
    checks = {c.name: c for station in job.family.checks for c in station.characteristics}
    return {n: c for n, c in {**parameters(job), **checks}.items() if n not in job.characteristics}


def units_of(characteristics: dict[str, Characteristic]) -> dict[str, str]:
    """name -> the trade's unit, by which a readings file is read; a pressure must say gauge or abs there, too."""
    return {name: f"{c.unit} abs" if c.pressure else c.unit for name, c in characteristics.items()}
