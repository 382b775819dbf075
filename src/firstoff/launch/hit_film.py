"""The hits of a launch over time, at nominal settings: recorded, and drawn."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.station import FloatArray
from firstoff.launch.owner import claim
from firstoff.launch.plan import LaunchPlan, with_asked
from firstoff.report.pages import Figure

if TYPE_CHECKING:
    from firstoff.report.hit_figure import Scene

STATION = "impact"
ENERGIES = (
    "moving: striker, car and bar",
    "lost in the bar",
    "lost in the brackets",
    "elastic",
    "contact and absorber",
)
NOTE = "At nominal settings. Computed: only the protocol's own tests show what a hit does."
ALT = (
    "Plan view of the bar at chosen instants with brackets, guarded parts and striker; below, force over time and "
    "where the energy is. The most and the last values stand in the tables."
)


@dataclass(frozen=True)
class FilmedHit:
    """One hit of the sheet, over time."""

    name: str
    title: str
    scene: Scene


def film_hits(plan: LaunchPlan, at: Mapping[str, float] | None = None) -> list[FilmedHit]:
    """Every hit that the sheet states, for the part at nominal settings; `at`: parameters otherwise (SI, by
    `station.parameter`). Empty where the sheet states none, or the part has no value there."""
    drawn = getattr(plan.job.settings.drawing, "impact", None)
    if drawn is None or not drawn.blows:
        return []
    if STATION not in plan.plans:
        plan = with_asked(plan, {name for s in _checks(plan) for name in s.gives})
    rows: list[tuple[Any, ...]] = []
    settled = plan.plans[STATION]
    tapped = replace(settled, data={**settled.data, "tap": lambda *found: rows.append(found)})
    values = {v.name: v.nominal for v in values_of(plan.stations, plan.plans)} | dict(at or {})
    columns = {name: np.array([value]) for name, value in values.items()}
    found = run(plan.stations, {**plan.plans, STATION: tapped}, Ensemble(columns, {}))
    if not found.has_value[0]:
        return []
    sides = np.array([found.columns[f"stand_off_{side}"][0] for side in ("left", "right")])
    return [_filmed(row, drawn, sides) for row in rows]


def _checks(plan: LaunchPlan) -> list[Any]:
    return [s for s in plan.job.family.make_checks(plan.job.settings) if s.name == STATION]


def _filmed(row: tuple[Any, ...], drawn: Any, sides: FloatArray) -> FilmedHit:
    from firstoff.physics.impact.film import film, outline
    from firstoff.report.hit_figure import Kept, Scene, Striker
    from firstoff.stations.bumper.mounting.impact import LONGEST

    blow, mesh, bars, brackets, cars, strikers, end = row
    shot = film(mesh, bars[0], brackets[0], cars[0], strikers[0], end, LONGEST)
    rest, places = outline(mesh, mesh.nodes), np.array([outline(mesh, nodes) for nodes in shot.nodes])
    link, share = mesh.point_link, mesh.point_along
    kept = []
    for i, g in enumerate(drawn.guarded):
        ends = np.stack([mesh.nodes[link[i]], mesh.nodes[link[i] + 1]])
        x, y = (1.0 - share[i]) * ends[0] + share[i] * ends[1]
        moved = shot.nodes[:, [link[i], link[i] + 1], 1] - ends[None, :, 1]
        right = 0.5 * (1.0 + g.along / drawn.bracket)
        free = g.clearance + sides[0] * (1.0 - right) + sides[1] * right
        room = free - ((1.0 - share[i]) * moved[:, 0] + share[i] * moved[:, 1])
        kept.append(Kept(g.name.replace("_", " "), float(x), float(y + free), room))
    at = mesh.nodes[mesh.brackets, 0]
    loads = {_bracket(float(x), at): shot.brackets[:, j] for j, x in enumerate(at)}
    striker = Striker(blow.radius, blow.half_width, float(strikers[0, 2]))
    scene = Scene(
        rest, shot.time, places, shot.striker, striker, mesh.nodes[mesh.brackets], shot.nodes[:, mesh.brackets],
        tuple(kept), shot.force, shot.filtered, loads,
        {name: shot.energy[:, j] for j, name in enumerate(ENERGIES)},
    )  # fmt: skip
    return FilmedHit(blow.name, f"{blow.kind} at {3.6 * blow.speed:.3g} km/h", scene)


def _bracket(x: float, every: FloatArray) -> str:
    """`bracket, left`; of four `bracket, left inner`."""
    side = "left" if x < 0.0 else "right"
    return f"bracket, {side}" + (" inner" if abs(x) < np.abs(every).max() - 1e-6 else "")


def write_hits(plan: LaunchPlan, folder: Path) -> list[Path]:
    """`hit-NAME.svg` for every hit in the chain; nothing where it has none."""
    if STATION not in plan.plans:
        return []
    from firstoff.report.hit_figure import hit_figure

    claim(plan.job, folder)
    return [
        hit_figure(folder / f"hit-{_stem(hit)}.svg", scene=hit.scene, title=_title(plan, hit), note=NOTE)
        for hit in film_hits(plan)
    ]


def write_frames(plan: LaunchPlan, folder: Path) -> list[Path]:
    """`hit-NAME-frame-1.svg` and so on: one picture an instant, for a page that shows them one after the other."""
    if STATION not in plan.plans:
        return []
    from firstoff.report.hit_figure import hit_frame, instants

    claim(plan.job, folder)
    return [
        hit_frame(folder / f"hit-{_stem(hit)}-frame-{i}.svg", scene=hit.scene, at=one.at, title=one.name)
        for hit in film_hits(plan)
        for i, one in enumerate(instants(hit.scene), 1)
    ]


def _stem(hit: FilmedHit) -> str:
    """The hit's name as part of a file's: a sheet may say anything."""
    return re.sub(r"[^A-Za-z0-9_]", "_", hit.name)


def _title(plan: LaunchPlan, hit: FilmedHit) -> str:
    return f"{plan.job.name}: {hit.name.replace('_', ' ')}, {hit.title}"


def drawn_hits(paths: Sequence[Path]) -> tuple[Figure, ...]:
    """The figures for a dossier."""
    return tuple(
        Figure(path.read_text("utf-8"), f"Hit: {path.stem.removeprefix('hit-').replace('_', ' ')}, over time", ALT)
        for path in paths
    )
