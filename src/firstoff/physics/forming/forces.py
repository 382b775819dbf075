"""Forces and energies of the press: shearing, bending, drawing, coining, and what a crank press can give."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Number = npt.ArrayLike

SHEAR_TO_TENSILE = 0.7  # of steel sheet: handbooks, from memory
V_BEND, WIPE_BEND = 1.33, 0.33  # constants of the handbooks
TONNE = 9806.65  # N, metric tonne-force


def shear(tensile: Number, thickness: Number, length: Number, ratio: Number = SHEAR_TO_TENSILE) -> FloatArray:
    """Force to cut along a length with a flat edge [N].

    F = c Rm t L

    tensile Rm [Pa], thickness t [m], length L [m], c = shear over tensile strength. Shear on the punch, worn edges and
    stripping (a tenth more: common practice) are not in it. Source: handbooks, e.g. Groover.
    """
    return np.asarray(np.asarray(ratio) * np.asarray(tensile) * np.asarray(thickness) * np.asarray(length))


def bend(tensile: Number, thickness: Number, length: Number, opening: Number, constant: Number) -> FloatArray:
    """Force to bend along a length [N].

    F = k Rm L t^2 / W

    constant k: 1.33 in a V die, 0.33 in a wiping die; opening W [m]: die opening, of a wiping die punch radius + die
    radius + t. Source: handbooks, e.g. Groover (1.33 read, 0.33 from memory).
    """
    return np.asarray(np.asarray(constant) * tensile * np.asarray(length) * np.asarray(thickness) ** 2 / opening)


def bending_tension(flow: Number, thickness: Number, radius: Number, tension: Number) -> FloatArray:
    """What bending or straightening over a radius adds to the tension per width [N/m].

    dT = (Y' t^2 / 4) (1 - (T / Y' t)^2) / rho, rho = r + t/2

    flow Y' [Pa] along the strip; thickness t, inside radius r [m]; tension T [N/m]. Nothing where T has reached Y' t.
    Source: work of the plastic moment over the arc; Marciniak, Duncan and Hu, chapter 10 (from memory).
    """
    y, t = np.asarray(flow), np.asarray(thickness)
    left = np.maximum(1.0 - (np.asarray(tension) / (y * t)) ** 2, 0.0)
    return np.asarray(0.25 * y * t**2 * left / (np.asarray(radius) + 0.5 * t))


def drawn_wall(
    binder: Number, friction: Number, wrap: Number, flow: Number, thickness: Number, radius: Number
) -> tuple[FloatArray, FloatArray]:
    """Tension per width of the sheet as it runs onto the die radius, and of the wall behind it [N/m].

    T0 = 2 mu B;  T1 = (T0 + dT_bend) exp(mu phi) + dT_straighten

    binder B: binder force per length of the edge [N/m]; friction mu; wrap phi [rad]; flow Y' [Pa]; thickness t and die
    radius r [m]. Source: rope friction and `bending_tension`; textbook.
    """
    mu = np.asarray(friction)
    first = 2.0 * mu * np.asarray(binder)
    over = (first + bending_tension(flow, thickness, radius, first)) * np.exp(mu * np.asarray(wrap))
    return first, np.asarray(over + bending_tension(flow, thickness, radius, over))


def coining_strain(
    pressure: Number, strength: Number, exponent: Number, pre_strain: Number, plastic: Number, factor: Number
) -> FloatArray:
    """Membrane strain that a sheet takes when it is squeezed between flat tools, spreading along the strip.

    p = f K (eps0 + f (p0 + e))^n, so e = ((p / f K)^(1/n) - eps0) / f - p0; none below the yield pressure

    pressure p [Pa]; strength K [Pa], exponent n, pre_strain eps0; plastic p0: plastic strain of the strip before;
    factor f as in `plane_strain_factor`. No friction hill: thin lands. Source: plane-strain compression; textbook.
    """
    f = np.asarray(factor)
    reached = (np.asarray(pressure) / (f * np.asarray(strength))) ** (1.0 / np.asarray(exponent))
    return np.asarray(np.maximum((reached - pre_strain) / f - plastic, 0.0))


def crank_force(rated: Number, rated_distance: Number, stroke: Number, distance: Number) -> FloatArray:
    """Force that a crank press may give at a distance above the bottom of its stroke [N].

    F = F_r min(1, sin a_r / sin a), h = S/2 (1 - cos a)

    rated F_r [N] at rated_distance [m]; stroke S, distance h [m], 0 <= h <= S. Long connecting rod. Source: torque of a
    crank; textbook.
    """
    stroke = np.asarray(stroke, dtype=np.float64)

    def sine(h: Number) -> FloatArray:
        cosine = np.clip(1.0 - 2.0 * np.asarray(h) / stroke, -1.0, 1.0)
        return np.asarray(np.sqrt(1.0 - cosine**2))

    at = sine(distance)
    share = np.where(at > 0.0, sine(rated_distance) / np.where(at > 0.0, at, 1.0), 1.0)
    return np.asarray(np.asarray(rated) * np.minimum(1.0, share))
