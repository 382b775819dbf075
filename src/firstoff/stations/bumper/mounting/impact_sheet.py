"""What a bumper's model sheet says of the hit: where the brackets and what must not be touched are, and the hits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from firstoff.physics.impact import protocol
from firstoff.physics.impact.bar_material import FORMED_STEEL, MATERIALS
from firstoff.sheets.schema import Key, Section
from firstoff.stations.bumper import sheet
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.reading import Drawn, SheetInReading

ABSORBERS: Final = ("foam", "springs")
KINDS: Final = ("pendulum", "corner", "barrier", "contoured barrier")
RADII: Final = {"pendulum": 0.2, "corner": 0.2, "barrier": 0.0, "contoured barrier": 3.4}  # m: assumed
CORNER_ANGLE: Final = 0.5235987755982988  # 30 deg between the corner striker's way and straight ahead


@dataclass(frozen=True)
class Guarded:
    """What the bar must not reach: a lamp, a cooler."""

    name: str
    along: float  # from the middle, to the right positive
    clearance: float


@dataclass(frozen=True)
class Blow:
    """One hit, each on a bar that has had none."""

    name: str
    kind: str
    speed: float
    along: float
    radius: float
    half_width: float
    angle: float  # of the striker's way against straight ahead, without sign
    height: float  # above the brackets
    protocol: str


@dataclass(frozen=True)
class ImpactDrawing:
    """Brackets, guarded points and hits."""

    bracket: float  # distance of the brackets from the middle
    guarded: tuple[Guarded, ...]
    blows: tuple[Blow, ...]
    material: str = FORMED_STEEL  # of the bar
    absorber: str = "foam"  # what stands before the bar where it has a depth
    inner: float = 0.0  # distance of a second pair of brackets from the middle; 0 for none

    @property
    def places(self) -> tuple[float, ...]:
        """Where the brackets stand, from the left to the right."""
        return (-self.bracket, *((-self.inner, self.inner) if self.inner else ()), self.bracket)


SECTIONS: Final = (
    Section(
        "mounting",
        (
            Key("bracket", "mm", "distance of the two brackets from the middle of the bar", required=True, low="50 mm",
                high="1500 mm"),
            Key("inner_bracket", "mm", "distance from the middle of a second pair of brackets, nearer to it; none when "
                "left out", low="20 mm", high="1400 mm"),
            Key("bar", None, "what the bar is of; the formed steel when left out", type="text", choices=MATERIALS),
            Key("absorber", None, "what stands before the bar where the rig has its depth; foam when left out",
                type="text", choices=ABSORBERS),
        ),
        "How the bar stands on the car",
    ),
    Section(
        "guarded_point",
        (
            Key("name", None, "name of the lamp, cooler or other part", required=True, type="text"),
            Key("along", "mm", "distance from the middle of the bar, to the right positive", required=True,
                low="-1800 mm", high="1800 mm"),
            Key("clearance", "mm", "room behind the bar at rest", required=True, low="0 mm", high="500 mm"),
        ),
        "What the bar must not reach; each gives room_NAME_HIT",
        repeated=True,
    ),
    Section(
        "hit",
        (
            Key("name", None, "name of the hit", required=True, type="text"),
            Key("kind", None, "what is met", required=True, type="text", choices=KINDS),
            Key("speed", "km/h", "speed; that of the protocol when left out", low="0.2 km/h", high="20 km/h"),
            Key("protocol", None, "published protocol whose speed is taken", type="text", choices=protocol.PROTOCOLS),
            Key("along", "mm", "where it meets the bar, from the middle; 0, or of a corner hit the right corner, when "
                "left out", low="-1800 mm", high="1800 mm"),
            Key("radius", "mm", "radius of the striker's face in plan; 200 mm, contoured barrier 3400 mm when left out "
                "(assumed)", low="100 mm", high="20000 mm"),
            Key("width", "mm", "width of its face; 600 mm, barriers without end when left out", low="50 mm",
                high="5000 mm"),
            Key("angle", "deg", "between its way and straight ahead; 30 deg of a corner hit, else 0, when left out",
                low="0 deg", high="60 deg"),
            Key("height", "mm", "height above the brackets", low="-200 mm", high="200 mm"),
        ),
        "The hits, each on a bar that has had none",
        repeated=True,
    ),
)  # fmt: skip


def read(model: SheetInReading, plant: SheetInReading | None) -> Drawn:
    """What `sheet.read` gives, with the hits put to the drawing; faults are noted on the sheets."""
    drawn = sheet.read(model, plant)
    bumper: Bumper | None = drawn.drawing
    rows = model.settled.get("hit", [])
    mounting = model.settled.get("mounting", {})
    if bumper is None or not rows:
        return drawn
    if "bracket" not in mounting:
        model.fault("hit/0", "name", "needs the brackets that the bar stands on", allowed="[mounting] with `bracket`")
        return drawn
    at = mounting["bracket"].nominal
    if at > 0.5 * bumper.length - 0.01:
        model.fault("mounting", "bracket", "lies beyond the bar", found=f"{1e3 * at:.0f} mm",
                    allowed=f"less than {500.0 * bumper.length - 10.0:.0f} mm")  # fmt: skip
        return drawn
    inner = mounting["inner_bracket"].nominal if "inner_bracket" in mounting else 0.0
    if inner > at - 0.04:
        model.fault("mounting", "inner_bracket", "stands too near to the outer one, or beyond it",
                    found=f"{1e3 * inner:.0f} mm", allowed=f"at most {1e3 * at - 40.0:.0f} mm")  # fmt: skip
        return drawn
    blows = [b for b in (_blow(model, bumper, i, row) for i, row in enumerate(rows)) if b is not None]
    names = [b.name for b in blows]
    for i, name in enumerate(names):
        if name in names[:i]:
            model.fault(f"hit/{i}", "name", "is taken", found=name)
    guarded = _guarded(model, bumper)
    impact = ImpactDrawing(
        at, guarded, tuple(blows), mounting.get("bar", FORMED_STEEL), mounting.get("absorber", "foam"), inner
    )
    return replace(drawn, drawing=replace(bumper, impact=impact))


def _reach(bumper: Bumper) -> float:
    """From the middle of the bar to the end of its wrap, along the face."""
    wrap = bumper.wrap
    return 0.5 * bumper.length + (wrap.radius * wrap.angle + wrap.length if wrap is not None else 0.0)


def _guarded(model: SheetInReading, bumper: Bumper) -> tuple[Guarded, ...]:
    found: list[Guarded] = []
    for i, row in enumerate(model.settled.get("guarded_point", [])):
        if not {"name", "along", "clearance"} <= set(row):
            continue
        if row["name"] in [g.name for g in found]:
            model.fault(f"guarded_point/{i}", "name", "is taken", found=row["name"])
        if abs(row["along"].nominal) > 0.5 * bumper.length:
            model.fault(f"guarded_point/{i}", "along", "lies beyond the bar",
                        allowed=f"within {500.0 * bumper.length:.0f} mm of the middle")  # fmt: skip
            continue
        found.append(Guarded(row["name"], row["along"].nominal, row["clearance"].nominal))
    return tuple(found)


def _blow(model: SheetInReading, bumper: Bumper, i: int, row: Mapping[str, Any]) -> Blow | None:
    if not {"name", "kind"} <= set(row):
        return None
    where, kind, rule = f"hit/{i}", row["kind"], row.get("protocol", "")
    base = "barrier" if kind == "contoured barrier" else kind
    stated = row["speed"].nominal if "speed" in row else protocol.speed(rule, base) if rule else None
    if stated is None:
        what = f"needs a speed: {rule} has none for a {kind}" if rule else "needs a speed or a protocol"
        model.fault(where, "speed" if "speed" in row else "name", what, found=row["name"])
        return None
    corner = kind == "corner"
    wrap = bumper.wrap
    usual = 0.5 * bumper.length + (0.5 * wrap.radius * wrap.angle if wrap is not None else -0.02) if corner else 0.0
    along = row["along"].nominal if "along" in row else usual
    if abs(along) > _reach(bumper):
        model.fault(
            where, "along", "lies beyond the bar", allowed=f"within {1e3 * _reach(bumper):.0f} mm of the middle"
        )
        return None

    def of(key: str, otherwise: float) -> float:
        return float(row[key].nominal) if key in row else otherwise

    width = of("width", 0.6 if base != "barrier" else 1e3)
    radius = of("radius", RADII[kind]) if kind != "barrier" else 0.0
    return Blow(row["name"], kind, stated, along, radius, 0.5 * width, of("angle", CORNER_ANGLE if corner else 0.0),
                of("height", 0.0), rule)  # fmt: skip
