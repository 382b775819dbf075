"""A thickness map measured on a similar bar: scaled by charge over area, in place of the tank's field."""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from collections.abc import Collection
from pathlib import Path
from typing import Final

import numpy as np

from firstoff.errors import nearest
from firstoff.stations.bumper.finish.plating_drawing import MapRow

HEADS: Final = ("point", "thickness [um]", "current [A]", "time [min]")
LAYERS: Final = ("nickel", "chrome")
Found = tuple[str, str, str]  # what is wrong, what was found, what is allowed


def read_map(
    file: Path, area: float, carried: float, points: Collection[str]
) -> tuple[tuple[MapRow, ...], list[Found]]:
    """Rows of the file, each point's readings put together, and what is wrong with it.

    Thickness over charge density, d / (I t / A): nickel goes with ampere-minutes per area. A point's relative
    uncertainty joins the scatter of its readings over the root of their number and `carried`, that of carrying a point
    over to another bar (both relative). area A [m2], of both sides. Source: Faraday's law; root of the sum of squares.
    """
    if not file.is_file():
        return (), [("names a file that does not exist", file.name, "")]
    with file.open(encoding="utf-8-sig", newline="") as lines:
        table = list(csv.DictReader(lines))
    faults: list[Found] = []
    if not table or not set(HEADS) <= set(table[0]):
        return (), [("has not the columns of a map", ", ".join(table[0]) if table else "", ", ".join(HEADS))]
    read: dict[tuple[str, str], list[float]] = defaultdict(list)
    for number, row in enumerate(table, start=2):
        point, layer = (row["point"] or "").strip(), (row.get("layer") or "nickel").strip()
        numbers = [_positive(row[head]) for head in HEADS[1:]]
        if point not in points:
            close = nearest(point, points)
            faults.append((f"names no plating point in line {number}", point, f"did you mean {close}?" if close else
                           ", ".join(points)))  # fmt: skip
        elif layer not in LAYERS:
            faults.append((f"has no such layer in line {number}", layer, " or ".join(LAYERS)))
        elif None in numbers:
            faults.append((f"has no number above 0 in line {number}", ", ".join(row[h] or "" for h in HEADS[1:]), ""))
        else:
            thick, current, minutes = (float(x) for x in numbers if x is not None)
            read[layer, point].append(thick * 1e-6 / (current * minutes * 60.0 / area))
    missing = [p for p in points if ("nickel", p) not in read]
    if missing and not faults:
        faults.append(("has no nickel for some plating points", ", ".join(missing), "a row for each of them"))
    if faults:
        return (), faults
    return tuple(_put_together(layer, point, values, carried) for (layer, point), values in read.items()), []


def _put_together(layer: str, point: str, values: list[float], carried: float) -> MapRow:
    mean = float(np.mean(values))
    own = float(np.std(values, ddof=1)) / mean / math.sqrt(len(values)) if len(values) > 1 else 0.0
    return MapRow(layer, point, mean, math.hypot(own, carried))


def _positive(text: str | None) -> float | None:
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if math.isfinite(value) and value > 0.0 else None
