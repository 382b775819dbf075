"""Replay a plant's timetable load by load and name everything that goes wrong; knows nothing of how it was found.

Several periods are laid out on the clock, every load is put into a tank of its own, every crane is driven from tank to
tank. The sums are done here once more, from the plant sheet's own figures, and not with the solvers' tables.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from firstoff.line.plant_line import LOAD, SHARED, STATIONS, UNLOAD, PlantLine
from firstoff.line.plant_table import LoadPlan, PlantTimetable

HANGING = "on a crane"  # where a load hangs at the beginning of a run
CYCLES = 4  # at least, besides those that fill the line


class Trip(NamedTuple):
    """One loaded move on the clock. `move` counts from the load place of the load's own recipe."""

    start: Fraction
    end: Fraction
    load: int
    move: int
    product: str
    source: str
    target: str
    crane: int


class Stay(NamedTuple):
    """A tank taken from `start` to `end` by a load."""

    start: Fraction
    end: Fraction
    load: int
    stop: int


def replay_plant(line: PlantLine, table: PlantTimetable) -> list[str]:
    """Everything that breaks when the timetable is run; an empty list when it can be run."""
    faults = shape_faults(line, table)
    if faults:
        return faults
    for number, load in enumerate(table.loads, 1):
        faults += recipe_faults(line, load, f"load {number}")
    trips = lay_out(line, table)
    return list(dict.fromkeys([*faults, *run_faults(line, trips)]))


def shape_faults(line: PlantLine, table: PlantTimetable) -> list[str]:
    """What keeps the timetable from being replayed at all."""
    faults = [] if table.period > 0 else ["the period is not positive"]
    if not table.loads:
        faults.append("the timetable holds no load")
    names = {t.name for t in line.tanks}
    for number, load in enumerate(table.loads, 1):
        if load.product not in {p.name for p in line.products}:
            faults.append(f"load {number} is of no known product")
            continue
        stops = len(line.product(load.product).steps) + 2
        if [len(load.stops), len(load.lifts) + 1, len(load.downs) + 1, len(load.cranes) + 1] != [stops] * 4:
            faults.append(f"load {number} does not make the {stops - 1} moves of its recipe")
        elif not all(load.stops) or not {name for stop in load.stops for name in stop} <= names:
            faults.append(f"load {number} uses a tank that is not in the line")
        elif not set(load.cranes) <= set(range(len(line.cranes))):
            faults.append(f"load {number} is moved by a crane that is not there")
    return faults


def recipe_faults(line: PlantLine, load: LoadPlan, who: str) -> list[str]:
    """Tanks of the wrong operation, soaks outside their window, too long in air."""
    steps = line.product(load.product).steps
    wanted = [SHARED if line.shared else LOAD, *(s.operation for s in steps), SHARED if line.shared else UNLOAD]
    faults = []
    for stop, operation in zip(load.stops, wanted, strict=True):
        if any(line.tank(name).operation != operation for name in stop):
            faults.append(f"{who} goes into {', '.join(stop)}, which is not {operation}")
    for step, down, lift in zip(steps, load.downs, load.lifts[1:], strict=False):
        soak = lift - down
        if soak < step.least:
            faults.append(f"{who} is in {step.operation} for {seconds(soak)}, less than {seconds(step.least)}")
        if step.most is not None and soak > step.most:
            faults.append(f"{who} is in {step.operation} for {seconds(soak)}, more than {seconds(step.most)}")
        if soak < step.contact + step.ramp:
            faults.append(f"{who} is lifted out of {step.operation} before full current")
    air = [down - lift for lift, down in zip(load.lifts, load.downs, strict=True)]
    return faults + air_faults(line, wanted, air, who)


def air_faults(line: PlantLine, stops: Sequence[str], air: Sequence[Fraction], who: str) -> list[str]:
    """Too long in air between two operations; `air[i]`: time of move i."""
    faults = []
    for limit in line.air:
        left: int | None = None
        for i, operation in enumerate(stops):
            if operation == limit.target and left is not None:
                total = sum(air[left:i], Fraction(0))
                if total > limit.most:
                    what = f"{who} is in air for {seconds(total)} from {limit.source} to {limit.target}"
                    faults.append(f"{what}, more than {seconds(limit.most)}")
                left = None
            if operation == limit.source:
                left = i
    return faults


def lay_out(line: PlantLine, table: PlantTimetable) -> list[Trip]:
    """All loaded moves of enough cycles, each load in a tank of its own, in order of time."""
    stay = max(load.downs[-1] for load in table.loads) - min(load.lifts[0] for load in table.loads)
    cycles = CYCLES + 2 * int(max(stay, Fraction(0)) // table.period + 1)
    runs: list[tuple[LoadPlan, Fraction]] = []
    for cycle in range(cycles):
        runs += [(load, cycle * table.period) for load in table.loads]
    chosen = _tanks(line, runs)
    trips = []
    for number, (load, at) in enumerate(runs):
        for move, (lift, down) in enumerate(zip(load.lifts, load.downs, strict=True)):
            ends = chosen[number, move], chosen[number, move + 1]
            trips.append(Trip(lift + at, down + at, number, move, load.product, *ends, load.cranes[move]))
    return sorted(trips)


def _tanks(line: PlantLine, runs: Sequence[tuple[LoadPlan, Fraction]]) -> dict[tuple[int, int], str]:
    """The tank of every stop of every load: of those it may use, the one that has been free for longest."""
    wanted: dict[tuple[str, ...], list[Stay]] = defaultdict(list)
    for number, (load, at) in enumerate(runs):
        last = len(load.stops) - 1
        for stop, names in enumerate(load.stops):
            turn = max(line.tank(name).turnaround for name in names)
            lift = max(line.tank(name).lift for name in names)
            if stop == 0:
                hang = turn if line.tank(names[0]).operation == LOAD else Fraction(0)
                stay = Stay(load.lifts[0] + at - hang, load.lifts[0] + at + lift, number, stop)
            elif stop == last:
                stay = Stay(load.lifts[-1] + at, load.downs[-1] + at + turn, number, stop)
            else:
                stay = Stay(load.lifts[stop - 1] + at, load.downs[stop] + at, number, stop)
            wanted[names].append(stay)
    chosen = {}
    for names, stays in wanted.items():
        free = {name: min(s.start for s in stays) - 1 for name in names}
        for stay in sorted(stays):
            name = min(names, key=lambda n: free[n])
            free[name] = max(free[name], stay.end)
            chosen[stay.load, stay.stop] = name
    return chosen


# --- faults of a run, cyclic or not ---------------------------------------------------------------------------------


def run_faults(
    line: PlantLine,
    trips: Sequence[Trip],
    given: Sequence[Trip] = (),
    stand: dict[int, Fraction] | None = None,
) -> list[str]:
    """Everything that cranes, tanks, load places, bars and buses cannot do.

    `given`: moves that were over before the run (a load that stands in a tank was once brought there). `stand`: where
    each crane stands when it begins.
    """
    from firstoff.line.replay_plant_track import track_faults

    faults = [*way_faults(line, trips), *crane_faults(line, trips)]
    faults += [*tank_faults(line, [*given, *trips]), *load_place_faults(line, trips)]
    faults += [*bar_faults(line, [*given, *trips]), *bus_faults(line, [*given, *trips])]
    if len(line.cranes) > 1:
        faults += track_faults(line, trips, None if stand is None else {c: float(x) for c, x in stand.items()})
    return list(dict.fromkeys(faults))


def reachable(line: PlantLine, time: Fraction) -> Fraction:
    """How far a crane gets in a time, from rest to rest."""
    if time <= 0:
        return Fraction(0)
    if line.acceleration is None:
        return line.speed * time
    speeding = line.speed / line.acceleration
    if time <= 2 * speeding:
        return line.acceleration * time * time / 4
    return line.speed * (time - speeding)


def way_faults(line: PlantLine, trips: Iterable[Trip]) -> list[str]:
    """Moves that are given too little time, or a crane that cannot go there."""
    faults = []
    for trip in trips:
        a, b = line.tank(trip.source), line.tank(trip.target)
        own = line.measured.get((a.name, b.name))
        time = trip.end - trip.start
        if own is not None and own.loaded is not None:
            enough = time >= own.loaded
        else:
            enough = abs(a.position - b.position) <= reachable(line, time - a.lift - a.drip - b.lower)
            enough = enough and time >= a.lift + a.drip + b.lower
        if not enough:
            faults.append(f"{seconds(time)} are not enough from {a.name} to {b.name}")
        crane = line.cranes[trip.crane]
        for tank in (a, b):
            if (crane.low is not None and tank.position < crane.low) or (
                crane.high is not None and tank.position > crane.high
            ):
                faults.append(f"{crane.name} does not reach {tank.name}")
    return faults


def crane_faults(line: PlantLine, trips: Sequence[Trip]) -> list[str]:
    """A crane that is asked to lift before it can be there."""
    faults = []
    for number, crane in enumerate(line.cranes):
        own = sorted(t for t in trips if t.crane == number)
        for one, two in pairwise(own):
            a, b = line.tank(one.target), line.tank(two.source)
            time = two.start - one.end
            measured = line.measured.get((a.name, b.name))
            if measured is not None and measured.empty is not None:
                enough = time >= measured.empty
            else:
                enough = time >= 0 and abs(a.position - b.position) <= reachable(line, time)
            if not enough:
                faults.append(f"{crane.name} is asked to lift at {b.name} before it is there from {a.name}")
    return faults


def tank_faults(line: PlantLine, trips: Sequence[Trip]) -> list[str]:
    """Two loads in one tank. A tank is taken from the start of the move to it until the end of the move out of it."""
    into = {(t.load, t.move + 1): t for t in trips}
    stays: dict[str, list[tuple[Fraction, Fraction]]] = defaultdict(list)
    faults = []
    for out in trips:
        if line.tank(out.source).operation in (*STATIONS, HANGING):
            continue
        come = into.get((out.load, out.move))
        if come is None or come.target != out.source:
            faults.append(f"a load is lifted out of {out.source} that was never set down there")
            continue
        stays[out.source].append((come.start, out.end))
    for name, there in stays.items():
        for one, two in pairwise(sorted(there)):
            if two[0] < one[1]:
                faults.append(f"{name} is asked to hold two loads")
    return faults


def load_place_faults(line: PlantLine, trips: Sequence[Trip]) -> list[str]:
    """Load places that are not given their time to take off and to hang on."""
    used: dict[str, list[tuple[Fraction, Fraction]]] = defaultdict(list)
    for trip in trips:
        source, target = line.tank(trip.source), line.tank(trip.target)
        if source.operation in STATIONS and source.turnaround:
            before = source.turnaround if source.operation == LOAD else Fraction(0)
            used[source.name].append((trip.start - before, trip.start + source.lift))
        if target.operation in STATIONS and target.turnaround:
            used[target.name].append((trip.start, trip.end + target.turnaround))
    faults = []
    for name, stays in used.items():
        for one, two in pairwise(sorted(stays)):
            if two[0] < one[1]:
                faults.append(f"{name} has too little time to take off and to hang on")
    return faults


def bar_faults(line: PlantLine, trips: Sequence[Trip]) -> list[str]:
    """More loads in the line than there are flight bars."""
    if line.bars is None:
        return []
    own: dict[int, list[Trip]] = defaultdict(list)
    for trip in trips:
        own[trip.load].append(trip)
    changes = []
    for moves in own.values():
        first, last = min(moves), max(moves)
        source, target = line.tank(first.source), line.tank(last.target)
        hung = first.start - (source.turnaround if source.operation == LOAD else 0)
        bare = last.end + (target.turnaround if target.operation in STATIONS else 0)
        changes += [(hung, 1, Fraction(1)), (bare, 0, Fraction(-1))]
    peak = _peak(changes)
    return [f"{peak} flight bars would be needed, and there are {line.bars}"] if peak > line.bars else []


def bus_faults(line: PlantLine, trips: Sequence[Trip]) -> list[str]:
    """Buses that would have to give more current than they can."""
    into = {(t.load, t.move + 1): t for t in trips}
    changes: dict[str, list[tuple[Fraction, int, Fraction]]] = defaultdict(list)
    for out in trips:
        tank = line.tank(out.source)
        come = into.get((out.load, out.move))
        if not tank.bus or come is None or out.move == 0:
            continue
        step = line.product(out.product).steps[out.move - 1]
        on = come.end - tank.lower if step.live else come.end + step.contact
        changes[tank.bus] += [(on, 1, step.current), (out.start, 0, -step.current)]
    faults = []
    for bus, limit in line.buses.items():
        peak = _peak(changes[bus])
        if peak > limit:
            faults.append(f"bus {bus} would have to give {float(peak):g} A, more than {float(limit):g} A")
    return faults


def _peak(changes: Sequence[tuple[Fraction, int, Fraction]]) -> Fraction:
    """The most that is there at once; what ends at an instant makes room for what begins."""
    there = peak = Fraction(0)
    for _, _, change in sorted(changes):
        there += change
        peak = max(peak, there)
    return peak


def seconds(time: Fraction) -> str:
    return f"{float(time):g} s"
