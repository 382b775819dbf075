"""How long a crane travels: speed up, run, slow down; rounded up to the step of the timetable.

With speed v and acceleration a over the distance d (source: uniformly accelerated motion, closed form):
d >= v^2/a: t = d/v + v/a (trapezoid of speed over time); d < v^2/a: t = 2 sqrt(d/a) (triangle).
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, isqrt


def rounded_up(value: Fraction, step: Fraction) -> Fraction:
    """The least multiple of `step` that is not below `value`."""
    return ceil(value / step) * step


def travel_time(distance: Fraction, speed: Fraction, acceleration: Fraction | None, step: Fraction) -> Fraction:
    """Time [s] for `distance` [m] from rest to rest, rounded up to a multiple of `step` [s], exactly.

    `speed` [m/s] > 0; `acceleration` [m/s^2] > 0, or None for a crane that is taken to be at speed at once.
    """
    d = abs(distance)
    if d == 0:
        return Fraction(0)
    if acceleration is None:
        return rounded_up(d / speed, step)
    if d * acceleration >= speed * speed:
        return rounded_up(d / speed + speed / acceleration, step)
    # the least n with (n step)^2 >= 4 d/a, in whole numbers: a square root in floating point could fall short
    square = ceil(4 * d / acceleration / step**2)
    return (isqrt(square - 1) + 1) * step
