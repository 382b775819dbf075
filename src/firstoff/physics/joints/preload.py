"""Preload of a bolt and the torque that makes it."""

from __future__ import annotations

import math

import numpy as np

from firstoff.physics.joints.threads import diameters
from firstoff.physics.ranges import FloatArray, Numbers, positive, within

COS30 = math.cos(math.radians(30.0))


def _friction(value: Numbers) -> FloatArray:
    return within("friction coefficient", value, above=0.0, most=1.0)


def head_diameter(bearing: Numbers, hole: Numbers) -> FloatArray:
    """Mean diameter of friction under the head, D_Km = (d_w + d_h)/2 [m]; bearing d_w > hole d_h > 0 [m]."""
    dw, dh = positive("bearing diameter", bearing), positive("hole", hole)
    if not np.all(dh < dw):
        raise ValueError("the hole must be smaller than the bearing diameter of the head")
    return (dw + dh) / 2.0


def assembly_preload(
    nominal: Numbers, pitch: Numbers, yield_strength: Numbers, friction: Numbers, utilisation: Numbers = 0.9
) -> FloatArray:
    """Preload at which tension and torsion of tightening together use a share of the yield strength.

    F = nu R_p A_s/sqrt(1 + 3 (1.5 (d2/d0)(P/(pi d2) + 1.155 mu))^2), d0 = (d2 + d3)/2.

    nominal d, pitch P [m]; yield_strength R_p0.2 [Pa]; friction mu of the thread, 0 to 1; utilisation nu 0 to 1, 0.9 by
    custom; any one shape; result [N]. Shank at least as thick as d0. Source: VDI 2230 part 1; agrees with its tables
    as reprinted by a dealer (M10x1.25, mu 0.12: 31.6 kN). ValueError out of range.
    """
    size = diameters(nominal, pitch)
    twist = 1.5 * size.pitch / size.stress * (pitch / (math.pi * size.pitch) + 1.155 * _friction(friction))
    used = within("utilisation", utilisation, above=0.0, most=1.0) * positive("yield strength", yield_strength)
    return used * math.pi / 4.0 * size.stress**2 / np.sqrt(1.0 + 3.0 * twist**2)


def torque(preload: Numbers, nominal: Numbers, pitch: Numbers, friction: Numbers, head: Numbers) -> FloatArray:
    """Tightening torque of a preload, M = F (0.16 P + 0.58 d2 mu + mu D_Km/2) [N m].

    preload F [N]; nominal d, pitch P, head D_Km [m]; friction mu 0 to 1, the same in thread and under the head; any one
    shape. Source: VDI 2230 part 1. ValueError out of range.
    """
    d2, mu = diameters(nominal, pitch).pitch, _friction(friction)
    lever = 0.16 * np.asarray(pitch) + 0.58 * d2 * mu + mu * positive("head diameter", head) / 2.0
    return positive("preload", preload) * lever


def torque_motosh(preload: Numbers, nominal: Numbers, pitch: Numbers, friction: Numbers, head: Numbers) -> FloatArray:
    """Torque without rounded factors, M = F (P/(2 pi) + mu d2/(2 cos 30) + mu D_Km/2) [N m]; arguments as `torque`.

    Source: Motosh 1976.
    """
    return positive("preload", preload) * _lever(nominal, pitch, _friction(friction), head)


def _lever(nominal: Numbers, pitch: Numbers, mu: FloatArray, head: Numbers) -> FloatArray:
    d2 = diameters(nominal, pitch).pitch
    under_head = mu * positive("head diameter", head) / 2.0
    lever: FloatArray = np.asarray(pitch) / (2.0 * math.pi) + mu * d2 / (2.0 * COS30) + under_head
    return lever


def torque_of_wedge(preload: Numbers, nominal: Numbers, pitch: Numbers, friction: Numbers, head: Numbers) -> FloatArray:
    """Torque by the wedge, M = F (d2/2 tan(phi + rho') + mu D_Km/2) [N m]; arguments as `torque`.

    tan phi = P/(pi d2), tan rho' = mu/cos 30. Source: the screw as a wedge (textbook).
    """
    d2, mu = diameters(nominal, pitch).pitch, _friction(friction)
    angle = np.arctan(np.asarray(pitch) / (math.pi * d2)) + np.arctan(mu / COS30)
    lever: FloatArray = d2 / 2.0 * np.tan(angle) + mu * positive("head diameter", head) / 2.0
    return positive("preload", preload) * lever


def stretch(preload: Numbers, nominal: Numbers, pitch: Numbers, grip: Numbers, modulus: float = 205e9) -> FloatArray:
    """How much longer a bolt gets [m], F (l + d)/(E A_s): the clamped length and half a diameter in head and in thread.

    preload F [N] >= 0; nominal d, pitch, grip l [m] > 0; modulus E [Pa]. Source: a rod in tension; the half diameters
    as in VDI 2230 part 1 for the head (0.5 d) and about so for the engaged thread (from memory). ValueError out of
    range.
    """
    area = math.pi / 4.0 * diameters(nominal, pitch).stress ** 2
    length = positive("clamped length", grip) + positive("thread diameter", nominal)
    return within("preload", preload, least=0.0) * length / (positive("modulus", modulus) * area)


def torque_short(nut_factor: Numbers, nominal: Numbers, preload: Numbers) -> FloatArray:
    """Torque by the short form, M = K d F [N m]; nut_factor K, nominal d [m], preload F [N], all > 0. Textbook."""
    return positive("nut factor", nut_factor) * positive("thread diameter", nominal) * positive("preload", preload)


def preload_scatter(
    torque_set: Numbers,
    tool_scatter: Numbers,
    nominal: Numbers,
    pitch: Numbers,
    head: Numbers,
    friction: tuple[Numbers, Numbers, Numbers],
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Largest, nominal and least preload [N] that a torque leaves: F = M/(P/(2 pi) + mu d2/(2 cos 30) + mu D_Km/2).

    Largest at the least friction and M (1 + s), least at the largest friction and M (1 - s); their ratio is the
    tightening factor alpha_A. torque_set M [N m] > 0; tool_scatter s, a share, 0 to below 1; nominal, pitch, head [m];
    friction (least, nominal, largest), rising, 0 to 1. Limits of all scatters at once, not a probability. Source:
    Motosh 1976; VDI 2230's definition of alpha_A. ValueError out of range.
    """
    m, s = positive("torque", torque_set), within("tool scatter", tool_scatter, least=0.0, below=1.0)
    low, mid, high = (_friction(value) for value in friction)
    if not np.all((low <= mid) & (mid <= high)):
        raise ValueError("friction must rise from its least over its nominal to its largest value")
    levers = [_lever(nominal, pitch, mu, head) for mu in (low, mid, high)]
    return m * (1.0 + s) / levers[0], m / levers[1], m * (1.0 - s) / levers[2]
