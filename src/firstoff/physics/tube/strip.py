"""Width of the strip that becomes a welded tube."""

from __future__ import annotations

import json
import math
from functools import cache
from importlib.resources import files
from typing import Any

from firstoff.physics.ranges import positive


@cache
def _table() -> dict[str, Any]:
    text = files("firstoff.physics.tube").joinpath("data/strip_allowances.json").read_text("utf-8")
    table: dict[str, Any] = json.loads(text)
    return table


def _class(rows: list[list[float]], value: float, what: str, unit: str) -> float:
    """The allowance of the class that holds the value; a value on a limit belongs to the lower class."""
    for low, high, allowance in rows:
        if (low <= value if low == rows[0][0] else low < value) and value <= high * (1.0 + 1e-12):
            return allowance
    raise ValueError(f"{what} must lie between {rows[0][0]:g} and {rows[-1][1]:g}{unit}, not {value:g}{unit}")


def strip_width(diameter: float, wall: float) -> tuple[float, float]:
    """Mid-line of the finished tube and width of its strip [m].

    B = pi (D - t) + d1 + d2 + d3: allowances for forming (by D/t), for the weld (by t) and for sizing (by D).

    diameter D [m] outside, wall t [m]; 10 <= D/t <= 60, t <= 6 mm, 6 mm <= D <= 95 mm. Source: table of a tube-mill
    maker's text, kept with its note in data/strip_allowances.json; a mill's own figures go before it. ValueError
    outside the table.
    """
    d, t = float(positive("diameter", diameter)), float(positive("wall", wall))
    table, mm = _table(), 1e-3
    forming = _class(table["forming"]["rows"], d / t, "diameter over wall", "") * t
    weld = _class(table["weld"]["rows"], t / mm, "wall", " mm") * t
    sizing = _class(table["sizing"]["rows"], d / mm, "diameter", " mm") * mm
    middle = math.pi * (d - t)
    return middle, middle + forming + weld + sizing
