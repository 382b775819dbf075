"""Pressure on the far side of a valve when the oil carries gas: the two searches of the twin-tube balance."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.mixture import GAS, VISCOSITY, density_and_compressibility
from firstoff.physics.damper.valve import (
    MOST_PRESSURE,
    MOST_STEPS,
    PATIENCE,
    STEP,
    flow_and_slope,
    middle,
    power_step,
    pressure_drop,
)
from firstoff.physics.jit import njit
from firstoff.physics.status import NO_VALUE, NOT_CONVERGED, OK

Row = npt.NDArray[np.float64]
LEAST_EXPONENT: Final = 0.1
NEXT_TO_NO_GAS: Final = 1e-6  # with more, the density at the floor is next to nothing: no void opens


@njit("Tuple((f8, f8, i8))(f8, f8, f8, f8[::1], f8[::1], f8)")
def upstream_pressure(
    q: float, p_down: float, guess: float, valve: Row, oil: Row, cd: float
) -> tuple[float, float, int]:
    """Pressure before a valve that passes the volume flow q, counted at that pressure.

    Solves Q(p_up - p_down; rho(p_up)) = q for p_up. Q rises with p_up: the loss of flow by the rising density is
    always the smaller part, so there is one root.

    q [m3/s] > 0; p_down [Pa] absolute; guess [Pa], 0 for none; valve, oil, cd as in `valve` and `mixture`.
    Returns p_up [Pa], d(p_up)/d(p_down), status. Source: orifice equation at upstream density.
    """
    drop = guess - p_down
    if not (guess > 0.0 and drop > 0.0):
        drop, status = pressure_drop(q, valve, density_and_compressibility(p_down, oil)[0], oil[VISCOSITY], cd)
        if status != OK:
            return math.inf, 1.0, status
    low, high = 0.0, MOST_PRESSURE
    for step in range(MOST_STEPS):
        rho, kappa = density_and_compressibility(p_down + drop, oil)
        found, slope = flow_and_slope(drop, valve, rho, oil[VISCOSITY], cd)
        if found < q:
            low = drop
        else:
            high = drop
        if found > 0.0:
            stiff = slope / found
            new = power_step(drop, low, high, q / found, max(drop * (stiff - 0.5 * kappa), LEAST_EXPONENT))
        else:
            stiff, kappa = 1.0, 0.0
            new = middle(max(low, 1.0), high)
        if step > PATIENCE and step % 2:
            new = middle(low, high)
        if abs(new - drop) <= STEP * drop or found == q or high - low <= 4e-16 * high:
            # half kappa: a turbulent flow goes with rho^(-1/2)
            return p_down + (drop if found == q else new), stiff / (stiff - 0.5 * kappa), OK
        drop = new
    return p_down + drop, 1.0, NOT_CONVERGED


@njit("Tuple((f8, f8, f8, i8))(f8, f8, f8, f8, f8[::1], f8[::1], f8)")
def downstream_pressure(
    q: float, p_up: float, guess: float, floor: float, valve: Row, oil: Row, cd: float
) -> tuple[float, float, float, int]:
    """Pressure behind a valve that feeds a chamber growing by the volume flow q, counted at that pressure.

    Solves rho(p_up) Q(p_up - p_down; rho(p_up)) = rho(p_down) q for p_down in floor..p_up. When even the floor does
    not draw enough, the chamber stays there and opens a void.

    q [m3/s] > 0; p_up, guess (0: none), floor [Pa] absolute, floor < p_up; the rest as in `upstream_pressure`.
    Returns p_down [Pa], the flow through the valve [m3/s] at p_up, its slope over p_up, status.
    Source: orifice equation; mass balance.
    """
    rho_up, kappa_up = density_and_compressibility(p_up, oil)
    top = p_up - floor
    drop = p_up - guess
    if not (guess > 0.0 and 0.0 < drop < top):
        drop = min(pressure_drop(q, valve, rho_up, oil[VISCOSITY], cd)[0], top)
    if drop == top or oil[GAS] < NEXT_TO_NO_GAS:
        found, slope = flow_and_slope(top, valve, rho_up, oil[VISCOSITY], cd)
        if rho_up * found <= density_and_compressibility(floor, oil)[0] * q:
            return floor, found, slope - 0.5 * kappa_up * found, OK
        drop = drop if drop < top else 0.5 * top
    low, high = 0.0, top
    for step in range(MOST_STEPS):
        rho, kappa = density_and_compressibility(p_up - drop, oil)
        found, slope = flow_and_slope(drop, valve, rho_up, oil[VISCOSITY], cd)
        wanted = rho / rho_up * q
        if found < wanted:
            low = drop
        else:
            high = drop
        stiff = slope / found if found > 0.0 else 1.0
        new = middle(low, high)
        if found > 0.0 and not (step > PATIENCE and step % 2):
            new = power_step(drop, low, high, wanted / found, drop * (stiff + kappa))
        if abs(new - drop) <= STEP * min(drop, p_up - drop) or found == wanted or high - low <= 4e-16 * high:
            follow = (stiff + 0.5 * kappa_up) / (stiff + kappa)  # d(p_down)/d(p_up)
            return p_up - (drop if found == wanted else new), wanted, wanted * (kappa * follow - kappa_up), OK
        drop = new
    return p_up - drop, q, 0.0, NOT_CONVERGED | NO_VALUE
