"""Damper curves as tables: how stiff, how much more in rebound than in compression, where and how far they bend off."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
SQRT_2PI = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True)
class Shape:
    """A curve of two straight lines a side, as seen at the wheel."""

    level: float  # mean of both slopes at low speed over 2 sqrt(k ms): the damping ratio of the body
    ratio: float  # slope in rebound over slope in compression
    knee: float  # m/s, speed at which both sides bend off
    bend: float  # share of the slope that is left beyond the knee; 1: straight


def slopes(shape: Shape, sprung: float, spring: float) -> tuple[float, float]:
    """Slopes at low speed in rebound and in compression [N s/m], c = level 2 sqrt(k ms), c_r = 2 c r/(1 + r).

    sprung ms [kg], spring k [N/m] at the wheel. Source: damping ratio of a one-mass oscillator (textbook).
    """
    mean = 2.0 * shape.level * math.sqrt(spring * sprung)
    compression = 2.0 * mean / (1.0 + shape.ratio)
    return shape.ratio * compression, compression


def table(shape: Shape, sprung: float, spring: float, reach: float = 10.0) -> tuple[FloatArray, FloatArray]:
    """Speeds [m/s] and forces [N] of the corners of the curve, (5,) each, rebound positive; straight in between.

    reach [m/s] > knee: where the table ends; beyond it the last slope goes on. Definition.
    """
    rebound, compression = slopes(shape, sprung, spring)
    far = shape.knee + shape.bend * (reach - shape.knee)
    speeds = np.array([-reach, -shape.knee, 0.0, shape.knee, reach])
    forces = [-compression * far, -compression * shape.knee, 0.0, rebound * shape.knee, rebound * far]
    return speeds, np.array(forces)


def force(v: npt.ArrayLike, speeds: FloatArray, forces: FloatArray) -> FloatArray:
    """Force of a table at any speed [N]: straight between its points, and on with the last slope beyond them.

    speeds (m,) [m/s] ascending, forces (m,) [N], m >= 2; v [m/s], any shape. Definition.
    """
    x = np.asarray(v, dtype=np.float64)
    i = np.clip(np.searchsorted(speeds, x) - 1, 0, len(speeds) - 2)
    slope = (forces[i + 1] - forces[i]) / (speeds[i + 1] - speeds[i])
    return np.asarray(forces[i] + slope * (x - speeds[i]))


def equivalent(speeds: FloatArray, forces: FloatArray, sd: float) -> tuple[float, float]:
    """Equivalent damping c = E[F v]/E[v^2] [N s/m] and mean force E[F] [N] of a curve at normal speeds of sd [m/s].

    Statistical linearisation; integrals by trapezium over +-8 sd. speeds, forces as in `force`; sd > 0.
    Source: Roberts and Spanos, Random Vibration and Statistical Linearization (1990). ValueError out of range.
    """
    if not (sd > 0.0 and math.isfinite(sd)):
        raise ValueError("the standard deviation of the speed must be above 0")
    u = np.linspace(-8.0, 8.0, 4001)
    density = np.exp(-0.5 * u * u) / SQRT_2PI
    f = force(sd * u, speeds, forces)
    return float(np.trapezoid(f * u * density, u)) / sd, float(np.trapezoid(f * density, u))
