"""What a bumper's model sheet says of the finished face: where it is looked at, and which tests it must stand.

Each test gives a characteristic that is only measured. Limits that the sheet leaves out are the standard's, from
memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, NamedTuple

from firstoff.chain.measurement import Measurement, Readout
from firstoff.chain.station import Characteristic
from firstoff.physics.surface import CLASSES
from firstoff.sheets.quantity import parse_limits
from firstoff.sheets.schema import Key, Section
from firstoff.stations.reading import SheetInReading

SPRAYS: Final = ("NSS", "AASS", "CASS")
SPRAY_WORDS: Final = {
    "NSS": "neutral salt spray, 35 °C",
    "AASS": "acetic acid salt spray, 35 °C",
    "CASS": "copper-accelerated acetic acid salt spray, 50 °C",
}  # ISO 9227, from memory
CORROSION: Final = "corrosion"


class Kind(NamedTuple):
    """A test: its characteristic, unit, what is read, limits of the standard, how it is done."""

    characteristic: str
    unit: str
    what: str
    limits: str
    how: str
    source: str


KINDS: Final = {
    "step potential": Kind(
        "step_potential", "mV", "potential between semi-bright and bright nickel, bright the more active",
        "100 to 200 mV", "anodic dissolution of a spot layer by layer, potential recorded; strips the spot",
        "ASTM B764, ASTM B456 (from memory)"),
    "adhesion": Kind(
        "adhesion_loss", "%", "share of the tested area where the deposit lifts", "<= 0 %",
        "bend, file or saw, and quench after heating; destroys the part", "ASTM B571 (from memory)"),
    "pores": Kind(
        "pore_density", "1/cm^2", "pores of microporous chromium, shown by copper", ">= 10000 1/cm^2",
        "copper deposited in the pores, counted under the microscope", "ASTM B456 (from memory)"),
    "cracks": Kind(
        "crack_density", "1/mm", "cracks of microcracked chromium along a line", ">= 30 1/mm",
        "copper deposited in the cracks, counted under the microscope", "ASTM B456 (from memory)"),
    CORROSION: Kind(
        "corrosion_area", "%", "share of the significant surface with defects after the spray", "",
        "sprayed for the hours of the product's specification, then rated by the area of defects",
        "ISO 9227, rating by ISO 10289 (from memory)"),
}  # fmt: skip


@dataclass(frozen=True)
class Zone:
    """A part of the face as it is looked at."""

    name: str
    seconds: float
    sample: str  # boundary sample
    allowed: str  # what may be there


@dataclass(frozen=True)
class SurfaceTest:
    """One test of the finished face."""

    kind: str
    rating: int | None = None  # least rating; of corrosion
    hours: float = 0.0
    spray: str = ""
    source: str = ""
    stated: bool = False  # whether the sheet states the limits itself


SECTIONS: Final = (
    Section(
        "zone",
        (
            Key("name", None, "name of the zone", required=True, type="text"),
            Key("time", "s", "how long it is looked at", required=True, low="0.5 s", high="600 s"),
            Key("sample", None, "boundary sample that hangs beside it", type="text"),
            Key("allowed", None, "what may be there: size and number of pits, scratches, clouds", type="text"),
        ),
        "The zones in which the mirror is looked at under strong light, most seen first",
        repeated=True,
    ),
    Section(
        "surface_test",
        (
            Key("kind", None, "which test", required=True, type="text", choices=tuple(KINDS)),
            Key("limits", None, "its limits; the standard's (from memory) when left out", type="text"),
            Key("rating", None, "of corrosion: least rating, 0 to 10", type="integer", low="0", high="10"),
            Key("hours", "h", "of corrosion: how long, from the product's specification", low="1 h", high="5000 h"),
            Key("spray", None, "of corrosion: which spray", type="text", choices=SPRAYS),
            Key("source", None, "which specification asks for it", type="text"),
        ),
        "Tests of the finished face; each gives a characteristic that is only measured",
        repeated=True,
    ),
)  # fmt: skip

MEASUREMENTS: Final = (
    Measurement("step_test", "step in potential of a spot, layer by layer", "inspection",
                (Readout("step_potential", 5e-3),), "lot", 1, 30.0, 1, destructive=True,
                beware="Stripping electrolyte is acid and holds nickel afterwards; gloves, goggles, waste collected."),
    Measurement("adhesion_test", "bend and quench test of one bar", "inspection", (Readout("adhesion_loss", 5e-3),),
                "lot", 1, 40.0, 2, destructive=True, beware="Chips fly from a bent deposit; hot part into cold water: "
                "face shield, tongs."),
    Measurement("spray_test", "accelerated corrosion of one bar", "inspection", (Readout("corrosion_area", 5e-4),),
                "lot", 1, 60.0, 1, destructive=True, needs="a spray cabinet for the hours of the specification"),
)  # fmt: skip


def area_of(rating: int) -> float:
    """Largest share of the surface that still has a rating, 0 to 10. Source: ISO 10289, class table (from memory)."""
    return 0.0 if rating >= 10 else 1.0 if rating <= 0 else float(CLASSES[9 - rating])


def read_zones(model: SheetInReading) -> tuple[Zone, ...]:
    """The zones; doubles are noted as faults."""
    found: list[Zone] = []
    for i, row in enumerate(model.settled.get("zone", [])):
        if not {"name", "time"} <= set(row):
            continue
        if row["name"] in [z.name for z in found]:
            model.fault(f"zone/{i}", "name", "is taken", found=row["name"])
        found.append(Zone(row["name"], row["time"].nominal, row.get("sample", ""), row.get("allowed", "")))
    return tuple(found)


def read_tests(
    model: SheetInReading, taken: Mapping[str, Any]
) -> tuple[tuple[SurfaceTest, ...], dict[str, Characteristic]]:
    """The tests and the characteristics that they give; faults are noted on the sheet."""
    tests: list[SurfaceTest] = []
    given: dict[str, Characteristic] = {}
    for i, row in enumerate(model.settled.get("surface_test", [])):
        if "kind" not in row:
            continue
        where, kind = f"surface_test/{i}", KINDS[row["kind"]]
        if kind.characteristic in given or kind.characteristic in taken:
            model.fault(where, "kind", "stands twice", found=row["kind"])
            continue
        test = _corrosion(model, where, row) if row["kind"] == CORROSION else _other(model, where, row)
        if test is None:
            continue
        if test.rating is not None:
            limits: tuple[float | None, ...] | None = (None, None, area_of(test.rating))
        else:
            limits = model.attempt(where, "limits", partial(parse_limits, row.get("limits", kind.limits), kind.unit))
        if limits is not None:
            tests.append(test)
            given[kind.characteristic] = Characteristic(kind.characteristic, kind.unit, kind.what, limits[0], limits[2])
    return tuple(tests), given


def _corrosion(model: SheetInReading, where: str, row: Mapping[str, Any]) -> SurfaceTest | None:
    lacking = [key for key in ("hours", "spray") if key not in row]
    if ("rating" in row) == ("limits" in row):
        lacking.append("rating or limits, one of them")
    if lacking:
        what = "needs what the product's specification says"
        model.fault(where, "kind", what, found=row["kind"], allowed=", ".join(lacking))
        return None
    rating = int(row["rating"]) if "rating" in row else None
    return SurfaceTest(row["kind"], rating, row["hours"].nominal, row["spray"], row.get("source", ""), True)


def _other(model: SheetInReading, where: str, row: Mapping[str, Any]) -> SurfaceTest | None:
    odd = [key for key in ("rating", "hours", "spray") if key in row]
    if odd:
        model.fault(where, odd[0], "belongs to the corrosion test", found=row["kind"])
        return None
    return SurfaceTest(row["kind"], source=row.get("source", ""), stated="limits" in row)
