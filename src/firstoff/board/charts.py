"""An individuals chart as shapes of an SVG: where lines, points and lots stand. The page gives them their colours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstoff.launch.account import in_unit
from firstoff.launch.following.follow import OUTSIDE, Chart

WIDTH, HEIGHT = 720.0, 220.0
LEFT, RIGHT, TOP, BOTTOM = 12.0, 96.0, 22.0, 10.0
APART = 12.0  # between two labels


@dataclass(frozen=True)
class Line:
    """A horizontal line: `limit`, `control` or `centre`."""

    kind: str
    y: float
    label_y: float
    label: str


@dataclass(frozen=True)
class Mark:
    """One part. kind: `plain`, `signal` or `outside`; told apart by their shape, too."""

    kind: str
    x: float
    y: float
    title: str


@dataclass(frozen=True)
class Lot:
    """Where the parts of a lot stand."""

    name: str
    left: float
    width: float


@dataclass(frozen=True)
class Drawing:
    """A chart, drawn. Lengths are those of the SVG's own frame."""

    lines: tuple[Line, ...]
    marks: tuple[Mark, ...]
    lots: tuple[Lot, ...]
    path: str  # from part to part
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT


def drawn(chart: Chart, unit: str) -> Drawing:
    """The chart between the farthest of values and lines; its labels in `unit`."""
    c = chart.characteristic
    levels = [("limit", x) for x in (c.low, c.high) if x is not None]
    if chart.control is not None:
        levels += [("control", chart.control.low), ("centre", chart.control.centre), ("control", chart.control.high)]
    values = [p.value for p in chart.points]
    everything = [*values, *(x for _, x in levels)]
    low, high = min(everything), max(everything)
    room = 0.06 * (high - low) or abs(high) or 1.0
    low, high = low - room, high + room

    def y(value: float) -> float:
        return TOP + (HEIGHT - TOP - BOTTOM) * (high - value) / (high - low)

    step = (WIDTH - LEFT - RIGHT) / len(values)
    places = [LEFT + step * (i + 0.5) for i in range(len(values))]
    lines = _spread([(kind, y(x), in_unit(x, unit, 5)) for kind, x in levels])
    marks = tuple(
        Mark("outside" if OUTSIDE in p.signals else "signal" if p.signals else "plain", x, y(p.value),
             f"{p.part}{f' ({p.lot})' if p.lot else ''}: {in_unit(p.value, unit, 5)}")
        for p, x in zip(chart.points, places, strict=True)
    )  # fmt: skip
    path = " ".join(f"{'L' if i else 'M'}{m.x:.1f} {m.y:.1f}" for i, m in enumerate(marks))
    return Drawing(lines, marks, _lots([p.lot for p in chart.points], step), path)


def _spread(levels: Sequence[tuple[str, float, str]]) -> tuple[Line, ...]:
    """Lines with their labels moved apart, from the top down, and back up where they would leave the frame."""
    ordered = sorted(levels, key=lambda level: level[1])
    at = [y for _, y, _ in ordered]
    for i in range(1, len(at)):
        at[i] = max(at[i], at[i - 1] + APART)
    for i in reversed(range(len(at))):
        at[i] = min(at[i], HEIGHT - BOTTOM - APART * (len(at) - 1 - i))
    return tuple(Line(kind, y, label, words) for (kind, y, words), label in zip(ordered, at, strict=True))


def _lots(names: Sequence[str], step: float) -> tuple[Lot, ...]:
    found: list[Lot] = []
    start = 0
    for i in range(1, len(names) + 1):
        if i == len(names) or names[i] != names[start]:
            found.append(Lot(names[start], LEFT + step * start, step * (i - start)))
            start = i
    return tuple(found)
