"""Where a line stands at one instant: loads in tanks or on cranes, since when; where the cranes are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from firstoff.line.plant_line import LOAD, SHARED, PlantLine
from firstoff.line.plant_table import PlantTimetable
from firstoff.line.replay_plant import Trip, lay_out


@dataclass(frozen=True)
class LoadState:
    """One load in the line. `step` counts from 1: the step it is in, or is carried to when it hangs on a crane."""

    name: str
    product: str
    step: int
    tank: str  # "" when it hangs on a crane
    since: Fraction  # s in the tank, or in air, so far
    crane: int | None = None
    air: Fraction = Fraction(0)  # s in air before, since it left an operation whose limit still runs
    weight: int = 1  # how much it counts when it is spoilt


@dataclass(frozen=True)
class LineState:
    """The whole line at time 0; `cranes`: where each stands, in metres."""

    loads: tuple[LoadState, ...]
    cranes: Mapping[int, Fraction]


def empty_state(line: PlantLine, table: PlantTimetable) -> LineState:
    """Nothing in the line, every crane where its first move of the cycle begins."""
    return LineState((), _standing(line, table))


def _standing(line: PlantLine, table: PlantTimetable) -> dict[int, Fraction]:
    places: dict[int, Fraction] = {}
    for crane in range(len(line.cranes)):
        own = [
            (load.lifts[i] % table.period, line.tank(load.stops[i][0]).position)
            for load in table.loads
            for i in range(len(load.lifts))
            if load.cranes[i] == crane
        ]
        low, high = line.reach(crane)
        rest = next(p for p in (low, high, Fraction(0)) if p is not None)
        places[crane] = min(own)[1] if own else rest
    return places


def state_in_cycle(line: PlantLine, table: PlantTimetable) -> LineState | None:
    """The full line of a cycle, at the last instant before the next load is due when no crane carries one.

    None when some crane always carries a load.
    """
    trips = lay_out(line, table)
    loads = len(table.loads)
    stay = max(x.downs[-1] for x in table.loads) - min(x.lifts[0] for x in table.loads)
    filled = (int(stay // table.period) + 2) * loads
    due = next(t.start for t in trips if t.load == filled and t.move == 0)
    times = [t.end for t in trips if due - table.period < t.end <= due]
    still = [x for x in times if not any(t.start < x < t.end for t in trips)]
    return _at(line, trips, max(still)) if still else None


def _at(line: PlantLine, trips: list[Trip], now: Fraction) -> LineState:
    done = [t for t in trips if t.end <= now]
    last = {t.load: t for t in sorted(done)}
    steps = {t.load: len(line.product(t.product).steps) for t in trips}
    loads = tuple(
        LoadState(f"load {t.load + 1}", t.product, t.move + 1, t.target, now - t.end)
        for t in sorted(last.values(), key=lambda t: t.load)
        if t.move < steps[t.load]
    )
    cranes = {t.crane: line.tank(t.target).position for t in sorted(done)}
    for crane in range(len(line.cranes)):
        own = [t for t in trips if t.crane == crane]
        cranes.setdefault(crane, line.tank(own[0].source).position if own else Fraction(0))
    return LineState(loads, cranes)


def load_place(line: PlantLine) -> str:
    """Name of a place where loads are hung on."""
    return line.stations(SHARED if line.shared else LOAD)[0].name
