"""Setup sheets for the shop floor: from a settled plan to one page a station."""

from __future__ import annotations

import math
from collections.abc import Iterator

from firstoff import __version__
from firstoff.chain.station import Characteristic, Parameter, Value
from firstoff.families import PlannedStation
from firstoff.launch.account import limits_text
from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.prove import limits_of
from firstoff.methods.conformity import Limits
from firstoff.report.pages import Check, Setting, SetupSheet
from firstoff.report.tables import unit_sign, unit_signs
from firstoff.sheets.quantity import ATMOSPHERE
from firstoff.sheets.units import format_number, from_si, size_from_si
from firstoff.trials.gauges import find

NO_GAUGE = "no gauge is declared"


def setup_pages(plan: LaunchPlan) -> list[tuple[str, SetupSheet]]:
    """File stem and page of every station in process order; last what is measured and no station computes."""
    job = plan.job
    hashes = tuple(job.sha256.items())
    pages = []
    for label, stem, station in operations(plan):
        settled = plan.plans[station.name]
        names = {p.name.replace("_", " ") for p in station.parameters if p.kind == "setting"}
        pairs = list(zip(station.parameters, settled.values, strict=True))
        page = SetupSheet(
            label,
            station.title,
            job.name,
            job.revision,
            job.plant,
            __version__,
            settled.cautions,
            tuple(_setting(p, v, job) for p, v in pairs if p.kind == "setting"),
            tuple((what, unit_signs(value)) for what, value in settled.setup if what not in names),
            tuple(_setting(p, v, job) for p, v in pairs if p.kind != "setting" and _is_looked_at(p, v, job)),
            tuple(checks(job, settled.gives)),
            len(settled.assumptions) + sum(v.assumed for v in settled.values),
            hashes,
        )
        pages.append((stem, page))
    measured = [job.characteristics[name] for name in plan.measured_only]
    found = tuple(checks(job, measured))
    if found:
        title = "Measured on the part, computed at no station"
        page = SetupSheet("check", title, job.name, job.revision, job.plant, __version__, checks=found, hashes=hashes)
        pages.append(("check-drawing", page))
    return pages


def operations(plan: LaunchPlan) -> list[tuple[str, str, PlannedStation]]:
    """Label (`op 30`, or `rig`), file stem and station: the route, then the rigs beside it."""
    of = plan.job.family.operation
    route = [(f"op {of(s.name)}", f"op{of(s.name):03d}-{s.name}", s) for s in plan.route]
    return [*route, *(("rig", f"rig-{s.name}", s) for s in plan.rigs)]


def checks(job: Job, characteristics: list[Characteristic] | tuple[Characteristic, ...]) -> Iterator[Check]:
    """What is measured on the first part, with its gauge."""
    for c in characteristics:
        if limits_of(c) == Limits():
            continue
        gauge, _ = find(job.gauges, c.name, "")
        unit = unit_sign(c.unit) + (" abs" if c.pressure else "")
        yield Check(c.name, limits_text(c), unit, gauge.name if gauge else NO_GAUGE, c.safety)


def _is_looked_at(parameter: Parameter, value: Value, job: Job) -> bool:
    """Stated in a sheet: the drawing's or the supplier's number, not a constant of the model, nor weather."""
    given = job.settings.given.get(value.name)
    return given is not None and (parameter.kind == "given" or given.from_tolerance)


def _setting(parameter: Parameter, value: Value, job: Job) -> Setting:
    unit = unit_sign(parameter.unit)
    tolerance, decimals = _tolerance(value, job)
    given = job.settings.given.get(value.name)
    number = _padded(from_si(value.nominal, parameter.unit), decimals)
    notes = []
    if parameter.pressure:
        # as the sheet states it first: what a shop gauge shows is above the atmosphere
        over = _padded(from_si(value.nominal - ATMOSPHERE, parameter.unit), decimals)
        as_gauge = given is not None and "gauge" in given.text
        notes.append(f"= {number} {unit} abs" if as_gauge else f"= {over} {unit} gauge")
        number, unit = (over, f"{unit} gauge") if as_gauge else (number, f"{unit} abs")
    if not tolerance:
        sd = math.hypot(*(s.sd for s in (value.lot, value.part) if s))
        if sd:
            scatter = format_number(size_from_si(3.0 * sd, parameter.unit), 2)
            notes.append(f"ordinary scatter ±{scatter} {_difference(unit)} (3 sd)")
    if given is None:
        notes.append("default, not in a sheet")
    return Setting(parameter.name.replace("_", " "), number, unit, tolerance, "; ".join(notes))


def _tolerance(value: Value, job: Job) -> tuple[str, int]:
    """`±0.01 mm` or `+0.05/−0.08 mm` as the sheet states it, and its decimals; empty when it states none."""
    given = job.settings.given.get(value.name)
    if given is None or given.low is None or given.high is None:
        return "", 0
    high = size_from_si(given.high - value.nominal, value.unit)
    low = size_from_si(value.nominal - given.low, value.unit)
    texts = [format_number(x, 3) for x in (high, low)]
    decimals = max(len(t.partition(".")[2]) for t in texts)
    unit = _difference(unit_sign(value.unit))
    if math.isclose(high, low, rel_tol=1e-6, abs_tol=1e-12):
        return f"±{texts[0]} {unit}".rstrip(), decimals
    return f"+{texts[0]}/−{texts[1]} {unit}".rstrip(), decimals


def _difference(unit: str) -> str:
    return "K" if unit == "°C" else unit


def _padded(value: float, decimals: int) -> str:
    """As many decimals as its tolerance has, and two more where the value has them: 0.200 ±0.008."""
    text = format_number(round(float(value), decimals + 2) if decimals else float(value), 6)
    whole, _, after = text.partition(".")
    return text if len(after) >= decimals or "e" in text else f"{whole}.{after.ljust(decimals, '0')}"
