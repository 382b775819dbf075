"""A vehicle on yielding brackets against a rigid barrier."""

from __future__ import annotations

import math
from typing import NamedTuple

from firstoff.physics.ranges import not_negative, positive


class BarrierHit(NamedTuple):
    """What a hit leaves; SI."""

    energy: float  # J, of the vehicle before the hit
    peak_force: float  # N, all brackets
    stroke: float  # m, largest
    permanent_set: float  # m
    dissipated: float  # J
    rebound_speed: float  # m/s
    restitution: float
    time_to_stroke: float  # s
    energy_residual: float  # energy not accounted for over the energy before


def hit(
    mass: float, speed: float, brackets: int, stiffness: float, yield_force: float, hardening: float = 0.0
) -> BarrierHit:
    """A rigid light bar on n equal elastic-plastic brackets, driven against a flat rigid barrier.

    Bracket: F = k x up to F_y, then F_y + H (x - F_y/k); unloading at k. m v^2/2 = work of the brackets at the largest
    stroke X; rebound energy n F(X)^2/(2k); set X - F(X)/k; motion: harmonic in each branch.

    mass m [kg], speed v [m/s], stiffness k [N/m] and yield_force F_y [N] of one bracket, all > 0; hardening
    0 <= H < k [N/m] per bracket; brackets n >= 1. Bar without mass, all brackets alike, nothing else deforms. Source:
    energy balance of a mass on a bilinear spring. ValueError out of range.
    """
    m, v, k = float(positive("mass", mass)), float(positive("speed", speed)), float(positive("stiffness", stiffness))
    fy, h = float(positive("yield force", yield_force)), float(not_negative("hardening", hardening))
    if brackets < 1:
        raise ValueError("one bracket or more is needed")
    if h >= k:
        raise ValueError("the hardening must be below the stiffness")
    n, energy, xy = brackets, 0.5 * m * v * v, fy / k
    left = energy - 0.5 * n * fy * xy  # for the plastic branch
    omega = math.sqrt(n * k / m)
    if left <= 0.0:
        stroke, time = v / omega, math.pi / (2.0 * omega)
        force = k * stroke
        plastic = 0.0
    else:
        beyond = left / (n * fy) if h == 0.0 else (math.sqrt(fy * fy + 2.0 * h * left / n) - fy) / h
        stroke, force = xy + beyond, fy + h * beyond
        speed_at_yield = math.sqrt(2.0 * left / m)
        slow = n * h / m
        if h == 0.0:
            rest = speed_at_yield * m / (n * fy)
        else:  # m x'' = -n (F_y + H x): quarter of a harmonic that begins past its middle
            rest = math.atan(speed_at_yield * math.sqrt(slow) * m / (n * fy)) / math.sqrt(slow)
        time = math.asin(min(1.0, omega * xy / v)) / omega + rest
        # plastic strain x_p = beyond (1 - H/k); work = integral of F over it
        plastic = n * (1.0 - h / k) * (fy * beyond + 0.5 * h * beyond * beyond)
    elastic = n * force * force / (2.0 * k)
    rebound = math.sqrt(2.0 * elastic / m)
    return BarrierHit(
        energy, n * force, stroke, stroke - force / k, plastic, rebound, rebound / v, time,
        (energy - plastic - elastic) / energy,
    )  # fmt: skip
