"""Mass balance of a damper's chambers at one instant of an implicit step: flows, residuals and their slopes."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.dynamic_flow import late_flow
from firstoff.physics.damper.dynamic_state import (
    LAG,
    MOUNT_DAMPING,
    MOUNT_RATE,
    N_GAS,
    RUNS_OUT,
    V_COMPRESSION,
    V_GAS,
    V_REBOUND,
    friction_force,
    pressure_of_oil,
    reserve_pressure,
    stop_force,
)
from firstoff.physics.damper.mixture import DENSITY, EXPONENT, P_REF, VISCOSITY
from firstoff.physics.damper.twin_tube_kernel import CD, FRICTION, P_ATM, P_GAS, P_VAPOUR, PISTON, ROD
from firstoff.physics.damper.valve import flow_and_slope
from firstoff.physics.jit import njit

Row = npt.NDArray[np.float64]
# what is known before an implicit stage is solved
A, X, B_R, B_C, B_MOUNT, B_GAS_R, B_GAS_C, SHARE_R, SHARE_C, SHARE_IN, DRAWN, X_BEFORE, RUBBED = range(13)
OPENING, FOLLOW = 13, 17  # four each
SUM_0, SHARE_0, HAS_GAS, HAS_LAG, HAS_MOUNT, BUBBLES = 21, 22, 23, 24, 25, 26
CARRIED: Final = 27
# what comes out of it
PR, PC, PG, Q_PISTON, Q_BASE, R_R, R_C, R_MOUNT, PR_SLOPE, PC_SLOPE = range(10)
JRR, JRC, JCR, JCC, JRM, JCM, JMR, JMC, JMM = range(10, 19)
GAS_R, GAS_C, TOTAL, RUB, PC_BY_R, PG_SLOPE = range(19, 25)
FOUND: Final = 25


@njit("UniTuple(f8, 4)(f8, f8, f8[::1], f8[::1])")
def moving_gas(m_r: float, m_c: float, known: Row, now: Row) -> tuple[float, float, float, float]:
    """Gas that came with the flow: its amounts in both chambers, and their slopes over the oil of each.

    A stream that carries f of gas for each unit of oil brings f (m - b): linear in the unknown oil, f frozen over the
    stage. Amounts in m3 at P_REF over what the oil itself carries. Slopes: d e_r/d m_r, d e_c/d m_r (that over m_c is
    the share of the base's stream) in the third and fourth place.
    """
    past_piston = known[SHARE_R] if m_r < known[B_R] else known[SHARE_C]
    drawn = m_r - known[B_R] + m_c - known[B_C]
    past_base = known[SHARE_IN] if drawn > 0.0 else known[SHARE_C]
    now[GAS_R] = max(known[B_GAS_R] + past_piston * (m_r - known[B_R]), 0.0)
    now[GAS_C] = max(known[B_GAS_C] - past_piston * (m_r - known[B_R]) + past_base * drawn, 0.0)
    return now[GAS_R], now[GAS_C], past_piston, past_base


@njit("void(f8, f8, f8, f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1])", inline=True)
def pressures(
    m_r: float, m_c: float, v_r: float, v_c: float, known: Row, build: Row, body: Row, oil: Row, now: Row
) -> None:  # fmt: skip
    """Pressures of chambers and reserve from their oil, and their slopes.

    p_i from `pressure_of_oil` at s = m_i/V_i; reserve p = p_0 (N/N_0 V_0/V)^n, V = V_0 + (m_r + m_c - sum_0)/s_0: what
    the chambers gained, the reserve tube gave. Its bubbles keep the size they have at the start.
    Slopes: d p_r/d m_r in PR_SLOPE, d p_c/d m_c in PC_SLOPE, d p_c/d m_r in PC_BY_R, d p_res/d m of both in PG_SLOPE.
    """
    room = body[V_GAS] + (m_r + m_c - known[SUM_0]) / known[SHARE_0]
    room = max(room, RUNS_OUT * body[V_GAS])
    if known[HAS_GAS] == 0.0:
        now[PR], slope = pressure_of_oil(m_r / v_r, known[BUBBLES], oil, build[P_VAPOUR])
        now[PR_SLOPE] = slope / v_r
        now[PC], slope = pressure_of_oil(m_c / v_c, known[BUBBLES], oil, build[P_VAPOUR])
        now[PC_SLOPE], now[PC_BY_R] = slope / v_c, 0.0
        now[PG], slope = reserve_pressure(build[P_GAS], room / body[V_GAS], body[N_GAS])
    else:
        gas_r, gas_c, past_piston, past_base = moving_gas(m_r, m_c, known, now)
        share = known[BUBBLES] + gas_r / m_r
        now[PR], slope = pressure_of_oil(m_r / v_r, share, oil, build[P_VAPOUR])
        packed = (P_REF / now[PR]) ** (1.0 / oil[EXPONENT])
        now[PR_SLOPE] = slope / v_r / (1.0 + share * packed) * (1.0 + (known[BUBBLES] + past_piston) * packed)
        share = known[BUBBLES] + gas_c / m_c
        now[PC], slope = pressure_of_oil(m_c / v_c, share, oil, build[P_VAPOUR])
        packed = (P_REF / now[PC]) ** (1.0 / oil[EXPONENT])
        alone = slope / v_c / (1.0 + share * packed)
        now[PC_SLOPE] = alone * (1.0 + (known[BUBBLES] + past_base) * packed)
        now[PC_BY_R] = alone * packed * (past_base - past_piston)
        whole = body[V_GAS] * build[P_GAS] / P_REF
        left = max(whole - gas_r - gas_c, RUNS_OUT * whole) / whole
        now[PG], slope = reserve_pressure(build[P_GAS], room / (body[V_GAS] * left), body[N_GAS])
        slope /= left
    now[PG_SLOPE] = slope / (body[V_GAS] * known[SHARE_0])


@njit("UniTuple(f8, 2)(f8, i8, i8, f8[:, ::1], f8, f8, f8, f8[::1])", inline=True)
def passed(
    dp: float, ahead: int, back: int, valves: Row, rho: float, mu: float, cd: float, known: Row
) -> tuple[float, float]:
    """Volume flow in the direction in which valve `ahead` opens, dp > 0, and its slope: late or at once."""
    if known[HAS_LAG] == 0.0:
        return flow_and_slope(dp, valves[ahead], rho, mu, cd)
    if not dp > 0.0:
        return 0.0, 0.0
    still = known[OPENING + back] if known[FOLLOW + back] < 1.0 else 0.0
    return late_flow(dp, valves[ahead], valves[back], known[OPENING + ahead], known[FOLLOW + ahead], still, rho, mu, cd)


@njit("void(f8, f8, f8, f8, f8[::1], f8[::1], f8[::1], f8[::1])")
def mount(
    x: float, sag: float, by_mount_r: float, by_mount_c: float, known: Row, build: Row, body: Row, now: Row
) -> None:
    """Residual of the mounts in series with the rod, and its slopes."""
    ring, piston, a = build[PISTON] - build[ROD], build[PISTON], known[A]
    rub, rub_slope = friction_force(known[RUBBED], known[X_BEFORE], x, build[FRICTION], body)
    stop, stop_slope = stop_force(x, body)
    force = now[PR] * ring - now[PC] * piston + build[P_ATM] * build[ROD] + rub + stop
    now[TOTAL], now[RUB] = force, rub
    now[R_MOUNT] = body[MOUNT_DAMPING] * sag - known[B_MOUNT] - a * (force - body[MOUNT_RATE] * sag)
    now[JMR] = -a * (now[PR_SLOPE] * ring - now[PC_BY_R] * piston)
    now[JMC] = a * now[PC_SLOPE] * piston
    by_sag = -by_mount_r * ring - by_mount_c * piston - rub_slope - stop_slope
    now[JMM] = body[MOUNT_DAMPING] + a * (body[MOUNT_RATE] - by_sag)


@njit("void(f8, f8, f8, f8[::1], f8[::1], f8[:, ::1], f8[::1], f8[::1], f8[::1])", inline=True)
def balance(
    m_r: float, m_c: float, sag: float, known: Row, build: Row, valves: Row, body: Row, oil: Row, now: Row
) -> None:  # fmt: skip
    """Residuals of the implicit stage and their slopes, in `now`.

    m_r - b_r + a q_piston = 0,  m_c - b_c - a (q_piston + q_base) = 0,  with q = s Q(dp; rho_l s) of the chamber
    upstream, q_piston from rebound to compression chamber, q_base from reserve to compression chamber; with mounts
    c sag - b - a (F - k sag) = 0, the piston at x - sag.

    m_r, m_c [m3]: oil of each chamber, as its volume at P_REF; sag [m] of the mounts. Source: mass balance of each
    chamber; Kelvin-Voigt mounts.
    """
    x = known[X] - sag
    ring, piston, cd, mu, rho = build[PISTON] - build[ROD], build[PISTON], build[CD], oil[VISCOSITY], oil[DENSITY]
    v_r, v_c = body[V_REBOUND] - ring * x, body[V_COMPRESSION] + piston * x
    pressures(m_r, m_c, v_r, v_c, known, build, body, oil, now)
    s_r, s_c, a = m_r / v_r, m_c / v_c, known[A]
    # a turbulent mass flow goes with the square root of density: what `dense` is for
    dense_r, dense_c, dense_base = 0.0, 0.0, 0.0
    dp = now[PR] - now[PC]
    if dp >= 0.0:
        q, slope = passed(dp, 0, 1, valves, rho * s_r, mu, cd, known)
        now[Q_PISTON], gain, dense_r = s_r * q, s_r * slope, 0.5 * q / v_r
    else:
        q, slope = passed(-dp, 1, 0, valves, rho * s_c, mu, cd, known)
        now[Q_PISTON], gain, dense_c = -s_c * q, s_c * slope, -0.5 * q / v_c
    dp = now[PG] - now[PC]
    if dp >= 0.0:
        s_in = known[SHARE_0] * (1.0 - known[DRAWN])
        q, slope = passed(dp, 3, 2, valves, rho * s_in, mu, cd, known)
        now[Q_BASE], base_gain = s_in * q, s_in * slope
    else:
        q, slope = passed(-dp, 2, 3, valves, rho * s_c, mu, cd, known)
        now[Q_BASE], base_gain, dense_base = -s_c * q, s_c * slope, -0.5 * q / v_c
    piston_r, piston_c = gain * (now[PR_SLOPE] - now[PC_BY_R]) + dense_r, dense_c - gain * now[PC_SLOPE]
    base_r = base_gain * (now[PG_SLOPE] - now[PC_BY_R])
    base_c = base_gain * (now[PG_SLOPE] - now[PC_SLOPE]) + dense_base
    now[R_R] = m_r - known[B_R] + a * now[Q_PISTON]
    now[R_C] = m_c - known[B_C] - a * (now[Q_PISTON] + now[Q_BASE])
    now[JRR], now[JRC] = 1.0 + a * piston_r, a * piston_c
    now[JCR], now[JCC] = -a * (piston_r + base_r), 1.0 - a * (piston_c + base_c)
    if known[HAS_MOUNT] != 0.0:
        sag_r, sag_c = s_r * ring, s_c * piston  # -d s_r V_r/d sag, d s_c V_c/d sag: the piston moves in as mounts sag
        through = -gain * (now[PR_SLOPE] * sag_r + now[PC_SLOPE] * sag_c) - dense_r * sag_r + dense_c * sag_c
        now[JRM] = a * through
        now[JCM] = -a * (through + (dense_base - base_gain * now[PC_SLOPE]) * sag_c)
        mount(x, sag, now[PR_SLOPE] * sag_r, now[PC_SLOPE] * sag_c, known, build, body, now)


@njit("b1(f8[::1])")
def late(body: Row) -> bool:
    """Whether a valve of this damper follows the pressure late."""
    return bool(body[LAG] + body[LAG + 1] + body[LAG + 2] + body[LAG + 3] > 0.0)


@njit("f8(f8, f8, f8)")
def squared(a: float, b: float, c: float) -> float:
    """Sum of squares, infinity in place of what is no number: what a search compares."""
    total = a * a + b * b + c * c
    return total if math.isfinite(total) else math.inf
