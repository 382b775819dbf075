"""One stage of an implicit step: its known part, Newton's search, and the state and rates that come out."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.dynamic_balance import (
    B_C,
    B_GAS_C,
    B_GAS_R,
    B_MOUNT,
    B_R,
    FOLLOW,
    GAS_C,
    GAS_R,
    HAS_GAS,
    HAS_LAG,
    HAS_MOUNT,
    JCC,
    JCM,
    JCR,
    JMC,
    JMM,
    JMR,
    JRC,
    JRM,
    JRR,
    OPENING,
    PC,
    PC_BY_R,
    PC_SLOPE,
    PG,
    PG_SLOPE,
    PR,
    PR_SLOPE,
    R_C,
    R_MOUNT,
    R_R,
    SHARE_0,
    SHARE_C,
    SHARE_R,
    A,
    X,
    balance,
    squared,
)
from firstoff.physics.damper.dynamic_state import (
    LAG,
    MOUNT_DAMPING,
)
from firstoff.physics.damper.motion import GAMMA
from firstoff.physics.damper.twin_tube_kernel import PISTON, ROD
from firstoff.physics.jit import njit

Row = npt.NDArray[np.float64]
# the state between steps, and its rates
M_R, M_C, SAG, G_R, G_C, LIFT = 0, 1, 2, 3, 4, 5  # four of LIFT
STATE: Final = 9
MOST_NEWTON: Final = 60
MOST_HALVINGS: Final = 25
PATIENCE: Final = 12  # steps, after which every second one is SHORT: over a kink full ones may circle
SHORT: Final = 0.3
PROGRESS: Final = 0.5  # of the squared step: by so much the next one must be shorter after a full step
HALF: Final = 0.5 * GAMMA
TO_STAGE: Final = 1.0 / (GAMMA * (2.0 - GAMMA))  # weight of the inner point in the second stage


@njit("i8(f8[::1], f8[::1], f8[::1], f8[:, ::1], f8[::1], f8[::1], f8, f8[::1])", inline=True)
def solve_stage(u: Row, known: Row, build: Row, valves: Row, body: Row, oil: Row, tolerance: float, now: Row) -> int:
    """Newton's search for the oil of both chambers (and the sag of the mounts), with halved steps where it overshoots.

    u (3,) holds a guess, then the solution; `now` pressures and flows there. The last step is one that changes no
    pressure by more than `tolerance` [Pa], or after which, flow going with the root of a pressure difference, no more
    than that is left. Holes without laminar loss have an endless slope at zero flow: there a full step jumps to and fro
    over the root. So a step is halved until the next one, with the slopes of this one, would be shorter: the natural
    monotonicity test, which no scaling of the equations changes. Source: Deuflhard, Newton Methods, ch. 3.
    Returns 0, or 1 when MOST_NEWTON steps did not do.
    """
    piston, has_mount = build[PISTON], known[HAS_MOUNT] != 0.0
    balance(u[0], u[1], u[2], known, build, valves, body, oil, now)
    for tried in range(MOST_NEWTON):
        rr, rc, jrr, jrc, jcr, jcc = now[R_R], now[R_C], now[JRR], now[JRC], now[JCR], now[JCC]
        out_r, out_c, jmr, jmc, jmm = 0.0, 0.0, 0.0, 0.0, 1.0
        if has_mount:  # take the sag out of the first two rows
            jmr, jmc, jmm = now[JMR], now[JMC], now[JMM]
            out_r, out_c = now[JRM] / jmm, now[JCM] / jmm
            rr, rc = rr - out_r * now[R_MOUNT], rc - out_c * now[R_MOUNT]
            jrr, jrc, jcr, jcc = jrr - out_r * jmr, jrc - out_r * jmc, jcr - out_c * jmr, jcc - out_c * jmc
        below = 1.0 / (jrr * jcc - jrc * jcr)
        d_r, d_c = -(rr * jcc - rc * jrc) * below, -(rc * jrr - rr * jcr) * below
        d_m = -(now[R_MOUNT] + jmr * d_r + jmc * d_c) / jmm if has_mount else 0.0
        share = SHORT if tried > PATIENCE and tried % 2 else 1.0
        while u[0] + share * d_r < 0.05 * u[0] or u[1] + share * d_c < 0.05 * u[1]:
            share *= 0.5  # oil does not run out
        step = max(abs(d_r) * now[PR_SLOPE], abs(d_c) * now[PC_SLOPE])
        nearest = min(abs(now[PR] - now[PC]), abs(now[PG] - now[PC]))
        small = step < tolerance or (step < 10.0 * tolerance and step * step < 4.0 * tolerance * nearest)
        if small and abs(d_r) < 1e-7 * u[0] and abs(d_c) < 1e-7 * u[1] and abs(d_m) < 1e-9:
            u[0], u[1], u[2] = u[0] + d_r, u[1] + d_c, u[2] + d_m
            now[PR] += now[PR_SLOPE] * d_r
            now[PC] += now[PC_SLOPE] * d_c + now[PC_BY_R] * d_r
            now[PG] += now[PG_SLOPE] * (d_r + d_c)
            return 0
        before = squared(d_r, d_c, piston * d_m)
        r, c, m = u[0], u[1], u[2]
        for _ in range(MOST_HALVINGS):
            u[0], u[1], u[2] = r + share * d_r, c + share * d_c, m + share * d_m
            balance(u[0], u[1], u[2], known, build, valves, body, oil, now)
            rr, rc, next_m = now[R_R], now[R_C], 0.0
            if has_mount:
                rr, rc = rr - out_r * now[R_MOUNT], rc - out_c * now[R_MOUNT]
            next_r, next_c = -(rr * jcc - rc * jrc) * below, -(rc * jrr - rr * jcr) * below
            if has_mount:
                next_m = piston * (now[R_MOUNT] + jmr * next_r + jmc * next_c) / jmm
            after = squared(next_r, next_c, next_m)
            if after <= (1.0 - PROGRESS * share) * before:
                break
            share *= 0.5
    return 1


@njit("void(f8, f8, f8, f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1])", inline=True)
def prepare_stage(
    a: float, x: float, old: float, ahead: float, y: Row, z: Row, rate: Row, build: Row, known: Row
) -> None:  # fmt: skip
    """Known part b of both stages' equation m - b = a m'.

    First stage: z = y, old = 0, b = y + a y'. Second: b = (y_gamma - (1 - gamma)^2 y)/(gamma (2 - gamma)). What is
    integrated is m - s_0 V, the oil relative to the chamber's own volume, whose rate of change is known exactly: the
    oil swept by the piston must not carry the error of a finite difference. `ahead` [m] is what that adds: travel less
    the scheme's sum over the speeds.
    """
    known[A], known[X] = a, x
    first, swept = a if old == 0.0 else 0.0, known[SHARE_0] * ahead
    known[B_R] = z[M_R] + old * (z[M_R] - y[M_R]) + first * rate[M_R] - swept * (build[PISTON] - build[ROD])
    known[B_C] = z[M_C] + old * (z[M_C] - y[M_C]) + first * rate[M_C] + swept * build[PISTON]


@njit("void(f8, f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1])", inline=True)
def prepare_extras(a: float, old: float, y: Row, z: Row, rate: Row, known: Row, body: Row) -> None:
    """The same for mounts, gas in motion and late discs, where the damper has them.

    Lag: tau xi' = max(dp, 0) - xi for the pressure xi at which a steady disc would stand as it stands; implicit, xi =
    OPENING + FOLLOW max(dp, 0), linear in the unknown dp.
    """
    first = a if old == 0.0 else 0.0
    if known[HAS_MOUNT] != 0.0:
        known[B_MOUNT] = body[MOUNT_DAMPING] * (z[SAG] + old * (z[SAG] - y[SAG])) + first * rate[SAG]
    if known[HAS_GAS] != 0.0:
        known[B_GAS_R] = z[G_R] + old * (z[G_R] - y[G_R]) + first * rate[G_R]
        known[B_GAS_C] = z[G_C] + old * (z[G_C] - y[G_C]) + first * rate[G_C]
        known[SHARE_R], known[SHARE_C] = z[G_R] / z[M_R], z[G_C] / z[M_C]
    if known[HAS_LAG] != 0.0:
        for i in range(4):
            slow = body[LAG + i]
            if slow > 0.0:
                b = z[LIFT + i] + old * (z[LIFT + i] - y[LIFT + i]) + first * rate[LIFT + i]
                known[OPENING + i] = b / (1.0 + a / slow)
                known[FOLLOW + i] = a / (slow + a)
            else:
                known[OPENING + i], known[FOLLOW + i] = 0.0, 1.0


@njit("void(f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[::1])", inline=True)
def close_stage(a: float, u: Row, known: Row, body: Row, oil: Row, now: Row, z: Row, rate: Row) -> None:
    """State and rates at the end of a stage: y' = (y - b)/a, which keeps what leaves one place and enters another."""
    z[M_R], z[M_C] = u[0], u[1]
    rate[M_R], rate[M_C] = (u[0] - known[B_R]) / a, (u[1] - known[B_C]) / a
    if known[HAS_MOUNT] != 0.0:
        z[SAG] = u[2]
        rate[SAG] = (body[MOUNT_DAMPING] * u[2] - known[B_MOUNT]) / a
    if known[HAS_GAS] != 0.0:
        rate[G_R], rate[G_C] = (now[GAS_R] - known[B_GAS_R]) / a, (now[GAS_C] - known[B_GAS_C]) / a
        z[G_R], z[G_C] = now[GAS_R], now[GAS_C]
    if known[HAS_LAG] != 0.0:
        piston, base = now[PR] - now[PC], now[PC] - now[PG]
        for i, dp in enumerate((piston, -piston, base, -base)):
            if body[LAG + i] > 0.0:
                z[LIFT + i] = known[OPENING + i] + known[FOLLOW + i] * max(dp, 0.0)
                rate[LIFT + i] = (max(dp, 0.0) - z[LIFT + i]) / body[LAG + i]
