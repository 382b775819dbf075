"""Where every crane is at every instant of a run: from rest to rest, at the stated speed and acceleration.

Loaded, a crane goes straight and waits over the target when it has time. Empty, it first gets out of the way of the
other crane, as far as the moves of that one until its own next lift ask for, waits, and comes to its next tank at the
last instant. Two cranes whose moves keep the rule of the track never meet when both are driven so.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple, Protocol

from firstoff.line.plant_line import PlantLine

TOLERANCE = 1e-6  # m and s
LONGEST = 3600.0  # s: no loaded move takes longer


class Move(Protocol):
    """What a loaded move must tell."""

    @property
    def start(self) -> object: ...
    @property
    def end(self) -> object: ...
    @property
    def source(self) -> str: ...
    @property
    def target(self) -> str: ...
    @property
    def crane(self) -> int: ...


@dataclass(frozen=True)
class Piece:
    """A stretch of constant acceleration: x(t) = x + v (t - begin) + a (t - begin)^2 / 2."""

    begin: float
    end: float
    x: float
    v: float = 0.0
    a: float = 0.0
    load: int | None = None  # hanging on the crane

    def at(self, time: float) -> float:
        t = time - self.begin
        return self.x + self.v * t + self.a * t * t / 2


def way_time(line: PlantLine, distance: float) -> float:
    """Time for a distance from rest to rest."""
    d, v = abs(distance), float(line.speed)
    if d < TOLERANCE:
        return 0.0
    if line.acceleration is None:
        return d / v
    a = float(line.acceleration)
    return d / v + v / a if d * a >= v * v else 2 * sqrt(d / a)


def way(line: PlantLine, begin: float, x: float, y: float, load: int | None = None) -> list[Piece]:
    """From rest at x to rest at y, starting at `begin`."""
    distance, sign = abs(y - x), 1.0 if y > x else -1.0
    if distance < TOLERANCE:
        return []
    v = float(line.speed)
    if line.acceleration is None:
        return [Piece(begin, begin + distance / v, x, sign * v, 0.0, load)]
    a = float(line.acceleration)
    top = min(v, sqrt(a * distance))
    speeding, running = top / a, distance / top - top / a
    half = sign * a * speeding**2 / 2
    pieces = [Piece(begin, begin + speeding, x, 0.0, sign * a, load)]
    if running > TOLERANCE:
        pieces.append(Piece(begin + speeding, begin + speeding + running, x + half, sign * top, 0.0, load))
    slow = begin + speeding + max(running, 0.0)
    pieces.append(Piece(slow, slow + speeding, y - half, sign * top, -sign * a, load))
    return pieces


class Busy(NamedTuple):
    """When and on which stretch of track another crane makes a move."""

    begin: float
    end: float
    low: float
    high: float
    crane: int


def paths(
    line: PlantLine, trips: Sequence[Move], start: dict[int, float] | None = None, begin: float = 0.0
) -> tuple[list[list[Piece]], list[str]]:
    """The pieces of every crane's way, and what it could not do in time. `start`: where cranes stand at `begin`."""
    found: list[list[Piece]] = []
    faults: list[str] = []
    at_name = {t.name: float(t.position) for t in line.tanks}
    busy = []
    for t in trips:
        x, y = at_name[t.source], at_name[t.target]
        busy.append(Busy(_f(t.start), _f(t.end), min(x, y), max(x, y), t.crane))
    busy.sort()
    for crane in range(len(line.cranes)):
        own = sorted((t for t in trips if t.crane == crane), key=lambda t: _f(t.start))
        other = [b for b in busy if b.crane != crane]
        pieces: list[Piece] = []
        at: tuple[float, float] | None = None if start is None else (begin, start[crane])
        for trip in own:
            if at is not None:
                pieces += _empty(line, crane, at, (_f(trip.start), at_name[trip.source]), other, faults)
            pieces += _loaded(line, trip)
            at = (_f(trip.end), at_name[trip.target])
        last = max((b.end for b in other), default=0.0)
        if at is not None and last > at[0]:  # out of the way of what the other still does
            home = _yield(line, crane, at, (last, at[1]), other)
            pieces += _then_wait(way(line, at[0], at[1], home), at, last)
        found.append(pieces)
    return found, faults


def _f(value: object) -> float:
    return float(value)  # type: ignore[arg-type]


def _loaded(line: PlantLine, trip: Move) -> list[Piece]:
    a, b = line.tank(trip.source), line.tank(trip.target)
    x, y = float(a.position), float(b.position)
    begin, end = _f(trip.start), _f(trip.end)
    load = int(getattr(trip, "load", 0))
    leave = begin + float(a.lift + a.drip)
    go = way(line, leave, x, y, load)
    arrive = go[-1].end if go else leave
    return [Piece(begin, leave, x, load=load), *go, Piece(arrive, max(end, arrive), y, load=load)]


def _yield(
    line: PlantLine, crane: int, at: tuple[float, float], to: tuple[float, float], other: Sequence[Busy]
) -> float:
    """How far the crane gets out of the way between two of its own moves."""
    ends = [at[1], to[1]]
    low = True
    for b in other[bisect_right(other, (to[0],)) - 1 :: -1] if other else ():
        if b.begin >= to[0]:
            continue
        if b.end <= at[0]:
            if b.begin < at[0] - LONGEST:
                break
            continue
        apart = float(line.separation) * abs(b.crane - crane)
        low = b.crane > crane
        ends.append(b.low - apart if low else b.high + apart)
    return min(ends) if low else max(ends)


def _empty(
    line: PlantLine,
    crane: int,
    at: tuple[float, float],
    to: tuple[float, float],
    other: Sequence[Busy],
    faults: list[str],
) -> list[Piece]:
    turn = _yield(line, crane, at, to, other)
    out, back = way_time(line, turn - at[1]), way_time(line, to[1] - turn)
    if at[0] + out + back > to[0] + TOLERANCE:
        faults.append(f"{line.cranes[crane].name} has no time to get out of the way of the other crane")
        return [Piece(at[0], to[0], at[1], (to[1] - at[1]) / max(to[0] - at[0], TOLERANCE))]
    pieces = _then_wait(way(line, at[0], at[1], turn), (at[0], at[1]), to[0] - back, turn)
    return [*pieces, *way(line, to[0] - back, turn, to[1])]


def _then_wait(go: list[Piece], at: tuple[float, float], until: float, where: float | None = None) -> list[Piece]:
    arrived = go[-1].end if go else at[0]
    place = go[-1].at(go[-1].end) if go else at[1]
    place = place if where is None else where
    return [*go, Piece(arrived, until, place)] if until > arrived else go


def least_distance(left: Sequence[Piece], right: Sequence[Piece]) -> tuple[float, float]:
    """The least of right minus left over the time both are known, and when it is."""
    best, when = float("inf"), 0.0
    i = k = 0
    while i < len(left) and k < len(right):
        one, two = left[i], right[k]
        begin, end = max(one.begin, two.begin), min(one.end, two.end)
        if end > begin:
            times = [begin, end]
            bend = two.a - one.a
            if bend > 0:  # where the distance turns
                slope = (two.v + two.a * (begin - two.begin)) - (one.v + one.a * (begin - one.begin))
                times += [t for t in (begin - slope / bend,) if begin < t < end]
            for t in times:
                if two.at(t) - one.at(t) < best:
                    best, when = two.at(t) - one.at(t), t
        if one.end <= two.end:
            i += 1
        else:
            k += 1
    return best, when
