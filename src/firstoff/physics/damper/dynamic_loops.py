"""Force loops of many builds: each is driven through its motion and reduced at once, so that no trace is kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.dynamic import MOST_CYCLES, TOLERANCE, IntArray, full_rows
from firstoff.physics.damper.dynamic_balance import CARRIED
from firstoff.physics.damper.dynamic_drive import WORK, one_run, with_leak
from firstoff.physics.damper.dynamic_run import FORCE, P_C, P_R, TRACED
from firstoff.physics.damper.loop import LOOP_FIELDS, loop_numbers
from firstoff.physics.damper.motion import Motion
from firstoff.physics.jit import njit
from firstoff.physics.status import NO_VALUE, OK

FloatArray = npt.NDArray[np.float64]
Row = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Loops:
    """Numbers of n builds in r motions."""

    numbers: dict[str, FloatArray]  # LOOP_FIELDS, (n, r) each
    lowest_pressure: FloatArray  # Pa absolute of either chamber (n, r)
    cycles: IntArray  # (n, r)
    unconverged: IntArray  # (n, r)
    status: npt.NDArray[np.uint8]  # (n,)


@njit(
    "void(f8[:, :, ::1], f8[:, ::1], i8, f8, f8[:, ::1], f8[:, :, ::1], f8[:, ::1], f8[:, ::1], f8[::1], f8,"
    "f8[:, :, ::1], f8[:, ::1], i8[:, ::1], i8[:, ::1], u1[::1])"
)
def loops_kernel(
    paths: Row, speed: Row, most_cycles: int, tolerance: float, builds: Row, valves: Row, bodies: Row, oils: Row,
    places: Row, share: float, numbers: Row, lowest: Row, cycles: npt.NDArray[np.int64],
    unconverged: npt.NDArray[np.int64], status: npt.NDArray[np.uint8],
) -> None:  # fmt: skip
    """LOOP_FIELDS (n, r, 13) of n builds in r periodic motions, one after the other."""
    work, own, trace = np.zeros((WORK, CARRIED)), np.empty(valves.shape[1:]), np.empty((TRACED, paths.shape[2]))
    for i in range(builds.shape[0]):
        status[i] = OK
        with_leak(builds[i], valves[i], own)
        for j in range(paths.shape[0]):
            cycles[i, j], unconverged[i, j], state = one_run(
                paths[j], True, most_cycles, tolerance, builds[i], own, bodies[i], oils[i], work, trace
            )
            status[i] |= state
            if state & NO_VALUE:
                numbers[i, j, :], lowest[i, j] = np.nan, np.nan
                continue
            lowest[i, j] = min(trace[P_R].min(), trace[P_C].min())
            loop_numbers(paths[j, 0], paths[j, 1], speed[j], trace[FORCE], places, share, numbers[i, j])


def loops(
    motion: Motion, builds: FloatArray, valves: FloatArray, oils: FloatArray, bodies: FloatArray,
    places: tuple[float, float] = (0.0, 0.0), share: float = 0.5, tolerance: float = TOLERANCE,
    most_cycles: int = MOST_CYCLES,
) -> Loops:  # fmt: skip
    """Drive n builds through r periodic motions and reduce each settled cycle; arguments as in `dynamic.trace`.

    places: inner and outer travel [m] for friction and force at rest; share of the peak speed for the hysteresis.
    """
    if not motion.periodic:
        raise ValueError("a loop needs a periodic motion")
    parts = full_rows(builds, valves, oils, bodies)
    n, r = len(parts[0]), motion.runs
    numbers, lowest = np.full((n, r, len(LOOP_FIELDS)), np.nan), np.full((n, r), np.nan)
    cycles, unconverged, status = np.zeros((n, r), np.int64), np.zeros((n, r), np.int64), np.zeros(n, np.uint8)
    loops_kernel(
        motion.paths, motion.speed, most_cycles, tolerance, parts[0], parts[1], parts[3], parts[2],
        np.array(places, dtype=np.float64), share, numbers, lowest, cycles, unconverged, status,
    )  # fmt: skip
    named = {name: numbers[:, :, i] for i, name in enumerate(LOOP_FIELDS)}
    return Loops(named, lowest, cycles, unconverged, status)


def cavitation_onset(speeds: FloatArray, lowest: FloatArray, threshold: float) -> FloatArray:
    """Peak speed (n,) at which a chamber first falls to the threshold pressure, linear between those that were run.

    speeds (r,) [m/s] ascending; lowest (n, r) [Pa absolute] of `Loops`. Infinity when none does, the first speed when
    that already does; nan for a build without a value.
    """
    v, p = np.asarray(speeds, dtype=np.float64), np.asarray(lowest, dtype=np.float64)
    if v.ndim != 1 or p.shape[1:] != v.shape or not np.all(np.diff(v) > 0.0):
        raise ValueError("speeds must ascend, with one column of pressures for each")
    below = p <= threshold
    found = np.full(len(p), np.inf)
    for i in np.flatnonzero(below.any(axis=1)):
        j = int(np.argmax(below[i]))
        share = (p[i, j - 1] - threshold) / (p[i, j - 1] - p[i, j]) if j else 0.0
        found[i] = v[j - 1] + share * (v[j] - v[j - 1]) if j else v[0]
    found[np.isnan(p).any(axis=1)] = np.nan
    return found
