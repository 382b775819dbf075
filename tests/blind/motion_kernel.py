"""The damper of this package through any cycle of its rod, with what only a loop shows.

Beside `kernel`: gas that the base valve draws from a reserve short of oil and that goes where the flow goes, an intake
disc that follows its pressure late, and friction of a rod that a crooked guide bends.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tests.blind.kernel import (
    FRICTION,
    GAMMA,
    GAP_CD,
    LEAK,
    LEAK_CD,
    LEAK_RE,
    MU,
    N_BUBBLE,
    NOTCH,
    NOTCH_A,
    NOTCH_K,
    P_GAS,
    P_REF,
    PERIMETER,
    PISTON,
    RE,
    ROD,
    RUNNING,
    SLIP,
    V_C,
    V_R,
    density,
    disc_flow,
    edge_flow,
    lift_of,
    long_speed,
    njit,
    relief_flow,
    reserve,
    rooms,
)

MORE = ("lag", "bent", "length", "reserve_oil", "feed", "span")  # s, N m2, m, m3, m3, m3
LAG, BENT, LENGTH, RESERVE, FEED, SPAN = range(6)
OUTLET = 0.5  # part of its share of the room that gas has in what leaves a chamber: the rest floats on top


@njit
def passage(dp: Any, ahead: Any, back: Any, leak: Any, rho: Any, mu: Any, law: Any, late: Any, lift: Any) -> Any:
    """Volume flow between two rooms; `late`: the disc pushed backwards stands at `lift`, whatever the pressure."""
    if dp == 0.0:
        return 0.0
    v, drop = (ahead, dp) if dp > 0.0 else (back, -dp)
    q = edge_flow(leak, math.sqrt(leak), drop, rho, mu, LEAK_CD, LEAK_RE)
    if v[NOTCH] > 0.0:
        q += v[NOTCH] * long_speed(drop, v[NOTCH_A], v[NOTCH_K], rho, mu)
    q += relief_flow(drop, v, rho, mu, law)
    if dp > 0.0 or not late:
        q += disc_flow(drop, v, rho, mu, law)
    if late:  # open a little either way
        q += edge_flow(back[PERIMETER] * lift, 2.0 * lift, drop, rho, mu, back[GAP_CD], law[RE])
    return q if dp > 0.0 else -q


@njit
def flow(up: Any, down: Any, ahead: Any, back: Any, leak: Any, build: Any, law: Any, late: Any, lift: Any) -> Any:
    """Mass flow from `up` to `down`, and its slope over the pressure difference."""
    rho = density(max(up, down), build, law[N_BUBBLE])[0]
    dp = up - down
    step = 1e-5 * abs(dp) + 1.0
    w = rho * passage(dp, ahead, back, leak, rho, build[MU], law, late, lift)
    more = rho * passage(dp + step, ahead, back, leak, rho, build[MU], law, late, lift)
    return w, max((more - w) / step, 0.0), rho


@njit
def balance(y: Any, m: Any, gas: Any, keep: Any, gh: Any, x: Any, build: Any, valves: Any, law: Any, late: Any,
            lift: Any, out: Any) -> None:  # fmt: skip
    """out: residuals of both chambers, slopes over ln p, mass flows of piston and base, gas pressure, density."""
    n = law[N_BUBBLE]
    p_r, p_c = math.exp(y[0]), math.exp(y[1])
    v_r, v_c = rooms(x, build)
    b_r, b_c = gas[0] * (P_REF / p_r) ** (1.0 / n), gas[1] * (P_REF / p_c) ** (1.0 / n)
    rho_r, slope_r = density(p_r, build, n)
    rho_c, slope_c = density(p_c, build, n)
    p_s, ds = reserve(rho_r * (v_r - b_r), rho_c * (v_c - b_c), build, law)
    w_p, dw_p, _ = flow(p_r, p_c, valves[0], valves[1], build[LEAK], build, law, False, 0.0)
    w_b, dw_b, rho = flow(p_c, p_s, valves[2], valves[3], 0.0, build, law, late, lift)
    w_p, dw_p = w_p * keep[0], dw_p * keep[0]
    w_b, dw_b = w_b * keep[1], dw_b * keep[1]
    store_r = p_r * slope_r * (v_r - b_r) + rho_r * b_r / n
    store_c = p_c * slope_c * (v_c - b_c) + rho_c * b_c / n
    out[0] = rho_r * (v_r - b_r) - m[0] + gh * w_p
    out[1] = rho_c * (v_c - b_c) - m[1] - gh * (w_p - w_b)
    out[2] = store_r + gh * dw_p * p_r
    out[3] = -gh * dw_p * p_c
    out[4] = -gh * dw_p * p_r - gh * dw_b * ds * store_r
    out[5] = store_c + gh * dw_p * p_c + gh * dw_b * (p_c - ds * store_c)
    out[6], out[7], out[8], out[9] = w_p, w_b, p_s, rho


@njit
def solve(y: Any, m: Any, gas: Any, keep: Any, gh: Any, x: Any, build: Any, valves: Any, law: Any, late: Any,
          lift: Any, out: Any) -> Any:  # fmt: skip
    """Newton with step halving; y (2,) is moved in place. Whether it converged."""
    balance(y, m, gas, keep, gh, x, build, valves, law, late, lift, out)
    size = math.hypot(out[0], out[1])
    enough = 1e-12 * (abs(m[0]) + abs(m[1]))
    old = np.empty(2)
    for _ in range(80):
        det = out[2] * out[5] - out[3] * out[4]
        d0 = -(out[0] * out[5] - out[1] * out[3]) / det
        d1 = -(out[2] * out[1] - out[4] * out[0]) / det
        longest = max(abs(d0), abs(d1))
        share = min(1.0, 1.0 / longest) if longest > 0.0 else 1.0
        old[:] = y
        for _ in range(14):
            y[0], y[1] = old[0] + share * d0, old[1] + share * d1
            balance(y, m, gas, keep, gh, x, build, valves, law, late, lift, out)
            new = math.hypot(out[0], out[1])
            if new < size or new < enough:
                break
            share *= 0.5
        size = new
        if longest * share < 1e-8 or size < enough:
            return True
    return False


@njit
def carry(gas: Any, y: Any, h: Any, x: Any, w_p: Any, w_b: Any, p_s: Any, drawn: Any, build: Any, law: Any,
          rho: Any, keep: Any) -> None:  # fmt: skip
    """Move the gas with the flow for a step; next `keep`: share of oil in what leaves through piston and base."""
    n = law[N_BUBBLE]
    p_r, p_c = math.exp(y[0]), math.exp(y[1])
    v_r, v_c = rooms(x, build)
    y_r = min(gas[0] * (P_REF / p_r) ** (1.0 / n) / v_r, 0.9) * OUTLET
    y_c = min(gas[1] * (P_REF / p_c) ** (1.0 / n) / v_c, 0.9) * OUTLET
    if w_p > 0.0:
        moved = min(y_r / (1.0 - y_r) * w_p / rho * h * (p_r / P_REF) ** (1.0 / n), gas[0])
    else:
        moved = -min(y_c / (1.0 - y_c) * -w_p / rho * h * (p_c / P_REF) ** (1.0 / n), gas[1])
    gas[0] -= moved
    gas[1] += moved
    if w_b > 0.0:
        gas[1] -= min(y_c / (1.0 - y_c) * w_b / rho * h * (p_c / P_REF) ** (1.0 / n), gas[1])
    else:
        gas[1] += drawn / (1.0 - drawn) * -w_b / rho * h * (p_s / P_REF) ** (1.0 / n)
    keep[0] = 1.0 - (y_r if w_p > 0.0 else y_c)
    keep[1] = 1.0 - (y_c if w_b > 0.0 else drawn)


@njit
def through(
    build: Any, valves: Any, law: Any, more: Any, x1: Any, x2: Any, v2: Any, h: Any, cycles: Any, force: Any
) -> Any:
    """Cycles of a motion from rest, fully in: travel at the inner point and the end of each step (k,), speed there.

    force (k,): of the last cycle. Whether every step converged.
    """
    steps, out, y, gas, keep = x2.size, np.empty(10), np.empty(2), np.zeros(2), np.ones(2)
    y[:] = math.log(build[P_GAS])
    v_r, v_c = rooms(x2[-1], build)
    for _ in range(50):  # settle at rest
        rho = density(math.exp(y[0]), build, law[N_BUBBLE])[0]
        y[:] = math.log(reserve(rho * v_r, rho * v_c, build, law)[0])
    rho = density(math.exp(y[0]), build, law[N_BUBBLE])[0]
    m, good, lift = np.array([rho * v_r, rho * v_c]), True, 0.0
    late, drawn = more[LAG] > 0.0, 0.0
    for cycle in range(cycles):
        for j in range(steps):
            good &= solve(y, m, gas, keep, GAMMA * h, x1[j], build, valves, law, late, lift, out)
            w_p, w_b = out[6], out[7]
            m[0] -= (1.0 - GAMMA) * h * w_p
            m[1] += (1.0 - GAMMA) * h * (w_p - w_b)
            good &= solve(y, m, gas, keep, GAMMA * h, x2[j], build, valves, law, late, lift, out)
            m[0] -= GAMMA * h * out[6]
            m[1] += GAMMA * h * (out[6] - out[7])
            w_p, w_b = (1.0 - GAMMA) * w_p + GAMMA * out[6], (1.0 - GAMMA) * w_b + GAMMA * out[7]
            left = more[RESERVE] - (m[0] + m[1]) / out[9] + build[V_R] + build[V_C]
            short = (more[FEED] - left) / more[SPAN]
            drawn = 0.9 * min(max(short, 0.0), 1.0) ** 2
            carry(gas, y, h, x2[j], w_p / keep[0], w_b / keep[1], out[8], drawn, build, law, out[9], keep)
            if late:
                pushed = out[8] - math.exp(y[1])
                wanted = lift_of(pushed, valves[3]) if pushed > 0.0 else 0.0
                lift += (wanted - lift) * (1.0 - math.exp(-h / more[LAG]))
            if cycle == cycles - 1:
                p_r, p_c = math.exp(y[0]), math.exp(y[1])
                rub = law[RUNNING] * build[FRICTION] + more[BENT] / (more[LENGTH] - x2[j]) ** 2
                force[j] = p_r * (build[PISTON] - build[ROD]) - p_c * build[PISTON] + P_REF * build[ROD]
                force[j] += rub * math.tanh(v2[j] / SLIP)
    return good


@njit
def through_all(
    builds: Any, valves: Any, law: Any, more: Any, x1: Any, x2: Any, v2: Any, h: Any, cycles: Any, force: Any,
    good: Any,
) -> None:  # fmt: skip
    for i in range(builds.shape[0]):
        good[i] = through(builds[i], valves[i], law, more[i], x1, x2, v2, h, cycles, force[i])
