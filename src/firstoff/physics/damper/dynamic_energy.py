"""Where the work done on a damper goes: heat of valves, friction and mounts, and what oil and gas hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.dynamic import Trace
from firstoff.physics.damper.dynamic_state import (
    BUMP,
    MOUNT_DAMPING,
    MOUNT_RATE,
    N_GAS,
    REBOUND_STOP,
    STIFFNESS,
    V_COMPRESSION,
    V_GAS,
    V_REBOUND,
)
from firstoff.physics.damper.mixture import COMPRESSIBILITY, EXPONENT, GAS, P_REF
from firstoff.physics.damper.oil import mixture_density
from firstoff.physics.damper.twin_tube_kernel import P_ATM, P_GAS, PISTON, ROD

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Energy:
    """Energies [J] (n, r) of the whole trace, of a settled one: a cycle."""

    work: FloatArray  # done on the damper
    valves: FloatArray  # heat
    friction: FloatArray  # heat
    mounts: FloatArray  # heat
    stored: FloatArray  # what oil, gas, stops, friction and mounts hold more at the end than at the start

    @property
    def heat(self) -> FloatArray:
        return self.valves + self.friction + self.mounts

    @property
    def gap(self) -> FloatArray:
        """Share of the work that the balance work = heat + stored misses."""
        return np.asarray((self.work - self.heat - self.stored) / np.abs(self.work))


def potential(p: FloatArray, oil: FloatArray) -> FloatArray:
    """Energy w = integral dp/s that goes with a unit of oil (m3 at P_REF) in a flow at pressure p [J/m3].

    1/s = (1 + g (p_ref/p)^(1/n))/(1 + beta (p - p_ref)). Oil: ln(1 + beta (p - p_ref))/beta; bubbles, n = 1: g p_ref/c
    ln(p/(c + beta p)), c = 1 - beta p_ref; else the oil's compression in that term to first order.

    p [Pa] > 0, any shape (n, ...); oil (n, 5) rows of OIL_FIELDS. Source: integral of the law in `mixture`.
    """
    beta, x, n = (oil[:, k].reshape(-1, *[1] * (p.ndim - 1)) for k in (COMPRESSIBILITY, GAS, EXPONENT))
    g = x / (1.0 - x)
    c = 1.0 - beta * P_REF
    liquid = np.log1p(beta * (p - P_REF)) / beta
    with np.errstate(divide="ignore", invalid="ignore"):
        q = 1.0 - 1.0 / n
        plain = p**q / q * (1.0 + beta * P_REF) - beta * p ** (1.0 + q) / (1.0 + q)
        bubbles = np.where(n == 1.0, P_REF / c * np.log(p / (c + beta * p)), P_REF ** (1.0 / n) * plain)
    return np.asarray(liquid + np.where(g > 0.0, g * bubbles, 0.0))


def energy(trace: Trace, builds: FloatArray, oils: FloatArray, bodies: FloatArray) -> Energy:
    """Energy balance of a trace without gas in motion (no pocket, no feed that draws gas).

    work = integral F v dt; valves: sum of q (w_up - w_down), w `potential`; friction: integral F_f dx less what its
    stiffness holds; mounts: integral c (d sag/dt)^2. Trapezium rule, so the gap falls with the square of the step.
    Stored: oil m w - p V of each chamber, gas p V/(n - 1), stops, mounts.
    """
    b, o, body = (np.broadcast_to(np.asarray(a, dtype=np.float64), (len(trace.force), np.shape(a)[1]))
                  for a in (builds, oils, bodies))  # fmt: skip
    b3, o3, body3 = (a[:, :, np.newaxis, np.newaxis] for a in (b, o, body))
    time, x = trace.motion.time, trace.travel
    p0 = b3[:, P_GAS]
    s0 = mixture_density(p0, 1.0, o3[:, COMPRESSIBILITY], o3[:, GAS], o3[:, EXPONENT])
    w_r, w_c, w_0 = (potential(p, o) for p in (trace.p_rebound, trace.p_compression, p0))
    w_g = w_0 + (trace.p_gas - p0) / s0
    throttled = trace.flow_piston * (w_r - w_c) + trace.flow_base * (w_g - w_c)
    sag = trace.motion.travel - x
    damping = body3[:, MOUNT_DAMPING]
    with np.errstate(divide="ignore", invalid="ignore"):
        mount_power = np.where(damping > 0.0, (trace.force - body3[:, MOUNT_RATE] * sag) ** 2 / damping, 0.0)
        bristle = np.where(body3[:, STIFFNESS] > 0.0, 0.5 * trace.friction**2 / body3[:, STIFFNESS], 0.0)
    # held: chambers, reserve tube, atmosphere's share, stops, mounts
    v_r = body3[:, V_REBOUND] - (b3[:, PISTON] - b3[:, ROD]) * x
    v_c = body3[:, V_COMPRESSION] + b3[:, PISTON] * x
    oil = trace.oil_rebound + trace.oil_compression
    held = trace.oil_rebound * w_r - trace.p_rebound * v_r + trace.oil_compression * w_c - trace.p_compression * v_c
    held = held - oil * (w_0 - p0 / s0) + _gas(trace.p_gas, p0, body3) + b3[:, P_ATM] * b3[:, ROD] * x
    held = held + _stops(x, body3) + 0.5 * body3[:, MOUNT_RATE] * sag**2 * (body3[:, MOUNT_RATE] > 0.0)
    rubbed = _along(trace.friction, x) - (bristle[..., -1] - bristle[..., 0])
    return Energy(
        _driven(trace),
        _along(throttled, np.broadcast_to(time, x.shape)),
        rubbed,
        _along(mount_power, np.broadcast_to(time, x.shape)),
        held[..., -1] - held[..., 0] + bristle[..., -1] - bristle[..., 0],
    )


def _driven(trace: Trace) -> FloatArray:
    """Work of the rig, each step with the speeds at its own ends: at a corner they jump."""
    begin, end = trace.motion.speeds[:, :, 0], trace.motion.speeds[:, :, 2]
    power = trace.force[..., :-1] * begin + trace.force[..., 1:] * end
    return np.asarray(np.sum(0.5 * power * np.diff(trace.motion.time, axis=1), axis=-1))


def _along(y: FloatArray, x: FloatArray) -> FloatArray:
    return np.asarray(np.trapezoid(y, x, axis=-1))


def _gas(p: FloatArray, p0: FloatArray, body: FloatArray) -> FloatArray:
    """Energy of the gas in the reserve tube, - integral p dV from V_0 on."""
    n, v0 = body[:, N_GAS], body[:, V_GAS]
    ratio = (p0 / p) ** (1.0 / n)  # V/V0
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(n == 1.0, -p0 * v0 * np.log(ratio), v0 * (p * ratio - p0) / (n - 1.0))


def _stops(x: FloatArray, body: FloatArray) -> FloatArray:
    """Energy of both stops, k (z^2/2 + z^4/(4 z2^2))."""
    found = np.zeros_like(x)
    for at, sign in ((BUMP, -1.0), (REBOUND_STOP, 1.0)):
        z = np.maximum(sign * x - body[:, at], 0.0)
        found += body[:, at + 1] * (0.5 * z**2 + 0.25 * body[:, at + 2] ** 2 * z**4)
    return found
