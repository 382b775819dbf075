"""What the plan says of nickel: amperes, minutes for the class, the layers, the source of the limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from firstoff.chain.station import FloatArray, Station, Value
from firstoff.physics.plating.deposit import Coating, hydrogen_relief
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.finish import plating_common as common
from firstoff.stations.bumper.finish.plating_drawing import PlatingDrawing
from firstoff.stations.bumper.finish.tank_field import Field
from firstoff.stations.settle import setting_lines

KINDS = {"d": "double", "b": "bright", "p": "semi-bright, polished"}
CHROMIUM = {"r": "regular", "mp": "microporous", "mc": "microcracked"}
Lines = tuple[tuple[str, str], ...]


def setup(
    station: Station, values: Sequence[Value], drawn: PlatingDrawing, field: Field | None,
    found: Mapping[str, FloatArray],
) -> Lines:  # fmt: skip
    """Lines of the setup sheet."""
    at = {v.name.split(".")[1]: v.nominal for v in values}
    lines = list(setting_lines(station, values))
    if field is not None:
        lines += [(f"current, {layer}", format_value(at[f"density_{layer}"] * field.area, "A", 4) +
                   f" for {format_value(field.area, 'dm2', 4)}") for layer in ("semi", "bright")]  # fmt: skip
    else:
        lines.append(("thickness from", "a map measured on a similar bar, by ampere-minutes over area"))
    lines += class_lines(drawn)
    thin = _thinnest(drawn, field, found)
    if thin is not None:
        name, thickness = thin
        where = f"{name.replace('_', ' ')}, {format_value(thickness, 'um', 3)} at nominal"
        lines.append(("thinnest point", f"{where} on the least of the rack's bars"))
        if drawn.coating is not None and thickness > 0.0:
            minutes = (at["time_semi"] + at["time_bright"]) * drawn.coating.nickel / thickness
            lines.append(("both times for the class", f"{format_value(minutes, 'min', 3)} at these currents bring "
                          f"{format_value(drawn.coating.nickel, 'um', 3)} there, scatter left out"))  # fmt: skip
    return tuple(lines)


def _thinnest(drawn: PlatingDrawing, field: Field | None, found: Mapping[str, FloatArray]) -> tuple[str, float] | None:
    start = 0 if field is None else field.first_point
    total = (found["semi_map"] + found["bright_map"])[:, start:].min(axis=0)  # of the bars of a rack
    front = [(p.name, float(t)) for p, t in zip(drawn.points, total, strict=True) if not p.back]
    return min(front, key=lambda pair: pair[1]) if front else None


def class_lines(drawn: PlatingDrawing) -> Lines:
    """What the service condition asks for, and where that is from."""
    if drawn.service_condition is None:
        return (("class", "none stated: the sheet's own limits hold"),)
    rule = f"SC {drawn.service_condition} of ASTM B456 (from memory; the standard and the drawing go before it)"
    if not drawn.coatings:
        return (("class", f"{rule} has no coating with {CHROMIUM[drawn.chromium]} chromium"),)
    return (("limits from", f"{rule}: " + "; or ".join(_words(c) for c in drawn.coatings)),)


def _words(c: Coating) -> str:
    share = f", {100.0 * c.semi_bright_share:.0f} % of it semi-bright" if c.semi_bright_share else ""
    return (f"{KINDS[c.nickel_type]} nickel {format_value(c.nickel, 'um', 3)}{share}, {CHROMIUM[c.chromium_type]} "
            f"chromium {format_value(c.chromium, 'um', 3)}")  # fmt: skip


def relief_line(strength: float) -> tuple[str, str]:
    """Hydrogen relief by the steel's tensile strength."""
    try:
        relief = hydrogen_relief(strength)
    except ValueError as error:
        return "hydrogen relief", str(error)
    steel = format_value(strength, "MPa", 4)
    if relief is None:
        return "hydrogen relief", f"none asked for at {steel} (below 1000 MPa; ASTM B850, from memory)"
    return "hydrogen relief", (
        f"{format_value(relief.time, 'h', 3)} at {relief.coolest - 273.15:.0f} to {relief.hottest - 273.15:.0f} degC, "
        f"begun within {format_value(relief.start_within, 'h', 2)} of plating, for {steel} (ASTM B850, from memory)"
    )


def assumptions(drawn: PlatingDrawing, field: Field | None) -> tuple[str, ...]:
    """What nickel takes for granted."""
    shared = (
        "Efficiency is a straight line of the metal's partial current; conductivity rises 1.5 % and the burning limit "
        "2 % a kelvin: common practice, no source.",
        "Roughness of shelves: Ra grows with the particles in the bath, twice the particles about 1.6 times: assumed.",
    )
    if field is None:
        worst = max(r.relative for r in drawn.map)
        return (*shared, "Thickness goes with ampere-minutes over area from a similar bar; each point carries a "
                f"relative standard uncertainty of up to {100.0 * worst:.0f} %, common to a lot. Nothing is said of "
                "places between the points, nor of burning.")  # fmt: skip
    return (
        *shared,
        f"Least is what all but {100 * common.LEAST:.0f} % of the significant surface reaches: no peak of a mesh.",
        f"Cells of the bar are up to {1e3 * float(np.sqrt(field.areas.max())):.0f} mm wide; finer ones (`fineness`) "
        "move the thickness at a point by some per cent.",
        "Mass transfer, gas, agitation and leads are left out of the field.",
    )
