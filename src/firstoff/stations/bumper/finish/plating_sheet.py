"""What the sheets say of plating: points and class in the model's, tank, rack, anodes, shields in the plant's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from firstoff.chain.station import Characteristic
from firstoff.physics.plating.mesh import Mesh
from firstoff.physics.plating.polarisation import Polarisation
from firstoff.sheets.schema import Key, Section
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish.measured_map import read_map
from firstoff.stations.bumper.finish.plating_drawing import (
    HEXAVALENT,
    TRIVALENT,
    Hung,
    MapRow,
    PlatingDrawing,
    PlatingPoint,
    Rack,
    Tank,
)
from firstoff.stations.bumper.finish.scanned import read_stl
from firstoff.stations.bumper.finish.surface import reach, surface_of
from firstoff.stations.bumper.mounting import impact_sheet
from firstoff.stations.reading import Drawn, SheetInReading

SIDES, LIES, CHROMIUM = ("front", "back"), ("along", "across", "flat"), ("r", "mp", "mc")
ROOM: Final = 0.03  # m between bars and whatever else hangs in the tank, and its walls
NICKEL_LAW = Polarisation(0.055, 8.0, 0.0)  # assumed: Watts bath, from memory; for the total current
CHROME_LAW = Polarisation(0.05, 20.0, 0.0)  # assumed
B456 = "ASTM B456 from memory"


def _hung(name: str, what: str) -> Section:
    return Section(
        name,
        (
            Key("name", None, "its name", required=True, type="text"),
            Key("along", "mm", "middle of the row, from the tank's middle; 0 when left out", low="-6000 mm",
                high="6000 mm"),
            Key("away", "mm", "before the tank's middle plane, on the side of the face, positive", required=True,
                low="-3000 mm", high="3000 mm"),
            Key("depth", "mm", "upper edge below the surface", required=True, low="0 mm", high="4000 mm"),
            Key("width", "mm", "width of one", required=True, low="20 mm", high="6000 mm"),
            Key("height", "mm", "height of one; of a flat one from front to rear", required=True, low="20 mm",
                high="4000 mm"),
            Key("lies", None, "along the face, across it, or flat; along when left out", type="text", choices=LIES),
            Key("count", None, "how many in the row; 1 when left out", type="integer", low="1", high="24"),
            Key("pitch", "mm", "from middle to middle", low="20 mm", high="3000 mm"),
        ),
        what,
        repeated=True,
    )  # fmt: skip


MODEL: Final = (
    Section(
        "plating",
        (
            Key("service_condition", None, "class of ASTM B456, 1 mild to 5; without it the sheet's own limits hold",
                type="integer", low="1", high="5"),
            Key("chromium", None, "r regular, mp microporous, mc microcracked; r when left out", type="text",
                choices=CHROMIUM),
            Key("chrome_bath", None, "hexavalent when left out; trivalent is the bath without chromium(VI)",
                type="text", choices=(HEXAVALENT, TRIVALENT)),
            Key("significant_depth", "mm", "how far behind the face the surface is significant; 45 mm when left out "
                "(assumed)", low="1 mm", high="500 mm"),
            Key("surface", None, "STL file of the real part in place of the drawn surface, in mm: x along the bar, y "
                "forward, z up, 0 at the middle of the face", type="text"),
            Key("map", None, "file with thickness measured on a similar bar, in place of the tank", type="text"),
            Key("map_area", "dm2", "plated area of that bar or rack, both sides", low="1 dm2", high="10000 dm2"),
            Key("map_u", "1", "standard uncertainty, relative, of carrying one point over; 0.08 when left out "
                "(assumed)", low="0.001", high="1"),
        ),
        "Nickel and chromium on the bar",
    ),
    Section(
        "plating_point",
        (
            Key("name", None, "name of the point", required=True, type="text"),
            Key("along", "mm", "from the middle of the bar along its face, to the right positive; 0 when left out",
                low="-1800 mm", high="1800 mm"),
            Key("up", "mm", "height on the section", required=True, low="-1000 mm", high="1000 mm"),
            Key("rear", "mm", "behind the face, on the section; 0 when left out", low="-1000 mm", high="1000 mm"),
            Key("side", None, "front or back; front when left out", type="text", choices=SIDES),
        ),
        "Where thickness is measured; each gives nickel_NAME, semi_share_NAME and chrome_NAME",
        repeated=True,
    ),
)  # fmt: skip
PLANT: Final = (
    Section(
        "tank",
        (
            Key("length", "mm", "inside, along the bars", required=True, low="300 mm", high="20000 mm"),
            Key("width", "mm", "inside, from anode row to anode row", required=True, low="200 mm", high="6000 mm"),
            Key("depth", "mm", "of the liquid", required=True, low="200 mm", high="6000 mm"),
            Key("nickel_tafel", "mV", "rise of the nickel cathode's potential per e-fold of current density; 55 mV "
                "when left out (assumed)", low="0 mV", high="300 mV"),
            Key("chrome_tafel", "mV", "the same of chromium; 50 mV when left out (assumed)", low="0 mV",
                high="300 mV"),
            Key("fineness", "1", "cells of the bar so many times smaller each way; 1 when left out", low="0.5",
                high="3"),
        ),
        "The nickel tank; the chromium tank is taken to be laid out alike",
    ),
    Section(
        "rack",
        (
            Key("bars", None, "bars one above the other; 1 when left out", type="integer", low="1", high="8"),
            Key("pitch", "mm", "from bar to bar downwards", low="20 mm", high="3000 mm"),
            Key("depth", "mm", "height 0 of the first bar's drawing below the surface", required=True, low="0 mm",
                high="5000 mm"),
            Key("along", "mm", "middle of the bars from the tank's middle; 0 when left out", low="-6000 mm",
                high="6000 mm"),
            Key("away", "mm", "face before the tank's middle plane; 0 when left out", low="-3000 mm", high="3000 mm"),
        ),
        "How the bars hang, their faces to the front",
    ),
    _hung("anode", "Anode baskets, or a row of them; those before the middle plane stand opposite the face"),
    _hung("shield", "Insulating shields"),
    _hung("thief", "Thieves: they take current away from edges and are plated"),
)  # fmt: skip


def read(model: SheetInReading, plant: SheetInReading | None) -> Drawn:
    """What `impact_sheet.read` gives, with plating put to the drawing; faults are noted on the sheets."""
    drawn = impact_sheet.read(model, plant)
    bumper: Bumper | None = drawn.drawing
    rows, stated = model.settled.get("plating_point", []), model.settled.get("plating", {})
    if bumper is None or not rows:
        if bumper is not None and stated:
            model.fault("plating", next(iter(stated)), "needs points at which it is measured",
                        allowed="[[plating_point]]")  # fmt: skip
        return drawn
    points = tuple(p for p in (_point(model, bumper, i, row) for i, row in enumerate(rows)) if p is not None)
    names = [p.name for p in points]
    for i, name in enumerate(names):
        if name in names[:i]:
            model.fault(f"plating_point/{i}", "name", "is taken", found=name)
    tank = plant.settled.get("tank", {}) if plant else {}
    there = {"length", "width", "depth"} <= set(tank)
    carried = _map(model, stated, names) if "map" in stated else ()
    if not there and not carried:
        model.fault("plating_point/0", "name", "needs the tank, or a map of a similar bar",
                    allowed="[tank], [rack] and [[anode]] in the plant sheet, or `map` in [plating]")  # fmt: skip
        return drawn
    plating = PlatingDrawing(
        points, stated.get("service_condition"), stated.get("chromium", "r"), stated.get("chrome_bath", HEXAVALENT),
        _of(stated, "significant_depth", 0.045),
        Tank(*(tank[key].nominal for key in ("length", "width", "depth"))) if there else None,
        _rack(plant.settled.get("rack", {}) if plant else {}),
        tuple(h for role in ("anode", "shield", "thief") for h in (_rows(plant, role) if plant else ())),
        NICKEL_LAW._replace(tafel=_of(tank, "nickel_tafel", NICKEL_LAW.tafel)),
        CHROME_LAW._replace(tafel=_of(tank, "chrome_tafel", CHROME_LAW.tafel)),
        () if there else carried, _of(tank, "fineness", 1.0), _surface(model, stated),
    )  # fmt: skip
    if there and plant is not None and not _fits(plant, bumper, plating):
        return drawn
    limits = _limits(plating, model.settled.get("characteristics", {}))
    return replace(drawn, drawing=replace(bumper, plating=plating),
                   characteristics={**drawn.characteristics, **limits})  # fmt: skip


def _of(row: Mapping[str, Any], key: str, otherwise: float) -> float:
    return float(row[key].nominal) if key in row else otherwise


def _point(model: SheetInReading, bumper: Bumper, i: int, row: Mapping[str, Any]) -> PlatingPoint | None:
    if not {"name", "up"} <= set(row):
        return None
    point = PlatingPoint(row["name"], _of(row, "along", 0.0), row["up"].nominal, _of(row, "rear", 0.0),
                         row.get("side") == "back")  # fmt: skip
    if abs(point.along) > reach(bumper):
        model.fault(f"plating_point/{i}", "along", "lies beyond the bar",
                    allowed=f"within {1e3 * reach(bumper):.0f} mm of the middle")  # fmt: skip
        return None
    _, off = surface_of(bumper, 1e-3).across(point.rear, point.up)
    if off > 0.012:
        model.fault(f"plating_point/{i}", "up", f"lies {1e3 * off:.0f} mm off the section",
                    allowed="a place of the cross-section, `rear` with it on a wall")  # fmt: skip
        return None
    return point


def _surface(model: SheetInReading, stated: Mapping[str, Any]) -> Mesh | None:
    """The triangles of the real part; a fault where its file cannot be used."""
    if "surface" not in stated:
        return None
    file = model.folder / stated["surface"]
    if not file.is_file():
        model.fault("plating", "surface", "names a file that does not exist", found=stated["surface"])
        return None
    try:
        return read_stl(file)
    except ValueError as error:
        model.fault("plating", "surface", str(error), found=stated["surface"])
        return None


def _rack(row: Mapping[str, Any]) -> Rack:
    return Rack(int(row.get("bars", 1)), _of(row, "pitch", 0.4), _of(row, "depth", 0.5), _of(row, "along", 0.0),
                _of(row, "away", 0.0))  # fmt: skip


def _rows(plant: SheetInReading, role: str) -> list[Hung]:
    found = []
    for row in plant.settled.get(role, []):
        if not {"name", "away", "depth", "width", "height"} <= set(row):
            continue
        count = int(row.get("count", 1))
        pitch = _of(row, "pitch", 1.2 * row["width"].nominal)
        for k in range(count):
            along = _of(row, "along", 0.0) + (k - 0.5 * (count - 1)) * pitch
            name = row["name"] if count == 1 else f"{row['name']} {k + 1}"
            away, depth, width, height = (row[key].nominal for key in ("away", "depth", "width", "height"))
            found.append(Hung(name, role, along, away, depth, width, height, row.get("lies", "along")))
    return found


def _fits(plant: SheetInReading, bumper: Bumper, drawn: PlatingDrawing) -> bool:
    """Whether everything hangs inside the tank with room; a fault for each that does not."""
    tank, rack = drawn.tank, drawn.rack
    assert tank is not None
    if "depth" not in plant.settled.get("rack", {}):
        plant.fault("tank", "length", "needs the rack that hangs in it", allowed="[rack] with `depth`")
        return False
    if not any(h.role == "anode" and h.away > rack.away for h in drawn.hung):
        plant.fault("tank", "length", "has no anode before the face", allowed="[[anode]] with `away` above that of the "
                    "rack")  # fmt: skip
        return False
    box = drawn.mesh.points if drawn.mesh is not None else surface_of(bumper, 1e-3).mesh.points
    low, high = box.min(axis=0), box.max(axis=0)
    good = True
    sides = (0.5 * tank.length - ROOM, 0.5 * tank.width - ROOM)
    deepest = rack.depth + (rack.bars - 1) * rack.pitch - low[2]
    for key, inside, allowed in (
        ("along", max(high[0] + rack.along, -low[0] - rack.along) < sides[0], "bars within the tank's length"),
        ("away", max(high[1] + rack.away, -low[1] - rack.away) < sides[1], "bars within its width"),
        ("depth", rack.depth > high[2] + 0.01 and deepest < tank.depth - ROOM, "bars below the surface, above the "
         "floor"),
        ("pitch", rack.bars == 1 or rack.pitch > high[2] - low[2] + ROOM, "bars that do not touch"),
    ):  # fmt: skip
        if not inside:
            plant.fault("rack", key if key in plant.settled["rack"] else "depth", "does not fit the tank",
                        allowed=f"{allowed}, with {1e3 * ROOM:.0f} mm of room")  # fmt: skip
            good = False
    names = [h.name for h in drawn.hung]
    for h in drawn.hung:
        index = next(i for i, row in enumerate(plant.settled[h.role]) if h.name.startswith(row["name"]))
        if names.count(h.name) > 1:
            plant.fault(f"{h.role}/{index}", "name", "is taken", found=h.name, allowed="a name of its own")
            good = False
        x, y, z = _half(h)
        inside = abs(h.along) + x < sides[0] and abs(h.away) + y < sides[1]
        apart = h.away - y > rack.away + high[1] + ROOM or h.away + y < rack.away + low[1] - ROOM
        apart |= abs(h.along - rack.along) - x > max(high[0], -low[0]) + ROOM
        top, bottom = rack.depth - high[2], deepest
        apart |= h.depth > bottom + ROOM or h.depth + 2.0 * z < top - ROOM
        if not inside or h.depth + 2.0 * z > tank.depth or not apart:
            what = "does not fit between the bars and the walls"
            plant.fault(f"{h.role}/{index}", "name", what, found=h.name, allowed=f"{1e3 * ROOM:.0f} mm of room")
            good = False
    return good


def _half(h: Hung) -> tuple[float, float, float]:
    """Half its size along the tank, across it and downwards."""
    if h.lies == "flat":
        return 0.5 * h.width, 0.5 * h.height, 0.0
    return (0.5 * h.width, 0.0, 0.5 * h.height) if h.lies == "along" else (0.0, 0.5 * h.width, 0.5 * h.height)


def _map(model: SheetInReading, stated: Mapping[str, Any], names: list[str]) -> tuple[MapRow, ...]:
    if "map_area" not in stated:
        model.fault("plating", "map", "needs the area that its current was shared out over", allowed="map_area")
        return ()
    file = model.folder / stated["map"]
    rows, faults = read_map(file, stated["map_area"].nominal, _of(stated, "map_u", 0.08), names)
    for what, found, allowed in faults:
        model.fault("plating", "map", what, found=found, allowed=allowed)
    return rows


def _limits(drawn: PlatingDrawing, own: Mapping[str, Any]) -> dict[str, Characteristic]:
    """Least nickel and chromium of the class at every point of the front, unless the sheet has its own limits."""
    coating = drawn.coating
    if coating is None:
        return {}
    rule = f"SC {drawn.service_condition}, {B456}"
    found: dict[str, Characteristic] = {}
    for p in drawn.points:
        if p.back:
            continue
        found[f"nickel_{p.name}"] = Characteristic(
            f"nickel_{p.name}", "um", f"nickel, {p.name} ({rule})", coating.nickel, None
        )
        if coating.semi_bright_share:
            found[f"semi_share_{p.name}"] = Characteristic(
                f"semi_share_{p.name}", "1", f"share of semi-bright nickel, {p.name} ({rule})",
                coating.semi_bright_share, None,
            )  # fmt: skip
        if drawn.with_chrome:
            found[f"chrome_{p.name}"] = Characteristic(
                f"chrome_{p.name}", "um", f"chromium, {p.name} ({rule})", coating.chromium, None
            )
    return {name: c for name, c in found.items() if name not in own}
