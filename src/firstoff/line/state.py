"""Where a line stands at one instant: loads in tanks or on cranes, since when; where the cranes are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from firstoff.line.crane_paths import Piece, paths
from firstoff.line.plant_line import LOAD, SHARED, PlantLine
from firstoff.line.plant_table import PlantTimetable
from firstoff.line.replay_plant import Trip, lay_out

CLOSE = 1e-6


@dataclass(frozen=True)
class LoadState:
    """One load in the line. `step` counts from 1: the step it is in, or is carried to when it hangs on a crane."""

    name: str
    product: str
    step: int
    tank: str  # "" when it hangs on a crane
    since: Fraction  # s in the tank, or in air, so far
    crane: int | None = None
    air: Fraction = Fraction(0)  # s in air before, since it left an operation whose limit still runs
    weight: int = 1  # how much it counts when it is spoilt


@dataclass(frozen=True)
class LineState:
    """The whole line at time 0; `cranes`: where each stands, in metres."""

    loads: tuple[LoadState, ...]
    cranes: Mapping[int, Fraction]


def empty_state(line: PlantLine) -> LineState:
    """Nothing in the line, the cranes at its two ends."""
    return LineState((), _standing(line))


def _standing(line: PlantLine) -> dict[int, Fraction]:
    """The cranes at the ends of their reach, or beyond the line where nothing stops them."""
    along = [t.position for t in line.tanks]
    places = {}
    for crane in range(len(line.cranes)):
        low, high = line.reach(crane)
        if crane == len(line.cranes) - 1 and crane > 0:
            places[crane] = max(along) + line.separation if high is None else high
        else:
            places[crane] = min(along) - line.separation if low is None else low
    return places


def state_in_cycle(line: PlantLine, table: PlantTimetable) -> LineState | None:
    """The full line of a cycle, at the last instant before the next load is due at which every crane hangs empty, if
    there is one at rest.

    None when some crane always carries a load.
    """
    trips = lay_out(line, table)
    loads = len(table.loads)
    stay = max(x.downs[-1] for x in table.loads) - min(x.lifts[0] for x in table.loads)
    filled = (int(stay // table.period) + 2) * loads
    due = next(t.start for t in trips if t.load == filled and t.move == 0)
    ways, _ = paths(line, trips)
    times = {t.end for t in trips} | {t.start for t in trips}
    still = [
        x for x in times if due - table.period < x <= due and not any(t.start < x < t.end for t in trips)
    ]  # fmt: skip
    if not still:
        return None
    now = max(still, key=lambda x: (all(_resting(way, float(x)) for way in ways), x))
    return _at(line, trips, now, [_position(way, float(now)) for way in ways])


def _piece(way: Sequence[Piece], now: float) -> Piece | None:
    return next((p for p in way if p.begin - CLOSE <= now < p.end - CLOSE), None)


def _resting(way: Sequence[Piece], now: float) -> bool:
    """Whether a crane stands, or is just about to leave."""
    piece = _piece(way, now)
    return piece is None or abs(piece.v + piece.a * (now - piece.begin)) < CLOSE


def _position(way: Sequence[Piece], now: float) -> Fraction | None:
    piece = _piece(way, now)
    return None if piece is None else Fraction(round(piece.at(now) * 10**6), 10**6)


def _at(line: PlantLine, trips: list[Trip], now: Fraction, places: Sequence[Fraction | None]) -> LineState:
    done = [t for t in trips if t.end <= now]
    last = {t.load: t for t in sorted(done)}
    steps = {t.load: len(line.product(t.product).steps) for t in trips}
    loads = tuple(
        LoadState(f"load {t.load + 1}", t.product, t.move + 1, t.target, now - t.end)
        for t in sorted(last.values(), key=lambda t: t.load)
        if t.move < steps[t.load]
    )
    rest = _standing(line)
    cranes = {c: rest[c] if (place := places[c]) is None else place for c in range(len(line.cranes))}
    return LineState(loads, cranes)


def load_place(line: PlantLine) -> str:
    """Name of a place where loads are hung on."""
    return line.stations(SHARED if line.shared else LOAD)[0].name
