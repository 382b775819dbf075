"""Motion of a crank-driven damping rig."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.float64] | float


def crank_peak_speed(stroke: Numbers, strokes_per_second: Numbers) -> FloatArray:
    """Peak speed of a sinusoidal drive, v = pi S f [m/s].

    stroke S [m], full, twice the amplitude; strokes_per_second f [1/s], turns of the crank. Both >= 0.
    Pure sinusoid: a short connecting rod adds a few per cent on one side. Source: kinematics (textbook).
    ValueError below 0.
    """
    if not (np.all(np.asarray(stroke) >= 0.0) and np.all(np.asarray(strokes_per_second) >= 0.0)):
        raise ValueError("stroke and speed of the rig must be 0 or more")
    return math.pi * np.asarray(stroke, dtype=np.float64) * strokes_per_second


def crank_frequency(stroke: Numbers, peak_speed: Numbers) -> FloatArray:
    """Turns a second that give a wanted peak speed, f = v/(pi S) [1/s]; stroke S [m] > 0, peak_speed v [m/s] >= 0."""
    if not (np.all(np.asarray(stroke) > 0.0) and np.all(np.asarray(peak_speed) >= 0.0)):
        raise ValueError("stroke must be above 0 and the peak speed 0 or more")
    return peak_speed / (math.pi * np.asarray(stroke, dtype=np.float64))
