"""Flow through a pair of valves whose discs follow the pressure late: what the dynamic damper adds to `valve`."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.orifice import speed_and_slope
from firstoff.physics.damper.valve import (
    BLEED,
    BLEED_A,
    COMPLIANCE,
    FORCE,
    MAX_LIFT,
    PERIMETER,
    PORT,
    PORT_A,
    PRELOAD,
    RATE,
    RELIEF,
    RELIEF_A,
    SEAT,
    STIFFENING,
    STOP,
    gap_beyond_law,
)
from firstoff.physics.jit import njit

Row = npt.NDArray[np.float64]


@njit("UniTuple(f8, 3)(f8, f8, f8[::1], f8, f8, f8)")
def lifted_flow(dp: float, opening: float, valve: Row, rho: float, mu: float, cd: float) -> tuple[float, float, float]:
    """Flow past disc and relief when they stand where a steady `opening` would hold them, and its slopes.

    The law of `valve.flow_and_slope`, stiffening discs and stops included, without the bleed: lifts from `opening`,
    speeds from dp; equal when both are.
    dp [Pa] > 0; opening [Pa]; the rest as there. Returns Q [m3/s], dQ/d(dp), dQ/d(opening) [m3/(s Pa)].
    """
    flow, slope, lift_slope = 0.0, 0.0, 0.0
    disc_rate = valve[PERIMETER] * valve[COMPLIANCE]
    disc, port = disc_rate * (opening - valve[PRELOAD]), valve[PORT]
    if disc > 0.0 and port > 0.0:
        if valve[STIFFENING] > 0.0 or valve[STOP] > 0.0:
            disc, disc_rate = gap_beyond_law(opening, valve)
        both = 1.0 / math.sqrt(port * port + disc * disc)
        share, slow = port * both, disc * both
        speed, gain = speed_and_slope(dp, valve[PORT_A] * slow, rho, mu, cd)
        flow, slope = disc * share * speed, disc * share * gain
        widening = disc_rate * share * share
        # d(speed)/d(slow) = -speed gain a mu, d(slow)/d(opening) = widening both
        lift_slope = widening * (share - disc * share * gain * valve[PORT_A] * mu * both) * speed
    push = opening * valve[SEAT] - valve[FORCE]
    if push > 0.0 and valve[RELIEF] > 0.0:
        lift, lift_rate = push / valve[RATE], valve[SEAT] / valve[RATE]
        if lift >= valve[MAX_LIFT]:
            lift, lift_rate = valve[MAX_LIFT], 0.0
        speed, gain = speed_and_slope(dp, valve[RELIEF_A], rho, mu, cd)
        flow += valve[RELIEF] * lift * speed
        slope += valve[RELIEF] * lift * gain
        lift_slope += valve[RELIEF] * lift_rate * speed
    return flow, slope, lift_slope


@njit("UniTuple(f8, 2)(f8, f8[::1], f8[::1], f8, f8, f8, f8, f8, f8)")
def late_flow(
    dp: float, ahead: Row, back: Row, opening: float, follow: float, still_open: float, rho: float, mu: float, cd: float
) -> tuple[float, float]:
    """Flow in the direction of `ahead`, a valve that opens with dp, beside `back`, which closes, and dQ/d(dp).

    Q = bleed of ahead + lifted(dp; opening + follow dp; ahead) + lifted(dp; still_open; back): a disc that has not
    come back to its seat lets oil through the wrong way.

    dp [Pa] > 0; opening, still_open [Pa], follow [1] from the lag of `dynamic_kernel`; the rest as in `valve`.
    """
    speed, gain = speed_and_slope(dp, ahead[BLEED_A], rho, mu, cd)
    flow, slope = ahead[BLEED] * speed, ahead[BLEED] * gain
    passed, by_dp, by_opening = lifted_flow(dp, opening + follow * dp, ahead, rho, mu, cd)
    flow, slope = flow + passed, slope + by_dp + follow * by_opening
    if still_open > 0.0:
        passed, by_dp, _ = lifted_flow(dp, still_open, back, rho, mu, cd)
        flow, slope = flow + passed, slope + by_dp
    return flow, slope
