"""How a flat face dents between its bends under a load along it."""

from __future__ import annotations

from typing import NamedTuple

from firstoff.physics.ranges import FloatArray, Numbers, positive


class Dent(NamedTuple):
    """Stiffness [N/m2] and collapse load [N/m], both per length of the load."""

    stiffness: FloatArray
    collapse: FloatArray


def clamped_strip(modulus: Numbers, strength: Numbers, thickness: Numbers, height: Numbers) -> Dent:
    """A strip clamped at both bends under a line load at its middle: k = 192 E (t^3/12)/b^3, p = 8 (sigma t^2/4)/b.

    modulus E [Pa], strength sigma [Pa] of first yield, thickness t [m], height b between the bends [m]; all > 0, any
    one shape. Small deflection: no membrane; plastic hinges at both bends and under the load. A load away from the
    middle, or spread over the height, meets a multiple of both. Source: clamped beam (textbook) and its plastic
    mechanism, 8 M_p/b. ValueError out of range.
    """
    e, s = positive("modulus", modulus), positive("strength", strength)
    t, b = positive("thickness", thickness), positive("height", height)
    return Dent(16.0 * e * t**3 / b**3, 2.0 * s * t**2 / b)
