"""A damper driven through a prescribed motion: start at rest, steps, cycles until they repeat, many builds."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.dynamic_balance import (
    B_C,
    B_R,
    CARRIED,
    DRAWN,
    FOUND,
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
from firstoff.physics.dynamic_kernel import (
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
from firstoff.physics.dynamic_state import (
    FEED_OIL,
    MOUNT_RATE,
    N_GAS,
    POCKET_C,
    POCKET_R,
    RESERVE_OIL,
    SPAN,
    TILT,
    V_COMPRESSION,
    V_GAS,
    V_REBOUND,
    friction_force,
    gas_share,
    oil_share,
    reserve_pressure,
    stop_force,
)
from firstoff.physics.jit import njit
from firstoff.physics.mixture import COMPRESSIBILITY, EXPONENT, GAS, P_REF
from firstoff.physics.motion import GAMMA
from firstoff.physics.status import CAVITATING, NO_VALUE, NOT_CONVERGED, OK, OUT_OF_RANGE
from firstoff.physics.twin_tube_kernel import (
    FRICTION,
    LEAK,
    P_ATM,
    P_CAVITATION,
    P_GAS,
    P_VAPOUR,
    PISTON,
    ROD,
    SANE_PRESSURE,
    usable,
)
from firstoff.physics.valve import BLEED

Row = npt.NDArray[np.float64]
# rows of a trace
FORCE, P_R, P_C, P_G, FLOW_PISTON, FLOW_BASE, TRAVEL, RUBBING, OIL_R, OIL_C, GAS_R, GAS_C = range(12)
TRACED: Final = 12
WORK: Final = 7  # rows of scratch
FORCE_STEP: Final = 0.05  # N, and
TRAVEL_STEP: Final = 1e-6  # m: what two cycles may differ by and still be called the same
RUNS_OUT: Final = 0.02  # of a volume at mid-stroke: less of it, and the motion does not fit the damper


@njit("f8(f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1])")
def start(x: float, build: Row, body: Row, oil: Row, known: Row, y: Row) -> float:
    """A damper that has stood at travel x: one pressure everywhere, no friction, pockets of gas where they are told.

    Fills the state y and what `known` keeps over the whole run; returns the pressure. That of the build's row is the one
    at mid-stroke.
    """
    y[:] = 0.0
    known[SHARE_0] = oil_share(build[P_GAS], oil[GAS], oil)
    known[SUM_0] = (body[V_REBOUND] + body[V_COMPRESSION]) * known[SHARE_0]
    known[HAS_MOUNT] = 1.0 if body[MOUNT_RATE] > 0.0 else 0.0
    known[HAS_LAG] = 1.0 if late(body) else 0.0
    known[HAS_GAS] = 1.0 if body[FEED_OIL] > 0.0 or body[POCKET_R] + body[POCKET_C] > 0.0 else 0.0
    ring, whole = build[PISTON] - build[ROD], body[V_GAS] * build[P_GAS] / P_REF
    p = build[P_GAS]
    for _ in range(60):
        at = x - y[SAG]
        s, free = oil_share(p, oil[GAS], oil), 1.0 + oil[COMPRESSIBILITY] * (p - P_REF)
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
    return p


@njit("void(f8[::1], f8[::1], f8[::1], f8[::1])")
def draw(y: Row, body: Row, known: Row, now: Row) -> None:
    """What the intake draws while the reserve tube holds so little oil: DRAWN by volume, SHARE_IN by amount of gas."""
    known[DRAWN] = gas_share(body[RESERVE_OIL] - (y[M_R] + y[M_C] - known[SUM_0]) / known[SHARE_0], body)
    known[SHARE_IN] = known[DRAWN] / (1.0 - known[DRAWN]) / known[SHARE_0] * now[PG] / P_REF


@njit("void(i8, f8, f8, f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[:, ::1])")
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


@njit(
    "i8(i8, i8, f8[::1], f8[::1], f8[::1], f8[::1], f8[:, ::1], f8[::1], f8[::1], f8, f8[:, ::1], f8[::1], f8[:, ::1])"
)
def advance(
    first: int, last: int, time: Row, travel: Row, between: Row, build: Row, valves: Row, body: Row, oil: Row,
    tolerance: float, work: Row, known: Row, trace: Row,
) -> int:  # fmt: skip
    """Steps from grid point `first` to `last`, from the state that `work` and `trace` hold there; unconverged stages.

    TR-BDF2 with gamma = 2 - sqrt 2: trapezium to the inner point, second-order backward difference to the end; second
    order, L-stable, one coefficient a = gamma h/2 in both stages. Guesses by extrapolating s = m/V, which follows
    pressure. Source: Bank et al. 1985; Hosea and Shampine 1996.
    """
    y, z, rate, u, now, before = work[0, :STATE], work[1, :STATE], work[2, :STATE], work[3, :3], work[4], work[5]
    ring, piston, failed = build[PISTON] - build[ROD], build[PISTON], 0
    extras = known[HAS_GAS] + known[HAS_LAG] + known[HAS_MOUNT] != 0.0
    for i in range(first, last):
        h = time[i + 1] - time[i]
        a, at = HALF * h, trace[TRAVEL, i]
        s_r, s_c = y[M_R] / (body[V_REBOUND] - ring * at), y[M_C] / (body[V_COMPRESSION] + piston * at)
        known[X_BEFORE], known[RUBBED] = at, trace[RUBBING, i]
        if known[HAS_GAS] != 0.0:
            draw(y, body, known, now)
        # first stage
        prepare_stage(a, between[i], 0.0, y, y, rate, known)
        if extras:
            prepare_extras(a, 0.0, y, y, rate, known, body)
        x, ahead = between[i] - y[SAG], GAMMA * h / before[2] if before[2] > 0.0 else 0.0
        v_r, v_c = body[V_REBOUND] - ring * x, body[V_COMPRESSION] + piston * x
        u[0] = v_r * max(s_r + ahead * (s_r - before[0]), 0.5 * s_r)
        u[1] = v_c * max(s_c + ahead * (s_c - before[1]), 0.5 * s_c)
        u[2] = y[SAG]
        failed += solve_stage(u, known, build, valves, body, oil, tolerance, now)
        close_stage(a, u, known, body, oil, now, z, rate)
        # second stage
        prepare_stage(a, travel[i + 1], TO_STAGE - 1.0, y, z, rate, known)
        if extras:
            prepare_extras(a, TO_STAGE - 1.0, y, z, rate, known, body)
        x = between[i] - z[SAG]
        t_r, t_c = z[M_R] / (body[V_REBOUND] - ring * x), z[M_C] / (body[V_COMPRESSION] + piston * x)
        x = travel[i + 1] - z[SAG]
        v_r, v_c = body[V_REBOUND] - ring * x, body[V_COMPRESSION] + piston * x
        u[0] = v_r * max(t_r + (t_r - s_r) * (1.0 / GAMMA - 1.0), 0.5 * t_r)
        u[1] = v_c * max(t_c + (t_c - s_c) * (1.0 / GAMMA - 1.0), 0.5 * t_c)
        failed += solve_stage(u, known, build, valves, body, oil, tolerance, now)
        close_stage(a, u, known, body, oil, now, y, rate)
        before[0], before[1], before[2] = s_r, s_c, h
        record(i + 1, travel[i + 1], at, known[RUBBED], y, rate, build, now, body, trace)
    return failed


@njit("b1(f8[::1], f8[::1], f8, f8[::1])")
def fits(travel: Row, build: Row, compressibility: float, body: Row) -> bool:
    """Whether the damper has room for the motion: oil left in both chambers, gas left in the reserve tube."""
    for k in range(body.size):
        if not (body[k] >= 0.0 and math.isfinite(body[k])):
            return False
    if not (body[V_REBOUND] > 0.0 and body[V_COMPRESSION] > 0.0 and body[V_GAS] > 0.0 and body[N_GAS] >= 1.0):
        return False
    if not (compressibility > 0.0 and (body[TILT] == 0.0 or body[SPAN] > 0.0)):
        return False
    most, least = travel.max(), travel.min()
    left_r = body[V_REBOUND] - (build[PISTON] - build[ROD]) * most
    left_c = body[V_COMPRESSION] + build[PISTON] * least
    gas = body[V_GAS] + build[ROD] * least
    return bool(
        left_r > RUNS_OUT * body[V_REBOUND] + body[POCKET_R]
        and left_c > RUNS_OUT * body[V_COMPRESSION] + body[POCKET_C]
        and gas > 2.0 * RUNS_OUT * body[V_GAS] + body[POCKET_R] + body[POCKET_C]
    )


@njit("Tuple((i8, i8, b1))(f8[::1], f8[::1], f8[::1], b1, i8, f8, f8[::1], f8[:, ::1], f8[::1], f8[::1], f8[:, ::1], f8[:, ::1])")
def drive(
    time: Row, travel: Row, between: Row, periodic: bool, most_cycles: int, tolerance: float,
    build: Row, valves: Row, body: Row, oil: Row, work: Row, trace: Row,
) -> tuple[int, int, bool]:  # fmt: skip
    """One build through one motion; of a periodic one the cycle that repeats itself.

    A periodic motion begins at rest at the middle of its cycle, so that the first full cycle has half a cycle to swing
    in; cycles are run until the state at the end is that at the beginning: force within FORCE_STEP, oil within
    TRAVEL_STEP of piston travel. Fills trace (TRACED, k + 1). Returns unconverged stages of the last cycle, cycles run
    (the half one counts), and whether they repeat.
    """
    steps = time.size - 1
    y, now, known = work[0, :STATE], work[4], work[6]
    work[:, :] = 0.0
    begin = steps // 2 if periodic else 0
    now[PR] = now[PC] = now[PG] = start(travel[begin], build, body, oil, known, y)
    ring, piston = build[PISTON] - build[ROD], build[PISTON]
    trace[:, begin] = 0.0
    record(begin, travel[begin], travel[begin] - y[SAG], 0.0, y, work[2, :STATE], build, now, body, trace)
    failed = advance(begin, steps, time, travel, between, build, valves, body, oil, tolerance, work, known, trace)
    if not periodic:
        return failed, 1, True
    for cycle in range(2, most_cycles + 1):
        trace[:, 0] = trace[:, steps]
        failed = advance(0, steps, time, travel, between, build, valves, body, oil, tolerance, work, known, trace)
        force = abs(trace[P_R, 0] - trace[P_R, steps]) * ring + abs(trace[P_C, 0] - trace[P_C, steps]) * piston
        oil_r = abs(trace[OIL_R, 0] - trace[OIL_R, steps])
        oil_c = abs(trace[OIL_C, 0] - trace[OIL_C, steps])
        if force <= FORCE_STEP and oil_r <= TRAVEL_STEP * ring and oil_c <= TRAVEL_STEP * piston:
            return failed, cycle, True
    return failed, most_cycles, False


@njit("void(f8[::1], f8[:, ::1], f8[:, ::1])")
def with_leak(build: Row, valves: Row, own: Row) -> None:
    """Valves with the leak past the piston in the bleed of both its valves."""
    own[:, :] = valves
    own[0, BLEED] += build[LEAK]
    own[1, BLEED] += build[LEAK]


@njit(
    "Tuple((i8, i8, i8))(f8[::1], f8[::1], f8[::1], b1, i8, f8, f8[::1], f8[:, ::1], f8[::1], f8[::1], f8[:, ::1],"
    "f8[:, ::1])"
)
def one_run(
    time: Row, travel: Row, between: Row, periodic: bool, most_cycles: int, tolerance: float,
    build: Row, valves: Row, body: Row, oil: Row, work: Row, trace: Row,
) -> tuple[int, int, int]:  # fmt: skip
    """`drive` for numbers that make a damper, and what is to be said of the result: cycles, unconverged, status."""
    if not (usable(build, valves, oil) and fits(travel, build, oil[COMPRESSIBILITY], body)):
        trace[:, :] = math.nan
        return 0, 0, OUT_OF_RANGE | NO_VALUE
    failed, cycles, repeats = drive(
        time, travel, between, periodic, most_cycles, tolerance, build, valves, body, oil, work, trace
    )
    state, total, least, most = OK, 0.0, math.inf, 0.0
    for k in range(time.size):
        total += trace[FORCE, k]
        low, high = min(trace[P_R, k], trace[P_C, k]), max(trace[P_R, k], trace[P_C, k])
        least, most = min(least, low), max(most, high)
    if not math.isfinite(total):
        trace[:, :] = math.nan
        return cycles, failed, OUT_OF_RANGE | NOT_CONVERGED | NO_VALUE
    if failed or not repeats:
        state |= NOT_CONVERGED
    if least < build[P_CAVITATION] or least <= build[P_VAPOUR]:
        state |= CAVITATING
    if most > SANE_PRESSURE:
        state |= OUT_OF_RANGE
    return cycles, failed, state


@njit(
    "void(f8[:, ::1], f8[:, ::1], f8[:, ::1], b1, i8, f8, f8[:, ::1], f8[:, :, ::1], f8[:, ::1], f8[:, ::1],"
    "f8[:, :, :, ::1], i8[:, ::1], i8[:, ::1], u1[::1])"
)
def trace_kernel(
    time: Row, travel: Row, between: Row, periodic: bool, most_cycles: int, tolerance: float,
    builds: Row, valves: Row, bodies: Row, oils: Row,
    traces: Row, cycles: npt.NDArray[np.int64], unconverged: npt.NDArray[np.int64], status: npt.NDArray[np.uint8],
) -> None:  # fmt: skip
    """Traces (n, r, TRACED, k + 1) of n builds through r motions, one after the other; a build without a value: nan."""
    work, own = np.zeros((WORK, CARRIED)), np.empty(valves.shape[1:])
    for i in range(builds.shape[0]):
        status[i] = OK
        with_leak(builds[i], valves[i], own)
        for j in range(time.shape[0]):
            cycles[i, j], unconverged[i, j], state = one_run(
                time[j], travel[j], between[j], periodic, most_cycles, tolerance, builds[i], own, bodies[i], oils[i],
                work, traces[i, j],
            )  # fmt: skip
            status[i] |= state
