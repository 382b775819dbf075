"""A plating line as jobs for the general solver: places, visits, and the ways a crane may make each move.

Whole time steps throughout. Duplicates that stand side by side are one place with several tanks, used in turn; every
time to or from the place is the longest to any of its tanks, so one timetable fits whichever tank is next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import groupby

from firstoff.errors import InputFault, Message
from firstoff.line.plant_line import STATIONS, PlantLine, Product, Step, Tank
from firstoff.line.plant_sheet import air_spans


@dataclass(frozen=True)
class Place:
    """Tanks of one operation side by side, all within reach of the same cranes."""

    operation: str
    tanks: tuple[Tank, ...]
    cranes: tuple[int, ...]

    @property
    def low(self) -> Fraction:
        return min(t.position for t in self.tanks)

    @property
    def high(self) -> Fraction:
        return max(t.position for t in self.tanks)


@dataclass(frozen=True)
class Visit:
    """One stay: at a load place (no step) or an immersion, at one of `places`."""

    places: tuple[int, ...]
    least: int = 0
    most: int | None = None
    step: Step | None = None


@dataclass(frozen=True)
class Mode:
    """One way to make a move: from place to place, by a crane."""

    source: int
    target: int
    crane: int
    duration: int


@dataclass(frozen=True)
class Job:
    """One load of the cycle: hung on, immersed step by step, taken off."""

    product: Product
    visits: tuple[Visit, ...]

    @property
    def moves(self) -> int:
        return len(self.visits) - 1


@dataclass(frozen=True)
class Jobs:
    """The loads of one cycle on a line."""

    line: PlantLine
    places: tuple[Place, ...]
    jobs: tuple[Job, ...]

    def ticks(self, time: Fraction) -> int:
        ticks = time / self.line.time_step
        assert ticks.denominator == 1  # the reader rounds every time to the step
        return int(ticks)

    def ticks_up(self, time: Fraction) -> int:
        return -int(-time // self.line.time_step)

    @cached_property
    def carry(self) -> list[list[int]]:
        return [[self._longest(p, q, loaded=True) for q in self.places] for p in self.places]

    @cached_property
    def empty(self) -> list[list[int]]:
        return [[self._longest(p, q, loaded=False) for q in self.places] for p in self.places]

    def _longest(self, p: Place, q: Place, *, loaded: bool) -> int:
        time = self.line.carry if loaded else self.line.empty
        return self.ticks(max(time(a, b) for a in p.tanks for b in q.tanks))

    def modes(self, job: Job, move: int) -> list[Mode]:
        """Every way to make a move of a job."""
        return [
            Mode(p, q, crane, self.carry[p][q])
            for p in job.visits[move].places
            for q in job.visits[move + 1].places
            for crane in self.places[p].cranes
            if crane in self.places[q].cranes
        ]

    def gap(self, one: Mode, two: Mode) -> int | None:
        """Least time from the start of one move to the start of a later one; None: they may be under way together.

        Two cranes: a move needs its whole stretch of track, less than the separation from no other move under way.
        After a move the crane must get clear of where the other begins: from rest to rest, the overlap of the two and
        the separation.
        """
        if one.crane == two.crane:
            return one.duration + self.empty[one.target][two.source]
        left, right = (one, two) if one.crane < two.crane else (two, one)
        apart = self.line.separation * abs(one.crane - two.crane)
        if self._end(left, high=True) + apart <= self._end(right, high=False):
            return None
        done, begun = self.places[one.target], self.places[two.source]
        room = begun.low - done.high if one is left else done.low - begun.high
        clear = max(Fraction(0), apart - room)
        return one.duration + self.ticks(self.line.travel(clear))

    def _end(self, mode: Mode, *, high: bool) -> Fraction:
        source, target = self.places[mode.source], self.places[mode.target]
        return max(source.high, target.high) if high else min(source.low, target.low)

    def air_rows(self, job: Job) -> list[tuple[range, int]]:
        """Moves of a job whose times together must not be longer than so many steps."""
        stops = [self.places[v.places[0]].operation for v in job.visits]
        return [
            (range(first, last), self.ticks(limit.most))
            for limit in self.line.air
            for first, last in air_spans(stops, limit)
        ]


def places_of(line: PlantLine) -> tuple[Place, ...]:
    """Tanks grouped into places: neighbours on the track of one operation, one reach and one bus."""

    def group(tank: Tank) -> tuple[object, ...]:
        cranes = tuple(c for c in range(len(line.cranes)) if line.reaches(c, tank.position))
        return tank.operation, cranes, tank.bus, tank.turnaround

    along = sorted(line.tanks, key=lambda t: (t.position, t.name))
    found = []
    for (operation, cranes, *_), tanks in groupby(along, key=group):
        found.append(Place(str(operation), tuple(tanks), cranes))  # type: ignore[arg-type]
    return tuple(found)


def jobs_of(line: PlantLine, products: Sequence[Product] | None = None) -> Jobs:
    """The loads of one cycle; InputFault when a recipe cannot be run on the tanks that are left."""
    places = places_of(line)
    at: dict[str, tuple[int, ...]] = {}
    for i, place in enumerate(places):
        at[place.operation] = (*at.get(place.operation, ()), i)
    cycle = [p for product in (line.products if products is None else products) for p in [product] * product.loads]
    jobs = []
    faults: dict[str, Message] = {}
    for product in cycle:
        stops = [line.first(), *(s.operation for s in product.steps), line.last()]
        missing = [s for s in stops if s not in at]
        for stop in missing:
            faults[stop] = Message(f"no tank is left for {stop}", line.name, key=stop)
        if not missing:
            jobs.append(_job(line, product, at))
    if faults:
        raise InputFault(list(faults.values()))
    whole = Jobs(line, places, tuple(jobs))
    for job in dict.fromkeys(jobs):
        for m in range(job.moves):
            if not whole.modes(job, m):
                ends = [places[job.visits[k].places[0]].operation for k in (m, m + 1)]
                faults[ends[0]] = Message(f"no crane reaches both {ends[0]} and {ends[1]}", line.name)
    if faults:
        raise InputFault(list(faults.values()))
    return whole


def _job(line: PlantLine, product: Product, at: dict[str, tuple[int, ...]]) -> Job:
    def ticks(time: Fraction) -> int:
        return int(time / line.time_step)

    stays = [
        Visit(at[s.operation], ticks(s.least), None if s.most is None else ticks(s.most), s) for s in product.steps
    ]
    return Job(product, (Visit(at[line.first()]), *stays, Visit(at[line.last()])))


def is_plain(jobs: Jobs) -> bool:
    """Whether the line of stages with one product and one crane says it all: one place a step, none used twice."""
    first = jobs.jobs[0]
    stops = [v.places[0] for v in first.visits[1:-1]]
    return (
        len(jobs.line.cranes) == 1
        and all(job == first for job in jobs.jobs)
        and all(len(v.places) == 1 for v in first.visits)
        and len(set(stops)) == len(stops)
        and all(len(jobs.places[v.places[0]].tanks) == 1 for v in (first.visits[0], first.visits[-1]))
        and (jobs.line.shared or not any(t.turnaround for t in jobs.line.stations(*STATIONS)))
        and all(_air_kept(jobs, rows, most) for rows, most in jobs.air_rows(first))
    )


def _air_kept(jobs: Jobs, moves: range, most: int) -> bool:
    return sum(jobs.modes(jobs.jobs[0], m)[0].duration for m in moves) <= most
