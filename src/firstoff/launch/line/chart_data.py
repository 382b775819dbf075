"""What the chart of a line shows, out of a run laid out on the clock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from firstoff.line.crane_paths import Piece, paths
from firstoff.line.plant_line import STATIONS, PlantLine
from firstoff.line.replay_plant import HANGING, Trip
from firstoff.report.line_chart import CraneWay, SoakBar, TankRow, WayPiece

BENDS = 6  # points on a stretch of speeding up or slowing down


def tank_rows(line: PlantLine) -> list[TankRow]:
    return [TankRow(t.name, t.operation, float(t.position)) for t in line.tanks if t.operation != HANGING]


def soak_bars(
    line: PlantLine,
    trips: Sequence[Trip],
    given: Sequence[Trip],
    origin: Fraction,
    label: Mapping[int, str],
    spoilt: frozenset[int] = frozenset(),
) -> list[SoakBar]:
    """Every stay in a tank; `given`: moves that were over before."""
    into = {(t.load, t.move + 1): t for t in [*given, *trips]}
    bars = []
    for out in trips:
        come = into.get((out.load, out.move))
        if come is None or line.tank(out.source).operation in (*STATIONS, HANGING):
            continue
        step = line.product(out.product).steps[out.move - 1]
        down = float(come.end - origin)
        live = step.current > 0 and step.contact + step.ramp > 0
        lost = out.load in spoilt
        bars.append(
            SoakBar(
                out.source,
                down,
                float(out.start - origin),
                label.get(out.load, ""),
                None if lost else down + float(step.least),
                None if lost or step.most is None else down + float(step.most),
                down + float(step.contact + step.ramp) if live else None,
                lost,
            )
        )
    return bars


def crane_ways(
    line: PlantLine,
    trips: Sequence[Trip],
    origin: Fraction,
    span: tuple[float, float],
    stand: Mapping[int, Fraction] | None = None,
) -> list[CraneWay]:
    """Each crane's way within the span, cut where its load changes."""
    start = None if stand is None else {c: float(x) for c, x in stand.items()}
    ways, _ = paths(line, trips, start)
    hangs = [
        (
            t.crane,
            float(t.start - origin),
            float(t.start - origin + line.tank(t.source).lift + line.tank(t.source).drip),
        )
        for t in trips
    ]
    found = []
    for number, way in enumerate(ways):
        pieces = _joined(way, float(origin), span)
        for crane, begin, end in hangs:
            if crane == number and end > span[0] and begin < span[1] and end > begin:
                at = next((p for p in way if p.begin - float(origin) <= begin + 1e-6 < p.end - float(origin)), None)
                if at is not None:
                    pieces.append(WayPiece("drip", (max(begin, span[0]), min(end, span[1])), (at.x, at.x)))
        found.append(CraneWay(line.cranes[number].name, tuple(pieces)))
    return found


def _joined(way: Sequence[Piece], origin: float, span: tuple[float, float]) -> list[WayPiece]:
    """Pieces drawn as lines, those of one kind that follow each other in one."""
    runs: list[tuple[str, list[float], list[float]]] = []
    for piece in way:
        begin, end = max(piece.begin - origin, span[0]), min(piece.end - origin, span[1])
        if end <= begin:
            continue
        kind = "empty" if piece.load is None else "loaded"
        bends = BENDS if piece.a else 1
        times = [begin + (end - begin) * k / bends for k in range(bends + 1)]
        places = [piece.at(t + origin) for t in times]
        if runs and runs[-1][0] == kind and abs(runs[-1][1][-1] - times[0]) < 1e-6:
            runs[-1][1].extend(times[1:])
            runs[-1][2].extend(places[1:])
        else:
            runs.append((kind, times, places))
    return [WayPiece(kind, tuple(times), tuple(places)) for kind, times, places in runs]
