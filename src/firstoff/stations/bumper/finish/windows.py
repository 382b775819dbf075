"""The windows that the product leaves the plating line: how long in a tank and in the air, stated or from rates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from firstoff.physics.plating import faraday
from firstoff.sheets.quantity import parse_limits
from firstoff.sheets.schema import Key, Section
from firstoff.stations.reading import SheetInReading

METALS: Final = ("Ni", "Cr(VI)", "Cr(III)")
A_PER_DM2: Final = "A/dm^2"


@dataclass(frozen=True)
class Growth:
    """How a deposit grows where it grows least and most on the significant surface [m/s]."""

    worst: float
    best: float


@dataclass(frozen=True)
class Window:
    """One immersion as the product needs it. Stated times count from set down to the start of the lift; times from a
    thickness are times at full current."""

    operation: str
    least: float | None  # s
    most: float | None
    thickness: tuple[float | None, float | None] = (None, None)  # m, least at the worst point, most at the best
    growth: Growth | None = None  # where the times follow from thickness
    why: str = ""
    origin: str = ""  # file:line, or the station that computed it
    full_current: bool = False  # times at full current: contact and half the ramp come on top


@dataclass(frozen=True)
class AirWindow:
    """The longest time in air between two operations, e.g. before nickel turns passive."""

    source: str
    target: str
    most: float
    why: str = ""
    origin: str = ""


@dataclass(frozen=True)
class Windows:
    """What the model sheet says of the line."""

    product: str = ""  # of the line; its only one, or the one of the launch's name, when empty
    dwells: tuple[Window, ...] = ()
    airs: tuple[AirWindow, ...] = ()


SECTIONS: Final = (
    Section(
        "on_line",
        (Key("product", None, "which product of the plating line this bar is", type="text"),),
        "How the bar goes through the plating line",
    ),
    Section(
        "window",
        (
            Key("operation", None, "operation of the line's tanks", required=True, type="text"),
            Key("time", None, 'time in the tank: "600 to 720 s", "min 20 s"; or from a thickness', type="text"),
            Key("thickness", None, 'thickness: least at the worst point, most at the best: "12 to 40 um", ">= 0.25 um"',
                type="text"),
            Key("metal", None, "metal that grows; Ni when left out", type="text", choices=METALS),
            Key("worst", A_PER_DM2, "current density at the worst point of the significant surface", low="0.001 A/dm^2",
                high="200 A/dm^2"),
            Key("best", A_PER_DM2, "current density at its best point; that of the worst when left out",
                low="0.001 A/dm^2", high="200 A/dm^2"),
            Key("efficiency", "1", "share of the current that deposits metal there", low="0.1 %", high="100 %"),
            Key("why", None, "who says so: supplier, standard, trial", type="text"),
        ),
        "How long the bar may stay in a tank, stated or from the thickness it must have; the crane's timetable is "
        "narrowed to it",
        repeated=True,
    ),
    Section(
        "air_window",
        (
            Key("from", None, "operation it is lifted out of", required=True, type="text"),
            Key("to", None, "operation it is lowered into", required=True, type="text"),
            Key("time", "s", "longest time in air between them", required=True, low="1 s", high="24 h"),
            Key("why", None, "who says so: supplier, standard, trial", type="text"),
        ),
        "How long the bar may hang in air between two tanks, e.g. nickel before chrome",
        repeated=True,
    ),
)  # fmt: skip


def read(model: SheetInReading) -> Windows:
    """The windows that the model sheet states; faults are noted on it."""
    dwells = [_window(model, i, row) for i, row in enumerate(model.settled.get("window", []))]
    airs = tuple(
        AirWindow(
            row["from"], row["to"], row["time"].nominal, row.get("why", ""), model.place(f"air_window/{i}", "time")
        )
        for i, row in enumerate(model.settled.get("air_window", []))
        if {"from", "to", "time"} <= set(row)
    )
    product = model.settled.get("on_line", {}).get("product", "")
    return Windows(product, tuple(w for w in dwells if w is not None), airs)


def _window(model: SheetInReading, i: int, row: Mapping[str, Any]) -> Window | None:
    where = f"window/{i}"
    if "operation" not in row:
        return None
    if ("time" in row) == ("thickness" in row):
        what = "has both a time and a thickness" if "time" in row else "has neither a time nor a thickness"
        model.fault(where, "operation", what, found=row["operation"], allowed="one of the two")
        return None
    why = row.get("why", "")
    if "time" in row:
        limits = model.attempt(where, "time", partial(parse_limits, row["time"], "s"))
        if limits is None or _upside_down(model, where, "time", row["time"], limits[0], limits[2]):
            return None
        return Window(row["operation"], limits[0], limits[2], why=why, origin=model.place(where, "time"))
    lacking = [key for key in ("worst", "efficiency") if key not in row]
    if lacking:
        model.fault(where, "thickness", "needs the current density and efficiency", allowed=", ".join(lacking))
        return None
    limits = model.attempt(where, "thickness", partial(parse_limits, row["thickness"], "um"))
    if limits is None:
        return None
    worst = row["worst"].nominal
    best = row["best"].nominal if "best" in row else worst
    if best < worst:
        model.fault(where, "best", "is below that of the worst point", found=row["best"].text)
        return None
    metal = faraday.metals()[row.get("metal", METALS[0])]
    rates = [float(faraday.rate(i_, row["efficiency"].nominal, metal)) for i_ in (worst, best)]
    return from_thickness(
        row["operation"], (limits[0], limits[2]), Growth(rates[0], rates[1]), why, model.place(where, "thickness")
    )


def _upside_down(model: SheetInReading, where: str, key: str, text: str, low: float | None, high: float | None) -> bool:
    if (low is None and high is None) or (low is not None and low < 0.0):
        model.fault(where, key, "is no window", found=text, allowed='"600 to 720 s", "min 20 s"')
        return True
    return False


def from_thickness(
    operation: str, thickness: tuple[float | None, float | None], growth: Growth, why: str, origin: str
) -> Window:
    """The window of a thickness at the worst and best point: d_min/worst to d_max/best, at full current."""
    low, high = thickness
    least = None if low is None else low / growth.worst
    most = None if high is None else high / growth.best
    return Window(operation, least, most, thickness, growth, why, origin, full_current=True)
