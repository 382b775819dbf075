"""A straight bar on two supports under a slow load at mid-span."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, positive


class Bar(NamedTuple):
    """Stiffness at mid-span [N/m], load [N] and deflection [m] at first yield, load at collapse [N]."""

    stiffness: FloatArray
    first_yield: FloatArray
    deflection: FloatArray
    collapse: FloatArray


def central_load(span: Numbers, rigidity: Numbers, yield_moment: Numbers, plastic_moment: Numbers) -> Bar:
    """Bar on two knife supports loaded at mid-span: stiffness, first yield and collapse.

    k = 48 E I/L^3; F_y = 4 M_y/L; w_y = F_y/k; F_c = 4 M_p/L.

    span L [m], rigidity E I [N m2], yield_moment M_y and plastic_moment M_p >= M_y [N m]; all > 0, any one shape.
    Slender bar, small deflection, no hardening after M_p, flanges that do not buckle. Source: Euler-Bernoulli beam and
    plastic-hinge mechanism (textbook). ValueError out of range.
    """
    length, my, mp = (
        positive("span", span),
        positive("yield moment", yield_moment),
        positive("plastic moment", plastic_moment),
    )
    if not np.all(mp >= my):
        raise ValueError("the plastic moment must not be below the yield moment")
    k = 48.0 * positive("bending rigidity", rigidity) / length**3
    return Bar(k, 4.0 * my / length, 4.0 * my / length / k, 4.0 * mp / length)
