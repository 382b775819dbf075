"""Limits of size of ISO metric threads, tolerance class 6g of the bolt and 6H of the nut."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from firstoff.physics.joints.threads import diameters
from firstoff.physics.ranges import FloatArray, Numbers, positive

MICRON = 1e-6


class ThreadLimits(NamedTuple):
    """Worst limits for stripping [m]: nut's minor and pitch diameter at most, bolt's pitch and major at least."""

    internal_minor_max: FloatArray
    internal_pitch_max: FloatArray
    external_pitch_min: FloatArray
    external_major_min: FloatArray


def thread_limits(nominal: Numbers, pitch: Numbers) -> ThreadLimits:
    """Limits of 6H/6g: es = -(15 + 11 P), T_d = 180 P^(2/3) - 3.15 P^(-1/2), T_d2 = 90 P^0.4 d^0.1, T_D1 = 230 P^0.7,
    T_D2 = 1.32 T_d2 [um] with P, d in mm; D1 = d - 1.082532 P, D2 = d2 = d - 0.649519 P.

    nominal d, pitch P [m], P of 1 to 6 mm; any one shape. The standard rounds its tables and takes d at the middle of
    its range: within 12 um of them. Source: ISO 965-1 (from memory). ValueError out of range.
    """
    d, p = positive("thread diameter", nominal) * 1e3, positive("pitch", pitch) * 1e3
    if not np.all((p >= 1.0) & (p <= 6.0)):
        raise ValueError("limits of size are known for pitches of 1 to 6 mm")
    size = diameters(nominal, pitch)
    below = (15.0 + 11.0 * p) * MICRON
    pitch_tolerance = 90.0 * p**0.4 * d**0.1 * MICRON
    major = np.asarray(nominal) - below - (180.0 * p ** (2.0 / 3.0) - 3.15 / np.sqrt(p)) * MICRON
    minor = np.asarray(nominal) - 1.082532 * np.asarray(pitch) + 230.0 * p**0.7 * MICRON
    return ThreadLimits(minor, size.pitch + 1.32 * pitch_tolerance, size.pitch - below - pitch_tolerance, major)
