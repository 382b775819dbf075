"""What loads share, counted: tanks of a place, load places, flight bars, rectifier current.

A stay from event `on` to event `off` holds, at an instant of phase p, as many loads of its kind as whole periods lie
between the two phases' periods, and one more when `on` is not after p, one less when `off` is not after p. The count
can only be largest when something comes, so it is limited there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from firstoff.line.plant_line import SHARED, STATIONS

if TYPE_CHECKING:
    from firstoff.line.mixed import Event, Mixed

MOST = 100  # of one stay at once: whole periods that may lie in it


@dataclass(frozen=True)
class Stay:
    """One load's stay at something shared; `here`: literal (or 1) that it uses it; `demand`: how much of it."""

    on: Event
    off: Event
    here: Any = 1
    demand: int = 1


def add_shares(mixed: Mixed) -> None:
    """Every limit on what is there at once."""
    _tanks(mixed)
    _load_places(mixed)
    _bars(mixed)
    _buses(mixed)


def limit(mixed: Mixed, stays: Sequence[Stay], capacity: int, name: str) -> None:
    """At no instant more than `capacity`."""
    model = mixed.model
    for i, come in enumerate(stays):
        there: list[Any] = []
        for j, stay in enumerate(stays):
            turns = stay.off.turns - stay.on.turns
            came = 1 if i == j else mixed.not_after(stay.on, come.on)
            count = turns + came - mixed.not_after(stay.off, come.on)
            if not isinstance(stay.here, int) and i != j:
                some = model.new_int_var(0, MOST, f"{name}{i},{j}")
                model.add(some == count).only_enforce_if(stay.here)
                model.add(some == 0).only_enforce_if(~stay.here)
                count = some
            there.append(stay.demand * count)
        model.add(sum(there) <= capacity).only_enforce_if(*mixed.when(come.here))


def _tanks(mixed: Mixed) -> None:
    jobs = mixed.jobs
    stays: dict[int, list[Stay]] = {}
    for j, job in enumerate(jobs.jobs):
        for m in range(1, job.moves):
            into, out = mixed.first[j] + m - 1, mixed.first[j] + m
            places = job.visits[m].places
            for p in places:
                here = 1 if len(places) == 1 else _literal(mixed, mixed.at(out, p, source=True), f"v{out}at{p}")
                stays.setdefault(p, []).append(Stay(mixed.begin(into), mixed.begin(out), here))
    for p, there in stays.items():
        limit(mixed, there, len(jobs.places[p].tanks), f"p{p}")


def _literal(mixed: Mixed, some: Sequence[Any], name: str) -> Any:
    """One literal for "one of these", of which at most one holds."""
    if len(some) == 1:
        return some[0]
    literal = mixed.model.new_bool_var(name)
    mixed.model.add(sum(some) == literal)
    return literal


def _load_places(mixed: Mixed) -> None:
    """A load place is taken while a load is hung on or taken off, and until it is lifted clear."""
    jobs = mixed.jobs
    for p, place in enumerate(jobs.places):
        turn = jobs.ticks(place.tanks[0].turnaround)
        if place.operation not in STATIONS or not turn:
            continue
        stays = []
        for j, job in enumerate(jobs.jobs):
            go, come = mixed.first[j], mixed.first[j] + job.moves - 1
            if p in job.visits[0].places:
                here = (
                    1 if len(job.visits[0].places) == 1 else _literal(mixed, mixed.at(go, p, source=True), f"g{j},{p}")
                )
                lift = jobs.ticks(max(t.lift for t in place.tanks))
                on = mixed.begin(go) if place.operation == SHARED else mixed.shifted(go, f"hang{p},", -turn)
                stays.append(Stay(on, mixed.shifted(go, f"gone{p},", lift), here))
            if p in job.visits[-1].places:
                ends = job.visits[-1].places
                here = 1 if len(ends) == 1 else _literal(mixed, mixed.at(come, p, source=False), f"e{j},{p}")
                off = mixed.shifted(come, f"off{p},", turn, after=True)
                stays.append(Stay(mixed.begin(come), off, here))
        limit(mixed, stays, len(place.tanks), f"l{p}")


def _bars(mixed: Mixed) -> None:
    """A bar is taken from hanging on until the load is off it."""
    jobs = mixed.jobs
    if jobs.line.bars is None:
        return
    hang, off = (_turn(mixed, kind) for kind in (jobs.line.first(), jobs.line.last()))
    stays = []
    for j, job in enumerate(jobs.jobs):
        go, come = mixed.first[j], mixed.first[j] + job.moves - 1
        on = mixed.begin(go) if jobs.line.shared else mixed.shifted(go, "hung", -hang)
        stays.append(Stay(on, mixed.shifted(come, "bare", off, after=True)))
    limit(mixed, stays, jobs.line.bars, "bars")


def _turn(mixed: Mixed, kind: str) -> int:
    return max(mixed.jobs.ticks(t.turnaround) for t in mixed.jobs.line.stations(kind))


def _buses(mixed: Mixed) -> None:
    """A tank draws its current from contact (with live entry from the start of lowering) until the lift."""
    jobs = mixed.jobs
    for bus, most in jobs.line.buses.items():
        stays = []
        for j, job in enumerate(jobs.jobs):
            for m in range(1, job.moves):
                step = job.visits[m].step
                if step is None or not step.current:
                    continue
                into, out = mixed.first[j] + m - 1, mixed.first[j] + m
                for p in job.visits[m].places:
                    tank = jobs.places[p].tanks[0]
                    if tank.bus != bus:
                        continue
                    lower = jobs.ticks(max(t.lower for t in jobs.places[p].tanks))
                    shift = -lower if step.live else jobs.ticks(step.contact)
                    on = mixed.shifted(into, f"on{p},", shift, after=True)
                    places = job.visits[m].places
                    here = 1 if len(places) == 1 else _literal(mixed, mixed.at(out, p, source=True), f"b{out}at{p}")
                    demand = -int(-step.current * 10 // 1)  # tenths of an ampere, rounded up
                    stays.append(Stay(on, mixed.begin(out), here, demand))
        if stays:
            limit(mixed, stays, int(most * 10), f"bus {bus}")
