"""Faults that no station declares: a tool that only knows its own list must say so, not blame a neighbour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from firstoff.chain.fault import Fault, How


@dataclass(frozen=True)
class Undeclared:
    """One that happens to all parts. Sizes are drawn evenly between low and high."""

    name: str
    station: str  # where it truly comes from
    title: str
    moves: tuple[tuple[str, How], ...]  # columns of the damper, `twin.*` where the sheets have no word for it
    low: float
    high: float
    acts: Literal["parameters", "bend", "hysteresis", "lag"] = "parameters"


UNDECLARED = (
    Undeclared("bore_wide", "pressure_tube", "mandrel of the wrong size",
               (("pressure_tube.sizing_mandrel", "add"),), 0.25e-3, 0.9e-3),
    Undeclared("rod_thin", "piston_rod", "rod ground too thin", (("piston_rod.diameter", "scale"),), 0.93, 0.98),
    Undeclared("rebound_ports_small", "piston_valve", "port pins of the piston's die too thin",
               (("piston_valve.rebound_port_diameter", "scale"),), 0.75, 0.92),
    Undeclared("compression_ports_small", "base_valve", "port pins of the base valve's die too thin",
               (("base_valve.compression_port_diameter", "scale"),), 0.50, 0.75),
    Undeclared("rebound_edge_burr", "piston_valve", "burr on the rebound edges of the piston",
               (("twin.rebound_edge", "scale"),), 0.75, 0.92),
    Undeclared("compression_edge_burr", "base_valve", "burr on the compression edges of the base valve",
               (("twin.compression_edge", "scale"),), 0.75, 0.92),
    Undeclared("disc_strip_thin", "piston_valve", "strip of the wrong class in the discs of both valves",
               tuple((f"{s}_disc_thickness", "scale") for s in ("piston_valve.rebound", "piston_valve.check",
                                                                "base_valve.compression")), 0.80, 0.93),
    Undeclared("rebound_land_high", "piston_valve", "seat land of the piston too high",
               (("piston_valve.rebound_land_height", "add"),), 12e-6, 40e-6),
    Undeclared("check_stiff", "piston_valve", "check discs of the next class",
               (("piston_valve.check_disc_thickness", "scale"),), 1.25, 1.8),
    Undeclared("notches_clogged", "piston_valve", "notches of the rebound bleed disc partly coined shut",
               (("piston_valve.rebound_bleed_width", "scale"),), 0.5, 0.8),
    Undeclared("cell_bends", "damping_rig", "force cell reads more, the larger the force", (), 0.05, 0.15, "bend"),
    Undeclared("cell_sticks", "damping_rig", "force cell with hysteresis", (), 15.0, 50.0, "hysteresis"),
    Undeclared("filter_slow", "damping_rig", "filter of the force channel set too low", (), 4e-3, 12e-3, "lag"),
)  # fmt: skip


def undeclared(faults: Sequence[Fault]) -> tuple[Undeclared, ...]:
    """Those of the list that no declared fault is equal to: none moves just the same columns."""
    known = [{m.name for m in f.moves} for f in faults if f.acts == "parameters"]
    return tuple(u for u in UNDECLARED if {name for name, _ in u.moves} not in known)
