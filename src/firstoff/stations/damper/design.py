"""Dampers that cannot be: nominals of several stations that exclude each other. Lengths, areas, pressures in SI.

Limits that no geometry gives are assumed (common practice, no source) and say so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from firstoff.physics.damper.rig_motion import crank_frequency
from firstoff.sheets.units import format_value
from firstoff.stations.contradiction import Contradiction

At = Mapping[str, float]  # `station.parameter` -> nominal
VALVES = (
    ("piston_valve", "rebound"),
    ("piston_valve", "check"),
    ("base_valve", "compression"),
    ("base_valve", "intake"),
)
MOST_EXPANSION = 0.05  # of a tube by its mandrel: assumed, a weld seam splits sooner or later
MOST_TURNS = 20.0  # 1/s, of a crank rig: assumed, common practice, no source
THICKEST = 0.25  # of its free width, of a disc that bends as a thin plate: textbook rule of thumb
USUAL_TEMPERATURE, ROOM_LEFT = 288.15, 0.02  # K at which the oil is measured; least share of the room that stays gas


def contradictions(at: At, speeds: Sequence[float]) -> list[Contradiction]:
    """Everything that excludes itself among the nominals that are known. `speeds` of the customer's table [m/s]."""
    found = [*_tube(at), *_rig(at, speeds), *_filling(at)]
    for station, side in VALVES:
        found += [*_discs(at, station, side), *_ports(at, station, side)]
    found += [c for station, side in VALVES for c in _throttle(at, station, side)]
    return [*found, *_springs(at)]


def _known(at: At, *keys: str) -> list[float] | None:
    """The nominals of these keys, or None while one of them is missing."""
    return [at[key] for key in keys] if all(key in at for key in keys) else None


def _mm(value: float) -> str:
    return format_value(value, "mm", 5)


def _tube(at: At) -> Iterator[Contradiction]:
    mandrel, welded = "pressure_tube.sizing_mandrel", "pressure_tube.welded_bore"
    if known := _known(at, mandrel, welded, "pressure_tube.yield_strength", "pressure_tube.elastic_modulus"):
        d, bore, strength, modulus = known
        least, most = bore * (1.0 + strength / modulus), bore * (1.0 + MOST_EXPANSION)
        if not least < d <= most:
            what = "does not stretch" if d <= least else "would tear"
            what += f" the welded bore of {_mm(bore)}: the tube yields from {_mm(least)} on"
            yield Contradiction(mandrel, what, f"above {_mm(least)} and up to {_mm(most)} ({MOST_EXPANSION:.0%})")
    if known := _known(at, "piston_rod.diameter", mandrel):
        rod, d = known
        if rod >= d:
            what = f"is no smaller than the pressure tube, which is sized to {_mm(d)}"
            yield Contradiction("piston_rod.diameter", what, f"below {_mm(d)}")


def _rig(at: At, speeds: Sequence[float]) -> Iterator[Contradiction]:
    stroke, travel = "damping_rig.stroke", "damping_rig.rod_travel"
    if speeds and (known := _known(at, stroke)):
        turns = float(crank_frequency(known[0], max(speeds)))
        if turns > MOST_TURNS:
            what = f"needs {60.0 * turns:.0f} crank turns per minute for {max(speeds):g} m/s"
            least = max(speeds) / (math.pi * MOST_TURNS)
            yield Contradiction(
                stroke, what, f"at least {_mm(least)}, for up to {60 * MOST_TURNS:.0f} per minute (assumed)"
            )
    if (known := _known(at, stroke, travel)) and known[1] < 0.5 * known[0]:
        what = f"is less than half the rig's stroke of {_mm(known[0])}: the rod would be pulled against its stop"
        yield Contradiction(travel, what, f"at least {_mm(0.5 * known[0])}")


def _filling(at: At) -> Iterator[Contradiction]:
    keys = ("oil_fill.volume", "gas_charge.inner_volume", "piston_rod.diameter", "damping_rig.rod_travel",
            "damping_rig.stroke", "oil_fill.expansion", "damping_rig.oil_temperature")  # fmt: skip
    rod_fits = at.get("piston_rod.diameter", 0.0) < at.get("pressure_tube.sizing_mandrel", math.inf)
    if rod_fits and (known := _known(at, *keys)):
        oil, room, rod, travel, stroke, expansion, warm = known
        swept = 0.25 * math.pi * rod**2 * (travel + 0.5 * stroke)
        grown = 1.0 + expansion * (warm - USUAL_TEMPERATURE)
        most = (room * (1.0 - ROOM_LEFT) - swept) / grown
        if oil > most:
            what = (
                f"leaves the gas no room: of {format_value(room, 'cm3')} the rod takes {format_value(swept, 'cm3')} at "
                "the rig's deepest point"
            )
            yield Contradiction("oil_fill.volume", what, f"up to {format_value(most, 'cm3')}")
    if (known := _known(at, "oil_fill.viscosity_40", "oil_fill.viscosity_100")) and known[1] >= known[0]:
        what = "is not below that at 40 °C: oil grows thinner with heat"
        yield Contradiction("oil_fill.viscosity_100", what, f"below {format_value(known[0], 'mm2/s')}")


def _discs(at: At, station: str, side: str) -> Iterator[Contradiction]:
    seat, clamp, pressure, thickness = (
        f"{station}.{side}_{name}"
        for name in ("seat_diameter", "clamp_diameter", "pressure_diameter", "disc_thickness")
    )
    tube = "pressure_tube.sizing_mandrel"
    if (known := _known(at, seat, tube)) and known[0] >= known[1]:
        yield Contradiction(
            seat, f"does not go into the pressure tube, sized to {_mm(known[1])}", f"below {_mm(known[1])}"
        )
    if (known := _known(at, clamp, seat)) and known[0] >= known[1]:
        what = f"is no smaller than the seat of {_mm(known[1])}: the discs cannot lift"
        yield Contradiction(clamp, what, f"below {_mm(known[1])}")
        return
    if known := _known(at, clamp, pressure, seat):
        inner, p, outer = known
        if not inner <= p < outer:
            where = f"inside the clamp of {_mm(inner)}" if p < inner else f"outside the seat of {_mm(outer)}"
            yield Contradiction(pressure, f"lies {where}", f"{_mm(inner)} to below {_mm(outer)}")
    if known := _known(at, thickness, clamp, seat):
        free = 0.5 * (known[2] - known[1])
        if known[0] > THICKEST * free:
            what = f"is too thick for a disc with {_mm(free)} between clamp and seat: it would not bend as a plate"
            yield Contradiction(thickness, what, f"up to {_mm(THICKEST * free)}")


def _ports(at: At, station: str, side: str) -> Iterator[Contradiction]:
    count, diameter, seat, clamp = (
        f"{station}.{side}_{name}" for name in ("port_count", "port_diameter", "seat_diameter", "clamp_diameter")
    )
    known = _known(at, count, diameter, seat, clamp)
    if known is None or known[2] <= known[3]:
        return
    n, d, outer, inner = known
    width, circle = 0.5 * (outer - inner), 0.5 * math.pi * (outer + inner)
    if d > width:
        what = f"does not fit between the clamp of {_mm(inner)} and the seat of {_mm(outer)}"
        yield Contradiction(diameter, what, f"up to {_mm(width)}")
    elif n * d > circle:
        what = f"ports of {_mm(d)} overlap on the circle between clamp and seat"
        yield Contradiction(count, f"{n:g} {what}", f"up to {int(circle / d)}")


def _throttle(at: At, station: str, side: str) -> Iterator[Contradiction]:
    count, width, seat, relief, tube = (
        f"{station}.{side}_bleed_count", f"{station}.{side}_bleed_width", f"{station}.{side}_seat_diameter",
        f"{station}.{side}_relief_seat_diameter", "pressure_tube.sizing_mandrel",
    )  # fmt: skip
    if known := _known(at, count, width, seat):
        n, w, outer = known
        if n * w > math.pi * outer:
            what = f"notches of {_mm(w)} are wider together than the seat of {_mm(outer)} is long"
            yield Contradiction(count, f"{n:g} {what}", f"up to {int(math.pi * outer / w)}")
    if (known := _known(at, relief, tube)) and known[0] >= known[1]:
        yield Contradiction(
            relief, f"does not go into the pressure tube, sized to {_mm(known[1])}", f"below {_mm(known[1])}"
        )


def _springs(at: At) -> Iterator[Contradiction]:
    free, crimp, solid, lift = (
        f"base_valve.{name}"
        for name in ("relief_free_length", "crimp_length", "relief_solid_length", "compression_relief_max_lift")
    )
    if (known := _known(at, free, crimp)) and known[1] >= known[0]:
        what = f"leaves the relief spring of {_mm(known[0])} loose"
        yield Contradiction(crimp, what, f"below {_mm(known[0])}")
    if known := _known(at, crimp, solid, lift, free):
        least = known[1] + known[2]
        if known[1] >= known[3]:
            yield Contradiction(
                solid, f"is no shorter than the free length of {_mm(known[3])}", f"below {_mm(known[3])}"
            )
        elif known[1] > 0.0 and known[0] < least:
            what = f"crushes the relief spring, solid at {_mm(known[1])}, before it has lifted by {_mm(known[2])}"
            yield Contradiction(crimp, what, f"at least {_mm(least)}")
