"""Steady pressures of a twin-tube damper at one rod speed, and the loop over speeds and builds."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.chamber_flow import Row, downstream_pressure, upstream_pressure
from firstoff.physics.damper.mixture import (
    COMPRESSIBILITY,
    DENSITY,
    EXPONENT,
    GAS,
    VISCOSITY,
    density_and_compressibility,
)
from firstoff.physics.damper.valve import (
    BLEED,
    MOST_STEPS,
    PATIENCE,
    RATE,
    flow_and_slope,
    middle,
    power_step,
    pressure_drop,
)
from firstoff.physics.jit import njit
from firstoff.physics.status import CAVITATING, NO_VALUE, NOT_CONVERGED, OK, OUT_OF_RANGE

# rows of a build's valves, and columns of its scalars
PISTON_REBOUND, PISTON_COMPRESSION, BASE_COMPRESSION, BASE_INTAKE = 0, 1, 2, 3
BUILD_FIELDS: Final = (
    "piston_area",  # m2
    "rod_area",  # m2
    "leak_area",  # m2, past the piston
    "discharge",  # discharge coefficient of every passage
    "gas_pressure",  # Pa absolute, also that of the oil in the reserve tube
    "ambient_pressure",  # Pa absolute
    "vapour_pressure",  # Pa absolute, floor of a chamber whose oil carries no gas
    "cavitation_pressure",  # Pa absolute, below it a chamber is reported as cavitating
    "friction",  # N
)
PISTON, ROD, LEAK, CD, P_GAS, P_ATM, P_VAPOUR, P_CAVITATION, FRICTION = 0, 1, 2, 3, 4, 5, 6, 7, 8
OUTER_STEP: Final = 1e-7  # relative, of a step with the exact slope: what is left is about its square
LEAST_PRESSURE: Final = 1e-6  # Pa, where the search in gassy oil ends
SANE_PRESSURE: Final = 1e8  # Pa; above, seals and tubes are long gone


@njit("Tuple((f8, f8, i8))(f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[::1])")
def rebound_pressures(v: float, build: Row, rebound: Row, base: Row, intake: Row, oil: Row) -> tuple[float, float, int]:
    """Pressures of rebound and compression chamber while the rod moves out at v.

    Q_piston(p_r - p_c; rho_r) = (Ap - Ar) v;  m_base(p_c) + rho_r (Ap - Ar) v = rho_c Ap v, m_base the mass flow
    from the reserve: in through the intake, or out through the base valve when gas lifts p_c above it.

    v [m/s] > 0; build, valves, oil: rows of BUILD_FIELDS, VALVE_FIELDS, OIL_FIELDS. Returns p_r, p_c [Pa], status.
    Source: steady mass balance, orifice equation (textbook).
    """
    cd, p_res, mu = build[CD], build[P_GAS], oil[VISCOSITY]
    ring, swept = (build[PISTON] - build[ROD]) * v, build[PISTON] * v
    rho_res = density_and_compressibility(p_res, oil)[0]
    floor = LEAST_PRESSURE if oil[GAS] > 0.0 else build[P_VAPOUR]
    drop, status = pressure_drop(build[ROD] * v, intake, rho_res, mu, cd)
    p_c = max(p_res - drop, 0.01 * p_res if oil[GAS] > 0.0 else floor)
    if oil[GAS] == 0.0 and oil[COMPRESSIBILITY] == 0.0:  # constant density: one pressure after the other
        drop, status = pressure_drop(ring, rebound, rho_res, mu, cd)
        return p_c + drop, p_c, status
    low, high, p_r = floor, SANE_PRESSURE, 0.0
    for step in range(MOST_STEPS):
        p_r, follow, status = upstream_pressure(ring, p_c, p_r, rebound, oil, cd)
        if status != OK:
            return p_r, p_c, status
        rho_r, kappa_r = density_and_compressibility(p_r, oil)
        rho_c, kappa_c = density_and_compressibility(p_c, oil)
        if p_c <= p_res:
            found, slope = flow_and_slope(p_res - p_c, intake, rho_res, mu, cd)
            fed, fed_slope = rho_res * found, -rho_res * slope
        else:
            found, slope = flow_and_slope(p_c - p_res, base, rho_c, mu, cd)
            fed, fed_slope = -rho_c * found, -rho_c * (slope + 0.5 * kappa_c * found)
        excess = fed + rho_r * ring - rho_c * swept  # falls with p_c
        if p_c <= floor and excess <= 0.0:
            return p_r, floor, OK  # held: a void opens
        if abs(excess) <= 1e-14 * rho_c * swept:
            return p_r, p_c, OK
        if excess > 0.0:
            low = p_c
        else:
            high = p_c
        slope = fed_slope + rho_r * ring * kappa_r * follow - rho_c * swept * kappa_c
        new = p_c - excess / slope if slope < 0.0 else low
        if (new < p_res) != (p_c < p_res) and low < p_res < high:
            new = p_res  # either valve opens there with a root's endless slope: each side is searched for itself
        elif not low < new < high or (step > PATIENCE and step % 2):
            new = middle(max(low, LEAST_PRESSURE), high)
        if abs(new - p_c) <= OUTER_STEP * p_c or high - low <= 4e-16 * high:
            return p_r + (new - p_c) * follow, new, OK
        p_r, p_c = p_r + (new - p_c) * follow, new
    return p_r, p_c, NOT_CONVERGED


@njit("Tuple((f8, f8, i8))(f8, f8[::1], f8[::1], f8[::1], f8[::1])")
def compression_pressures(v: float, build: Row, check: Row, base: Row, oil: Row) -> tuple[float, float, int]:
    """Pressures of rebound and compression chamber while the rod moves in at v.

    Ap v = Q_base(p_c - p_res; rho_c) + Q_check(p_c - p_r; rho_c);  rho_c Q_check = rho_r (Ap - Ar) v.

    v [m/s] > 0, the amount of the speed; the rest, returns and source as in `rebound_pressures`.
    """
    cd, p_res, mu = build[CD], build[P_GAS], oil[VISCOSITY]
    ring, swept = (build[PISTON] - build[ROD]) * v, build[PISTON] * v
    floor = LEAST_PRESSURE if oil[GAS] > 0.0 else build[P_VAPOUR]
    drop, status = pressure_drop(build[ROD] * v, base, density_and_compressibility(p_res, oil)[0], mu, cd)
    if status != OK:
        return math.nan, math.inf, status
    if oil[GAS] == 0.0 and oil[COMPRESSIBILITY] == 0.0:
        p_r = p_res + drop - pressure_drop(ring, check, oil[DENSITY], mu, cd)[0]
        if p_r >= floor:
            return p_r, p_res + drop, OK
    low, high, p_r = 0.0, SANE_PRESSURE * 1e4, 0.0
    for step in range(MOST_STEPS):
        p_c = p_res + drop
        p_r, passed, passed_slope, status = downstream_pressure(ring, p_c, p_r, floor, check, oil, cd)
        if status != OK:
            return p_r, p_c, status
        rho_c, kappa_c = density_and_compressibility(p_c, oil)
        found, slope = flow_and_slope(drop, base, rho_c, mu, cd)
        wanted = swept - passed
        if abs(found - wanted) <= 1e-14 * swept:
            return p_r, p_c, OK
        if found < wanted:
            low = drop
        else:
            high = drop
        new = middle(low, high)
        if found > 0.0 and wanted > 0.0 and not (step > PATIENCE and step % 2):
            exponent = drop * (slope / found - 0.5 * kappa_c + passed_slope / wanted)
            new = power_step(drop, low, high, wanted / found, max(exponent, 0.1))
        if abs(new - drop) <= OUTER_STEP * drop or high - low <= 4e-16 * high:
            p_r = downstream_pressure(ring, p_res + new, max(p_r + new - drop, 0.0), floor, check, oil, cd)[0]
            return p_r, p_res + new, OK
        p_r, drop = max(p_r + new - drop, 0.0), new
    return p_r, p_res + drop, NOT_CONVERGED


@njit("b1(f8[::1], f8[:, ::1], f8[::1])")
def usable(build: Row, valves: Row, oil: Row) -> bool:
    """Whether a build's numbers make a damper at all: finite, areas and densities in range."""
    for k in range(build.size):
        if not (build[k] >= 0.0 and math.isfinite(build[k])):
            return False
    for i in range(valves.shape[0]):
        for k in range(valves.shape[1]):
            # a disc dished away from its seat may have a preload below zero
            if not math.isfinite(valves[i, k]) or (valves[i, k] < 0.0 and k != 3 and k != 6):
                return False
        if valves[i, RATE] <= 0.0:
            return False
    for k in range(oil.size):
        if not (oil[k] >= 0.0 and math.isfinite(oil[k])):
            return False
    return bool(
        0.0 < build[ROD] < build[PISTON]
        and 0.0 < build[CD] <= 1.0
        and build[P_GAS] > build[P_VAPOUR]
        and oil[DENSITY] > 0.0
        and oil[COMPRESSIBILITY] < 1e-6
        and oil[GAS] < 1.0
        and oil[EXPONENT] >= 1.0
    )


@njit("void(f8[::1], f8[:, ::1], f8[:, :, ::1], f8[:, ::1], f8[:, ::1], f8[:, ::1], f8[:, ::1], f8[:, ::1], u1[::1])")
def curve_kernel(
    speeds: Row, builds: Row, valves: Row, oils: Row, scratch: Row,
    force: Row, p_rebound: Row, p_compression: Row, status: npt.NDArray[np.uint8],
) -> None:  # fmt: skip
    """Force F = p_r (Ap - Ar) - p_c Ap + p_atm Ar + friction sign(v) of many builds, one after the other.

    speeds (m,) [m/s], > 0 rebound; builds (n, 9), valves (n, 4, 15), oils (n, 5): BUILD_FIELDS, VALVE_FIELDS in the
    order piston rebound, piston compression, base compression, base intake, OIL_FIELDS; scratch (4, 15).
    Fills force [N], p_rebound, p_compression [Pa absolute] (n, m) and status (n,). A build without a value has nan.
    Source: force balance on piston and rod (textbook).
    """
    for i in range(builds.shape[0]):
        build, oil, flags = builds[i], oils[i], OK
        if not usable(build, valves[i], oil):
            force[i, :] = math.nan
            p_rebound[i, :] = math.nan
            p_compression[i, :] = math.nan
            status[i] = OUT_OF_RANGE | NO_VALUE
            continue
        scratch[:, :] = valves[i]
        scratch[PISTON_REBOUND, BLEED] += build[LEAK]
        scratch[PISTON_COMPRESSION, BLEED] += build[LEAK]
        for j in range(speeds.size):
            v, state, p_r, p_c = speeds[j], OK, build[P_GAS], build[P_GAS]
            if v > 0.0:
                p_r, p_c, state = rebound_pressures(
                    v, build, scratch[PISTON_REBOUND], scratch[BASE_COMPRESSION], scratch[BASE_INTAKE], oil
                )
            elif v < 0.0:
                p_r, p_c, state = compression_pressures(
                    -v, build, scratch[PISTON_COMPRESSION], scratch[BASE_COMPRESSION], oil
                )
            sign = 1.0 if v > 0.0 else (-1.0 if v < 0.0 else 0.0)
            found = p_r * (build[PISTON] - build[ROD]) - p_c * build[PISTON] + build[P_ATM] * build[ROD]
            found += build[FRICTION] * sign
            if not math.isfinite(found) or state & NO_VALUE:
                found, p_r, p_c, state = math.nan, math.nan, math.nan, state | NO_VALUE
            if min(p_r, p_c) < build[P_CAVITATION] or min(p_r, p_c) <= build[P_VAPOUR]:
                state |= CAVITATING
            if max(p_r, p_c) > SANE_PRESSURE:
                state |= OUT_OF_RANGE
            force[i, j], p_rebound[i, j], p_compression[i, j] = found, p_r, p_c
            flags |= state
        status[i] = flags
