"""A damper driven through cycles until they repeat, and the loop over builds and motions."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.dynamic_balance import CARRIED, PC, PG, PR
from firstoff.physics.damper.dynamic_kernel import SAG, STATE
from firstoff.physics.damper.dynamic_run import FORCE, OIL_C, OIL_R, P_C, P_R, Row, advance, record, start
from firstoff.physics.damper.dynamic_state import (
    N_GAS,
    POCKET_C,
    POCKET_R,
    RUNS_OUT,
    SPAN,
    TILT,
    V_COMPRESSION,
    V_GAS,
    V_REBOUND,
)
from firstoff.physics.damper.mixture import COMPRESSIBILITY
from firstoff.physics.damper.twin_tube_kernel import LEAK, P_CAVITATION, P_VAPOUR, PISTON, ROD, SANE_PRESSURE, usable
from firstoff.physics.damper.valve import BLEED
from firstoff.physics.jit import njit
from firstoff.physics.status import CAVITATING, NO_VALUE, NOT_CONVERGED, OK, OUT_OF_RANGE

WORK: Final = 7  # rows of scratch
FORCE_STEP: Final = 0.05  # N, and
TRAVEL_STEP: Final = 1e-6  # m: what two cycles may differ by and still be called the same


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


@njit("Tuple((i8, i8, b1))(f8[:, ::1], b1, i8, f8, f8[::1], f8[:, ::1], f8[::1], f8[::1], f8[:, ::1], f8[:, ::1])")
def drive(
    path: Row, periodic: bool, most_cycles: int, tolerance: float,
    build: Row, valves: Row, body: Row, oil: Row, work: Row, trace: Row,
) -> tuple[int, int, bool]:  # fmt: skip
    """One build through one motion; of a periodic one the cycle that repeats itself.

    A periodic motion begins at rest at the middle of its cycle, so that the first full cycle has half a cycle to swing
    in; cycles are run until the state at the end is that at the beginning: force within FORCE_STEP, oil within
    TRAVEL_STEP of piston travel. Fills trace (TRACED, k + 1). Returns unconverged stages of the last cycle, cycles run
    (the half one counts), and whether they repeat.
    """
    travel, steps = path[1], path.shape[1] - 1
    y, now, known = work[0, :STATE], work[4], work[6]
    work[:, :] = 0.0
    begin = steps // 2 if periodic else 0
    now[PR] = now[PC] = now[PG] = start(travel[begin], build, body, oil, known, y)
    ring, piston = build[PISTON] - build[ROD], build[PISTON]
    trace[:, begin] = 0.0
    record(begin, travel[begin], travel[begin] - y[SAG], 0.0, y, work[2, :STATE], build, now, body, trace)
    failed = advance(begin, steps, path, build, valves, body, oil, tolerance, work, known, trace)
    if not periodic:
        return failed, 1, True
    for cycle in range(2, most_cycles + 1):
        trace[:, 0] = trace[:, steps]
        failed = advance(0, steps, path, build, valves, body, oil, tolerance, work, known, trace)
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


@njit("Tuple((i8, i8, i8))(f8[:, ::1], b1, i8, f8, f8[::1], f8[:, ::1], f8[::1], f8[::1], f8[:, ::1], f8[:, ::1])")
def one_run(
    path: Row, periodic: bool, most_cycles: int, tolerance: float,
    build: Row, valves: Row, body: Row, oil: Row, work: Row, trace: Row,
) -> tuple[int, int, int]:  # fmt: skip
    """`drive` for numbers that make a damper, and what is to be said of the result: cycles, unconverged, status."""
    if not (usable(build, valves, oil) and fits(path[1], build, oil[COMPRESSIBILITY], body)):
        trace[:, :] = math.nan
        return 0, 0, OUT_OF_RANGE | NO_VALUE
    failed, cycles, repeats = drive(path, periodic, most_cycles, tolerance, build, valves, body, oil, work, trace)
    state, total, least, most = OK, 0.0, math.inf, 0.0
    for k in range(path.shape[1]):
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
    "void(f8[:, :, ::1], b1, i8, f8, f8[:, ::1], f8[:, :, ::1], f8[:, ::1], f8[:, ::1],"
    "f8[:, :, :, ::1], i8[:, ::1], i8[:, ::1], u1[::1])"
)
def trace_kernel(
    paths: Row, periodic: bool, most_cycles: int, tolerance: float,
    builds: Row, valves: Row, bodies: Row, oils: Row,
    traces: Row, cycles: npt.NDArray[np.int64], unconverged: npt.NDArray[np.int64], status: npt.NDArray[np.uint8],
) -> None:  # fmt: skip
    """Traces (n, r, TRACED, k + 1) of n builds through r motions, one after the other; a build without a value: nan."""
    work, own = np.zeros((WORK, CARRIED)), np.empty(valves.shape[1:])
    for i in range(builds.shape[0]):
        status[i] = OK
        with_leak(builds[i], valves[i], own)
        for j in range(paths.shape[0]):
            cycles[i, j], unconverged[i, j], state = one_run(
                paths[j], periodic, most_cycles, tolerance, builds[i], own, bodies[i], oils[i], work, traces[i, j]
            )
            status[i] |= state
