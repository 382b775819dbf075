"""What a damper in motion holds: oil and gas in its chambers, friction and stops on its rod."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.mixture import COMPRESSIBILITY, EXPONENT, P_REF
from firstoff.physics.jit import njit

Row = npt.NDArray[np.float64]
BODY_FIELDS: Final = (
    "rebound_volume",  # m3 between piston and guide, at mid-stroke
    "compression_volume",  # m3 between piston and base valve, at mid-stroke
    "gas_volume",  # m3 of gas in the reserve tube, at mid-stroke
    "gas_exponent",  # polytropic exponent of that gas, 1 isothermal to 1.4 adiabatic
    "reserve_oil",  # m3 of oil in the reserve tube, at mid-stroke
    "feed_oil",  # m3 of oil in the reserve tube below which its feed begins to draw gas
    "feed_span",  # m3 over which the feed goes from all oil to gas
    "lag_rebound",  # s, time constant of the opening of each valve, in the order of twin_tube.VALVES
    "lag_check",
    "lag_base",
    "lag_intake",
    "friction_stiffness",  # N/m of seal and guide before they slide, 0 for a plain jump
    "side_friction",  # N, friction coefficient times side force on the rod's end
    "overhang",  # m from guide to rod end, at mid-stroke
    "span",  # m from piston to guide, at mid-stroke
    "tilt_friction",  # N m2, 6 mu E I alpha of a guide that stands crooked by alpha
    "bump_gap",  # m from mid-stroke inwards to the bump stop
    "bump_rate",  # N/m
    "bump_progress",  # 1/m, at a squeeze of 1/progress the stop's force is twice that of its rate
    "rebound_gap",  # m from mid-stroke outwards to the rebound stop
    "rebound_rate",  # N/m
    "rebound_progress",  # 1/m
    "mount_rate",  # N/m of both bushings in series, 0 for rigid mounts
    "mount_damping",  # N s/m
    "pocket_rebound",  # m3 of gas at gas pressure that stands under the guide at the start
    "pocket_compression",  # m3 of gas at gas pressure that stands under the piston at the start
)
V_REBOUND, V_COMPRESSION, V_GAS, N_GAS, RESERVE_OIL, FEED_OIL, FEED_SPAN, LAG = range(8)
STIFFNESS, SIDE, OVERHANG, SPAN, TILT = range(11, 16)
BUMP, REBOUND_STOP, MOUNT_RATE, MOUNT_DAMPING, POCKET_R, POCKET_C = 16, 19, 22, 23, 24, 25
RUNS_OUT: Final = 0.02  # of a volume at mid-stroke: with less, the motion does not fit the damper
LEAST_SPAN: Final = 1e-3  # m, piston against guide


@njit("UniTuple(f8, 2)(f8, f8, f8[::1], f8)", inline=True)
def pressure_of_oil(s: float, gas: float, oil: Row, p_vapour: float) -> tuple[float, float]:
    """Pressure p of a chamber whose oil fills the share s of its volume at P_REF, and dp/ds.

    Solves s = (1 + beta (p - p_ref))/(1 + g (p_ref/p)^(1/n)), the law of `mixture`, the other way round.
    For n = 1 a quadratic, beta p^2 - b p - s g p_ref = 0 with b = s - 1 + beta p_ref; else Newton in ln p from there.
    Without gas a chamber that is not full holds a void at the vapour pressure.

    s [1] > 0; gas g: volume of free gas at P_REF over that of the oil, >= 0; oil: row of OIL_FIELDS, compressibility
    beta > 0; p_vapour [Pa]. Returns [Pa] absolute. Source: Merritt, Hydraulic Control Systems, ch. 2.
    """
    beta, n = oil[COMPRESSIBILITY], oil[EXPONENT]
    b = s - 1.0 + beta * P_REF
    if gas == 0.0:
        p = b / beta
        return (p_vapour, 0.0) if p <= p_vapour else (p, 1.0 / beta)
    root = math.sqrt(b * b + 4.0 * beta * s * gas * P_REF)
    p = 0.5 * (b + root) / beta if b > 0.0 else 2.0 * s * gas * P_REF / (root - b)
    if n == 1.0:
        return p, (p + gas * P_REF) / root
    for _ in range(30):
        liquid = 1.0 + beta * (p - P_REF)
        packed = gas * (P_REF / p) ** (1.0 / n)
        pull = beta * p / liquid + packed / ((1.0 + packed) * n)  # d ln s/d ln p
        step = math.log(s * (1.0 + packed) / liquid) / pull
        p *= math.exp(min(max(step, -3.0), 3.0))
        if abs(step) < 1e-9:
            break
    liquid = 1.0 + beta * (p - P_REF)
    packed = gas * (P_REF / p) ** (1.0 / n)
    return p, p / (s * (beta * p / liquid + packed / ((1.0 + packed) * n)))


@njit("f8(f8, f8, f8[::1])")
def oil_share(p: float, gas: float, oil: Row) -> float:
    """Share s of a chamber's volume that its oil fills at P_REF, of pressure p: the inverse of `pressure_of_oil`."""
    liquid = 1.0 + oil[COMPRESSIBILITY] * (p - P_REF)
    if gas == 0.0:
        return float(liquid)
    return float(liquid / (1.0 + gas * (P_REF / p) ** (1.0 / oil[EXPONENT])))


@njit("f8(f8, f8, f8[::1])")
def sliding_friction(x: float, seal: float, body: Row) -> float:
    """Amount of friction when the rod slides at travel x.

    F = F_seal + mu Q (1 + 2 (a + x)/(b - x)) + 6 mu E I alpha/(b - x)^2.

    x [m] out of mid-stroke; seal F_seal [N]; body: row of BODY_FIELDS with mu Q side_friction, a overhang, b span,
    6 mu E I alpha tilt_friction. A side force Q at the rod's end is held by guide (Q (a + b)/b) and piston (Q a/b); a
    guide turned by alpha bends the rod as a beam pinned at the piston, with reactions 3 E I alpha/b^2 at both.
    Source: lever and beam (textbook); Coulomb friction at both.
    """
    span = max(body[SPAN] - x, LEAST_SPAN)
    sideways = body[SIDE] * (1.0 + 2.0 * max(body[OVERHANG] + x, 0.0) / span) if body[SIDE] > 0.0 else 0.0
    return float(seal + sideways + body[TILT] / (span * span))


@njit("UniTuple(f8, 2)(f8, f8, f8, f8, f8[::1])")
def friction_force(before: float, x0: float, x: float, seal: float, body: Row) -> tuple[float, float]:
    """Friction after the rod went one way from x0 to x, and its slope over x.

    dF/dx = sigma (1 - F sign(dx)/F_c), solved: F = F_c s + (F_0 - F_c s) exp(-sigma |x - x0|/F_c), s = sign(x - x0).

    before F_0 [N] at x0 [m]; F_c `sliding_friction` at x; sigma friction_stiffness [N/m], 0 for a jump to F_c s.
    Does not depend on speed. Source: Dahl's model of solid friction (exponent 1), from memory.
    """
    if x == x0:
        return before, body[STIFFNESS]
    level, sign = sliding_friction(x, seal, body), math.copysign(1.0, x - x0)
    if level <= 0.0:
        return 0.0, 0.0
    if body[STIFFNESS] <= 0.0:
        return level * sign, 0.0
    fade = math.exp(-body[STIFFNESS] * abs(x - x0) / level)
    return level * sign + (before - level * sign) * fade, body[STIFFNESS] * (1.0 - before * sign / level) * fade


@njit("UniTuple(f8, 2)(f8, f8[::1])")
def stop_force(x: float, body: Row) -> tuple[float, float]:
    """Force of bump and rebound stop at travel x [m], tension positive, and its slope.

    F = k z (1 + (z/z2)^2) beyond the gap by z, 1/z2 the stop's progress: a rubber stop without loss. [N], [N/m].
    Source: assumed shape, common practice.
    """
    force, slope = 0.0, 0.0
    for at, sign in ((BUMP, -1.0), (REBOUND_STOP, 1.0)):
        squeeze = sign * x - body[at]
        if body[at + 1] > 0.0 and squeeze > 0.0:
            harder = (squeeze * body[at + 2]) ** 2
            force += sign * body[at + 1] * squeeze * (1.0 + harder)
            slope += body[at + 1] * (1.0 + 3.0 * harder)
    return force, slope


@njit("UniTuple(f8, 2)(f8, f8, f8)", inline=True)
def reserve_pressure(p0: float, ratio: float, exponent: float) -> tuple[float, float]:
    """Gas pressure p = p0 r^(-n) at r times the room a like amount of gas had at p0, and dp/dr."""
    p = p0 / ratio if exponent == 1.0 else p0 * ratio ** (-exponent)
    return p, -exponent * p / ratio


@njit("f8(f8, f8[::1])")
def gas_share(oil_left: float, body: Row) -> float:
    """Share of gas, by volume, in what the intake draws while `oil_left` [m3] of oil is in the reserve tube.

    Rises smoothly (3 w^2 - 2 w^3) from 0 at feed_oil to 0.95 when feed_span below it. Assumed: level surface, no swirl.
    """
    if body[FEED_OIL] <= 0.0 or oil_left >= body[FEED_OIL]:
        return 0.0
    w = min((body[FEED_OIL] - oil_left) / max(body[FEED_SPAN], 1e-9), 1.0)
    return float(0.95 * w * w * (3.0 - 2.0 * w))
