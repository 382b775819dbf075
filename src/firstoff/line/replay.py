"""Replay a timetable cycle by cycle and name everything that goes wrong; knows nothing of how it was found.

The timetable repeats every `period`; loads of one period follow each other. Several periods are laid out on the clock,
long enough that the first load of the middle ones meets every other load it ever meets. Each tank is then filled and
emptied, each crane is driven, in the order of time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from firstoff.line.case import Line

CYCLES = 6  # at least; more when a load stays in the line for longer


@dataclass(frozen=True)
class Timetable:
    """Removal times of one period, in absolute time: [load][place], and which crane makes each move."""

    period: Fraction
    removal: tuple[tuple[Fraction, ...], ...]
    cranes: tuple[tuple[int, ...], ...] | None = None  # [load][move], counted from 0 along the track; None: one crane


class Trip(NamedTuple):
    """One loaded move on the clock."""

    start: Fraction
    end: Fraction
    move: int
    load: int
    crane: int


def replay(line: Line, table: Timetable, separation: Fraction = Fraction(0)) -> list[str]:
    """Everything that breaks when the timetable is run; an empty list when it can be run."""
    faults = shape_faults(line, table)
    if faults:
        return faults
    trips = lay_out(line, table)
    found = [*window_faults(line, table), *tank_faults(line, trips), *load_place_faults(line, trips)]
    found += crane_faults(line, trips)
    if table.cranes is not None:
        from firstoff.line.replay_track import track_faults

        found += track_faults(line, trips, separation)
    return list(dict.fromkeys(found))


def shape_faults(line: Line, table: Timetable) -> list[str]:
    """What keeps the timetable from being replayed at all."""
    faults = []
    if table.period <= 0:
        faults.append("the period is not positive")
    if not table.removal:
        faults.append("the timetable holds no load")
    if any(len(times) != line.moves for times in table.removal):
        faults.append(f"every load needs {line.moves} removal times")
    if table.cranes is not None and [len(c) for c in table.cranes] != [len(t) for t in table.removal]:
        faults.append("every move needs a crane")
    return faults


def lay_out(line: Line, table: Timetable) -> list[Trip]:
    """All loaded moves of enough cycles, in order of time."""
    stay = max(times[-1] for times in table.removal) - min(times[0] for times in table.removal)
    cycles = CYCLES + 2 * (max(stay, Fraction(0)) // table.period + 1)
    loads = len(table.removal)
    trips = []
    for cycle in range(cycles):
        for x, times in enumerate(table.removal):
            for move, time in enumerate(times):
                start = time + cycle * table.period
                crane = 0 if table.cranes is None else table.cranes[x][move]
                trips.append(Trip(start, start + line.loaded_move[move], move, cycle * loads + x, crane))
    return sorted(trips)


def window_faults(line: Line, table: Timetable) -> list[str]:
    """Soaks shorter or longer than their window."""
    faults = []
    for x, times in enumerate(table.removal):
        for i, stage in enumerate(line.stages):
            soak = times[i + 1] - (times[i] + line.loaded_move[i])
            if soak < stage.min_soak:
                faults.append(f"load {x + 1} is in stage {i + 1} for {soak}, less than {stage.min_soak}")
            if stage.max_soak is not None and soak > stage.max_soak:
                faults.append(f"load {x + 1} is in stage {i + 1} for {soak}, more than {stage.max_soak}")
    return faults


def tank_faults(line: Line, trips: Sequence[Trip]) -> list[str]:
    """Loads that would need a tank which is not yet free.

    A tank is taken from the start of the move that brings a load until the end of the move that takes it away: so two
    loads never swap in one tank at one instant.
    """
    bring = {(t.load, t.move + 1): t.start for t in trips}
    faults = []
    for place in range(1, line.n + 1):
        stays = sorted((bring[t.load, place], t.end) for t in trips if t.move == place)
        free = [stays[0][0]] * line.stages[place - 1].tanks
        for start, end in stays:
            first = min(range(len(free)), key=free.__getitem__)
            if free[first] > start:
                faults.append(f"stage {place}: a load is brought while every tank is taken")
                break
            free[first] = end
    return faults


def load_place_faults(line: Line, trips: Sequence[Trip]) -> list[str]:
    """A shared load place that is not given its time between a finished load and the next lift.

    Such a place holds one load: it is taken from the start of the move that brings a finished load until the end of
    the move that lifts the next one. The line starts empty, so the place is followed from the first finished load on.
    """
    if not line.turnaround or not line.shared_load_place:
        return []
    at_place = [t for t in trips if t.move in (0, line.n)]
    first = next((k for k, t in enumerate(at_place) if t.move == line.n), len(at_place))
    last = max((k for k, t in enumerate(at_place) if t.move == 0), default=-1)
    for one, two in pairwise(at_place[max(0, first - 1) : last + 1]):
        if one.move == two.move == line.n:
            return ["the load place: a finished load is brought while the place is taken"]
        if one.move == two.move:
            return ["the load place: a load is lifted where none has been set down"]
        if two.move == line.n and one.end > two.start:
            return ["the load place: a finished load is brought before the next one has gone"]
        if two.move == 0 and two.start - one.end < line.turnaround:
            return [f"the load place has {two.start - one.end} between two loads, less than {line.turnaround}"]
    return []


def crane_faults(line: Line, trips: Sequence[Trip]) -> list[str]:
    """A crane that is asked to lift before it can be there."""
    faults = []
    for crane in sorted({t.crane for t in trips}):
        own = [t for t in trips if t.crane == crane]
        for one, two in pairwise(own):
            there = one.end + line.empty_move[one.move][two.move]
            if there > two.start:
                faults.append(
                    f"crane {crane + 1}: move {two.move} starts {there - two.start} before the crane is there after "
                    f"move {one.move}"
                )
    return faults
