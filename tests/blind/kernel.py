"""Twin-tube damper in time: two oil chambers that can be squeezed, a reserve under gas, valves between them.

Mass is conserved: d(rho V)/dt of a chamber is what flows in. Rod at x = X sin(w t), x > 0 further out. Stepped by the
two-stage, stiffly accurate SDIRK of Alexander (1977), g = 1 - 1/sqrt(2), on the masses; each stage is solved for the
logarithms of the two chamber pressures by Newton's method with step halving. Serial, no interpreter lock.
"""

from __future__ import annotations

import math
from typing import Any

import numba
import numpy as np

BUILD = (
    "piston", "rod", "room_rebound", "room_compression", "room_gas", "gas", "density", "viscosity", "compressibility",
    "bubbles", "friction", "friction_slope", "leak",
)  # fmt: skip
VALVE = (
    "notch", "notch_a", "notch_k", "perimeter", "compliance", "land", "bend", "port", "port_a", "port_k", "gap_cd",
    "seat", "preload", "rate", "relief_perimeter", "max_lift", "relief_cd",
)  # fmt: skip
LAW = ("under_port", "reynolds", "jet_force", "seat_throttle", "gas_exponent", "bubble_exponent", "running_friction")
PISTON, ROD, V_R, V_C, V_G, P_GAS, RHO, MU, BETA, BUBBLES, FRICTION, SLOPE, LEAK = range(13)
NOTCH, NOTCH_A, NOTCH_K, PERIMETER, COMPLIANCE, LAND, BEND, PORT, PORT_A, PORT_K, GAP_CD = range(11)
SEAT, PRELOAD, RATE, RELIEF, MAX_LIFT, RELIEF_CD = range(11, 17)
UNDER, RE, JET, THROTTLE, N_GAS, N_BUBBLE, RUNNING = range(7)
P_REF = 101325.0
ROUGH = 3e-7  # m: a seat is not flat to less, so that a disc opens softly
JET_COS = 0.36  # cosine of 69 degrees, the jet's angle at a sharp edge (from memory)
LEAK_CD, LEAK_RE = 0.72, 8.0
SLIP = 2e-3  # m/s, speed in which the seal's friction turns round
GAMMA = 1.0 - math.sqrt(0.5)
njit = numba.njit(nogil=True, cache=True, error_model="numpy")


@njit
def density(p: Any, build: Any, n: Any) -> Any:
    """Density of oil with bubbles, and its slope over pressure; the gas weighs nothing."""
    liquid = build[RHO] * (1.0 + build[BETA] * (p - P_REF))
    gas = build[BUBBLES] / (1.0 - build[BUBBLES]) * (P_REF / p) ** (1.0 / n)
    rho = liquid / (1.0 + gas)
    return rho, build[RHO] * build[BETA] / (1.0 + gas) + rho * gas / ((1.0 + gas) * n * p)


@njit
def long_speed(dp: Any, a: Any, k: Any, rho: Any, mu: Any) -> Any:
    """Speed in a passage with wall friction: k rho/2 u^2 + a mu u = dp."""
    linear = a * mu
    return 2.0 * dp / (linear + math.sqrt(linear * linear + 2.0 * k * rho * dp))


@njit
def edge_flow(area: Any, dh: Any, dp: Any, rho: Any, mu: Any, cd: Any, half: Any) -> Any:
    """Flow past a sharp edge, its coefficient cd s/(s + half) with s = sqrt(Re), Re = dh sqrt(2 dp rho)/mu."""
    if dp <= 0.0:
        return 0.0
    jet = math.sqrt(2.0 * dp / rho)
    root = math.sqrt(dh * jet * rho / mu)
    return area * cd * jet * root / (root + half) if half > 0.0 else area * cd * jet


@njit
def positive(z: Any, width: Any) -> Any:
    return 0.5 * (z + math.sqrt(z * z + width * width))


@njit
def lift_of(pressure: Any, v: Any) -> Any:
    """Lift of a disc over its seat."""
    free = v[COMPLIANCE] * pressure
    return positive(free / (1.0 + v[BEND] * free * free) ** (1.0 / 3.0) - v[LAND], ROUGH)


@njit
def surplus(s: Any, dp: Any, v: Any, rho: Any, mu: Any, law: Any) -> Any:
    """Flow through the ports less flow under the disc, when the ports take the share s of the pressure."""
    lift = lift_of(dp * (1.0 - law[UNDER] * s), v)
    gap = edge_flow(v[PERIMETER] * lift, 2.0 * lift, (1.0 - s) * dp, rho, mu, v[GAP_CD], law[RE])
    return v[PORT] * long_speed(s * dp, v[PORT_A], v[PORT_K], rho, mu) - gap


@njit
def disc_flow(dp: Any, v: Any, rho: Any, mu: Any, law: Any) -> Any:
    """Ports and a disc, one behind the other: regula falsi (Illinois) for the share of the ports."""
    if v[PORT] <= 0.0 or v[PERIMETER] <= 0.0:
        return 0.0
    low, high = 0.0, 1.0
    f_low, f_high = surplus(low, dp, v, rho, mu, law), surplus(high, dp, v, rho, mu, law)
    s, side = 0.0, 0
    for _ in range(60):
        new = (low * f_high - high * f_low) / (f_high - f_low)
        if not low < new < high:
            new = 0.5 * (low + high)
        f = surplus(new, dp, v, rho, mu, law)
        done = abs(new - s) <= 1e-11 * new or f == 0.0
        s = new
        if done:
            break
        if f < 0.0:
            low, f_low = new, f
            if side == -1:
                f_high *= 0.5
            side = -1
        else:
            high, f_high = new, f
            if side == 1:
                f_low *= 0.5
            side = 1
    return v[PORT] * long_speed(s * dp, v[PORT_A], v[PORT_K], rho, mu)


@njit
def relief_flow(dp: Any, v: Any, rho: Any, mu: Any, law: Any) -> Any:
    """A spring-loaded relief whose jet pulls it shut, behind the bore of its own seat."""
    if v[RELIEF] <= 0.0:
        return 0.0
    jet = law[JET] * 2.0 * v[RELIEF_CD] ** 2 * JET_COS * v[RELIEF] * dp
    lift = positive((dp * v[SEAT] - v[PRELOAD]) / (v[RATE] + jet), ROUGH)
    lift = max(v[MAX_LIFT] - positive(v[MAX_LIFT] - lift, 1e-6), 0.0)
    area = v[RELIEF] * lift
    area /= math.sqrt(1.0 + law[THROTTLE] * (area / v[SEAT]) ** 2)
    return edge_flow(area, 2.0 * lift, dp, rho, mu, v[RELIEF_CD], law[RE])


@njit
def passed(dp: Any, ahead: Any, back: Any, leak: Any, rho: Any, mu: Any, law: Any) -> Any:
    """Volume flow between two rooms: notches and leak both ways, disc and relief of the side that is pushed."""
    if dp == 0.0:
        return 0.0
    v, drop = (ahead, dp) if dp > 0.0 else (back, -dp)
    q = edge_flow(leak, math.sqrt(leak), drop, rho, mu, LEAK_CD, LEAK_RE)
    if v[NOTCH] > 0.0:
        q += v[NOTCH] * long_speed(drop, v[NOTCH_A], v[NOTCH_K], rho, mu)
    q += disc_flow(drop, v, rho, mu, law) + relief_flow(drop, v, rho, mu, law)
    return q if dp > 0.0 else -q


@njit
def mass_flow(up: Any, down: Any, ahead: Any, back: Any, leak: Any, build: Any, law: Any) -> Any:
    """Mass flow from `up` to `down` and its slope over the pressure difference."""
    rho = density(max(up, down), build, law[N_BUBBLE])[0]
    dp, mu = up - down, build[MU]
    step = 1e-5 * abs(dp) + 1.0
    w = rho * passed(dp, ahead, back, leak, rho, mu, law)
    return w, max((rho * passed(dp + step, ahead, back, leak, rho, mu, law) - w) / step, 0.0)


@njit
def rooms(x: Any, build: Any) -> Any:
    return build[V_R] - (build[PISTON] - build[ROD]) * x, build[V_C] + build[PISTON] * x


@njit
def reserve(m_r: Any, m_c: Any, build: Any, law: Any) -> Any:
    """Gas pressure when the two chambers hold so much oil, and its slope over their sum."""
    rho = density(build[P_GAS], build, law[N_BUBBLE])[0]
    rest = rho * (build[V_R] + build[V_C])
    left = build[V_G] + (m_r + m_c - rest) / rho
    left = max(left, 1e-3 * build[V_G])
    p = build[P_GAS] * (build[V_G] / left) ** law[N_GAS]
    return p, -law[N_GAS] * p / (left * rho)


@njit
def flows(p_r: Any, p_c: Any, p_s: Any, build: Any, valves: Any, law: Any) -> Any:
    w_p, dw_p = mass_flow(p_r, p_c, valves[0], valves[1], build[LEAK], build, law)
    w_b, dw_b = mass_flow(p_c, p_s, valves[2], valves[3], 0.0, build, law)
    return w_p, dw_p, w_b, dw_b


@njit
def residual(y: Any, m_r: Any, m_c: Any, gh: Any, x: Any, build: Any, valves: Any, law: Any, out: Any) -> Any:
    """out: two residuals, four slopes (over ln p), the two mass flows."""
    p_r, p_c = math.exp(y[0]), math.exp(y[1])
    v_r, v_c = rooms(x, build)
    rho_r, slope_r = density(p_r, build, law[N_BUBBLE])
    rho_c, slope_c = density(p_c, build, law[N_BUBBLE])
    p_s, ds = reserve(rho_r * v_r, rho_c * v_c, build, law)
    w_p, dw_p, w_b, dw_b = flows(p_r, p_c, p_s, build, valves, law)
    store_r, store_c = p_r * v_r * slope_r, p_c * v_c * slope_c
    out[0] = rho_r * v_r - m_r + gh * w_p
    out[1] = rho_c * v_c - m_c - gh * (w_p - w_b)
    out[2] = store_r + gh * dw_p * p_r
    out[3] = -gh * dw_p * p_c
    out[4] = -gh * dw_p * p_r - gh * dw_b * ds * store_r
    out[5] = store_c + gh * dw_p * p_c + gh * dw_b * (p_c - ds * store_c)
    out[6] = w_p
    out[7] = w_b


@njit
def stage(y: Any, m_r: Any, m_c: Any, gh: Any, x: Any, build: Any, valves: Any, law: Any, out: Any) -> Any:
    """Newton with step halving; y (2,) is moved in place. Whether it converged."""
    residual(y, m_r, m_c, gh, x, build, valves, law, out)
    size = math.hypot(out[0], out[1])
    if not math.isfinite(size):
        return False
    enough = 1e-13 * (abs(m_r) + abs(m_c))
    old = np.empty(2)
    for _ in range(60):
        det = out[2] * out[5] - out[3] * out[4]
        d0 = -(out[0] * out[5] - out[1] * out[3]) / det
        d1 = -(out[2] * out[1] - out[4] * out[0]) / det
        longest = max(abs(d0), abs(d1))
        share = min(1.0, 1.0 / longest) if longest > 0.0 else 1.0
        old[:] = y
        for _ in range(12):
            y[0], y[1] = old[0] + share * d0, old[1] + share * d1
            residual(y, m_r, m_c, gh, x, build, valves, law, out)
            new = math.hypot(out[0], out[1])
            if new < size or new < enough:
                break
            share *= 0.5
        size = new
        if longest * share < 1e-9 or size < enough:
            return True
    return False


@njit
def force_of(y: Any, x: Any, v: Any, build: Any, law: Any) -> Any:
    friction = law[RUNNING] * (build[FRICTION] + build[SLOPE] * x) * math.tanh(v / SLIP)
    p_r, p_c = math.exp(y[0]), math.exp(y[1])
    return p_r * (build[PISTON] - build[ROD]) - p_c * build[PISTON] + P_REF * build[ROD] + friction


@njit
def run_one(
    build: Any, valves: Any, law: Any, amplitude: Any, omega: Any, cycles: Any, steps: Any, force: Any, pressure: Any
) -> Any:
    """Cycles from rest at the inner end of the stroke; force (cycles * steps,), pressure (cycles * steps, 2).

    Index j stands for the angle -pi/2 + (j + 1) 2 pi/steps; returns whether every step converged.
    """
    h = 2.0 * math.pi / omega / steps
    out = np.empty(8)
    y = np.array([math.log(build[P_GAS]), math.log(build[P_GAS])])
    x = -amplitude
    v_r, v_c = rooms(x, build)
    # settle at rest: the gas takes up the rod before the first stroke
    for _ in range(50):
        p = math.exp(y[0])
        rho = density(p, build, law[N_BUBBLE])[0]
        y[0] = math.log(reserve(rho * v_r, rho * v_c, build, law)[0])
        y[1] = y[0]
    rho = density(math.exp(y[0]), build, law[N_BUBBLE])[0]
    m_r, m_c, good = rho * v_r, rho * v_c, True
    for j in range(cycles * steps):
        t = j * h
        x1 = -amplitude * math.cos(omega * (t + GAMMA * h))
        x2 = -amplitude * math.cos(omega * (t + h))
        good &= stage(y, m_r, m_c, GAMMA * h, x1, build, valves, law, out)
        w_p, w_b = out[6], out[7]
        m_r -= (1.0 - GAMMA) * h * w_p
        m_c += (1.0 - GAMMA) * h * (w_p - w_b)
        good &= stage(y, m_r, m_c, GAMMA * h, x2, build, valves, law, out)
        m_r -= GAMMA * h * out[6]
        m_c += GAMMA * h * (out[6] - out[7])
        speed = amplitude * omega * math.sin(omega * (t + h))
        force[j] = force_of(y, x2, speed, build, law)
        pressure[j, 0], pressure[j, 1] = math.exp(y[0]), math.exp(y[1])
    return good


@njit
def run_many(
    builds: Any, valves: Any, law: Any, amplitudes: Any, speeds: Any, cycles: Any, steps: Any, force: Any, good: Any
) -> None:
    """Last cycle's force (n, m, steps) of n builds at m peak speeds, and whether it converged and repeats (n, m)."""
    n, m = builds.shape[0], speeds.size
    all_force, pressure = np.empty(cycles * steps), np.empty((cycles * steps, 2))
    for i in range(n):
        for j in range(m):
            omega = speeds[j] / amplitudes[i]
            good[i, j] = run_one(builds[i], valves[i], law, amplitudes[i], omega, cycles, steps, all_force, pressure)
            force[i, j, :] = all_force[-steps:]
            if cycles > 1:
                before = all_force[-2 * steps : -steps]
                worst, largest = 0.0, 1.0
                for k in (steps // 4 - 1, 3 * steps // 4 - 1):
                    worst = max(worst, abs(force[i, j, k] - before[k]))
                    largest = max(largest, abs(force[i, j, k]))
                good[i, j] &= worst < 1e-3 * largest
