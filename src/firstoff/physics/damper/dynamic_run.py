"""A damper driven through a prescribed motion: start at rest, implicit steps, the trace they leave."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.dynamic_balance import (
    BUBBLES,
    DRAWN,
    HAS_GAS,
    HAS_LAG,
    HAS_MOUNT,
    PC,
    PG,
    PR,
    RUBBED,
    SHARE_0,
    SHARE_IN,
    SUM_0,
    X_BEFORE,
    late,
)
from firstoff.physics.damper.dynamic_kernel import (
    G_C,
    G_R,
    HALF,
    M_C,
    M_R,
    SAG,
    STATE,
    TO_STAGE,
    close_stage,
    prepare_extras,
    prepare_stage,
    solve_stage,
)
from firstoff.physics.damper.dynamic_state import (
    FEED_OIL,
    MOUNT_RATE,
    N_GAS,
    POCKET_C,
    POCKET_R,
    RESERVE_OIL,
    RUNS_OUT,
    V_COMPRESSION,
    V_GAS,
    V_REBOUND,
    friction_force,
    gas_share,
    oil_share,
    reserve_pressure,
    stop_force,
)
from firstoff.physics.damper.mixture import COMPRESSIBILITY, EXPONENT, GAS, P_REF
from firstoff.physics.damper.twin_tube_kernel import (
    FRICTION,
    P_ATM,
    P_GAS,
    PISTON,
    ROD,
)
from firstoff.physics.jit import njit

Row = npt.NDArray[np.float64]
# rows of a trace
FORCE, P_R, P_C, P_G, FLOW_PISTON, FLOW_BASE, TRAVEL, RUBBING, OIL_R, OIL_C, GAS_R, GAS_C = range(12)
TRACED: Final = 12
# weights of quadratic guesses: from -1, gamma - 1, 0 to gamma, and from gamma - 1, 0, gamma to 1, in steps
INNER: Final = 1.0 + 2.0 * math.sqrt(2.0)  # 1, -INNER, INNER
LAST: Final = 1.0 + math.sqrt(2.0)  # 1, -LAST, LAST


@njit("f8(f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1])")
def start(x: float, build: Row, body: Row, oil: Row, known: Row, y: Row) -> float:
    """A damper that has stood at travel x: one pressure everywhere, no friction, pockets of gas where they are told.

    Fills the state y and what `known` keeps over the whole run; returns the pressure. That of the build's row is the
    one at mid-stroke.
    """
    y[:] = 0.0
    known[BUBBLES] = oil[GAS] / (1.0 - oil[GAS])
    known[SHARE_0] = oil_share(build[P_GAS], known[BUBBLES], oil)
    known[SUM_0] = (body[V_REBOUND] + body[V_COMPRESSION]) * known[SHARE_0]
    known[HAS_MOUNT] = 1.0 if body[MOUNT_RATE] > 0.0 else 0.0
    known[HAS_LAG] = 1.0 if late(body) else 0.0
    known[HAS_GAS] = 1.0 if body[FEED_OIL] > 0.0 or body[POCKET_R] + body[POCKET_C] > 0.0 else 0.0
    ring, whole = build[PISTON] - build[ROD], body[V_GAS] * build[P_GAS] / P_REF
    p = build[P_GAS]
    for _ in range(60):
        at = x - y[SAG]
        s, free = oil_share(p, known[BUBBLES], oil), 1.0 + oil[COMPRESSIBILITY] * (p - P_REF)
        y[M_R] = (body[V_REBOUND] - ring * at - body[POCKET_R]) * s
        y[M_C] = (body[V_COMPRESSION] + build[PISTON] * at - body[POCKET_C]) * s
        packed = (P_REF / p) ** (1.0 / oil[EXPONENT])
        y[G_R], y[G_C] = body[POCKET_R] * free / packed, body[POCKET_C] * free / packed
        room = (body[V_GAS] + (y[M_R] + y[M_C] - known[SUM_0]) / known[SHARE_0]) / body[V_GAS]
        left = max(1.0 - (y[G_R] + y[G_C]) / whole, RUNS_OUT)
        new, _ = reserve_pressure(build[P_GAS], max(room, RUNS_OUT) / left, body[N_GAS])
        if known[HAS_MOUNT] != 0.0:
            push = (build[P_ATM] - new) * build[ROD] + stop_force(at, body)[0]
            y[SAG] += 0.5 * (push / body[MOUNT_RATE] - y[SAG])
        if abs(new - p) <= 1e-15 * p and known[HAS_MOUNT] == 0.0:
            break
        p = new
    return float(p)


@njit("void(f8[::1], f8[::1], f8[::1], f8[::1])")
def draw(y: Row, body: Row, known: Row, now: Row) -> None:
    """What the intake draws while the reserve tube holds so little oil: DRAWN by volume, SHARE_IN by amount of gas."""
    known[DRAWN] = gas_share(body[RESERVE_OIL] - (y[M_R] + y[M_C] - known[SUM_0]) / known[SHARE_0], body)
    known[SHARE_IN] = known[DRAWN] / (1.0 - known[DRAWN]) / known[SHARE_0] * now[PG] / P_REF


@njit("void(i8, f8, f8, f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[:, ::1])", inline=True)
def record(
    i: int, x: float, x_before: float, before: float, y: Row, rate: Row, build: Row, now: Row, body: Row, trace: Row
) -> None:
    """Write the state at grid point i; friction goes on from that `before`, at travel x_before."""
    at = x - y[SAG]
    rub = friction_force(before, x_before, at, build[FRICTION], body)[0]
    trace[FORCE, i] = (
        now[PR] * (build[PISTON] - build[ROD]) - now[PC] * build[PISTON] + build[P_ATM] * build[ROD]
        + rub + stop_force(at, body)[0]
    )  # fmt: skip
    trace[P_R, i], trace[P_C, i], trace[P_G, i] = now[PR], now[PC], now[PG]
    trace[FLOW_PISTON, i], trace[FLOW_BASE, i] = -rate[M_R], rate[M_R] + rate[M_C]
    trace[TRAVEL, i], trace[RUBBING, i] = at, rub
    trace[OIL_R, i], trace[OIL_C, i], trace[GAS_R, i], trace[GAS_C, i] = y[M_R], y[M_C], y[G_R], y[G_C]


@njit("f8(f8, f8, f8, f8)", inline=True)
def guess(first: float, second: float, third: float, weight: float) -> float:
    """Quadratic extrapolation of three shares of oil, kept above half the last one."""
    return float(max(first + weight * (third - second), 0.5 * third))


@njit("i8(i8, i8, f8[:, ::1], f8[::1], f8[:, ::1], f8[::1], f8[::1], f8, f8[:, ::1], f8[::1], f8[:, ::1])")
def advance(
    first: int, last: int, path: Row, build: Row, valves: Row, body: Row, oil: Row, tolerance: float, work: Row,
    known: Row, trace: Row,
) -> int:  # fmt: skip
    """Steps from grid point `first` to `last`, from the state that `work` and `trace` hold there; unconverged stages.

    TR-BDF2 with gamma = 2 - sqrt 2: trapezium to the inner point, second-order backward difference to the end; second
    order, L-stable, one coefficient a = gamma h/2 in both stages. Guesses by extrapolating s = m/V, which follows
    pressure. Source: Bank et al. 1985; Hosea and Shampine 1996.
    """
    y, z, rate, u, now, before = work[0, :STATE], work[1, :STATE], work[2, :STATE], work[3, :3], work[4], work[5]
    ring, piston, failed = build[PISTON] - build[ROD], build[PISTON], 0
    time, travel, between = path[0], path[1], path[2]
    extras = known[HAS_GAS] + known[HAS_LAG] + known[HAS_MOUNT] != 0.0
    for i in range(first, last):
        h = time[i + 1] - time[i]
        a, at = HALF * h, trace[TRAVEL, i]
        s_r, s_c = y[M_R] / (body[V_REBOUND] - ring * at), y[M_C] / (body[V_COMPRESSION] + piston * at)
        even = abs(h - before[4]) < 1e-9 * h
        known[X_BEFORE], known[RUBBED] = at, trace[RUBBING, i]
        if known[HAS_GAS] != 0.0:
            draw(y, body, known, now)
        gone, to_go = between[i] - travel[i], travel[i + 1] - between[i]
        # first stage
        prepare_stage(a, between[i], 0.0, gone - a * (path[3, i] + path[4, i]), y, y, rate, build, known)
        if extras:
            prepare_extras(a, 0.0, y, y, rate, known, body)
        x = between[i] - y[SAG]
        v_r, v_c = body[V_REBOUND] - ring * x, body[V_COMPRESSION] + piston * x
        u[0] = v_r * (guess(before[0], before[2], s_r, INNER) if even else s_r)
        u[1] = v_c * (guess(before[1], before[3], s_c, INNER) if even else s_c)
        u[2] = y[SAG]
        failed += solve_stage(u, known, build, valves, body, oil, tolerance, now)
        close_stage(a, u, known, body, oil, now, z, rate)
        # second stage
        old = TO_STAGE - 1.0
        prepare_stage(a, travel[i + 1], old, to_go - old * gone - a * path[5, i], y, z, rate, build, known)
        if extras:
            prepare_extras(a, old, y, z, rate, known, body)
        x = between[i] - z[SAG]
        t_r, t_c = z[M_R] / (body[V_REBOUND] - ring * x), z[M_C] / (body[V_COMPRESSION] + piston * x)
        x = travel[i + 1] - z[SAG]
        v_r, v_c = body[V_REBOUND] - ring * x, body[V_COMPRESSION] + piston * x
        u[0] = v_r * (guess(before[2], s_r, t_r, LAST) if even else t_r)
        u[1] = v_c * (guess(before[3], s_c, t_c, LAST) if even else t_c)
        failed += solve_stage(u, known, build, valves, body, oil, tolerance, now)
        close_stage(a, u, known, body, oil, now, y, rate)
        before[0], before[1], before[2], before[3], before[4] = s_r, s_c, t_r, t_c, h
        record(i + 1, travel[i + 1], at, known[RUBBED], y, rate, build, now, body, trace)
    return failed
