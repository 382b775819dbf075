"""The blank: bend allowance, developed width, nesting in a coil."""

from __future__ import annotations

import math
from dataclasses import dataclass

SHARP = 2.0  # t: below this inside radius the neutral fibre moves inwards
NEUTRAL_SHARP, NEUTRAL_WIDE = 0.33, 0.50


def neutral_factor(radius: float, thickness: float) -> float:
    """Place of the neutral fibre over the thickness from the inside: 0.33 for r < 2 t, else 0.50.

    Source: shop handbooks, from memory.
    """
    return NEUTRAL_SHARP if radius < SHARP * thickness else NEUTRAL_WIDE


def bend_allowance(angle: float, radius: float, thickness: float) -> float:
    """Length of the neutral fibre in a bend [m].

    L = phi (r + k t)

    angle phi [rad] that the sheet turns through, 0 for flat; inside radius r >= 0 and thickness t > 0 [m]; k as in
    `neutral_factor`. Raises ValueError out of range. Source: neutral-fibre bend allowance; textbook.
    """
    if not (angle >= 0.0 and radius >= 0.0 and thickness > 0.0):
        raise ValueError("angle and radius must be zero or more, thickness above zero")
    return angle * (radius + neutral_factor(radius, thickness) * thickness)


@dataclass(frozen=True)
class Nesting:
    """Blanks in a coil."""

    pitch: float  # m of coil a row of blanks
    coil_width: float  # m
    across: int  # blanks side by side
    share: float  # of the coil that becomes part


def nest(
    length: float, width: float, part_area: float, bridge: float, margin: float, widest: float, along: bool
) -> Nesting:
    """Rectangular blanks nested in a coil: as many side by side as it is wide.

    along: the bar lies along the coil (bends parallel to the rolling direction); else across it. bridge between blanks,
    margin at both edges, widest coil [m]. part_area [m2] of the finished, developed part. Raises ValueError where not
    one blank fits. Source: geometry.
    """
    side, run = (width, length) if along else (length, width)
    across = math.floor((widest - 2.0 * margin + bridge) / (side + bridge) + 1e-9)
    if across < 1:
        raise ValueError(f"a blank of {side:g} m does not fit a coil of {widest:g} m")
    coil = across * side + (across - 1) * bridge + 2.0 * margin
    pitch = run + bridge
    return Nesting(pitch, coil, across, across * part_area / (coil * pitch))
