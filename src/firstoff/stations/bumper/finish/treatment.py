"""What a bumper's sheets say of its face: the wheels that buff it, windows in the line, what the line uses up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, Final

from firstoff.sheets.quantity import parse_limits
from firstoff.sheets.schema import Key, Section
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish import plating_sheet, supplies, surface_tests, windows
from firstoff.stations.bumper.finish.supplies import Supplies
from firstoff.stations.bumper.finish.surface_tests import SurfaceTest, Zone
from firstoff.stations.bumper.finish.windows import Windows
from firstoff.stations.reading import Drawn, SheetInReading


@dataclass(frozen=True)
class Wheel:
    """One wheel of the buffing sequence, or one belt."""

    name: str
    grit: int  # 0: a compound whose grain is not stated
    compound: str
    diameter: float
    speed: float  # peripheral, of the new wheel
    rated_speed: float  # on its label
    pressure: float
    time: float  # contact of a point, all passes together
    coefficient: float  # Preston's, of this wheel on this steel
    end_roughness: float
    smoothing_depth: float  # removal after which what was rougher has fallen to 1/e


@dataclass(frozen=True)
class Stage:
    """One stage of the pretreatment before paint."""

    name: str
    time: str
    temperature: str
    why: str


@dataclass(frozen=True)
class Treatment:
    """What is done to the face, in order."""

    wheels: tuple[Wheel, ...] = ()
    windows: Windows = field(default_factory=Windows)
    supplies: Supplies = field(default_factory=Supplies)
    zones: tuple[Zone, ...] = ()
    tests: tuple[SurfaceTest, ...] = ()
    painted: bool = False
    pretreatment: tuple[Stage, ...] = ()


WHEEL: Final = Section(
    "wheel",
    (
        Key("name", None, "name of the wheel or belt", required=True, type="text"),
        Key("grit", None, "grain of its belt or compound; a mesh number", type="integer", low="24", high="3000"),
        Key("compound", None, "bar or liquid compound on it", type="text"),
        Key("diameter", "mm", "diameter when new", required=True, low="50 mm", high="1000 mm"),
        Key("speed", "m/s", "peripheral speed when new", required=True, low="1 m/s", high="80 m/s"),
        Key("rated_speed", "m/s", "most peripheral speed, on its label", required=True, low="1 m/s", high="120 m/s"),
        Key("pressure", "kPa", "pressure of the wheel on a flat face", required=True, low="1 kPa", high="1000 kPa"),
        Key("time", "s", "contact time of a point of the face, all passes together", required=True, low="0.05 s",
            high="600 s"),
        Key("coefficient", "1/Pa", "Preston coefficient on this steel, from weighed trials", required=True,
            low="1e-16 1/Pa", high="1e-10 1/Pa"),
        Key("end_roughness", "um", "roughness Ra that it leaves however long it runs", required=True, low="0.001 um",
            high="10 um"),
        Key("smoothing_depth", "um", "removal after which what was rougher has fallen to 1/e, from trials",
            required=True, low="0.01 um", high="200 um"),
    ),
    "The wheels of the buffing sequence, in order",
    repeated=True,
)  # fmt: skip
PRETREATMENT: Final = Section(
    "pretreatment",
    (
        Key("name", None, "name of the stage", required=True, type="text"),
        Key("time", None, 'window of its time: "60 to 90 s"', type="text"),
        Key("temperature", None, 'window of its temperature: "50 to 60 degC"', type="text"),
        Key("why", None, "who says so: supplier, trial", type="text"),
    ),
    "The stages of the pretreatment before paint, in order; their chemistry is the supplier's",
    repeated=True,
)
SECTIONS: Final = (WHEEL, PRETREATMENT, *windows.SECTIONS, *surface_tests.SECTIONS)
PLANT: Final = supplies.SECTIONS


def read(model: SheetInReading, plant: SheetInReading | None) -> Drawn:
    """What `plating_sheet.read` gives, with the treatment of the face put to the drawing; faults are noted."""
    drawn = plating_sheet.read(model, plant)
    bumper: Bumper | None = drawn.drawing
    wheels = _wheels(model)
    if model.settled.get("buffing") and not model.settled.get("wheel"):
        key = next(iter(model.settled["buffing"]))
        model.fault("buffing", key, "needs the wheels in order", allowed="[[wheel]], one entry a wheel")
    zones = surface_tests.read_zones(model)
    tests, tested = surface_tests.read_tests(model, drawn.characteristics)
    drawn = replace(drawn, characteristics={**drawn.characteristics, **tested})
    painted = bool(model.settled.get("paint"))
    found = Treatment(wheels, windows.read(model), supplies.read(plant), zones, tests, painted, _stages(model))
    return drawn if bumper is None else replace(drawn, drawing=replace(bumper, treatment=found))


def of(drawing: Any) -> Treatment:
    """The treatment of a drawing; an empty one where it states none."""
    found = drawing.treatment if drawing is not None else None
    return found if found is not None else Treatment()


def _stages(model: SheetInReading) -> tuple[Stage, ...]:
    found = []
    for i, row in enumerate(model.settled.get("pretreatment", [])):
        for key, unit in (("time", "s"), ("temperature", "degC")):
            if key in row:
                model.attempt(f"pretreatment/{i}", key, partial(parse_limits, row[key], unit))
        if "name" in row:
            found.append(Stage(row["name"], *(row.get(key, "") for key in ("time", "temperature", "why"))))
    return tuple(found)


def _wheels(model: SheetInReading) -> tuple[Wheel, ...]:
    found: list[Wheel] = []
    rows = model.settled.get("wheel", [])
    needed = {key.name for key in WHEEL.keys if key.required}
    for i, row in enumerate(rows):
        if not needed <= set(row):
            return ()
        wheel = _wheel(row)
        where = f"wheel/{i}"
        if wheel.name in [w.name for w in found]:
            model.fault(where, "name", "is taken", found=wheel.name)
        if wheel.speed > wheel.rated_speed:
            model.fault(where, "speed", "is above the speed on the wheel's label: it may burst",
                        found=f"{wheel.speed:g} m/s", allowed=f"at most {wheel.rated_speed:g} m/s")  # fmt: skip
        before = next((w for w in reversed(found) if w.grit), None)
        if before is not None and wheel.grit and wheel.grit < before.grit:
            model.fault(where, "grit", f"is coarser than that of {before.name} before it", found=str(wheel.grit),
                        allowed=f"{before.grit} or finer")  # fmt: skip
        found.append(wheel)
    return tuple(found)


def _wheel(row: Mapping[str, Any]) -> Wheel:
    numbers = [row[k].nominal for k in ("diameter", "speed", "rated_speed", "pressure", "time", "coefficient",
                                        "end_roughness", "smoothing_depth")]  # fmt: skip
    return Wheel(row["name"], int(row.get("grit", 0)), row.get("compound", ""), *numbers)
