"""The sections of a bumper's model sheet and of its press line, and the drawing that is read from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from firstoff.chain.station import Characteristic
from firstoff.errors import nearest
from firstoff.sheets.quantity import parse_limits
from firstoff.sheets.schema import Key, Section
from firstoff.stations.bumper.drawing import FACE, WRAP, Aperture, Arc, Bumper, Corner, Point, Press, PressLine, Wrap
from firstoff.stations.reading import Drawn, SheetInReading

UNSTATED_PLACE = 1e-3  # m, tolerance of a hole whose place has none: common practice, no source
DIES = ("draw", "flange")
SHAPES = ("round", "rectangle")
LINES = ("robots", "transfer")
ASSUMED_PRESS = Press("a 2000 t press", 19.6e6, 13e-3, 0.9, 14.0 / 60.0, 0.6e6, 4.6, 0.03)  # common practice, no source


def _text(name: str, what: str, required: bool = False, choices: tuple[str, ...] = ()) -> Key:
    return Key(name, None, what, required=required, type="text", choices=choices)


MODEL = (
    Section(
        "bar",
        (
            Key(
                "length",
                "mm",
                "length of the finished bar along its face, without the wrapped ends",
                required=True,
                low="300 mm",
                high="3500 mm",
            ),
            Key(
                "form_hits",
                None,
                "how many dies form the section: 1, or 2 where one tears it",
                type="integer",
                low="1",
                high="2",
            ),
            Key(
                "coil_widest", "mm", "widest coil that can be had; 1500 mm when left out", low="200 mm", high="2200 mm"
            ),
        ),
        "The pressed bar",
    ),
    Section(
        "corner",
        (
            _text("name", "name of the corner or edge", required=True),
            Key("x", "mm", "to the rear, at the middle of the sheet", required=True, low="-1000 mm", high="1000 mm"),
            Key("y", "mm", "upwards", required=True, low="-1000 mm", high="1000 mm"),
            Key("radius", "mm", "inside radius; not at the two edges", low="0.5 mm", high="500 mm"),
            _text("die", "die that makes it: the draw die, or the flange die afterwards", choices=DIES),
            Key("restrike", None, "whether the restrike strikes it again", type="boolean"),
        ),
        "The cross-section from the upper edge to the lower, one entry a corner; the first and the last are the edges",
        repeated=True,
    ),
    Section(
        "arc",
        (
            Key("length", "mm", "length along the face", required=True, low="10 mm", high="3000 mm"),
            Key("radius", "mm", "radius in plan", required=True, low="200 mm", high="100000 mm"),
        ),
        "The plan curve from the middle of the bar outwards, one entry an arc; both halves are alike",
        repeated=True,
    ),
    Section(
        "wrap",
        (
            Key("radius", "mm", "inside radius", required=True, low="2 mm", high="400 mm"),
            Key("angle", "deg", "angle it turns through", required=True, low="5 deg", high="100 deg"),
            Key("length", "mm", "flat beyond the bend", required=True, low="5 mm", high="500 mm"),
        ),
        "The ends of the bar, bent round by the cam flange",
    ),
    Section(
        "aperture",
        (
            _text("name", "name of the hole", required=True),
            _text("shape", "shape", choices=SHAPES),
            Key("width", "mm", "diameter, or width along the bar", required=True, low="2 mm", high="2000 mm"),
            Key("height", "mm", "height across the bar; of a rectangle", low="2 mm", high="500 mm"),
            Key("along", "mm", "distance from the middle of the bar", low="0 mm", high="2000 mm"),
            Key("y", "mm", "height of its middle on the face", low="-1000 mm", high="1000 mm"),
            _text("position", 'tolerance of its place across the bar: "±0.8 mm"'),
            Key("count", None, "how many of them; 1 when left out", type="integer", low="1", high="60"),
        ),
        "Holes in the face: lamps, plate, sensors, hitch",
        repeated=True,
    ),
    Section(
        "fixture_point",
        (
            _text("name", "name of the point", required=True),
            _text("at", "the corner or edge it stands at, or `face`, or `wrap`", required=True),
            Key("along", "mm", "distance from the middle of the bar; 0 when left out", low="0 mm", high="2000 mm"),
            _text("gap", 'limits of the gap between part and fixture: "3 ±0.8 mm"'),
            _text("flush", 'limits of how far an edge stands out beyond the fixture: "0 ±1 mm"'),
            Key("safety", None, "whether only readings may release it", type="boolean"),
        ),
        "Points of the checking fixture; each gives gap_NAME, and an edge flush_NAME",
        repeated=True,
    ),
)

PLANT = (
    Section(
        "press_line",
        (
            _text("kind", "separate presses fed by robots, or one transfer press", choices=LINES),
            Key("handling", "s", "from one press to the next", low="0.5 s", high="60 s"),
        ),
        "How the dies follow each other",
    ),
    Section(
        "press",
        (
            _text("name", "name of the press", required=True),
            Key("force", "kN", "rated force", required=True, low="100 kN", high="60000 kN"),
            Key("rated_distance", "mm", "distance above the bottom at which it gives that force", low="1 mm",
                high="60 mm"),
            Key("stroke", "mm", "stroke of the slide", low="50 mm", high="1500 mm"),
            Key("rate", "1/min", "strokes per minute", low="1 1/min", high="120 1/min"),
            Key("energy", "kJ", "energy a stroke may take", low="1 kJ", high="10000 kJ"),
            Key("bed", "mm", "length of the bed", low="300 mm", high="10000 mm"),
            Key("eccentric", "1", "most load off the centre, as a share of force times bed", low="0.001", high="0.2"),
            Key("count", None, "how many alike; 1 when left out", type="integer", low="1", high="20"),
        ),
        "The presses in the order of the dies",
        repeated=True,
    ),
)  # fmt: skip


def read(model: SheetInReading, plant: SheetInReading | None) -> Drawn:
    """The drawing and the characteristics that it limits; faults are noted on the sheets. Empty while sections are
    missing: the sheet's own characteristics are then enough to prove readings."""
    found: dict[str, Characteristic] = {}
    corners = _corners(model)
    names = [c.name for c in corners]
    points = _points(model, names, found)
    apertures = _apertures(model, found)
    bar = model.settled.get("bar", {})
    arcs = tuple(
        Arc(row["length"].nominal, row["radius"].nominal) for row in model.settled.get("arc", []) if _full(row)
    )
    if "length" not in bar or not corners or not arcs:
        return Drawn(found)
    wrapped = model.settled.get("wrap", {})
    wrap = Wrap(*(wrapped[key].nominal for key in ("radius", "angle", "length"))) if len(wrapped) == 3 else None
    if wrap is None and any(p.at == WRAP for p in points):
        model.fault("wrap", "angle", "is not there, but a fixture point stands at the wrap")
    widest = bar["coil_widest"].nominal if "coil_widest" in bar else 1.5
    line = _line(plant)
    origin = {f"corner.{c.name}": model.place(f"corner/{i}", "name") for i, c in enumerate(corners)}
    origin |= {"bar.length": model.place("bar", "length"), "arc": model.place("arc/0", "radius")}
    hits = int(bar.get("form_hits", 1))
    drawing = Bumper(bar["length"].nominal, corners, arcs, wrap, apertures, points, hits, widest, line)
    return Drawn(found, origin=origin, drawing=drawing)


def _full(row: Mapping[str, Any]) -> bool:
    return "length" in row and "radius" in row


def _corners(model: SheetInReading) -> tuple[Corner, ...]:
    rows = model.settled.get("corner", [])
    found: list[Corner] = []
    for i, row in enumerate(rows):
        where = f"corner/{i}"
        if not {"name", "x", "y"} <= set(row):
            return ()
        edge = i in (0, len(rows) - 1)
        if edge and ("radius" in row or "die" in row):
            model.fault(where, "radius" if "radius" in row else "die", "is an edge: it has neither radius nor die")
        if not edge and not {"radius", "die"} <= set(row):
            model.fault(where, "name", "needs a radius and the die that makes it", found=row["name"])
            return ()
        if row["name"] in (FACE, WRAP, *(c.name for c in found)):
            model.fault(where, "name", "is taken", found=row["name"], allowed="a name of its own")
        radius = row["radius"].nominal if "radius" in row else 0.0
        found.append(Corner(row["name"], row["x"].nominal, row["y"].nominal, radius, row.get("die", ""),
                            bool(row.get("restrike", False))))  # fmt: skip
    if rows and sum(c.die == "draw" for c in found) < 2:
        model.fault(
            "corner/0", "name", "must be followed by two corners of the draw die or more, the face between them"
        )
        return ()
    return tuple(found)


def _points(model: SheetInReading, corners: Sequence[str], found: dict[str, Characteristic]) -> tuple[Point, ...]:
    points: list[Point] = []
    for i, row in enumerate(model.settled.get("fixture_point", [])):
        where = f"fixture_point/{i}"
        if not {"name", "at"} <= set(row):
            continue
        name, at = row["name"], row["at"]
        if corners and at not in (*corners, FACE, WRAP):
            model.fault(where, "at", "is no corner", found=at, nearest=nearest(at, (*corners, FACE, WRAP)))
            continue
        edge = not corners or at in (corners[0], corners[-1])
        if "flush" in row and not edge:
            model.fault(where, "flush", "is measured at an edge", found=at, allowed=f"{corners[0]} or {corners[-1]}")
            continue
        gap = None
        for key, what in (("gap", "gap between part and fixture"), ("flush", "how far the edge stands out")):
            if key not in row:
                continue
            text = row[key]
            limits = model.attempt(where, key, partial(parse_limits, text, "mm"))
            if limits is None:
                continue
            if f"{key}_{name}" in found:
                model.fault(where, "name", "is taken", found=name)
            low, middle, high = limits
            if key == "gap":
                gap = middle if middle is not None else low if low is not None else high
            found[f"{key}_{name}"] = Characteristic(
                f"{key}_{name}", "mm", f"{what}, {name}", low, high, bool(row.get("safety", False))
            )
        along = row["along"].nominal if "along" in row else 0.0
        points.append(Point(name, at, along, gap, "flush" in row))
    return tuple(points)


def _apertures(model: SheetInReading, found: dict[str, Characteristic]) -> tuple[Aperture, ...]:
    holes: list[Aperture] = []
    for i, row in enumerate(model.settled.get("aperture", [])):
        where = f"aperture/{i}"
        if not {"name", "width"} <= set(row):
            continue
        name, is_round = row["name"], row.get("shape", "round") == "round"
        if not is_round and "height" not in row:
            model.fault(where, "shape", "is a rectangle without a height", found=name)
            continue
        low = high = None
        if "position" in row:
            text = row["position"] if row["position"][:1].isdigit() else f"0 {row['position']}"
            limits = model.attempt(where, "position", partial(parse_limits, text, "mm"))
            if limits is None:
                continue
            low, _, high = limits
            found[f"hole_{name}"] = Characteristic(f"hole_{name}", "mm", f"place across the bar, {name}", low, high)
        width = row["width"].nominal
        along, y = (row[key].nominal if key in row else 0.0 for key in ("along", "y"))
        free = min(abs(low), abs(high)) if low is not None and high is not None else UNSTATED_PLACE
        height = width if is_round else row["height"].nominal
        holes.append(Aperture(name, width, height, is_round, along, y, free, int(row.get("count", 1))))
    return tuple(holes)


def _line(plant: SheetInReading | None) -> PressLine:
    rows = plant.settled.get("press", []) if plant else []
    stated = plant.settled.get("press_line", {}) if plant else {}
    presses: list[Press] = []
    a = ASSUMED_PRESS
    for row in rows:
        if not {"name", "force"} <= set(row):
            continue
        usual = {"rated_distance": a.rated_distance, "stroke": a.stroke, "rate": a.per_second, "energy": a.energy,
                 "bed": a.bed, "eccentric": a.eccentric}  # fmt: skip
        numbers = [row[key].nominal if key in row else value for key, value in usual.items()]
        presses += [Press(row["name"], row["force"].nominal, *numbers)] * int(row.get("count", 1))
    handling = stated["handling"].nominal if "handling" in stated else 6.0
    line = tuple(presses) or (a,) * 12
    return PressLine(line, stated.get("kind") == "transfer", handling, assumed=not presses)
