"""Where the oil stands in the reserve tube, and what the gas does in cold, heat and an oven."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.float64] | float


def oil_level(oil: Numbers, in_tube: Numbers, reserve_bore: Numbers, tube_outside: Numbers) -> FloatArray:
    """Height of the oil in the reserve tube over the base valve [m], upright: (V - V_tube)/(pi/4 (D^2 - d^2)).

    oil V [m3] at its temperature; in_tube V_tube [m3] that the full pressure tube holds; reserve_bore D, tube_outside
    d [m], D > d > 0. Below 0: the pressure tube is not full. Rigid tubes. Source: geometry. ValueError out of range.
    """
    big, small = np.asarray(reserve_bore), np.asarray(tube_outside)
    if not np.all((big > small) & (small > 0.0)):
        raise ValueError("the reserve tube must be wider than the pressure tube")
    return np.asarray((np.asarray(oil) - in_tube) / (0.25 * math.pi * (big**2 - small**2)))


def lowest_level(level: Numbers, reserve_bore: Numbers, tilt: Numbers) -> FloatArray:
    """Oil over the base valve on the raised side of a tilted damper [m], h - D/2 tan(t).

    level h [m] upright; reserve_bore D [m]; tilt t [rad] from upright, 0 to below pi/2. Exact while the surface meets
    neither end of the reserve tube; below 0 the raised side is dry. Source: geometry. ValueError out of range.
    """
    t = np.asarray(tilt)
    if not np.all((t >= 0.0) & (t < 0.5 * math.pi)):
        raise ValueError("the tilt must be from 0 to below 90 degrees")
    return np.asarray(np.asarray(level) - 0.5 * np.asarray(reserve_bore) * np.tan(t))


def gas_left(
    gas: Numbers, oil: Numbers, expansion: Numbers, warming: Numbers, rod_area: Numbers, rod_in: Numbers
) -> FloatArray:
    """Room that oil and rod leave the gas [m3], V_g - V_oil a dT - A x; 0 or less: none.

    gas V_g [m3] and oil V_oil [m3] with the rod out at the charging temperature; expansion a [1/K]; warming dT [K];
    rod_area A [m2]; rod_in x [m]. Rigid tubes, linear expansion. Source: geometry.
    """
    return np.asarray(np.asarray(gas) - np.asarray(oil) * expansion * warming - np.asarray(rod_area) * rod_in)


def gas_pressure(pressure: Numbers, charged_at: Numbers, at: Numbers, gas: Numbers, left: Numbers) -> FloatArray:
    """Gas pressure at another temperature and room [Pa], p0 (T/T0) (V0/V); not a number where no room is left.

    pressure p0 [Pa] absolute, charged_at T0 and at T [K], gas V0 [m3], left V [m3]. None dissolves in the oil.
    Source: ideal-gas law (textbook).
    """
    room = np.asarray(left, dtype=np.float64)
    ok = (room > 0.0) & (np.asarray(gas) > 0.0) & (np.asarray(charged_at) > 0.0) & (np.asarray(at) > 0.0)
    ok &= np.asarray(pressure) > 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        found = pressure * (at / np.asarray(charged_at)) * gas / room
    return np.where(ok, found, np.nan)
