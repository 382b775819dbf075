"""Gas charge of a damper over rod travel and temperature."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.float64] | float


def pressure_at_stroke(
    p0: Numbers, volume: Numbers, rod_area: Numbers, rod_in: Numbers, exponent: Numbers
) -> FloatArray:
    """Gas pressure after the rod went in by x: p = p0 (V0/(V0 - Ar x))^n [Pa].

    p0 [Pa] absolute > 0, volume V0 [m3] > 0 at x = 0; rod_area Ar [m2]; rod_in x [m], < 0 out; exponent n 1 to 1.67.
    Oil incompressible. Source: polytropic law of an ideal gas (textbook). ValueError when no gas volume is left.
    """
    left = np.asarray(volume - np.asarray(rod_area) * rod_in, dtype=np.float64)
    if not (np.all(np.asarray(p0) > 0.0) and np.all(np.asarray(volume) > 0.0)):
        raise ValueError("gas pressure and gas volume must be above 0")
    if not np.all(left > 0.0):
        raise ValueError("the rod displaces more than the gas volume")
    return p0 * (volume / left) ** exponent


def rod_force(p: Numbers, p_ambient: Numbers, rod_area: Numbers) -> FloatArray:
    """Amount of the force that pushes the rod out, (p - p_atm) Ar [N]; p, p_ambient [Pa] absolute."""
    return (p - np.asarray(p_ambient)) * rod_area


def pressure_at_temperature(
    p0: Numbers, t0: Numbers, t: Numbers, gas_volume: Numbers, oil_volume: Numbers, oil_expansion: Numbers
) -> FloatArray:
    """Gas pressure at another temperature, the oil's growth included.

    p = p0 (T/T0) V0/(V0 - V_oil alpha (T - T0)) [Pa].

    p0 [Pa] absolute, t0 and t [K] > 0, volumes [m3] at t0, oil_expansion alpha [1/K]. Rigid tube, linear expansion,
    nothing dissolves. Source: ideal-gas law (textbook). ValueError when the oil fills the gas space.
    """
    if not all(np.all(np.asarray(value) > 0.0) for value in (p0, t0, t, gas_volume)):
        raise ValueError("gas pressure, gas volume and temperatures must be above 0")
    left = np.asarray(gas_volume - np.asarray(oil_volume) * oil_expansion * (t - np.asarray(t0)), dtype=np.float64)
    if not np.all(left > 0.0):
        raise ValueError("the oil expands into the whole gas volume")
    return p0 * (t / np.asarray(t0)) * gas_volume / left
