"""Replay a recovery move by move from the state it begins with, together with the timetable it joins."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Protocol

from firstoff.line.plant_line import LOAD, SHARED, UNLOAD, PlantLine, Tank
from firstoff.line.plant_table import PlantTimetable
from firstoff.line.replay_plant import HANGING, Stay, Trip, air_faults, reachable, run_faults, seconds
from firstoff.line.state import LineState, LoadState, load_place

CYCLES = 3  # of the timetable, after the last load of the beginning is off


class Moved(Protocol):
    """What a recovery's move must tell."""

    @property
    def load(self) -> str: ...
    @property
    def product(self) -> str: ...
    @property
    def move(self) -> int: ...
    @property
    def start(self) -> Fraction: ...
    @property
    def end(self) -> Fraction: ...
    @property
    def source(self) -> tuple[str, ...]: ...
    @property
    def target(self) -> tuple[str, ...]: ...
    @property
    def crane(self) -> int: ...


class Found(Protocol):
    """What a recovery must tell."""

    @property
    def joined(self) -> Fraction | None: ...
    @property
    def spoilt(self) -> tuple[str, ...]: ...
    @property
    def moves(self) -> Sequence[Moved]: ...


def replay_recovery(line: PlantLine, state: LineState, table: PlantTimetable, found: Found) -> list[str]:
    """Everything that breaks when the recovery is run and the timetable follows; empty when it can be run."""
    by_load: dict[str, list[Moved]] = defaultdict(list)
    for move in sorted(found.moves, key=lambda m: m.start):
        by_load[move.load].append(move)
    faults = []
    for load in state.loads:
        faults += own_faults(line, load, by_load[load.name], load.name in found.spoilt)
    if set(by_load) - {load.name for load in state.loads}:
        faults.append("a load is moved that is not in the line")
    if found.joined is None or found.joined < 0:
        faults.append("the timetable is never joined")
    if faults:
        return faults
    whole = with_hanging(line, state)
    trips, given = lay_out_recovery(whole, state, table, found, by_load)
    faults += from_rest(whole, state.cranes, trips)
    for load in state.loads:
        if load.crane is not None:
            down = by_load[load.name][0].end
            if any(t.crane == load.crane and t.start < down for t in trips if t.source != f"{HANGING}: {load.name}"):
                faults.append(f"{line.cranes[load.crane].name} makes a move while {load.name} hangs on it")
    return list(dict.fromkeys([*faults, *run_faults(whole, trips, given, dict(state.cranes))]))


def laid_out(
    line: PlantLine, state: LineState, table: PlantTimetable, found: Found
) -> tuple[PlantLine, list[Trip], list[Trip]]:
    """The line with what hangs on its cranes, all moves with a tank for each, and those that were over before."""
    by_load: dict[str, list[Moved]] = defaultdict(list)
    for move in sorted(found.moves, key=lambda m: m.start):
        by_load[move.load].append(move)
    whole = with_hanging(line, state)
    return whole, *lay_out_recovery(whole, state, table, found, by_load)


def with_hanging(line: PlantLine, state: LineState) -> PlantLine:
    """The line with a place in the air for every load that hangs on a crane."""
    none = Fraction(0)
    places = [
        Tank(f"{HANGING}: {load.name}", HANGING, state.cranes[load.crane], none, none, none)
        for load in state.loads
        if load.crane is not None
    ]
    return replace(line, tanks=(*line.tanks, *places))


def own_faults(line: PlantLine, load: LoadState, moves: Sequence[Moved], spoilt: bool) -> list[str]:
    """A load that does not go its way to the end, or outside its windows without being named as spoilt."""
    steps = line.product(load.product).steps
    stops = [SHARED if line.shared else LOAD, *(s.operation for s in steps), SHARED if line.shared else UNLOAD]
    first = load.step - (1 if load.crane is not None else 0)
    if [m.move for m in moves] != list(range(first, len(stops) - 1)):
        return [f"{load.name} does not go its way to the end"]
    faults = []
    for move in moves:
        if any(line.tank(name).operation != stops[move.move + 1] for name in move.target) or not move.target:
            faults.append(f"{load.name} goes into {', '.join(move.target)}, which is not {stops[move.move + 1]}")
    if any(two.start < one.end for one, two in pairwise(moves)) or moves[0].start < 0:
        faults.append(f"{load.name} is lifted before it is set down")
    if load.crane is not None and moves[0].crane != load.crane:
        faults.append(f"{load.name} hangs on another crane")
    if spoilt:
        return faults
    soaks = [(m.move, m.start - before.end) for before, m in pairwise(moves)]
    if load.crane is None:
        soaks.insert(0, (load.step, moves[0].start + load.since))
    for stop, soak in soaks:
        step = steps[stop - 1]
        if soak < step.least or (step.most is not None and soak > step.most):
            faults.append(f"{load.name} is in {step.operation} for {seconds(soak)} and is not named as spoilt")
    air = [Fraction(0)] * first + [m.end - m.start for m in moves]
    if load.crane is not None:
        air[first] = moves[0].end + load.since + load.air
    elif first > 0:
        air[first - 1] = load.air
    return faults + air_faults(line, stops, air, load.name)


def lay_out_recovery(
    line: PlantLine, state: LineState, table: PlantTimetable, found: Found, by_load: Mapping[str, Sequence[Moved]]
) -> tuple[list[Trip], list[Trip]]:
    """The moves of old and new loads with a tank for each, and what brought the old ones where they stand."""
    joined = found.joined or Fraction(0)
    begin = min(load.lifts[0] for load in table.loads)
    clear = max((m.end for m in found.moves), default=Fraction(0))
    wanted: dict[tuple[str, ...], list[Stay]] = defaultdict(list)
    rough: list[tuple[Trip, tuple[str, ...], tuple[str, ...]]] = []
    given = []
    chosen: dict[tuple[int, int], str] = {}
    for k, load in enumerate(state.loads):
        number, moves = -1 - k, by_load[load.name]
        here = load.tank or f"{HANGING}: {load.name}"
        chosen[number, moves[0].move] = here
        if load.crane is None:
            given.append(Trip(-load.since, -load.since, number, load.step - 1, load.product, load_place(line), here, 0))
            group = next((m.target for m in found.moves if here in m.target), (here,))
            group = next((s for x in table.loads for s in x.stops if here in s), group)
            wanted[group].append(Stay(Fraction(-1), moves[0].end, number, moves[0].move))
        for move in moves:
            rough.append((Trip(move.start, move.end, number, move.move, load.product, "", "", move.crane),
                          move.source, move.target))  # fmt: skip
    number = 0
    cycles = int(max(clear - joined, Fraction(0)) // table.period) + 1 + CYCLES
    for cycle in range(cycles):
        for load_plan in table.loads:
            at = joined - begin + cycle * table.period
            for i, crane in enumerate(load_plan.cranes):
                trip = Trip(
                    load_plan.lifts[i] + at, load_plan.downs[i] + at, number, i, load_plan.product, "", "", crane
                )
                rough.append((trip, load_plan.stops[i], load_plan.stops[i + 1]))
            number += 1
    _choose(line, rough, wanted, chosen)
    trips = [
        t._replace(source=chosen[t.load, t.move], target=chosen[t.load, t.move + 1]) for t, _, _ in rough
    ]  # fmt: skip
    return sorted(trips), given


def _choose(
    line: PlantLine,
    rough: Sequence[tuple[Trip, tuple[str, ...], tuple[str, ...]]],
    wanted: dict[tuple[str, ...], list[Stay]],
    chosen: dict[tuple[int, int], str],
) -> None:
    """A tank for every stop of every load, in order of time; those that stand in one already keep it."""
    out = {(t.load, t.move): t for t, _, _ in rough}
    for trip, source, target in rough:
        leaves = out.get((trip.load, trip.move + 1))
        turn = max(line.tank(n).turnaround for n in target)
        end = trip.end + turn if leaves is None else leaves.end
        wanted[target].append(Stay(trip.start, end, trip.load, trip.move + 1))
        if trip.move == 0:
            tanks = [line.tank(n) for n in source]
            hang = max(t.turnaround for t in tanks) if tanks[0].operation == LOAD else Fraction(0)
            lift = max(t.lift for t in tanks)
            wanted[source].append(Stay(trip.start - hang, trip.start + lift, trip.load, 0))
    for names, stays in wanted.items():
        free = dict.fromkeys(names, Fraction(-(10**9)))
        for stay in sorted(stays):
            name = chosen.get((stay.load, stay.stop)) or min(names, key=lambda n: free[n])
            free[name] = max(free[name], stay.end)
            chosen[stay.load, stay.stop] = name


def from_rest(line: PlantLine, cranes: Mapping[int, Fraction], trips: Sequence[Trip]) -> list[str]:
    """A crane that is not where its first move begins in time."""
    faults = []
    for crane, position in cranes.items():
        own = [t for t in trips if t.crane == crane]
        if own:
            first = min(own)
            tank = line.tank(first.source)
            if abs(tank.position - position) > reachable(line, first.start):
                faults.append(f"{line.cranes[crane].name} is asked to lift at {tank.name} before it is there")
    return faults
