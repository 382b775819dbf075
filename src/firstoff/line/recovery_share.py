"""What old and new loads share while a line recovers: tanks, load places, flight bars, rectifier current."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from firstoff.line.plant_line import STATIONS
from firstoff.line.recovery_model import hang_time, literals

if TYPE_CHECKING:
    from firstoff.line.recovery_model import RecoveryModel, Remaining, Trip


class Intervals:
    """Intervals with demands, gathered for one shared thing."""

    def __init__(self, model: RecoveryModel) -> None:
        self.model = model
        self.intervals: list[Any] = []
        self.demands: list[int] = []

    def add(self, begin: Any, end: Any, here: Any = 1, demand: int = 1) -> None:
        cp, top = self.model.model, 4 * self.model.horizon + 10**6
        size, first, last = cp.new_int_var(0, top, ""), cp.new_int_var(-top, top, ""), cp.new_int_var(-top, top, "")
        cp.add(first == begin)
        cp.add(last == end)
        if literals(here):
            self.intervals.append(cp.new_optional_interval_var(first, size, last, here, ""))
        else:
            self.intervals.append(cp.new_interval_var(first, size, last, ""))
        self.demands.append(demand)

    def close(self, capacity: int) -> None:
        if sum(self.demands) > capacity:
            self.model.model.add_cumulative(self.intervals, self.demands, capacity)


def add_shares(model: RecoveryModel) -> None:
    """Every limit on what is there at once; loads of the cycle among themselves keep them by the timetable."""
    for p in range(len(model.jobs.places)):
        _place(model, p)
    _bars(model)
    for bus, limit in model.jobs.line.buses.items():
        _bus(model, bus, int(limit * 10))


def end_of(trip: Trip) -> Any:
    return trip.start + sum(mode.duration * by for mode, by in zip(trip.modes, trip.by, strict=True))


def _here(trip: Trip, place: int, model: RecoveryModel, *, source: bool) -> Any:
    """A literal: the move starts (ends) at a place; None when it never does."""
    pairs = list(zip(trip.modes, trip.by, strict=True))
    some = [by for mode, by in pairs if (mode.source if source else mode.target) == place]
    if not some:
        return None
    if len(some) == len(pairs):
        return 1
    if len(some) == 1:
        return some[0]
    literal = model.model.new_bool_var("")
    model.model.add(sum(some) == literal)
    return literal


def _place(model: RecoveryModel, p: int) -> None:
    place, trips = model.jobs.places[p], model.trips
    there = Intervals(model)
    turn, hang = model.jobs.ticks(place.tanks[0].turnaround), hang_time(model.jobs, place)
    if place.operation in STATIONS:
        if not turn:
            return
        lift = model.jobs.ticks(max(t.lift for t in place.tanks))
        for trip in trips:
            for source in (True, False):
                here = _here(trip, p, model, source=source)
                if here is not None and source:
                    there.add(trip.start - hang, trip.start + lift, here)
                elif here is not None:
                    there.add(trip.start, end_of(trip) + turn, here)
        there.close(len(place.tanks))
        return
    for r in model.remaining:
        if r.stops[0] == (p,) and not r.hanging:
            there.add(0, end_of(trips[r.trips[0]]))
        for i in range(1, len(r.trips)):
            here = _here(trips[r.trips[i]], p, model, source=True)
            if here is not None:
                there.add(trips[r.trips[i - 1]].start, end_of(trips[r.trips[i]]), here)
    for cycle in model.cycle:
        for numbers in cycle:
            for into, out in zip(numbers, numbers[1:], strict=False):
                if trips[out].modes[0].source == p:
                    there.add(trips[into].start, end_of(trips[out]))
    there.close(len(place.tanks))


def _bars(model: RecoveryModel) -> None:
    line = model.jobs.line
    if line.bars is None:
        return
    there = Intervals(model)
    off = max(model.jobs.ticks(t.turnaround) for t in line.stations(line.last()))
    hang = 0 if line.shared else max(model.jobs.ticks(t.turnaround) for t in line.stations(line.first()))
    for r in model.remaining:
        there.add(0, end_of(model.trips[r.trips[-1]]) + off)
    for cycle in model.cycle:
        for numbers in cycle:
            there.add(model.trips[numbers[0]].start - hang, end_of(model.trips[numbers[-1]]) + off)
    there.close(line.bars)


def _bus(model: RecoveryModel, bus: str, limit: int) -> None:
    there = Intervals(model)
    for r in model.remaining:
        _bus_of_load(model, r, bus, there)
    for cycle in model.cycle:
        for x, numbers in enumerate(cycle):
            steps = model.jobs.line.product(model.table.loads[x].product).steps
            for i, step in enumerate(steps):
                into, out = model.trips[numbers[i]], model.trips[numbers[i + 1]]
                place = model.jobs.places[out.modes[0].source]
                if place.tanks[0].bus == bus and step.current:
                    lower = model.jobs.ticks(max(t.lower for t in place.tanks))
                    shift = -lower if step.live else model.jobs.ticks(step.contact)
                    there.add(end_of(into) + shift, out.start, 1, -int(-step.current * 10 // 1))
    there.close(limit)


def _bus_of_load(model: RecoveryModel, r: Remaining, bus: str, there: Intervals) -> None:
    for i, number in enumerate(r.trips):
        step = r.job.visits[r.first + i].step
        if step is None or not step.current or (i == 0 and r.hanging):
            continue
        out = model.trips[number]
        for p in r.stops[i]:
            place, here = model.jobs.places[p], _here(out, p, model, source=True)
            if place.tanks[0].bus != bus or here is None:
                continue
            lower = model.jobs.ticks(max(t.lower for t in place.tanks))
            shift = -lower if step.live else model.jobs.ticks(step.contact)
            on: Any = 0 if i == 0 else end_of(model.trips[r.trips[i - 1]]) + shift
            if step.contact and not step.live:
                # lifted before contact, a spoilt load draws nothing
                later = model.model.new_int_var(0, 4 * model.horizon + 10**6, "")
                model.model.add_max_equality(later, [out.start, on])
                there.add(on, later, here, -int(-step.current * 10 // 1))
            else:
                there.add(on, out.start, here, -int(-step.current * 10 // 1))
