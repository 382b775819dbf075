"""Forces that close a mould or press a powder."""

from __future__ import annotations

import math

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within


def clamp_force(pressure: Numbers, area: Numbers, cavities: Numbers, safety: Numbers) -> FloatArray:
    """Force that keeps a mould shut, F = p A n s [N].

    pressure p in the cavity [Pa], area A of one cavity with its runners across the parting plane [m2], cavities n,
    safety s >= 1; all > 0, any one shape. Source: statics. ValueError out of range.
    """
    force = positive("pressure", pressure) * positive("area", area) * positive("cavities", cavities)
    return force * within("safety", safety, least=1.0)


def ring_press_force(pressure: Numbers, outside: Numbers, inside: Numbers) -> FloatArray:
    """Force to press a ring or disc of powder, F = p pi (D^2 - d^2)/4 [N].

    pressure p [Pa] > 0, outside D [m] > inside d [m] >= 0; any one shape. No friction of the die. Source: statics.
    ValueError out of range.
    """
    big, small = positive("outside diameter", outside), not_negative("inside diameter", inside)
    if not np.all(small < big):
        raise ValueError("the inside diameter must be below the outside diameter")
    return positive("pressure", pressure) * math.pi / 4.0 * (big**2 - small**2)
