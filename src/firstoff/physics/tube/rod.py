"""Buckling of a round rod."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from firstoff.physics.ranges import FloatArray, Numbers, positive


class Buckling(NamedTuple):
    """Slenderness, that where the branches meet [1], buckling load [N], whether it is Johnson's branch."""

    slenderness: FloatArray
    transition: FloatArray
    load: FloatArray
    johnson: npt.NDArray[np.bool_]


def buckling(
    diameter: Numbers, length: Numbers, modulus: Numbers, yield_strength: Numbers, end_factor: Numbers
) -> Buckling:
    """Buckling load of a straight round rod in pure compression: Johnson's parabola or Euler's hyperbola.

    lambda = K L/(d/4); lambda_T = sqrt(2 pi^2 E/S_y); lambda <= lambda_T: F = A (S_y - (S_y lambda/(2 pi))^2/E), else
    F = pi^2 E A/lambda^2; both are A S_y/2 at lambda_T.

    diameter d [m], length L [m], modulus E [Pa], yield_strength S_y [Pa], end_factor K (1 both ends pinned, 0.5 both
    fixed, 2 one free); all > 0, any one shape. No eccentricity, no side load. Source: Shigley, columns (from memory).
    ValueError out of range.
    """
    d, e, s = positive("diameter", diameter), positive("modulus", modulus), positive("yield strength", yield_strength)
    slender = positive("end factor", end_factor) * positive("length", length) / (d / 4.0)
    transition = np.sqrt(2.0 * math.pi**2 * e / s)
    area = math.pi / 4.0 * d**2
    short = slender <= transition
    johnson = area * (s - (s * slender / (2.0 * math.pi)) ** 2 / e)
    return Buckling(slender, transition, np.where(short, johnson, math.pi**2 * e * area / slender**2), short)
