"""How late each move of a timetable may be before a part is spoilt or another move is hindered.

`alone`: every other move stays on time. `together`: what comes after is put off as well, in the same order, as far as
the windows of all loads allow; then nothing is spoilt either, but the timetable has to be caught up with again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from firstoff.line.jobs import Jobs, Mode
from firstoff.line.plant_line import LOAD, STATIONS, PlantLine
from firstoff.line.plant_table import PlantTimetable
from firstoff.line.replay_plant import Trip, lay_out, run_faults

PASSES = 10_000


@dataclass(frozen=True)
class Tolerance:
    """The largest delay of one move [s]; None: more than a whole period."""

    load: int  # of the cycle, from 0
    move: int
    alone: Fraction | None
    together: Fraction | None


class Run:
    """A timetable laid out on the clock, and what its moves need of each other."""

    def __init__(self, jobs: Jobs, table: PlantTimetable) -> None:
        self.jobs, self.table, self.line = jobs, table, jobs.line
        self.trips = lay_out(self.line, table)
        self.place = {t.name: i for i, p in enumerate(jobs.places) for t in p.tanks}
        self.into = {(t.load, t.move + 1): k for k, t in enumerate(self.trips)}
        self.modes = [
            Mode(self.place[t.source], self.place[t.target], t.crane, jobs.ticks_up(t.end - t.start))
            for t in self.trips
        ]
        self.kind = [(t.source, t.target, t.crane, t.end - t.start) for t in self.trips]
        self.known: dict[object, Fraction | None] = {}
        times = [table.period, self.line.time_step, *(t for x in table.loads for t in (*x.lifts, *x.downs))]
        times += [x for s in self.line.tanks for x in (s.lift, s.turnaround)]
        self.scale = lcm(*(t.denominator for t in times))
        loads = len(table.loads)
        stay = max(x.downs[-1] for x in table.loads) - min(x.lifts[0] for x in table.loads)
        filled = int(stay // table.period) + 1  # from this cycle on the line is full
        self.chosen = [k for k, t in enumerate(self.trips) if filled * loads <= t.load < (filled + 1) * loads]

    def unit(self, time: Fraction) -> int:
        """In whole units of 1/scale seconds."""
        return int(time * self.scale)

    def gap(self, a: int, b: int) -> Fraction | None:
        """Least time from the start of trip a to the start of a later trip b."""
        key = (self.kind[a], self.kind[b])
        if key not in self.known:
            self.known[key] = self._gap(a, b)
        return self.known[key]

    def _gap(self, a: int, b: int) -> Fraction | None:
        one, two = self.trips[a], self.trips[b]
        gap = self.jobs.gap(self.modes[a], self.modes[b])
        least = None if gap is None else gap * self.line.time_step
        if one.source == two.target and self.line.tank(one.source).operation not in STATIONS:
            least = max(least or Fraction(0), one.end - one.start)
        for name, _, end in used(self.line, one):
            for other, begin_two, _ in used(self.line, two):
                if name == other:
                    apart = (end - one.start) - (begin_two - two.start)
                    least = max(least or Fraction(0), apart)
        return least

    def later(self, k: int) -> list[int]:
        """Trips that start within a period after trip k."""
        begin = self.trips[k].start
        return [b for b, t in enumerate(self.trips) if b != k and begin <= t.start <= begin + self.table.period]


def used(line: PlantLine, trip: Trip) -> list[tuple[str, Fraction, Fraction]]:
    """When a trip takes load places with a turnaround."""
    source, target = line.tank(trip.source), line.tank(trip.target)
    found = []
    if source.operation in STATIONS and source.turnaround:
        hang = source.turnaround if source.operation == LOAD else Fraction(0)
        found.append((source.name, trip.start - hang, trip.start + source.lift))
    if target.operation in STATIONS and target.turnaround:
        found.append((target.name, trip.start, trip.end + target.turnaround))
    return found


def tolerances(jobs: Jobs, table: PlantTimetable) -> list[Tolerance]:
    """The largest delay of every move of a cycle, load after load."""
    run = Run(jobs, table)
    found = []
    for k in run.chosen:
        alone = _alone(run, k)
        found.append((run.trips[k].load % len(table.loads), run.trips[k].move, alone, _together(run, k, alone)))
    most = table.period

    def shown(value: Fraction) -> Fraction | None:
        return value if value <= most else None

    return [Tolerance(load, move, shown(a), shown(b)) for load, move, a, b in sorted(found)]


def _alone(run: Run, k: int) -> Fraction:
    trip, line = run.trips[k], run.line
    steps = line.product(trip.product).steps
    room = [run.table.period + 1]
    plan = run.table.loads[trip.load % len(run.table.loads)]
    if trip.move > 0:
        most = steps[trip.move - 1].most
        if most is not None:
            room.append(most - (plan.lifts[trip.move] - plan.downs[trip.move - 1]))
    if trip.move < len(steps):
        step = steps[trip.move]
        room.append(plan.lifts[trip.move + 1] - plan.downs[trip.move] - max(step.least, step.contact + step.ramp))
    for b in run.later(k):
        gap = run.gap(k, b)
        if gap is not None and (run.trips[b].start > trip.start or run.trips[b].crane == trip.crane):
            room.append(run.trips[b].start - trip.start - gap)
    room += [_bar_room(run, k), _bus_room(run, k)]
    return max(Fraction(0), min(room))


def _bar_room(run: Run, k: int) -> Fraction:
    """Until the bar of this load is needed again."""
    trip, line = run.trips[k], run.line
    endless = run.table.period + 1
    if line.bars is None or trip.move != len(line.product(trip.product).steps):
        return endless
    spans: dict[int, tuple[Trip, Trip]] = {}
    for t in run.trips:
        first, last = spans.get(t.load, (t, t))
        spans[t.load] = min(first, t), max(last, t)
    stays = {
        load: (first.start - (line.tank(first.source).turnaround if not line.shared else 0),
               last.end + line.tank(last.target).turnaround)
        for load, (first, last) in spans.items()
    }  # fmt: skip
    own = stays.pop(trip.load)
    return _until_full(
        [(a, b, Fraction(1)) for a, b in stays.values()], own[1], Fraction(1), Fraction(line.bars), endless
    )


def _bus_room(run: Run, k: int) -> Fraction:
    """Until the current of the tank that is emptied is needed elsewhere on its bus."""
    trip, line = run.trips[k], run.line
    endless = run.table.period + 1
    bus = line.tank(trip.source).bus
    if not bus or trip.move == 0:
        return endless
    stays = []
    own = Fraction(0)
    for t in run.trips:
        tank, come = line.tank(t.source), run.into.get((t.load, t.move))
        if tank.bus != bus or come is None or t.move == 0:
            continue
        step, into = line.product(t.product).steps[t.move - 1], run.trips[come]
        if t == trip:
            own = step.current
        else:
            on = into.end - tank.lower if step.live else into.end + step.contact
            stays.append((on, t.start, step.current))
    return _until_full(stays, trip.start, own, line.buses[bus], endless)


def _until_full(
    stays: Sequence[tuple[Fraction, Fraction, Fraction]],
    end: Fraction,
    own: Fraction,
    most: Fraction,
    endless: Fraction,
) -> Fraction:
    """From `end` until something comes for which there is no room while `own` is still there."""
    for begin, _, _ in sorted(stays):
        if begin >= end and own + sum(size for a, b, size in stays if a <= begin < b) > most:
            return begin - end
    return endless


def _together(run: Run, k: int, alone: Fraction) -> Fraction:
    """Latest start of trip k when all later trips may be late as well: upper bounds, relaxed until they rest."""
    trips, line, unit = run.trips, run.line, run.unit
    begin, period = trips[k].start, run.table.period
    cut = max(t.load for t in trips if begin <= t.start <= begin + 3 * period)
    latest = {
        b: unit(t.start + period) + 1
        for b, t in enumerate(trips)
        if (t.start > begin or b == k) and t.load <= cut
    }  # fmt: skip
    pairs = _pairs(run, sorted(latest))
    for b in latest:  # what stands in a tank already
        out = trips[b]
        come = run.into.get((out.load, out.move))
        most = line.product(out.product).steps[out.move - 1].most if out.move else None
        if come is not None and come not in latest and most is not None:
            latest[b] = min(latest[b], unit(trips[come].end + most))
    for _ in range(PASSES):
        changed = False
        for a, b, gap in pairs:
            if latest[b] - gap < latest[a]:
                latest[a], changed = latest[b] - gap, True
        if not changed:
            break
    room = Fraction(latest[k], run.scale) - begin
    if room <= alone:
        return alone
    late = _put_off(run, k, latest[k], sorted(latest), pairs)
    return room if late is not None and not run_faults(line, late) else alone


def _pairs(run: Run, chosen: Sequence[int]) -> list[tuple[int, int, int]]:
    """t[b] - t[a] >= gap in units, for trips in their order and for windows."""
    trips, line, unit = run.trips, run.line, run.unit
    pairs = []
    for i, a in enumerate(chosen):
        until = trips[a].start + run.table.period
        for b in chosen[i + 1 :]:
            if trips[b].start > until:
                break
            gap = run.gap(a, b)
            if gap is not None:
                pairs.append((a, b, unit(gap)))
    among = set(chosen)
    for b in chosen:
        out, come = trips[b], run.into.get((trips[b].load, trips[b].move))
        if come is not None and come in among:
            a = come
            step, way = line.product(out.product).steps[out.move - 1], trips[a].end - trips[a].start
            pairs.append((a, b, unit(way + max(step.least, step.contact + step.ramp))))
            if step.most is not None:
                pairs.append((b, a, unit(-way - step.most)))
    pairs.sort(key=lambda p: -p[1])
    return pairs


def _put_off(
    run: Run, k: int, to: int, chosen: Sequence[int], pairs: Sequence[tuple[int, int, int]]
) -> list[Trip] | None:
    """The run with trip k started as late as `to`, and the later ones as little late as that asks for."""
    start = {b: run.unit(run.trips[b].start) for b in chosen}
    start[k] = to
    for _ in range(PASSES):
        changed = False
        for a, b, gap in reversed(pairs):
            if start[a] + gap > start[b]:
                start[b], changed = start[a] + gap, True
        if not changed:
            break
        if start[k] > to:
            return None
    cut = max(run.trips[b].load for b in chosen)
    late = []
    for b, trip in enumerate(run.trips):
        if trip.load <= cut:
            begin = Fraction(start[b], run.scale) if b in start else trip.start
            late.append(trip._replace(start=begin, end=begin + trip.end - trip.start))
    return sorted(late)
