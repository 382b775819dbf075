"""Periods that no cycle can beat, and one that is always long enough."""

from __future__ import annotations

from firstoff.line.jobs import Job, Jobs
from firstoff.line.plant_line import STATIONS


def least_period(jobs: Jobs) -> int:
    """The busiest tank, crane, bar or bus: what it is busy for in every cycle, shared among as many as there are.

    A tank is taken from the start of the move that fills it until the end of the move that empties it.
    """
    cranes = len(jobs.line.cranes)
    found = [1, -(-sum(_shortest(jobs, j, m) for j in jobs.jobs for m in range(j.moves)) // cranes)]
    taken: dict[tuple[int, ...], int] = {}
    for job in jobs.jobs:
        for m in range(1, job.moves):
            places = job.visits[m].places
            stay = _shortest(jobs, job, m - 1) + job.visits[m].least + _shortest(jobs, job, m)
            taken[places] = taken.get(places, 0) + stay
    for places in taken:
        # loads that may only go where these may
        inside = sum(time for other, time in taken.items() if set(other) <= set(places))
        tanks = sum(len(jobs.places[p].tanks) for p in places)
        found.append(-(-inside // tanks))
    if jobs.line.bars is not None:
        found.append(-(-sum(bar_time(jobs, job) for job in jobs.jobs) // jobs.line.bars))
    for bus, limit in jobs.line.buses.items():
        # in amperes and steps; a stay counts when all its tanks are on the bus
        drawn = sum(
            v.step.current * (v.least - jobs.ticks(v.step.contact))
            for job in jobs.jobs
            for v in job.visits
            if v.step is not None and all(t.bus == bus for p in v.places for t in jobs.places[p].tanks)
        )
        found.append(-int(-drawn // limit))
    return max(found)


def bar_time(jobs: Jobs, job: Job) -> int:
    """Least time a flight bar is taken by one load, hanging on and taking off included."""
    soaks = sum(v.least for v in job.visits)
    turns = {p.operation: jobs.ticks(min(t.turnaround for t in p.tanks)) for p in jobs.places}
    stops = {jobs.line.first(), jobs.line.last()}
    return soaks + sum(_shortest(jobs, job, m) for m in range(job.moves)) + sum(turns[s] for s in stops)


def longest_period(jobs: Jobs) -> int:
    """One load at a time can go through in this; a longer period allows nothing new."""
    far = max(max(row) for row in jobs.empty)
    turn = jobs.ticks(sum(t.turnaround for t in jobs.line.stations(*STATIONS)))  # type: ignore[arg-type]
    clear = jobs.ticks(jobs.line.travel(jobs.line.separation)) if len(jobs.line.cranes) > 1 else 0
    one = 0
    for job in jobs.jobs:
        one += sum(v.least for v in job.visits) + turn + far
        one += sum(max(mode.duration for mode in jobs.modes(job, m)) + far + clear for m in range(job.moves))
    return one + 1


def _shortest(jobs: Jobs, job: Job, move: int) -> int:
    return min(mode.duration for mode in jobs.modes(job, move))
