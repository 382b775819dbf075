"""What may be changed for a hit: each as a factor on what the sheet states, with its range."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan
from firstoff.sheets.quantity import Quantity, parse


@dataclass(frozen=True)
class Lever:
    """One thing that may be changed."""

    name: str
    title: str
    unit: str
    present: float  # SI, at factor 1
    least: float  # factors
    most: float
    apply: Callable[[Job, float], Job]


def levers(plan: LaunchPlan) -> tuple[Lever, ...]:
    """Thickness, grade, depth of the section and brackets of a bumper, in the ranges that are tried."""
    at = {v.name: v.nominal for settled in plan.plans.values() for v in settled.values}
    depth: float = plan.job.settings.drawing.depth
    strength = ("coil.proof_stress", "coil.tensile_strength")
    brackets = ("impact.bracket_stiffness", "impact.bracket_yield", "impact.bracket_hardening")
    return (
        Lever("thickness", "thickness of the sheet", "mm", at["coil.thickness"], 0.6, 1.6,
              partial(_scaled, names=("coil.thickness",))),
        Lever("grade", "proof stress of the coil, tensile strength alike", "MPa", at["coil.proof_stress"], 0.7, 2.0,
              partial(_scaled, names=strength)),
        Lever("depth", "depth of the section", "mm", depth, 0.7, 1.5, _deepened),
        Lever("bracket", "load at which a bracket yields, its stiffness alike", "kN", at["impact.bracket_yield"], 0.4,
              2.5, partial(_scaled, names=brackets)),
    )  # fmt: skip


def one_hit(job: Job, name: str, speed: float | None) -> Job:
    """The job with one hit alone, at another speed [m/s] where one is given; the drawing is otherwise as it was."""
    drawing = job.settings.drawing
    blows = tuple(b if speed is None else replace(b, speed=speed) for b in drawing.impact.blows if b.name == name)
    return _drawn(job, replace(drawing, impact=replace(drawing.impact, blows=blows)))


def _drawn(job: Job, drawing: object) -> Job:
    return replace(job, settings=replace(job.settings, drawing=drawing))


def _scaled(job: Job, factor: float, names: tuple[str, ...]) -> Job:
    """The parameters by a factor; their scatter stays."""
    stations = (*job.family.make(job.settings), *job.family.make_checks(job.settings))
    parameters = {f"{s.name}.{p.name}": p for s in stations for p in s.parameters}
    given: dict[str, Quantity] = dict(job.settings.given)
    for name in names:
        p = parameters[name]
        old = given[name] if name in given else parse(p.default or "", p.unit)
        given[name] = replace(old, nominal=old.nominal * factor, low=None, high=None)
    return replace(job, settings=replace(job.settings, given=given))


def _deepened(job: Job, factor: float) -> Job:
    """Every corner further from the face by a factor; the blank as wide as the longer walls ask."""
    drawing = job.settings.drawing
    face = min(c.x for c in drawing.corners)
    corners = tuple(replace(c, x=face + factor * (c.x - face)) for c in drawing.corners)
    deeper = replace(drawing, corners=corners)
    more = sum(deeper.walls) - sum(drawing.walls)
    given: Mapping[str, Quantity] = job.settings.given
    if "blanking.width" in given:
        wide = given["blanking.width"]
        given = {**given, "blanking.width": replace(wide, nominal=wide.nominal + more, low=None, high=None)}
    return replace(job, settings=replace(job.settings, drawing=deeper, given=given))
