"""The two-mass model in time: any damper curve, stops of the spring, a tyre that may leave the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.jit import njit, part

FloatArray = npt.NDArray[np.float64]
Row = npt.NDArray[np.float64]
GRAVITY: Final = 9.80665  # m/s2, standard
METAL_RATE: Final = 2e6  # N/m, of what gives when the stop is used up: assumed, only its order counts
HISTORY: Final = ("acceleration", "travel", "damper_speed", "wheel_load")
MS, MU, K, KT, CT, CLEAR, BUMP, TRAVEL, METAL, DROOP, REBOUND, STATIC = range(12)


@dataclass(frozen=True)
class Car:
    """One corner, SI, all as seen at the wheel. Travel counts from where the car stands, rebound positive."""

    sprung: float  # kg
    unsprung: float  # kg
    spring: float  # N/m
    tyre: float  # N/m
    tyre_damping: float = 0.0  # N s/m
    bump_clearance: float = 10.0  # m of compression until the bump stop is touched
    bump_rate: float = 0.0  # N/m of the bump stop
    bump_travel: float = 10.0  # m of compression until the bump stop is used up
    rebound_travel: float = 10.0  # m of extension until the rebound stop is touched
    rebound_rate: float = 0.0  # N/m of the rebound stop
    metal_rate: float = METAL_RATE  # N/m

    @property
    def static_load(self) -> float:
        """Load on the tyre at rest [N]."""
        return (self.sprung + self.unsprung) * GRAVITY

    @property
    def row(self) -> Row:
        """The car as the kernel wants it."""
        fields = (
            self.sprung, self.unsprung, self.spring, self.tyre, self.tyre_damping, self.bump_clearance, self.bump_rate,
            self.bump_travel, self.metal_rate, self.rebound_travel, self.rebound_rate, self.static_load,
        )  # fmt: skip
        return np.array(fields, dtype=np.float64)


@part
def damper_force(v: float, speeds: Row, forces: Row) -> float:
    """Force of a table at v: straight between its points, and on with the last slope beyond them."""
    i, last = 0, speeds.shape[0] - 2
    while i < last and v > speeds[i + 1]:
        i += 1
    slope = (forces[i + 1] - forces[i]) / (speeds[i + 1] - speeds[i])
    return float(forces[i] + slope * (v - speeds[i]))


@part
def spring_force(x: float, car: Row) -> float:
    """Spring and stops at travel x, tension positive, counted from rest."""
    f = car[K] * x
    if x > car[DROOP]:
        f += car[REBOUND] * (x - car[DROOP])
    if -x > car[CLEAR]:
        f += car[BUMP] * (x + car[CLEAR])
    if -x > car[TRAVEL]:
        f += car[METAL] * (x + car[TRAVEL])
    return float(f)


@part
def wheel_load(z: float, rate: float, zu: float, vu: float, car: Row) -> float:
    """Load of the tyre on the road; none while it is off the ground."""
    return float(max(0.0, car[STATIC] + car[KT] * (z - zu) + car[CT] * (rate - vu)))


@njit("void(f8[::1], f8[::1], f8, f8[::1], f8[::1], f8[::1], f8[::1], f8[:, ::1])")
def drive_kernel(
    height: Row, rate: Row, step: float, car: Row, speeds: Row, forces: Row, state: Row, out: npt.NDArray[np.float64]
) -> None:
    """Steps of Runge and Kutta's fourth order over a road that is given at every half step.

    height, rate (2 n + 1,) [m], [m/s]; step [s]; car (12,) of `Car.row`; speeds, forces (m,) of the damper at the
    wheel; state (4,): heights and rates of body and wheel against rest, moved on to the end; out (n, 4): HISTORY at
    the start of each step. ms zs'' = -S(x) - F(x'), mu zu'' = S(x) + F(x') + N - N0, x = zs - zu.
    Source: textbook of vehicle dynamics, two-mass model; classical Runge-Kutta.
    """
    zs, vs, zu, vu = state[0], state[1], state[2], state[3]
    weights = (1.0, 2.0, 2.0, 1.0)
    for i in range(out.shape[0]):
        sum_vs = sum_as = sum_vu = sum_au = 0.0
        ks_v = ks_a = ku_v = ku_a = 0.0
        for stage in range(4):
            h = 0.0 if stage == 0 else (0.5 * step if stage < 3 else step)
            at = 2 * i + (0 if stage == 0 else (1 if stage < 3 else 2))
            s, sv, u, uv = zs + h * ks_v, vs + h * ks_a, zu + h * ku_v, vu + h * ku_a
            between = spring_force(s - u, car) + damper_force(sv - uv, speeds, forces)
            load = wheel_load(height[at], rate[at], u, uv, car)
            ks_v, ku_v = sv, uv
            ks_a, ku_a = -between / car[MS], (between + load - car[STATIC]) / car[MU]
            if stage == 0:
                out[i, 0], out[i, 1], out[i, 2], out[i, 3] = ks_a, s - u, sv - uv, load
            weight = weights[stage]
            sum_vs += weight * ks_v
            sum_as += weight * ks_a
            sum_vu += weight * ku_v
            sum_au += weight * ku_a
        zs += step / 6.0 * sum_vs
        vs += step / 6.0 * sum_as
        zu += step / 6.0 * sum_vu
        vu += step / 6.0 * sum_au
    state[0], state[1], state[2], state[3] = zs, vs, zu, vu


def drive(
    height: FloatArray, rate: FloatArray, step: float, car: Car, speeds: FloatArray, forces: FloatArray, lead: int = 0
) -> FloatArray:
    """History (n, 4) in the order of HISTORY over a road given at every half step.

    height, rate (2 n,) when lead > 0: a road that repeats itself, driven from `lead` steps before its start so that the
    response repeats itself, too; (2 n + 1,) when lead = 0: driven from rest. step [s] of the integration, half of it
    between two points. speeds [m/s] ascending, forces [N]: damper at the wheel. ValueError when the shapes do not fit;
    not a number where the step is too long for the stiffness.
    """
    table = [np.ascontiguousarray(x, dtype=np.float64) for x in (speeds, forces)]
    if len(table[0]) < 2 or table[0].shape != table[1].shape or not np.all(np.diff(table[0]) > 0.0):
        raise ValueError("the damper needs two speeds or more, ascending, and a force for each")
    road = [np.ascontiguousarray(x, dtype=np.float64) for x in (height, rate)]
    if road[0].shape != road[1].shape or (len(road[0]) % 2 == 0) != (lead > 0) or lead > len(road[0]) // 2:
        raise ValueError("height and rate must be given at every half step")
    state, row = np.zeros(4), car.row
    if lead > 0:
        closed = [np.append(x, x[0]) for x in road]
        before = [np.append(x[-2 * lead :], x[0]) for x in road]
        # the car meets the road where it is, not a step of it
        state[0] = state[2] = before[0][0]
        drive_kernel(before[0], before[1], step, row, table[0], table[1], state, np.empty((lead, 4)))
        road = closed
    out = np.empty((len(road[0]) // 2, 4))
    drive_kernel(road[0], road[1], step, row, table[0], table[1], state, out)
    return out
