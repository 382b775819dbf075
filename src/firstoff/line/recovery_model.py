"""From any state back to the timetable: a CP-SAT model over whole time steps and a finite time.

What is in the line is carried on, each load with its own windows; from an instant J on, new loads follow the repeating
timetable. A load that is given up goes the same way to its end, but its windows and its limits on time in air no longer
bind. J is as early as possible.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from firstoff.line.jobs import Job, Jobs, Mode, Place
from firstoff.line.plant_line import LOAD, STATIONS, Tank
from firstoff.line.plant_table import PlantTimetable
from firstoff.line.state import LineState, LoadState

HANGING = "on the crane"


@dataclass
class Trip:
    """One move of the model: `start` is a variable, or a constant after J."""

    start: Any
    modes: list[Mode]
    by: list[Any]  # a literal for each mode; the constant 1 for the only one
    earliest: int
    latest: int
    after: int | None = None  # steps after J; None: of a load that is in the line already


class Remaining:
    """A load in the line, and the moves it has before it. Stop 0 is where it is."""

    def __init__(self, load: LoadState, job: Job, at: int) -> None:
        self.load, self.job = load, job
        self.hanging = load.crane is not None
        here = load.step - 1 if self.hanging else load.step
        self.stops: list[tuple[int, ...]] = [(at,), *(v.places for v in job.visits[here + 1 :])]
        self.first = here  # the stop of its recipe that it leaves with its first move
        self.trips: list[int] = []


def with_cranes(jobs: Jobs, state: LineState) -> tuple[Jobs, dict[int, int]]:
    """The places with one more for each crane, where it stands at the beginning."""
    places = list(jobs.places)
    at = {}
    for crane, position in state.cranes.items():
        none = jobs.line.time_step * 0
        at[crane] = len(places)
        places.append(Place(HANGING, (Tank(f"{HANGING} {crane}", HANGING, position, none, none, none),), (crane,)))
    return Jobs(jobs.line, tuple(places), jobs.jobs), at


class RecoveryModel:
    """Variables and constraints. `spoilt`: names of loads given up; `joining`: whether new loads follow the timetable
    from J on, or none come at all."""

    def __init__(
        self, jobs: Jobs, state: LineState, table: PlantTimetable, spoilt: Collection[str], *, joining: bool
    ) -> None:
        from ortools.sat.python import cp_model

        self.cp: Any = cp_model
        self.model = cp_model.CpModel()
        self.jobs, self.cranes = with_cranes(jobs, state)
        self.table, self.period = table, self.jobs.ticks_up(table.period)
        self.place = {t.name: i for i, p in enumerate(self.jobs.places) for t in p.tanks}
        self.spoilt = frozenset(spoilt)
        self.remaining = [self._remaining(load) for load in state.loads]
        self.horizon = self._horizon()
        self.trips: list[Trip] = []
        for k in range(len(self.remaining)):
            self._moves(k)
        self.last = max((t.latest + max(m.duration for m in t.modes) for t in self.trips), default=0)
        self.join = self.model.new_int_var(0, self.last + self.period, "J")
        self.cycle = self._cycle() if joining else []
        self._cranes()
        from firstoff.line.recovery_share import add_shares

        add_shares(self)
        if joining:
            self.model.minimize(self.join)

    # --- the loads in the line --------------------------------------------------------------------------------------

    def _remaining(self, load: LoadState) -> Remaining:
        job = next(j for j in self.jobs.jobs if j.product.name == load.product)
        return Remaining(load, job, self.cranes[load.crane] if load.crane is not None else self.place[load.tank])

    def _ways(self, r: Remaining, i: int) -> list[Mode]:
        return [
            Mode(p, q, crane, self.jobs.carry[p][q])
            for p in r.stops[i]
            for q in r.stops[i + 1]
            for crane in self.jobs.places[p].cranes
            if crane in self.jobs.places[q].cranes
        ]

    def _horizon(self) -> int:
        """Long enough for the slowest load at the end of its windows, and for what it may have to wait."""
        far = max(max(row) for row in self.jobs.empty)
        longest = work = 0
        for r in self.remaining:
            ways = [max(m.duration for m in self._ways(r, i)) for i in range(len(r.stops) - 1)]
            soaks = sum(
                v.most if v.most is not None else v.least + 4 * self.period
                for v in r.job.visits[max(r.first, 1) : -1]
            )  # fmt: skip
            longest = max(longest, soaks + sum(ways))
            work = max(work, sum(ways) + len(ways) * far)
        return longest + work + self.period

    def _moves(self, k: int) -> None:
        r, model = self.remaining[k], self.model
        low, high = 0, 0
        previous: Trip | None = None
        for i in range(len(r.stops) - 1):
            modes = self._ways(r, i)
            low, high = self._bounds(r, i, low, high, previous)
            start = model.new_int_var(low, max(low, high), f"s{k},{i}")
            by = [1] if len(modes) == 1 else [model.new_bool_var(f"x{k},{i},{n}") for n in range(len(modes))]
            if len(modes) > 1:
                model.add_exactly_one(by)
            model.add(start <= high)
            trip = Trip(start, modes, by, low, high)
            self._stay(k, i, previous, trip)
            r.trips.append(len(self.trips))
            self.trips.append(trip)
            previous = trip
        self._air(k)

    def _bounds(self, r: Remaining, i: int, low: int, high: int, previous: Trip | None) -> tuple[int, int]:
        """Earliest and latest start of a move, as the windows before it allow."""
        since = self.jobs.ticks_up(r.load.since)
        if previous is None:
            if r.hanging:
                return 0, self.horizon
            visit = r.job.visits[r.load.step]
            least, most = max(0, visit.least - since), None if visit.most is None else visit.most - since
        else:
            visit = r.job.visits[r.first + i]
            ways = [m.duration for m in previous.modes]
            least, most = low + min(ways) + visit.least, None
            if visit.most is not None:
                most = high + max(ways) + visit.most
        if r.load.name in self.spoilt:
            return (0 if previous is None else low + min(m.duration for m in previous.modes)), self.horizon
        return least, self.horizon if most is None else min(most, self.horizon)

    def _stay(self, k: int, i: int, previous: Trip | None, trip: Trip) -> None:
        r, model = self.remaining[k], self.model
        if previous is None and r.hanging:
            return
        visit = r.job.visits[r.load.step if previous is None else r.first + i]
        if previous is None:
            soak = trip.start + self.jobs.ticks_up(r.load.since)
        else:
            soak = trip.start - previous.start - duration(previous)
            model.add(soak >= 0)
            if len(r.stops[i]) > 1:
                for p in r.stops[i]:
                    model.add(sum(_at(previous, p, source=False)) == sum(_at(trip, p, source=True)))
        if r.load.name not in self.spoilt:
            model.add(soak >= visit.least)
            if visit.most is not None:
                model.add(soak <= visit.most)

    def _air(self, k: int) -> None:
        """Limits on time in air; `air` of the state is what a limit that still runs has used up."""
        r = self.remaining[k]
        if r.load.name in self.spoilt:
            return
        for moves, most in self.jobs.air_rows(r.job):
            ahead = [m for m in moves if m >= r.first]
            if not ahead or r.first >= moves.stop:
                continue
            used: Any = sum(duration(self.trips[r.trips[m - r.first]]) for m in ahead)
            if r.first > moves.start or (r.hanging and r.first == moves.start):
                used += self.jobs.ticks_up(r.load.air)
            if r.hanging and r.first in moves:
                used += self.jobs.ticks_up(r.load.since) + self.trips[r.trips[0]].start
            self.model.add(used <= most)

    # --- the cycle --------------------------------------------------------------------------------------------------

    def _cycle(self) -> list[list[tuple[int, ...]]]:
        """Moves of the timetable after J, for as long as a load of the beginning may still be there: [cycle][load]."""
        begin = min(load.lifts[0] for load in self.table.loads)
        found = []
        for cycle in range(self.last // self.period + 2):
            found.append([self._pattern(x, cycle, begin) for x in range(len(self.table.loads))])
        return found

    def _pattern(self, x: int, cycle: int, begin: Any) -> tuple[int, ...]:
        load, numbers = self.table.loads[x], []
        for i in range(len(load.lifts)):
            after = self.jobs.ticks_up(load.lifts[i] - begin + cycle * self.table.period)
            way = self.jobs.ticks_up(load.downs[i] - load.lifts[i])
            mode = Mode(self.place[load.stops[i][0]], self.place[load.stops[i + 1][0]], load.cranes[i], way)
            numbers.append(len(self.trips))
            self.trips.append(Trip(self.join + after, [mode], [1], after, after + self.last + self.period, after))
        return tuple(numbers)

    # --- the cranes -------------------------------------------------------------------------------------------------

    def _cranes(self) -> None:
        for crane, place in self.cranes.items():
            stands = Trip(0, [Mode(place, place, crane, 0)], [1], 0, 0)
            for trip in self.trips:
                self._first(stands, trip)
        for r in self.remaining:
            if r.hanging:
                self._hands_full(r.trips[0])
        for a, b in combinations(range(len(self.trips)), 2):
            one, two = self.trips[a], self.trips[b]
            if one.after is None or two.after is None:
                self._apart(a, b, one, two)

    def _hands_full(self, hanging: int) -> None:
        """A crane that carries a load makes no other move before that load is set down."""
        held = self.trips[hanging]
        for number, trip in enumerate(self.trips):
            for mode, by in zip(trip.modes, trip.by, strict=True):
                if number != hanging and mode.crane == held.modes[0].crane:
                    for way, chosen in zip(held.modes, held.by, strict=True):
                        gap = self.gap(way, mode) or 0
                        self.model.add(trip.start >= held.start + gap).only_enforce_if(*literals(by, chosen))

    def _first(self, stands: Trip, trip: Trip) -> None:
        """A crane must first come from where it stands, and another get out of the way."""
        for mode, by in zip(trip.modes, trip.by, strict=True):
            gap = self.gap(stands.modes[0], mode)
            if gap is not None and gap > trip.earliest:
                self.model.add(trip.start >= gap).only_enforce_if(*literals(by))

    def gap(self, one: Mode, two: Mode) -> int | None:
        gap = self.jobs.gap(one, two)
        if one.source == two.target and self.jobs.places[one.source].operation not in (*STATIONS, HANGING):
            return max(one.duration, gap or 0)
        return gap

    def _apart(self, a: int, b: int, one: Trip, two: Trip) -> None:
        """One before the other, with the gap between them; nothing where their times leave no doubt."""
        pairs = [
            (literals(x, y), self.gap(m, n), self.gap(n, m))
            for x, m in zip(one.by, one.modes, strict=True)
            for y, n in zip(two.by, two.modes, strict=True)
        ]
        if one.latest + max(go or 0 for _, go, _ in pairs) <= two.earliest:
            return
        if two.latest + max(come or 0 for *_, come in pairs) <= one.earliest:
            return
        if all(go is None and come is None for _, go, come in pairs):
            return
        first = self._order(one, two)
        for both, go, come in pairs:
            if go is not None:
                self.model.add(two.start >= one.start + go).only_enforce_if(*both, *literals(first))
            if come is not None:
                self.model.add(one.start >= two.start + come).only_enforce_if(*both, *literals(_not(first)))

    def _order(self, one: Trip, two: Trip) -> Any:
        if one.latest < two.earliest:
            return 1
        if two.latest < one.earliest:
            return 0
        first = self.model.new_bool_var("")
        self.model.add(one.start <= two.start).only_enforce_if(first)
        self.model.add(two.start <= one.start).only_enforce_if(~first)
        return first


def duration(trip: Trip) -> Any:
    return sum(mode.duration * by for mode, by in zip(trip.modes, trip.by, strict=True))


def _at(trip: Trip, place: int, *, source: bool) -> list[Any]:
    pairs = zip(trip.modes, trip.by, strict=True)
    return [by for mode, by in pairs if (mode.source if source else mode.target) == place]


def _not(literal: Any) -> Any:
    return 1 - literal if isinstance(literal, int) else ~literal


def literals(*given: Any) -> list[Any]:
    """Those that are no constant 1; a constant 0 makes the whole condition impossible."""
    return [False if isinstance(x, int) and x == 0 else x for x in given if not (isinstance(x, int) and x == 1)]


def hang_time(jobs: Jobs, place: Place) -> int:
    """How long a load place is taken before a load is lifted."""
    return jobs.ticks(place.tanks[0].turnaround) if place.operation == LOAD else 0
