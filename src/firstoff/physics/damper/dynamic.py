"""A twin-tube damper in motion: force and pressures over time, for one build or many, through one motion or many.

The oil of each chamber and the gas in the reserve tube are kept in balance; pressures follow from them. Travel and
speed > 0 are rebound, force > 0 is tension, pressures are absolute. The valves are those of the quasi-static curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.dynamic_drive import trace_kernel
from firstoff.physics.damper.dynamic_run import (
    FLOW_BASE,
    FLOW_PISTON,
    FORCE,
    GAS_C,
    GAS_R,
    OIL_C,
    OIL_R,
    P_C,
    P_G,
    P_R,
    RUBBING,
    TRACED,
    TRAVEL,
)
from firstoff.physics.damper.dynamic_state import BODY_FIELDS
from firstoff.physics.damper.mixture import OIL_FIELDS
from firstoff.physics.damper.motion import Motion
from firstoff.physics.damper.twin_tube_kernel import BUILD_FIELDS
from firstoff.physics.damper.valve import VALVE_FIELDS

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
TOLERANCE: Final = 20.0  # Pa, of a chamber's pressure in one step: 0.02 N on a piston of 32 mm
MOST_CYCLES: Final = 60


@dataclass(frozen=True)
class Trace:
    """What n builds did in r motions of k steps, SI; every row (n, r, k + 1)."""

    motion: Motion
    rows: FloatArray  # (n, r, rows, k + 1), in the order of `dynamic_run`
    cycles: IntArray  # (n, r), until a periodic motion repeats itself
    unconverged: IntArray  # (n, r), stages of the last cycle that Newton's search left unfinished
    status: npt.NDArray[np.uint8]  # (n,)

    @property
    def force(self) -> FloatArray:
        """N."""
        return self.rows[:, :, FORCE]

    @property
    def p_rebound(self) -> FloatArray:
        """Pa absolute, as the next two."""
        return self.rows[:, :, P_R]

    @property
    def p_compression(self) -> FloatArray:
        return self.rows[:, :, P_C]

    @property
    def p_gas(self) -> FloatArray:
        return self.rows[:, :, P_G]

    @property
    def flow_piston(self) -> FloatArray:
        """m3/s of oil at P_REF, from rebound to compression chamber."""
        return self.rows[:, :, FLOW_PISTON]

    @property
    def flow_base(self) -> FloatArray:
        """m3/s of oil at P_REF, from reserve to compression chamber."""
        return self.rows[:, :, FLOW_BASE]

    @property
    def travel(self) -> FloatArray:
        """m, of the piston: the motion's less what the mounts give."""
        return self.rows[:, :, TRAVEL]

    @property
    def friction(self) -> FloatArray:
        """N, part of the force."""
        return self.rows[:, :, RUBBING]

    @property
    def oil_rebound(self) -> FloatArray:
        """m3 of oil at P_REF, as the next."""
        return self.rows[:, :, OIL_R]

    @property
    def oil_compression(self) -> FloatArray:
        return self.rows[:, :, OIL_C]

    @property
    def gas_rebound(self) -> FloatArray:
        """m3 at P_REF of gas that came with the flow, over what the oil carries; as the next."""
        return self.rows[:, :, GAS_R]

    @property
    def gas_compression(self) -> FloatArray:
        return self.rows[:, :, GAS_C]


def body_rows(rebound_volume: FloatArray | float, compression_volume: FloatArray | float,
              gas_volume: FloatArray | float, gas_exponent: FloatArray | float = 1.0, **more: FloatArray | float,
              ) -> FloatArray:  # fmt: skip
    """Rows (n, 26) in the order of BODY_FIELDS, what is not named 0; each argument a number or (n,), SI.

    Volumes [m3] at mid-stroke; ValueError for an unknown name.
    """
    unknown = set(more) - set(BODY_FIELDS)
    if unknown:
        raise ValueError(f"{', '.join(sorted(unknown))}: not a field of a body; allowed: {', '.join(BODY_FIELDS)}")
    named = {"rebound_volume": rebound_volume, "compression_volume": compression_volume, "gas_volume": gas_volume,
             "gas_exponent": gas_exponent, **more}  # fmt: skip
    columns = (np.atleast_1d(np.asarray(named.get(name, 0.0), dtype=np.float64)) for name in BODY_FIELDS)
    return np.stack(np.broadcast_arrays(*columns), axis=-1)


def trace(
    motion: Motion, builds: FloatArray, valves: FloatArray, oils: FloatArray, bodies: FloatArray,
    tolerance: float = TOLERANCE, most_cycles: int = MOST_CYCLES,
) -> Trace:  # fmt: skip
    """Drive n builds through the motion's runs, serially and without the interpreter lock.

    d m_r/dt = -q_piston, d m_c/dt = q_piston + q_base, oil elsewhere in the reserve tube; F = p_r (Ap - Ar) - p_c Ap
    + p_atm Ar + friction + stops. Equations in `dynamic_balance`, steps in `dynamic_run`.

    builds (n, 9), valves (n, 4, 15), oils (n, 5) as in `twin_tube.curve`, the gas pressure that at mid-stroke, oil
    compressible; bodies (n, 26) of `body_rows`. A first dimension of 1 is repeated. tolerance [Pa] of a step's
    pressures. A periodic motion is repeated until it settles, at most most_cycles times. Never raises for a value: a
    build out of range has nan and its status says so. ValueError when the shapes do not fit.
    Valid without waves and inertia of the oil: below some 100 Hz.
    """
    parts = full_rows(builds, valves, oils, bodies)
    n, r, k = len(parts[0]), motion.runs, motion.steps
    traces = np.empty((n, r, TRACED, k + 1))
    cycles, unconverged = np.zeros((n, r), np.int64), np.zeros((n, r), np.int64)
    status = np.zeros(n, np.uint8)
    trace_kernel(
        motion.paths, motion.periodic, most_cycles, tolerance, parts[0], parts[1], parts[3], parts[2],
        traces, cycles, unconverged, status,
    )  # fmt: skip
    return Trace(motion, traces, cycles, unconverged, status)


def full_rows(
    builds: FloatArray, valves: FloatArray, oils: FloatArray, bodies: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The four tables with one row a build each. ValueError when they do not fit."""
    tails = {"builds": (len(BUILD_FIELDS),), "valves": (4, len(VALVE_FIELDS)), "oils": (len(OIL_FIELDS),),
             "bodies": (len(BODY_FIELDS),)}  # fmt: skip
    parts = [np.asarray(part, dtype=np.float64) for part in (builds, valves, oils, bodies)]
    for (name, tail), part in zip(tails.items(), parts, strict=True):
        if part.shape[1:] != tail or part.ndim != len(tail) + 1:
            raise ValueError(f"{name} must have the shape (n, {', '.join(map(str, tail))}), not {part.shape}")
    n = max(len(part) for part in parts)
    if any(len(part) not in (1, n) for part in parts):
        raise ValueError(f"builds, valves, oils and bodies differ in number: {[len(part) for part in parts]}")
    full = (np.array(np.broadcast_to(p, (n, *t)), order="C") for p, t in zip(parts, tails.values(), strict=True))
    a, b, c, d = full
    return a, b, c, d
