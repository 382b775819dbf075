"""Paint in the oven: the sheet warmed as one lump, its time at temperature, the cure it gets."""

from __future__ import annotations

from typing import Final

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive

GAS_CONSTANT: Final = 8.31446261815324  # J/(mol K), exact by the SI
STEEL_HEAT: Final = 7850.0 * 470.0  # J/(m3 K), steel near 100 degC (handbook, from memory)
STEEL_CONDUCTS: Final = 50.0  # W/(m K), mild steel (handbook, from memory)
NODES: Final = 24  # of the quadrature of the cure; a test holds it against scipy's


def time_constant(thickness: Numbers, heat_transfer: Numbers, heat: float = STEEL_HEAT) -> FloatArray:
    """Time constant of a sheet warmed on both sides, tau = rho c d/(2 h) [s].

    thickness d [m] > 0; heat_transfer h [W/(m2 K)] > 0, convection and radiation together; heat rho c [J/(m3 K)]. For
    Biot numbers h d/(2 k) below 0.1, sheet of any oven. Source: lumped capacity (textbook). ValueError out of range.
    """
    found: FloatArray = positive("heat", heat) * positive("thickness", thickness)
    return found / (2.0 * positive("heat transfer", heat_transfer))


def biot(thickness: Numbers, heat_transfer: Numbers, conductivity: float = STEEL_CONDUCTS) -> FloatArray:
    """Biot number of half the sheet, h d/(2 k); arguments as above, conductivity k [W/(m K)] > 0."""
    found: FloatArray = positive("heat transfer", heat_transfer) * positive("thickness", thickness)
    return found / (2.0 * positive("conductivity", conductivity))


def temperature(time: Numbers, oven: Numbers, start: Numbers, constant: Numbers) -> FloatArray:
    """Temperature of the sheet, T = T_o - (T_o - T_0) exp(-t/tau) [K].

    time t >= 0 [s], oven T_o and start T_0 [K], constant tau > 0 [s]; any one shape. Source: lumped capacity
    (textbook).
    """
    left = np.exp(-not_negative("time", time) / positive("time constant", constant))
    found: FloatArray = positive("oven", oven) - (np.asarray(oven) - positive("start", start)) * left
    return found


def time_above(level: Numbers, time: Numbers, oven: Numbers, start: Numbers, constant: Numbers) -> FloatArray:
    """How long the sheet is at or above a temperature in the oven, t - tau ln((T_o - T_0)/(T_o - T_c)), 0 or more [s].

    level T_c, oven T_o, start T_0 [K]; time t in the oven >= 0, constant tau > 0 [s]; any one shape. What it keeps
    after the oven is not counted. Source: `temperature` solved for t. ValueError out of range.
    """
    t, tau = not_negative("time", time), positive("time constant", constant)
    to, t0, tc = positive("oven", oven), positive("start", start), positive("level", level)
    reached = tc < to
    ratio = np.where(reached, (to - t0) / np.where(reached, to - tc, 1.0), 1.0)
    rise = tau * np.log(np.maximum(ratio, 1.0))
    found: FloatArray = np.where(reached, np.clip(t - rise, 0.0, None), np.where(t0 >= tc, t, 0.0))
    return found


def equivalent_time(
    time: Numbers, oven: Numbers, start: Numbers, constant: Numbers, reference: float, activation: Numbers
) -> FloatArray:
    """Time at a reference temperature that cures as much, int exp(-E/R (1/T(s) - 1/T_r)) ds over the oven [s].

    time t >= 0, oven and start [K], constant tau [s]: as above, any one shape; reference T_r [K]; activation energy E
    [J/mol] > 0, from the paint's supplier. Source: one reaction of first order (Arrhenius, textbook); the integral by
    Gauss and Legendre. ValueError out of range.
    """
    x, w = np.polynomial.legendre.leggauss(NODES)
    t = not_negative("time", time)
    s = 0.5 * t[..., None] * (x + 1.0)
    at = temperature(s, np.asarray(oven)[..., None], np.asarray(start)[..., None], np.asarray(constant)[..., None])
    over = positive("activation energy", activation)[..., None] / GAS_CONSTANT
    speed = np.exp(-over * (1.0 / at - 1.0 / float(positive("reference", reference))))
    found: FloatArray = 0.5 * t * (speed @ w)
    return found
