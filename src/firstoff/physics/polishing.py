"""Buffing wheels one after the other: what each takes off, how smooth it leaves the face, and the deepest flaw left."""

from __future__ import annotations

import math

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within


def removed(coefficient: Numbers, pressure: Numbers, speed: Numbers, time: Numbers) -> FloatArray:
    """Depth that a wheel takes off, d = k p v t [m].

    coefficient k [1/Pa], fitted to trials; pressure p [Pa], peripheral speed v [m/s], contact time t of a point [s];
    all 0 or more, any one shape. Source: Preston 1927. ValueError out of range.
    """
    k, p = not_negative("coefficient", coefficient), not_negative("pressure", pressure)
    found: FloatArray = k * p * not_negative("speed", speed) * not_negative("time", time)
    return found


def smoothed(before: Numbers, end: Numbers, depth: Numbers, scale: Numbers) -> FloatArray:
    """Roughness after a wheel, Ra = Ra_inf + (Ra_0 - Ra_inf) exp(-d/d_e) [m].

    before Ra_0, end Ra_inf that the wheel's own grain leaves, depth d it takes off [m], all 0 or more; scale
    d_e > 0 [m]: removal after which what was rougher has fallen to 1/e. Any one shape. A wheel rougher than the face
    roughens it. Source: saturating exponential, a model whose constants need a trial (no source). ValueError out of
    range.
    """
    start, least = not_negative("roughness", before), not_negative("end roughness", end)
    left = np.exp(-not_negative("depth", depth) / positive("scale", scale))
    found: FloatArray = least + (start - least) * left
    return found


def deepest(before: Numbers, own: Numbers, depth: Numbers) -> FloatArray:
    """Deepest flaw left after a wheel, s = max(s_0 - d, s_own) [m].

    before s_0: deepest flaw that came in; depth d taken off; own: deepest scratch of the wheel itself; all >= 0, any
    one shape. The bottom of a flaw stays where it is while the face is taken down to it; a wheel's own scratches are
    taken as no deeper than what it took off. Source: geometry. ValueError out of range.
    """
    cut = not_negative("depth", depth)
    new = np.minimum(not_negative("own scratch", own), cut)
    return np.maximum(not_negative("flaw", before) - cut, new)


def levelled(flaw: Numbers, nickel: Numbers, scale: Numbers) -> FloatArray:
    """Depth of a flaw under a levelling deposit, s = s_0 exp(-t/t_l) [m].

    flaw s_0 >= 0, thickness t >= 0 of the levelling (bright) nickel on it, scale t_l > 0: thickness that leaves 1/e
    of it, from the bath supplier's levelling curve [m]; any one shape. Source: constant share filled a unit of
    thickness, a model whose constant needs a panel (no source). ValueError out of range.
    """
    t = not_negative("nickel", nickel)
    found: FloatArray = not_negative("flaw", flaw) * np.exp(-t / positive("levelling thickness", scale))
    return found


def levelling_share(nickel: Numbers, scale: Numbers) -> FloatArray:
    """Share of a flaw that the deposit fills, 1 - exp(-t/t_l); arguments as in `levelled`."""
    found: FloatArray = 1.0 - levelled(1.0, nickel, scale)
    return found


def worn_speed(speed: Numbers, share: Numbers) -> FloatArray:
    """Peripheral speed of a worn wheel on the same spindle, v D/D_0 [m/s]; share D/D_0 of its new diameter, above 0.

    Source: geometry. ValueError out of range.
    """
    found: FloatArray = not_negative("speed", speed) * positive("share of the diameter", share)
    return found


def spindle(speed: Numbers, diameter: Numbers) -> FloatArray:
    """Speed of the spindle [1/s], v/(pi D); peripheral speed v [m/s] >= 0, diameter D [m] > 0. Source: geometry."""
    found: FloatArray = not_negative("speed", speed) / (math.pi * positive("diameter", diameter))
    return found


def rim_stress(density: Numbers, speed: Numbers, bore_share: Numbers, poisson: Numbers = 0.3) -> FloatArray:
    """Largest hoop stress of a turning wheel, at its bore, rho v^2 ((3 + nu) + (1 - nu) (r_i/r_o)^2)/4 [Pa].

    density rho [kg/m3] > 0; peripheral speed v [m/s] >= 0; bore over diameter r_i/r_o, 0 to below 1; Poisson's ratio nu
    0 to 0.5. A flat ring of even thickness. It grows with the square of the speed, whatever the size; the maker's rated
    speed decides, never this. Source: rotating disc (textbook, e.g. Timoshenko and Goodier). ValueError out of range.
    """
    rho, v = positive("density", density), not_negative("speed", speed)
    nu = within("Poisson's ratio", poisson, least=0.0, most=0.5)
    share = within("bore over diameter", bore_share, least=0.0, below=1.0)
    found: FloatArray = 0.25 * rho * v**2 * ((3.0 + nu) + (1.0 - nu) * share**2)
    return found
