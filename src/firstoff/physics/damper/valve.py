"""A damper valve: bleed, preloaded disc behind its port, and relief, side by side."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.orifice import loss, speed_and_slope
from firstoff.physics.jit import njit
from firstoff.physics.status import NO_VALUE, NOT_CONVERGED, OK

VALVE_FIELDS: Final = (
    "bleed_area",  # m2
    "disc_perimeter",  # m
    "disc_compliance",  # m/Pa, lift of the disc edge
    "disc_preload",  # Pa, cracking pressure
    "port_area",  # m2, in series with the disc
    "relief_seat_area",  # m2
    "relief_preload",  # N
    "relief_rate",  # N/m
    "relief_perimeter",  # m
    "relief_max_lift",  # m
    "bleed_a",  # 1/m, laminar coefficient 32 L/dh^2, 0 for a sharp edge
    "port_a",  # 1/m
    "relief_a",  # 1/m
    "disc_stiffening",  # 1/m2, at large deflection; 0: none
    "disc_lift_stop",  # m, lift at which the discs meet a stop; 0: no stop
)
BLEED, PERIMETER, COMPLIANCE, PRELOAD, PORT = 0, 1, 2, 3, 4
SEAT, FORCE, RATE, RELIEF, MAX_LIFT = 5, 6, 7, 8, 9
BLEED_A, PORT_A, RELIEF_A, STIFFENING, STOP = 10, 11, 12, 13, 14

MOST_STEPS: Final = 120
PATIENCE: Final = 12  # steps, after which every second one halves the bracket: no search may circle
STEP: Final = 1e-7  # relative; the step after it would be about its square
EXACT: Final = 2e-15  # relative; what rounding leaves of a flow: a search beyond it would only wander in its bracket
MOST_PRESSURE: Final = 1e12  # Pa, beyond anything a valve can hold; only ends the search


def valve_row(**fields: float) -> npt.NDArray[np.float64]:
    """A valve from named fields, the others 0 (relief rate 1): see VALVE_FIELDS. ValueError for an unknown name."""
    unknown = set(fields) - set(VALVE_FIELDS)
    if unknown:
        raise ValueError(f"{', '.join(sorted(unknown))}: not a field of a valve; allowed: {', '.join(VALVE_FIELDS)}")
    return np.array([fields.get(name, 1.0 if name == "relief_rate" else 0.0) for name in VALVE_FIELDS])


@njit("UniTuple(f8, 2)(f8, f8)")
def stiffened(linear: float, stiffening: float) -> tuple[float, float]:
    """Deflection y of a disc that stiffens as it bends, and dy/d(linear): y + s y^3 = linear.

    y = 2/r sinh(asinh(3 r linear/2)/3), r = sqrt(3 s); dy/d(linear) = 1/(1 + 3 s y^2).

    linear [m]: deflection by the law of small deflection; stiffening s [1/m2] > 0, of
    `annular_plate.stiffening` over the square of a disc's thickness. Source: root of the cubic in hyperbolic form
    (textbook).
    """
    root = math.sqrt(3.0 * stiffening)
    y = 2.0 / root * math.sinh(math.asinh(1.5 * root * linear) / 3.0)
    return y, 1.0 / (1.0 + 3.0 * stiffening * y * y)


@njit("UniTuple(f8, 2)(f8, f8[::1])")
def gap_beyond_law(dp: float, valve: npt.NDArray[np.float64]) -> tuple[float, float]:
    """Gap area A of discs that stiffen or meet a stop, and dA/d(dp): A = perimeter min(y(C dp) - y(C preload), stop).

    dp [Pa] above the preload; valve as in `flow_and_slope`, with a stiffening or a stop above 0; y of `stiffened`, C
    the compliance. Returns [m2] and [m2/Pa]. Source: as `stiffened`.
    """
    lift, rate = valve[COMPLIANCE] * (dp - valve[PRELOAD]), valve[COMPLIANCE]
    if valve[STIFFENING] > 0.0:
        bent, gain = stiffened(valve[COMPLIANCE] * dp, valve[STIFFENING])
        lift = bent - stiffened(valve[COMPLIANCE] * valve[PRELOAD], valve[STIFFENING])[0]
        rate *= gain
    if 0.0 < valve[STOP] < lift:
        lift, rate = valve[STOP], 0.0
    return valve[PERIMETER] * lift, valve[PERIMETER] * rate


@njit("UniTuple(f8, 2)(f8, f8[::1], f8, f8, f8)")
def flow_and_slope(dp: float, valve: npt.NDArray[np.float64], rho: float, mu: float, cd: float) -> tuple[float, float]:
    """Volume flow Q of a valve, and dQ/d(dp).

    Q = sum over paths of A u(dp): bleed; series(port, perimeter compliance max(dp - preload, 0)) with
    series(A1, A2) = A1 A2/sqrt(A1^2 + A2^2); relief perimeter clip((dp seat - F0)/k, 0, max lift).
    Discs that stiffen or meet a stop have the gap of `gap_beyond_law` instead.
    u from `orifice.speed_and_slope` with the path's laminar coefficient a. That of a port in series with a disc gap is
    a A/A_port: the port's oil moves at Q/A_port, slower than in the gap.

    dp [Pa], 0 and below give 0; valve (15,) in the order of VALVE_FIELDS, areas, lengths >= 0; rho [kg/m3] > 0;
    mu [Pa s] >= 0; 0 < cd <= 1. Returns [m3/s] and [m3/(s Pa)].
    Source: orifice equation; passages in series at equal flow (textbook).
    """
    if not dp > 0.0:
        return 0.0, 0.0
    speed, gain = speed_and_slope(dp, valve[BLEED_A], rho, mu, cd)
    flow, slope = valve[BLEED] * speed, valve[BLEED] * gain
    disc_rate = valve[PERIMETER] * valve[COMPLIANCE]
    disc, port = disc_rate * (dp - valve[PRELOAD]), valve[PORT]
    if disc > 0.0 and port > 0.0:
        if valve[STIFFENING] > 0.0 or valve[STOP] > 0.0:
            disc, disc_rate = gap_beyond_law(dp, valve)
        both = 1.0 / math.sqrt(port * port + disc * disc)
        share, slow = port * both, disc * both  # slow: speed in the port over that in the gap
        if valve[PORT_A] * slow != valve[BLEED_A]:
            speed, gain = speed_and_slope(dp, valve[PORT_A] * slow, rho, mu, cd)
        flow += disc * share * speed
        widening = disc_rate * share * share * share  # of the gap and port together, with dp
        slope += disc * share * gain + widening * speed
        if valve[PORT_A] > 0.0:
            slope -= disc * share * speed * gain * valve[PORT_A] * mu * disc_rate * share * share * both
    push = dp * valve[SEAT] - valve[FORCE]
    if push > 0.0 and valve[RELIEF] > 0.0:
        lift, lift_rate = push / valve[RATE], valve[SEAT] / valve[RATE]
        if lift >= valve[MAX_LIFT]:
            lift, lift_rate = valve[MAX_LIFT], 0.0
        speed, gain = speed_and_slope(dp, valve[RELIEF_A], rho, mu, cd)
        flow += valve[RELIEF] * lift * speed
        slope += valve[RELIEF] * (lift * gain + lift_rate * speed)
    return flow, slope


@njit("f8(f8, f8[::1], f8, f8, f8)")
def flow(dp: float, valve: npt.NDArray[np.float64], rho: float, mu: float, cd: float) -> float:
    """Volume flow of a valve [m3/s]; arguments and source as in `flow_and_slope`."""
    return flow_and_slope(dp, valve, rho, mu, cd)[0]


@njit("f8(f8[::1])")
def opening_pressure(valve: npt.NDArray[np.float64]) -> float:
    """Pressure difference [Pa] up to which only the bleed passes oil; infinity when nothing ever opens."""
    lowest = math.inf
    if valve[PORT] > 0.0 and valve[PERIMETER] * valve[COMPLIANCE] > 0.0:
        lowest = valve[PRELOAD]
    if valve[SEAT] > 0.0 and valve[RELIEF] > 0.0 and valve[MAX_LIFT] > 0.0:
        lowest = min(lowest, valve[FORCE] / valve[SEAT])
    return max(lowest, 0.0)


@njit("f8(f8, f8)")
def middle(low: float, high: float) -> float:
    """A point that halves low..high, its logarithm if it spans more than a factor of four."""
    if low > 0.0 and high > 4.0 * low:
        return math.sqrt(low) * math.sqrt(high)
    return 0.5 * (low + high)


@njit("f8(f8, f8, f8, f8, f8)")
def power_step(x: float, low: float, high: float, ratio: float, exponent: float) -> float:
    """Next x of the search for L(x) = target, with L taken as a power law x^exponent near x.

    x_new = x ratio^(1/exponent), ratio = target/L(x). Written in ratio^2, because a turbulent passage has the
    exponent 1/2 and is then met in one step; near 1 by the rational form of the power, which saves its cost.
    Outside low..high, the bracket, it halves that.
    """
    squared = ratio * ratio
    power = 0.5 / exponent
    if 0.2 < squared < 5.0:
        new = x * ((1.0 - power) + (1.0 + power) * squared) / ((1.0 + power) + (1.0 - power) * squared)
    else:
        new = x * squared**power
    return new if low < new < high else float(middle(low, high))


@njit("f8(f8, f8[::1], f8, f8, f8, f8)")
def first_guess(q: float, valve: npt.NDArray[np.float64], rho: float, cd: float, low: float, high: float) -> float:
    """A pressure difference in low..high near which an open valve passes q, turbulent.

    The larger of two limits: port and bleed alone, dp ~ q^2, and a disc that lifts with dp, dp ~ q^(2/3).
    """
    jet = q * math.sqrt(0.5 * rho) / cd  # area times square root of dp
    wide = valve[BLEED] + valve[PORT] + valve[RELIEF] * valve[MAX_LIFT]
    disc = valve[PERIMETER] * valve[COMPLIANCE]
    x = (jet / wide) ** 2
    if disc > 0.0 and valve[PORT] > 0.0:
        x = max(x, 0.6 * low + (jet / disc) ** (2.0 / 3.0))
    return float(min(max(x, 1.02 * low, 1e-9 * high), 0.5 * (low + high)))


@njit("Tuple((f8, i8))(f8, f8[::1], f8, f8, f8)")
def pressure_drop(q: float, valve: npt.NDArray[np.float64], rho: float, mu: float, cd: float) -> tuple[float, int]:
    """Pressure difference [Pa] at which a valve passes q, and a status: the inverse of `flow`.

    Exact while only the bleed is open; beyond, a bracketed search with the slope, at most MOST_STEPS steps.
    q [m3/s] >= 0 (below 0 or not a number: NO_VALUE); the rest as in `flow_and_slope`.
    A valve that cannot pass q at any pressure gives infinity, NOT_CONVERGED and NO_VALUE.
    """
    if not q > 0.0:
        return (0.0, OK) if q == 0.0 else (math.nan, NO_VALUE)
    opening = opening_pressure(valve)
    high = MOST_PRESSURE
    if valve[BLEED] > 0.0:
        closed = loss(q / valve[BLEED], valve[BLEED_A], rho, mu, cd)
        if closed <= opening:
            return closed, OK
        high = min(closed * (1.0 + 1e-12), high)
    elif opening >= high or not flow(high, valve, rho, mu, cd) >= q:
        return math.inf, NOT_CONVERGED | NO_VALUE  # nothing open is wide enough
    low = opening
    x = first_guess(q, valve, rho, cd, low, high)
    for step in range(MOST_STEPS):
        found, slope = flow_and_slope(x, valve, rho, mu, cd)
        if abs(found - q) <= EXACT * q:
            return x, OK
        if found < q:
            low = x
        else:
            high = x
        new = middle(low, high)  # a flow of zero has no power law
        if found > 0.0 and not (step > PATIENCE and step % 2):
            new = power_step(x, low, high, q / found, x * slope / found)
        if abs(new - x) <= STEP * x or high - low <= 4e-16 * high:
            return new, OK
        x = new
    return x, NOT_CONVERGED
