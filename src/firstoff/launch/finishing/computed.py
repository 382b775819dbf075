"""Windows that follow from the planned nickel and chromium: dwell from thickness at points, time before chromium."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.launch.plan import LaunchPlan
from firstoff.line.plant_line import Product
from firstoff.stations.bumper.finish.plating_common import field_in
from firstoff.stations.bumper.finish.plating_drawing import PlatingDrawing
from firstoff.stations.bumper.finish.windows import AirWindow, Window

SEMI, BRIGHT, CHROME = "nickel.time_semi", "nickel.time_bright", "chrome.time"
SURE: Final = 3.0  # standard deviations that the time before chromium stays below its limit
FEW, BUILDS = 0.005, 512  # share of trial builds that may miss a limit at a point, and how many are made
PLATING: Final = ("racking", "anodes", "nickel", "chrome", "thickness")
STEP: Final = 1.05  # of the dwell, to see how thickness grows with it: it does so in a straight line


@dataclass(frozen=True)
class Dwell:
    """A plated layer of the plan: its time at full current, and the window in which all points keep their limits."""

    parameter: str
    operation: str  # of the line
    planned: float
    least: float
    most: float | None
    least_at: str  # the point that asks for it
    most_at: str


@dataclass(frozen=True)
class Planned:
    """What the stations say of the line, and where they and the recipe disagree."""

    windows: tuple[Window, ...] = ()
    airs: tuple[AirWindow, ...] = ()
    dwells: tuple[Dwell, ...] = ()
    differs: tuple[str, ...] = ()


Limit = tuple[str, float | None, float | None, str]  # column, low, high, point


def layer_of(operation: str) -> str:
    """The parameter whose time an operation of the line is, by its name; empty when it is none of them."""
    name = operation.lower()
    if any(word in name for word in ("rinse", "drag", "clean", "dip", "strip")):
        return ""
    if "nickel" in name:
        return SEMI if "semi" in name else BRIGHT if "bright" in name else ""
    return CHROME if "chrom" in name else ""


def planned_windows(plan: LaunchPlan, product: Product, sure: bool = True) -> Planned:
    """The windows of nickel and chromium for this product's recipe; nothing where the launch plates nothing.

    sure: whether ordinary scatter is kept to every limit, or the nominal part alone keeps it.
    """
    drawn: PlatingDrawing | None = plan.job.settings.drawing.plating
    if drawn is None or "nickel" not in plan.plans:
        return Planned()
    at = {v.name: v for p in plan.plans.values() for v in p.values}
    operations = {layer_of(s.operation): s.operation for s in product.steps if layer_of(s.operation)}
    limits = _kept(plan, _limits(plan, drawn), sure)
    dwells = []
    for parameter, operation in operations.items():
        if parameter in at:
            found = _dwell(plan, limits, parameter, operation, at[parameter].nominal)
            dwells += [found] if found is not None else []
    windows = tuple(
        Window(d.operation, d.least, d.most, why=_why(d), origin=d.parameter.partition(".")[0], full_current=True)
        for d in dwells
    )
    return Planned(windows, _before_chromium(at, product, operations, sure), tuple(dwells),
                   tuple(_currents(plan, product, operations)))  # fmt: skip


def _why(d: Dwell) -> str:
    other = f" and {d.most_at}" if d.most is not None and d.most_at != d.least_at else ""
    return f"limits at {d.least_at}{other}, kept by all but {100.0 * FEW:g} % of trial builds"


def _at(plan: LaunchPlan, **changed: float) -> Mapping[str, Any]:
    """The part at nominal settings, some of them at a factor of theirs."""
    columns = {v.name: np.array([v.nominal]) for v in values_of(plan.stations, plan.plans)}
    for name, factor in changed.items():
        columns[name.replace("__", ".")] = columns[name.replace("__", ".")] * factor
    return run(plan.stations, plan.plans, Ensemble(columns, {})).columns


def _dwell(plan: LaunchPlan, limits: Sequence[Limit], parameter: str, operation: str, planned: float) -> Dwell | None:
    """Every limit of a characteristic at a point, and of the coating, as a bound on the dwell; None without a limit."""
    here, there = _at(plan), _at(plan, **{parameter.replace(".", "__"): STEP})
    least, most, low_at, high_at = 0.0, np.inf, "", ""
    for name, low, high, point in limits:
        for limit, is_low in ((low, True), (high, False)):
            if limit is None:
                continue
            a, b = (_over(columns, name, point, limit) for columns in (here, there))
            slope = (b - a) / ((STEP - 1.0) * planned)
            if abs(slope) * planned < 1e-6 * max(abs(a), limit * 1e-6):
                continue  # this layer does not show in it
            time = planned - a / slope
            if is_low == (slope > 0.0):
                least, low_at = (time, point) if time > least else (least, low_at)
            else:
                most, high_at = (time, point) if time < most else (most, high_at)
    if not low_at and not high_at:
        return None
    if parameter == CHROME:  # the strike stands before it
        strike = next(v.nominal for v in plan.plans["chrome"].values if v.name == "chrome.time_strike")
        planned, least, most = planned + strike, max(least, 0.0) + strike, most + strike
    return Dwell(parameter, operation, planned, max(least, 0.0), float(most) if np.isfinite(most) else None, low_at,
                 high_at)  # fmt: skip


def _kept(plan: LaunchPlan, limits: Sequence[Limit], sure: bool) -> list[Limit]:
    """The limits as the nominal part must keep them, so that all but a few trial builds at planned settings do: times
    the nominal over that quantile of the builds, since thickness grows with the dwell in all of them alike."""
    if not sure:
        return list(limits)
    stations = [s for s in plan.stations if s.name in PLATING]
    drawn = sample(values_of(stations, plan.plans), 0, BUILDS, 1)
    made = run(stations, plan.plans, Ensemble(drawn, {})).columns

    def inwards(limit: float | None, name: str, share: float) -> float | None:
        if limit is None:
            return None
        end = float(np.quantile(made[name], share))
        return limit * plan.nominal[name] / end if end > 0.0 else limit

    return [(name, inwards(low, name, FEW), inwards(high, name, 1.0 - FEW), point) for name, low, high, point in limits]


def _over(columns: Mapping[str, Any], name: str, point: str, limit: float) -> float:
    """How far a value is above a limit, as something that grows in a straight line with the dwell: for the share of
    semi-bright, semi-bright nickel less that share of all."""
    value = float(columns[name][0])
    if name.startswith("semi_share_"):
        return float(columns[f"nickel_{point}"][0]) * (value - limit)
    return value - limit


@dataclass(frozen=True)
class Plated:
    """A layer at the front's points, with the dwells of the timetable."""

    layer: str
    worst: float
    worst_at: str
    best: float
    best_at: str


def plated(plan: LaunchPlan, grown: Mapping[str, float]) -> tuple[Plated, ...]:
    """Nickel and chromium at the points of the front; grown: time at full current by operation [s]."""
    drawn: PlatingDrawing | None = plan.job.settings.drawing.plating
    if drawn is None or "nickel" not in plan.plans:
        return ()
    at = {v.name: v.nominal for p in plan.plans.values() for v in p.values}
    factors = {}
    for operation, time in grown.items():
        layer = layer_of(operation)
        if layer in at:
            own = time - (at["chrome.time_strike"] if layer == CHROME else 0.0)
            factors[layer.replace(".", "__")] = max(own, 1e-3) / at[layer]
    columns = _at(plan, **factors)
    found = []
    for stem, layer in (("nickel", "nickel"), ("chrome", "chromium")):
        values = {p.name: float(columns[f"{stem}_{p.name}"][0]) for p in drawn.points
                  if not p.back and f"{stem}_{p.name}" in columns}  # fmt: skip
        if values:
            low, high = min(values, key=lambda k: values[k]), max(values, key=lambda k: values[k])
            found.append(Plated(layer, values[low], low, values[high], high))
    return tuple(found)


def _limits(plan: LaunchPlan, drawn: PlatingDrawing) -> list[Limit]:
    """Column, limits and point of everything that the layers must keep at the front's points."""
    found = []
    coating = drawn.coating
    for p in drawn.points:
        asked = {} if coating is None or p.back else {
            f"nickel_{p.name}": coating.nickel, f"chrome_{p.name}": coating.chromium}  # fmt: skip
        for stem in ("nickel", "chrome", "semi_share"):
            name = f"{stem}_{p.name}"
            c = plan.characteristics.get(name)
            if c is None:
                continue
            low = max((x for x in (c.low, asked.get(name)) if x is not None), default=None)
            if (
                stem == "semi_share"
                and low is None
                and coating is not None
                and coating.semi_bright_share
                and not p.back
            ):
                low = coating.semi_bright_share
            if low is not None or c.high is not None:
                found.append((name, low, c.high, p.name))
    return found


def _before_chromium(
    at: Mapping[str, Any], product: Product, operations: Mapping[str, str], sure: bool
) -> tuple[AirWindow, ...]:
    """Time in air between bright nickel and chromium: what nickel stays active, less the longest rinses between."""
    if "chrome.passive_after" not in at or not {BRIGHT, CHROME} <= set(operations):
        return ()
    limit = at["chrome.passive_after"]
    sd = math.hypot(*(s.sd if s else 0.0 for s in (limit.lot, limit.part)))
    names = [s.operation for s in product.steps]
    first, last = names.index(operations[BRIGHT]), names.index(operations[CHROME])
    rinses = sum(float(s.most if s.most is not None else s.least) for s in product.steps[first + 1 : last])
    active = limit.nominal - (SURE * sd if sure else 0.0)
    left = active - rinses
    if last <= first or left <= 0.0:
        return ()
    kept = f" ({SURE:g} sd kept)" if sure else ""
    why = f"nickel stays active {active:.0f} s{kept}, rinses take up to {rinses:.0f} s of it"
    return (AirWindow(operations[BRIGHT], operations[CHROME], left, why, "chrome"),)


def _currents(plan: LaunchPlan, product: Product, operations: Mapping[str, str]) -> list[str]:
    """Where the recipe's current of a load is not the planned one."""
    field = field_in(plan.plans["nickel"])
    if field is None:
        return []
    said = []
    at = {v.name: v.nominal for p in plan.plans.values() for v in p.values}
    density = {SEMI: "nickel.density_semi", BRIGHT: "nickel.density_bright", CHROME: "chrome.density"}
    racks = (product.parts or field.bars) / field.bars
    for step in product.steps:
        layer = layer_of(step.operation)
        if layer in operations and density.get(layer) in at:
            planned = at[density[layer]] * field.area * racks
            if abs(float(step.current) - planned) > 0.02 * planned:
                said.append(f"{step.operation}: the recipe has {float(step.current):.0f} A a load, the plan "
                            f"{planned:.0f} A.")  # fmt: skip
    return said
