"""What a bumper's model sheet says of the bar on the car beside the hits: joints, trim, lamps, air, hitch, shaking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from firstoff.chain.station import Characteristic
from firstoff.errors import nearest
from firstoff.physics.durability.random_profile import PROFILES
from firstoff.physics.durability.towing import CLASSES
from firstoff.physics.joints.settling import EXPANSION
from firstoff.sheets.schema import Key, Section
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.mounting import impact_sheet
from firstoff.stations.reading import Drawn, SheetInReading

FUSE, FORBIDDEN = "fuse", "forbidden"


@dataclass(frozen=True)
class Trim:
    """A strip or step pad on the bar, held in its middle, its other fasteners in slots."""

    name: str
    material: str
    length: float
    slot: float
    pin: float


@dataclass(frozen=True)
class Fit:
    """A lamp or plate holder in a hole of the face."""

    name: str
    aperture: str
    size: float  # across the bar


@dataclass(frozen=True)
class Mounted:
    """How the bar stands on the car, and what is fixed to it."""

    bracket: float  # distance of the brackets from the middle
    profile: str = "car_body"  # what shakes it
    slip: str = ""  # of the bracket's joints: `fuse`, `forbidden`, or not said
    trims: tuple[Trim, ...] = ()
    fits: tuple[Fit, ...] = ()
    inlets: tuple[str, ...] = ()  # apertures that let cooling air in
    rating: str = ""  # class of the hitch
    inner: float = 0.0  # distance of a second pair of brackets; 0 for none

    @property
    def places(self) -> tuple[float, ...]:
        """Where the brackets stand, from the left to the right."""
        return (-self.bracket, *((-self.inner, self.inner) if self.inner else ()), self.bracket)


SECTIONS: Final = (
    *impact_sheet.SECTIONS,
    Section(
        "bracket_joint",
        (Key("slip", None, "whether the joint may slip in a hit: a fuse, or forbidden (joint_slip_HIT <= 0 mm)",
             type="text", choices=(FUSE, FORBIDDEN)),),
        "The joints of the brackets",
    ),
    Section(
        "trim_part",
        (
            Key("name", None, "name of the strip or pad", required=True, type="text"),
            Key("material", None, "what it is of", required=True, type="text", choices=tuple(EXPANSION)),
            Key("length", "mm", "length", required=True, low="20 mm", high="3500 mm"),
            Key("slot", "mm", "length of the slots at its ends", required=True, low="2 mm", high="80 mm"),
            Key("pin", "mm", "diameter of the fastener in them", required=True, low="1 mm", high="30 mm"),
        ),
        "Trim and step pads, fixed in the middle; each gives growth_NAME and slot_room_NAME",
        repeated=True,
    ),
    Section(
        "fit",
        (
            Key("name", None, "name of the lamp or plate holder", required=True, type="text"),
            Key("aperture", None, "the hole of the face it stands in", required=True, type="text"),
            Key("size", "mm", "its size across the bar", required=True, low="2 mm", high="500 mm"),
        ),
        "Lamps and plate holder in their holes; each gives clearance_NAME",
        repeated=True,
    ),
    Section(
        "cooling",
        (Key("apertures", None, "holes that let air in, their names with blanks between", required=True, type="text"),),
        "Opening left for cooling air; gives cooling_area",
    ),
    Section(
        "hitch",
        (Key("rating", None, "rating class", required=True, type="text", choices=tuple(CLASSES)),),
        "The hitch under the bar; its strength is released by a physical test only",
    ),
    Section(
        "vibration_test",
        (Key("profile", None, "random profile of the shaker; car_body when left out", type="text", choices=PROFILES),),
        "How the bar on its brackets is shaken",
    ),
)  # fmt: skip


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
    of: Mapping[str, Any] = model.settled
    mounted = Mounted(
        at, of.get("vibration_test", {}).get("profile", "car_body"), of.get("bracket_joint", {}).get("slip", ""),
        _trims(model), _fits(model, bumper), _inlets(model, bumper), of.get("hitch", {}).get("rating", ""),
        mounting["inner_bracket"].nominal if "inner_bracket" in mounting else 0.0,
    )  # fmt: skip
    return replace(drawn, characteristics={**drawn.characteristics, **_limits(bumper, mounted)},
                   drawing=replace(bumper, mounted=mounted))  # fmt: skip


def _limits(bumper: Bumper, mounted: Mounted) -> dict[str, Characteristic]:
    """What the drawing itself limits: no slip where it is forbidden."""
    blows = bumper.impact.blows if bumper.impact is not None and mounted.slip == FORBIDDEN else ()
    names = [f"joint_slip_{blow.name}" for blow in blows]
    return {name: Characteristic(name, "mm", "slip of a bracket's joint", high=0.0) for name in names}


def _trims(model: SheetInReading) -> tuple[Trim, ...]:
    found: list[Trim] = []
    for i, row in enumerate(model.settled.get("trim_part", [])):
        if not {"name", "material", "length", "slot", "pin"} <= set(row):
            continue
        if row["name"] in [t.name for t in found]:
            model.fault(f"trim_part/{i}", "name", "is taken", found=row["name"])
        if row["pin"].nominal > row["slot"].nominal:
            model.fault(f"trim_part/{i}", "pin", "does not go into the slot")
            continue
        found.append(Trim(row["name"], row["material"], *(row[key].nominal for key in ("length", "slot", "pin"))))
    return tuple(found)


def _fits(model: SheetInReading, bumper: Bumper) -> tuple[Fit, ...]:
    names = tuple(a.name for a in bumper.apertures)
    found: list[Fit] = []
    for i, row in enumerate(model.settled.get("fit", [])):
        if not {"name", "aperture", "size"} <= set(row):
            continue
        if row["name"] in [f.name for f in found]:
            model.fault(f"fit/{i}", "name", "is taken", found=row["name"])
        if row["aperture"] not in names:
            model.fault(f"fit/{i}", "aperture", "is no hole of the face", found=row["aperture"],
                        nearest=nearest(row["aperture"], names))  # fmt: skip
            continue
        found.append(Fit(row["name"], row["aperture"], row["size"].nominal))
    return tuple(found)


def _inlets(model: SheetInReading, bumper: Bumper) -> tuple[str, ...]:
    names = tuple(a.name for a in bumper.apertures)
    asked = str(model.settled.get("cooling", {}).get("apertures", "")).replace(",", " ").split()
    for name in asked:
        if name not in names:
            model.fault("cooling", "apertures", "is no hole of the face", found=name, nearest=nearest(name, names))
    return tuple(name for name in asked if name in names)
