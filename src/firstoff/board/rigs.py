"""Tests that limits ask for and that are computed beside the route: hit by hit, where there are several."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from firstoff.board.launches import Judged
from firstoff.board.measures import Measures
from firstoff.board.views import PLAIN, Out, outcome
from firstoff.launch.plan import LaunchPlan


@dataclass(frozen=True)
class Group:
    """What a test computes of one thing that it does: one hit, with how it is made."""

    title: str
    words: str
    out: tuple[Out, ...]


@dataclass(frozen=True)
class Rig:
    """One test. Limits or not: force, room and set of a hit stand together."""

    name: str
    title: str
    cautions: tuple[str, ...]
    groups: tuple[Group, ...]
    rest: Group  # what belongs to no group


def rigs(
    plan: LaunchPlan, prediction: Mapping[str, Any] | None, judged: Judged, measures: Measures = PLAIN
) -> list[Rig]:
    """Every test in the chain that is no station of the route. A group is a line of its set-up whose name its
    characteristics end with (`peak_force_corner`)."""
    on_route = {station.name for station in plan.route}
    found = []
    for station in plan.stations:
        if station.name in on_route or station.name not in plan.plans:
            continue
        settled = plan.plans[station.name]
        out = {c.name: outcome(plan, c, prediction, judged, measures) for c in settled.gives}
        groups = []
        for what, words in settled.setup:
            of = [name for name in out if name.endswith(f"_{what.replace(' ', '_')}")]
            if of:
                groups.append(Group(what, measures.words(words), tuple(out.pop(name) for name in of)))
        left = [(what, words) for what, words in settled.setup if what not in {g.title for g in groups}]
        rest = Group("", "; ".join(f"{what}: {measures.words(words)}" for what, words in left), tuple(out.values()))
        title = str(getattr(station, "title", station.name.replace("_", " ")))
        found.append(Rig(station.name, title, settled.cautions, tuple(groups), rest))
    return found
