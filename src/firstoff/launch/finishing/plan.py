"""A launch's windows to the crane, the timetable of them, and takt: composed of the stations and the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from firstoff.errors import InputFault, Message
from firstoff.launch.finishing.computed import Planned, Plated, planned_windows, plated
from firstoff.launch.finishing.narrowing import Held, narrowed, product_of
from firstoff.launch.finishing.uses import Uses, bar_area, uses
from firstoff.launch.line.plant import read_plant
from firstoff.launch.line.takt import Obstacle, obstacle
from firstoff.launch.plan import LaunchPlan
from firstoff.line.plan import plan_line
from firstoff.line.plant_line import PlantLine, Product
from firstoff.line.plant_table import PlanAnswer, PlantTimetable
from firstoff.sheets.toml import read
from firstoff.stations.bumper.finish.treatment import Treatment, of


@dataclass(frozen=True)
class Soak:
    """One step of the recipe as the timetable keeps it; thickness at the worst and the best point where it is known."""

    operation: str
    time: Fraction
    worst: float | None  # m
    best: float | None
    limits: tuple[float | None, float | None]


@dataclass(frozen=True)
class FinishPlan:
    """The bar on its plating line."""

    line: PlantLine  # narrowed
    product: Product  # of it
    held: tuple[Held, ...]
    answer: PlanAnswer
    as_stated: PlanAnswer | None  # of the plant's own windows, where the product's are narrower
    soaks: tuple[Soak, ...]
    bars: int  # on one load
    per_bar: float | None  # s, at the timetable's pace
    takt: float | None  # s a bar that the yearly volume leaves
    waiting: tuple[float, float] | None  # bars between buffing and the line: planned wait, longest
    uses: Uses | None
    obstacle: Obstacle | None
    planned: Planned = field(default_factory=Planned)  # what the plating stations say of the line
    plated: tuple[Plated, ...] = ()  # at the front's points, with the timetable's dwells
    look_time: float | None = None  # s a bar, where it is looked at

    @property
    def holds(self) -> bool | None:
        """Whether the timetable is as quick as takt; None when either is unknown."""
        return None if self.takt is None or self.per_bar is None else self.per_bar <= self.takt * (1.0 + 1e-12)


@dataclass(frozen=True)
class OnLine:
    """The bar's recipe on the plant's line, as stated and as narrowed."""

    stated: PlantLine
    line: PlantLine
    product: Product
    bars: int
    held: tuple[Held, ...]
    planned: Planned


def on_line(plan: LaunchPlan) -> OnLine | None:
    """The plating line's recipe narrowed to this bar's windows, without a timetable. None and InputFault as
    `plan_finish` says."""
    job = plan.job
    drawing, file = job.settings.drawing, job.plant_file
    if not hasattr(drawing, "treatment"):
        return None
    told = of(drawing)
    if file is None or "line" not in read(file).data:
        stated = [w.origin for w in told.windows.dwells] + [w.origin for w in told.windows.airs]
        if stated:
            what, number = "needs a plating line in the plant sheet", stated[0].rpartition(":")[2]
            raise InputFault([Message(what, str(job.file), int(number), "window", allowed="[line] with its tanks")])
        return None
    line = read_plant(file).line
    product = product_of(line, told.windows, job.name, str(job.file))
    if product.parts is None:
        what = "is needed: how many bars hang on one load"
        raise InputFault([Message(what, str(file), key="line.product.parts", found=product.name)])
    planned = planned_windows(plan, product)
    windows = replace(
        told.windows, dwells=(*told.windows.dwells, *planned.windows), airs=(*told.windows.airs, *planned.airs)
    )
    tight, held = narrowed(line, product, windows, str(job.file))
    return OnLine(line, tight, tight.product(product.name), product.parts, tuple(held), planned)


def plan_finish(plan: LaunchPlan, time_limit: float = 30.0) -> FinishPlan | None:
    """Narrow the plating line's recipe to this bar's windows and find its timetable. None where the plant sheet has no
    line, or the family no treatment. InputFault as the sheets give cause."""
    found = on_line(plan)
    if found is None:
        return None
    job, drawing, product, bars = plan.job, plan.job.settings.drawing, found.product, found.bars
    told = of(drawing)
    answer = plan_line(found.line, time_limit)
    base = plan_line(found.stated, time_limit) if any(h.narrower for h in found.held) else None
    table = answer.table
    takt = _takt(told, job.yearly_volume)
    per_bar = float(table.per_load) / bars if table is not None else None
    times = _times(table, product) if table is not None else {}
    used = None
    if per_bar is not None and told.supplies.baths:
        area = bar_area(drawing, _thickness(plan))
        used = uses(told.supplies, product, times, per_bar, area, str(job.plant_file))
    blocked = None
    if takt is not None and (per_bar is None or per_bar > takt):
        blocked = obstacle(found.line, Fraction(round(takt * bars * 1000), 1000), time_limit)
    return FinishPlan(
        found.line, product, found.held, answer, base, tuple(_soaks(found.held, times, product)), bars, per_bar, takt,
        _waiting(plan, per_bar), used, blocked, found.planned, plated(plan, _grown(product, times)) if times else (),
        plan.nominal.get("look_time"),
    )  # fmt: skip


def _grown(product: Product, times: dict[int, Fraction]) -> dict[str, float]:
    """Time at full current by operation, the ramp counted half."""
    found: dict[str, float] = {}
    for i, step in enumerate(product.steps):
        if step.current:
            grown = float(max(Fraction(0), times[i] - step.contact - step.ramp / 2))
            found[step.operation] = found.get(step.operation, 0.0) + grown
    return found


def _thickness(plan: LaunchPlan) -> float:
    return float(plan.nominal.get("sheet_thickness", 2e-3))


def _takt(told: Treatment, yearly: int | None) -> float | None:
    """Time a bar that hours and volume of a year leave [s]."""
    return told.supplies.hours / yearly if told.supplies.hours and yearly else None


def _times(table: PlantTimetable, product: Product) -> dict[int, Fraction]:
    """Dwell of each step of this product, the shortest of its loads."""
    loads = [load for load in table.loads if load.product == product.name]
    return {i: min(load.lifts[i + 1] - load.downs[i] for load in loads) for i in range(len(product.steps))}


def _soaks(held: Sequence[Held], times: dict[int, Fraction], product: Product) -> list[Soak]:
    by = {h.operation: h for h in held if h.window is not None}
    found = []
    for i, step in enumerate(product.steps):
        if i not in times:
            continue
        h = by.get(step.operation)
        growth = h.window.growth if h is not None and h.window is not None else None
        grown = float(max(Fraction(0), times[i] - step.contact - step.ramp / 2))
        worst, best = (None, None) if growth is None else (growth.worst * grown, growth.best * grown)
        limits = h.window.thickness if h is not None and h.window is not None else (None, None)
        found.append(Soak(step.operation, times[i], worst, best, limits))
    return found


def _waiting(plan: LaunchPlan, per_bar: float | None) -> tuple[float, float] | None:
    """Bars that stand between buffing and the line by the planned and the longest wait (Little's law)."""
    settled = plan.plans.get("buffing")
    if settled is None or per_bar is None:
        return None
    at = {v.name: v.nominal for v in settled.values}
    return at["buffing.wait"] / per_bar, at["buffing.longest_wait"] / per_bar
