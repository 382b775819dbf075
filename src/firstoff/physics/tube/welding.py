"""Heat of resistance and seam welds."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, positive, within


class WeldHeat(NamedTuple):
    """Heat of a resistance weld: put in [J], nugget volume [m3], to melt it [J], share of the heat in the nugget."""

    heat: FloatArray
    volume: FloatArray
    melt: FloatArray
    share: FloatArray


def resistance_weld_heat(
    current: Numbers,
    resistance: Numbers,
    time: Numbers,
    nugget_diameter: Numbers,
    nugget_height: Numbers,
    unit_energy: Numbers,
) -> WeldHeat:
    """Heat of a resistance (spot or projection) weld and the share that melts the nugget.

    Q = I^2 R t; V = pi d^2 h/4; melt = V u; share = melt/Q.

    current I [A], resistance R [ohm], time t [s], nugget_diameter d and nugget_height h [m], unit_energy u [J/m3] to
    heat and melt; all > 0, any one shape. R is the mean over the weld. Source: Groover, Fundamentals of Modern
    Manufacturing, resistance welding (from memory). ValueError out of range, and where the nugget needs more heat than
    is put in.
    """
    i, r, t = positive("current", current), positive("resistance", resistance), positive("time", time)
    d, h = positive("nugget diameter", nugget_diameter), positive("nugget height", nugget_height)
    heat = i**2 * r * t
    volume = math.pi / 4.0 * d**2 * h
    melt = volume * positive("unit energy", unit_energy)
    if not np.all(melt <= heat):
        raise ValueError("a nugget of this size needs more heat than the weld puts in")
    return WeldHeat(heat, volume, melt, melt / heat)


def seam_heat(
    density: Numbers,
    wall: Numbers,
    heated_width: Numbers,
    speed: Numbers,
    heat_capacity: Numbers,
    temperature_rise: Numbers,
    efficiency: Numbers,
) -> tuple[FloatArray, FloatArray]:
    """Power in the seam and power from the line [W] to weld a tube's seam continuously.

    P_weld = rho t w v c_p dT; P_line = P_weld/eta.

    density rho [kg/m3], wall t [m], heated_width w [m] over both edges, speed v [m/s], heat_capacity c_p [J/(kg K)]
    mean over the rise, temperature_rise dT [K], efficiency eta 0 to 1; all > 0, any one shape. No heat of melting, no
    conduction into the strip: both belong in w and eta. Source: heat balance. ValueError out of range.
    """
    weld = (
        positive("density", density)
        * positive("wall", wall)
        * positive("heated width", heated_width)
        * positive("speed", speed)
        * positive("heat capacity", heat_capacity)
        * positive("temperature rise", temperature_rise)
    )
    return weld, weld / within("efficiency", efficiency, above=0.0, most=1.0)
