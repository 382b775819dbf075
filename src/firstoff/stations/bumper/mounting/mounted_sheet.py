"""What a bumper's model sheet says of the bar on the car beside the hits: shaking."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firstoff.physics.durability.random_profile import PROFILES
from firstoff.sheets.schema import Key, Section
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.mounting import impact_sheet
from firstoff.stations.reading import Drawn, SheetInReading


@dataclass(frozen=True)
class Mounted:
    """How the bar stands on the car."""

    bracket: float  # distance of the brackets from the middle
    profile: str = "car_body"  # what shakes it


SECTIONS: Final = (
    *impact_sheet.SECTIONS,
    Section(
        "vibration_test",
        (Key("profile", None, "random profile of the shaker; car_body when left out", type="text", choices=PROFILES),),
        "How the bar on its brackets is shaken",
    ),
)


def read(model: SheetInReading, plant: SheetInReading | None) -> Drawn:
    """What `impact_sheet.read` gives, with how the bar stands on the car; faults are noted on the sheets."""
    drawn = impact_sheet.read(model, plant)
    bumper: Bumper | None = drawn.drawing
    mounting = model.settled.get("mounting", {})
    if bumper is None or "bracket" not in mounting:
        return drawn
    at = mounting["bracket"].nominal
    if at > 0.5 * bumper.length - 0.01:
        if bumper.impact is None and not model.settled.get("hit"):
            model.fault("mounting", "bracket", "lies beyond the bar", found=f"{1e3 * at:.0f} mm",
                        allowed=f"less than {500.0 * bumper.length - 10.0:.0f} mm")  # fmt: skip
        return drawn
    shaken: dict[str, Any] = model.settled.get("vibration_test", {})
    mounted = Mounted(at, shaken.get("profile", "car_body"))
    return replace(drawn, drawing=replace(bumper, mounted=mounted))
