"""Forces and energies of the press: shearing, bending, drawing, coining, and what a crank press can give."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Number = npt.ArrayLike

SHEAR_TO_TENSILE = 0.7  # of steel sheet: handbooks, from memory
V_BEND, WIPE_BEND = 1.33, 0.33  # constants of the handbooks
INDENTATION = 1.0 + 0.5 * np.pi  # mean pressure over the plane-strain yield stress
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


def bead_hit(
    closed: Number, stiffness: Number, flow: Number, length: Number, radius: Number
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Force [N], depth and width [m] of rounded beads that a springy press drives into a sheet on a hard tool.

    k (q - d) = 2.57 Y' b L, b = 2 sqrt(2 rho d)

    closed q [m]: how far the slide would go beyond contact were the press rigid; nothing is hit for 0 and less.
    stiffness k [N/m]; flow Y' [Pa] along the strip (plane strain); length L [m] of all beads; radius rho [m] of a bead.
    Range: d small against rho and the sheet's thickness. Source: mean pressure of Prandtl's indentation, (2 + pi)/2
    times the plane-strain yield stress (Hill, Plasticity, chapter on slip lines, from memory); no hardening under it.
    """
    q = np.maximum(np.asarray(closed, dtype=np.float64), 0.0)
    k, rho = np.asarray(stiffness, dtype=np.float64), np.asarray(radius, dtype=np.float64)
    along = np.asarray(flow, dtype=np.float64) * np.asarray(length, dtype=np.float64)
    per_root = INDENTATION * along * 2.0 * np.sqrt(2.0 * rho)
    root = (np.sqrt(per_root**2 + 4.0 * k**2 * q) - per_root) / (2.0 * k)
    return np.asarray(per_root * root), np.asarray(root**2), np.asarray(2.0 * np.sqrt(2.0 * rho) * root)


def spread_strain(depth: Number, width: Number, arc: Number, thickness: Number) -> FloatArray:
    """Membrane strain of a bend whose bead has displaced sheet along it.

    e = (2/3) d b / (s t): the segment under a shallow bead, spread over the bend's arc s

    depth d, width b, arc s, thickness t [m]. Source: volume of the sheet is constant, plane strain; textbook.
    """
    displaced = 2.0 / 3.0 * np.asarray(depth, dtype=np.float64) * np.asarray(width, dtype=np.float64)
    return np.asarray(displaced / (np.asarray(arc, dtype=np.float64) * np.asarray(thickness, dtype=np.float64)))


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
