"""What piston valve and base valve have in common: a throttled path with bleed, discs and relief, and a check path.

Both stations declare their parameters here under a prefix, and turn their drawings into the rows that the valve law of
:mod:`firstoff.physics.damper.valve` reads.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import numpy.typing as npt

from firstoff.chain.station import Change, FloatArray, Parameter
from firstoff.physics.damper.annular_plate import edge_compliance, stiffening, uniform_pressure
from firstoff.physics.damper.valve import VALVE_FIELDS

At = Callable[[str], FloatArray]

ASSUMPTIONS = (
    "Discs of a stack slide on each other without friction and seal on the land's inner edge; the rim outside it "
    "carries no load and adds no stiffness.",
    "Discs stiffen as they lift by more than half their thickness: membrane stress of a disc held at its clamp, energy "
    "method, good to 2 % up to four thicknesses.",
    "Equal discs, notches and ports of one part share one deviation; their scatter would partly average out.",
    "Notches are wide against their depth; the gap under a lifted disc is a sharp edge; leaks take the notches' "
    "laminar loss.",
)

STEEL = "assumed: spring steel strip, handbook value from memory"

# The valve code is agreed with the customer: another stack or bleed disc changes the ride.
THICKNESS = Change("0.05 mm", 30, "discs of the next thickness class", 2, 100, customer_approval=True)
STACK = Change("1", 20, "one disc more or less; teach the presence check", 2, 50, customer_approval=True)
LAND = Change("2 um", 240, "sizing die of the seat land", 5, 800)
NOTCHES = Change("1", 30, "bleed disc with another number of notches", 3, 150, customer_approval=True)
DEPTH = Change("0.02 mm", 30, "bleed disc of the next thickness class", 4, 100, customer_approval=True)


def disc_parameters(prefix: str, count: str) -> tuple[Parameter, ...]:
    """A stack of equal discs, clamped inside, on a seat land that stands proud of the clamp."""
    return (
        Parameter(f"{prefix}_seat_diameter", "mm", "given", "diameter on which the discs seal: inner edge of the land",
                  low="5 mm", high="60 mm"),
        Parameter(f"{prefix}_clamp_diameter", "mm", "given", "diameter on which the discs are clamped",
                  low="2 mm", high="50 mm"),
        Parameter(f"{prefix}_pressure_diameter", "mm", "given", "diameter from which the pressure acts on the disc",
                  low="2 mm", high="60 mm"),
        Parameter(f"{prefix}_disc_thickness", "mm", "setting", "thickness of one disc", low="0.05 mm", high="1 mm",
                  lot_share=0.8, change=THICKNESS),
        Parameter(f"{prefix}_disc_count", "1", "setting", "number of discs", count, "assumed: usual stack",
                  low="1", high="20", whole=True, change=STACK),
        Parameter(f"{prefix}_land_height", "um", "setting", "height of the seat land over the clamp face",
                  low="0 um", high="500 um", lot_share=0.5, change=LAND),
        Parameter(f"{prefix}_lift_stop", "mm", "given", "lift at which the discs meet a stop; 0: no stop", "0 mm",
                  "assumed: no stop", low="0 mm", high="5 mm"),
        Parameter(f"{prefix}_port_count", "1", "given", "number of ports", low="1", high="40",
                  whole=True),
        Parameter(f"{prefix}_port_diameter", "mm", "given", "diameter of one port", low="0.2 mm", high="10 mm",
                  lot_share=0.8),
    )  # fmt: skip


def throttle_parameters(prefix: str) -> tuple[Parameter, ...]:
    """Bleed notches, disc stack and spring relief of the path that makes the force."""
    return (
        Parameter(f"{prefix}_bleed_count", "1", "setting", "number of bleed notches", low="0", high="40",
                  whole=True, change=NOTCHES),
        Parameter(f"{prefix}_bleed_width", "mm", "given", "width of one bleed notch", low="0.1 mm", high="10 mm",
                  lot_share=0.5),
        Parameter(f"{prefix}_bleed_depth", "mm", "setting", "depth of one notch: thickness of the bleed disc",
                  low="0.02 mm", high="1 mm", lot_share=0.8, change=DEPTH),
        Parameter(f"{prefix}_bleed_length", "mm", "given", "length of one notch along the flow", "1.0 mm",
                  "assumed: width of the seat land", low="0.01 mm", high="10 mm"),
        *disc_parameters(prefix, "3"),
        Parameter(f"{prefix}_relief_seat_diameter", "mm", "given", "diameter of the relief seat",
                  low="1 mm", high="30 mm", lot_share=0.8),
        Parameter(f"{prefix}_relief_rate", "N/mm", "given", "rate of the relief spring", low="1 N/mm",
                  high="2000 N/mm", lot_share=0.8),
        Parameter(f"{prefix}_relief_max_lift", "mm", "given", "lift at which the relief meets its stop", "0.6 mm",
                  "assumed: usual stop", low="0.05 mm", high="5 mm"),
    )  # fmt: skip


COMMON = (
    Parameter("disc_modulus", "GPa", "given", "elastic modulus of the discs", "206 GPa", STEEL, low="100 GPa",
              high="250 GPa"),
    Parameter("disc_poisson", "1", "given", "Poisson's ratio of the discs", "0.3", STEEL, low="0.1", high="0.45"),
    Parameter("disc_stiffening", "1", "given", "share of the stiffening at large lift that is counted, 0 for none", "1",
              "plate theory; assumed: no slip at the clamp", low="0", high="2"),
    Parameter("port_length", "mm", "given", "length of a port: height of the powder-metal body", "6 mm",
              "assumed: usual body", low="0.5 mm", high="60 mm"),
)  # fmt: skip


def bleed_area(prefix: str, at: At) -> FloatArray:
    """Area of all bleed notches [m2]."""
    return at(f"{prefix}_bleed_count") * at(f"{prefix}_bleed_width") * at(f"{prefix}_bleed_depth")


def bleed_loss(prefix: str, at: At) -> FloatArray:
    """Laminar coefficient of a notch, a = 12 L / h^2 [1/m]: flow between parallel plates (textbook)."""
    return 12.0 * at(f"{prefix}_bleed_length") / at(f"{prefix}_bleed_depth") ** 2


def disc_fields(prefix: str, at: At) -> dict[str, FloatArray]:
    """Ports and disc stack as fields of the valve law; NaN where the discs are out of the plate formula's range."""
    radius = at(f"{prefix}_seat_diameter") / 2.0
    clamp, inner = at(f"{prefix}_clamp_diameter") / 2.0, at(f"{prefix}_pressure_diameter") / 2.0
    ok = discs_in_range(prefix, at)
    coefficient, stiff = np.full((2, len(radius)), np.nan)
    if ok.any():
        ratios = (clamp / radius)[ok], (inner / radius)[ok], at("disc_poisson")[ok]
        coefficient[ok] = uniform_pressure(*ratios)[0]
        stiff[ok] = stiffening(*ratios)
    stiff *= at("disc_stiffening") / at(f"{prefix}_disc_thickness") ** 2
    land = at(f"{prefix}_land_height")
    rigidity = at("disc_modulus") * at(f"{prefix}_disc_count") * at(f"{prefix}_disc_thickness") ** 3
    compliance = np.asarray(edge_compliance(np.abs(coefficient), radius, rigidity))
    diameter = at(f"{prefix}_port_diameter")
    return {
        "disc_perimeter": 2.0 * np.pi * radius,
        "disc_compliance": compliance,
        "disc_preload": (land + stiff * land**3) / compliance,
        "disc_stiffening": stiff,
        "disc_lift_stop": at(f"{prefix}_lift_stop"),
        "port_area": at(f"{prefix}_port_count") * np.pi / 4.0 * diameter**2,
        "port_a": 32.0 * at("port_length") / diameter**2,  # laminar pipe loss (Hagen-Poiseuille)
    }


def relief_fields(prefix: str, at: At, preload: FloatArray) -> dict[str, FloatArray]:
    """Spring relief as fields of the valve law; `preload` [N] comes from a spring check or from a crimp."""
    seat = at(f"{prefix}_relief_seat_diameter")
    return {
        "relief_seat_area": np.pi / 4.0 * seat**2,
        "relief_preload": preload,
        "relief_rate": at(f"{prefix}_relief_rate"),
        "relief_perimeter": np.pi * seat,
        "relief_max_lift": at(f"{prefix}_relief_max_lift"),
    }


def valve_row(fields: Mapping[str, FloatArray], n: int) -> FloatArray:
    """The fields in the order of the valve law, (n, fields); what a path does not have is zero, a spring rate one."""
    row = np.zeros((n, len(VALVE_FIELDS)))
    row[:, VALVE_FIELDS.index("relief_rate")] = 1.0
    for name, column in fields.items():
        row[:, VALVE_FIELDS.index(name)] = column
    return row


def discs_in_range(prefix: str, at: At) -> npt.NDArray[np.bool_]:
    """Whether clamp <= pressure diameter < seat diameter and the disc has a thickness, as the plate formula needs."""
    clamp, pressure, seat = (at(f"{prefix}_{d}_diameter") for d in ("clamp", "pressure", "seat"))
    ok: npt.NDArray[np.bool_] = (clamp > 0.0) & (clamp <= pressure) & (pressure < seat)
    return ok & (at(f"{prefix}_disc_thickness") > 0.0)
