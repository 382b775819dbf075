"""The customer's table of damping forces, as the model sheet states it."""

from __future__ import annotations

from typing import Any

from firstoff.chain.station import Characteristic
from firstoff.sheets.quantity import parse_limits
from firstoff.sheets.schema import Key, Section
from firstoff.stations.damper.damping_rig import force_name
from firstoff.stations.reading import Drawn, SheetInReading

SECTION = Section(
    "damping",
    (
        Key("speed", "m/s", "peak speed of the rig", required=True, low="0.001 m/s", high="10 m/s"),
        Key("rebound", None, 'limits of the force in rebound, tension positive: "450 ±60 N"', type="text"),
        Key("compression", None, 'limits of the force in compression, negative: "-217 ±40 N"', type="text"),
        Key("safety", None, "whether only readings may release it", type="boolean"),
    ),
    "The customer's table of damping forces, one entry a speed",
    repeated=True,
)


def read(model: SheetInReading, plant: SheetInReading | None) -> Drawn:
    """Forces with their limits, and the speeds of the table; faults are noted on the sheet."""
    found: dict[str, Characteristic] = {}
    speeds: list[float] = []
    for index, row in enumerate(model.settled.get("damping", [])):
        if "speed" not in row:
            continue
        speed = float(row["speed"].nominal)
        where = f"damping/{index}"
        if speed in speeds:
            model.fault(where, "speed", "stands twice in the table", found=f"{speed:g} m/s")
            continue
        speeds.append(speed)
        for direction, sign in (("rebound", 1), ("compression", -1)):
            _force_limit(model, where, row, direction, sign, speed, found)
    return Drawn(found, tuple(sorted(speeds)))


def _force_limit(
    model: SheetInReading, where: str, row: Any, direction: str, sign: int, speed: float,
    found: dict[str, Characteristic],
) -> None:  # fmt: skip
    if direction not in row:
        return
    limits = model.attempt(where, direction, lambda: parse_limits(row[direction], "N"))
    if limits is None:
        return
    low, middle, high = limits
    if any(value is not None and value * sign < 0 for value in (low, middle, high)):
        model.fault(
            where,
            direction,
            "has the wrong sign: force is positive in tension, so rebound is positive and compression negative",
            found=row[direction],
        )
        return
    what = f"damping force in {direction} at {speed:g} m/s"
    name = force_name(sign * speed)
    found[name] = Characteristic(name, "N", what, low, high, bool(row.get("safety", False)))
