"""A valve on the flow bench: what passes at one stated pressure difference."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.valve import BLEED, VALVE_FIELDS, flow
from firstoff.physics.jit import njit

FloatArray = npt.NDArray[np.float64]


@njit("void(f8[::1], f8[:, ::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[::1])")
def flows_kernel(
    dp: FloatArray, valves: FloatArray, leak: FloatArray, rho: FloatArray, mu: FloatArray, cd: FloatArray,
    scratch: FloatArray, out: FloatArray,
) -> None:  # fmt: skip
    """Volume flow [m3/s] of n valves into `out`; arguments as in `bench_flow`, scratch (13,)."""
    for i in range(valves.shape[0]):
        scratch[:] = valves[i]
        scratch[BLEED] += leak[i]
        out[i] = flow(dp[i], scratch, rho[i], mu[i], cd[i])


def bench_flow(
    dp: FloatArray | float,
    valves: FloatArray,
    leak: FloatArray | float,
    rho: FloatArray | float,
    mu: FloatArray | float,
    cd: FloatArray | float,
) -> FloatArray:
    """Volume flow Q(dp) of n valves by the valve law, with a leak beside the bleed [m3/s], (n,).

    dp [Pa] pressure difference, 0 and below pass nothing; valves (n, 13) in the order of `valve.VALVE_FIELDS`; leak
    [m2] >= 0, with the laminar loss of the bleed; rho [kg/m3] > 0; mu [Pa s] >= 0; 0 < cd <= 1; numbers or (n,). Not a
    number where a field is none. ValueError when the shapes do not fit. Source: as in `valve.flow_and_slope`.
    """
    rows = np.ascontiguousarray(valves, dtype=np.float64)
    if rows.ndim != 2 or rows.shape[1] != len(VALVE_FIELDS):
        raise ValueError(f"valves must have the shape (n, {len(VALVE_FIELDS)}), not {rows.shape}")
    n = len(rows)
    push, past, rho_n, mu_n, cd_n = (
        np.array(np.broadcast_to(x, (n,)), dtype=np.float64) for x in (dp, leak, rho, mu, cd)
    )
    out = np.empty(n)
    flows_kernel(push, rows, past, rho_n, mu_n, cd_n, np.empty(rows.shape[1]), out)
    return out
