"""What rod, tubes and bump stop bear: limits that no force curve shows."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.float64] | float


def _above_zero(**values: Numbers) -> None:
    wrong = [name for name, value in values.items() if not np.all(np.asarray(value) > 0.0)]
    if wrong:
        raise ValueError(f"{', '.join(wrong)} must be above 0")


def critical_slenderness(modulus: Numbers, strength: Numbers) -> FloatArray:
    """Slenderness at which Johnson's parabola meets Euler's hyperbola, sqrt(2 pi^2 E/Re).

    modulus E, strength Re [Pa] > 0. Source: Shigley, Mechanical Engineering Design, columns (from memory).
    """
    _above_zero(modulus=modulus, strength=strength)
    return np.asarray(np.sqrt(2.0 * math.pi**2 * np.asarray(modulus) / strength))


def buckling_force(
    diameter: Numbers, length: Numbers, modulus: Numbers, strength: Numbers, factor: Numbers = 1.0
) -> FloatArray:
    """Force at which a round rod buckles [N]: Euler when slender, Johnson when not.

    s = K L/(d/4); s >= s_c: F = pi^2 E A/s^2; else F = A (Re - (Re s/(2 pi))^2/E), with s_c of `critical_slenderness`.

    diameter d, length L [m]; modulus E, strength Re [Pa]; factor K of the ends, 1 both pinned; all > 0, shapes that go
    together. Straight rod, central load. Source: Euler; Johnson after Shigley (from memory). ValueError out of range.
    """
    _above_zero(diameter=diameter, length=length, factor=factor)
    area = 0.25 * math.pi * np.square(diameter)
    slender = np.asarray(factor) * length / (0.25 * np.asarray(diameter))
    euler = math.pi**2 * np.asarray(modulus) / slender**2
    johnson = np.asarray(strength) - (np.asarray(strength) * slender / (2.0 * math.pi)) ** 2 / np.asarray(modulus)
    return np.asarray(area * np.where(slender >= critical_slenderness(modulus, strength), euler, johnson))


def rod_stress(diameter: Numbers, axial: Numbers, side: Numbers, overhang: Numbers) -> FloatArray:
    """Largest stress of a round rod under axial and side load [Pa], 4 F/(pi d^2) + 32 Q a/(pi d^3).

    diameter d [m] > 0; axial F and side Q [N], amounts; overhang a [m] from the guide to where Q acts: the moment is
    largest at the guide. Source: bending of a beam (textbook). ValueError out of range.
    """
    _above_zero(diameter=diameter)
    d = np.asarray(diameter)
    moment = np.abs(side) * np.abs(overhang)
    return np.asarray(4.0 * np.abs(axial) / (math.pi * d**2) + 32.0 * moment / (math.pi * d**3))


def hoop_stress(inside: Numbers, outside: Numbers, bore: Numbers, wall: Numbers) -> FloatArray:
    """Hoop stress at the bore of a thick tube [Pa], (p_i (ro^2 + ri^2) - 2 p_o ro^2)/(ro^2 - ri^2).

    inside p_i, outside p_o [Pa], both from the same zero; bore 2 ri, wall ro - ri [m] > 0. Long elastic tube, seam and
    ovality left out. Source: Lame (textbook). ValueError out of range.
    """
    _above_zero(bore=bore, wall=wall)
    ri2 = np.square(0.5 * np.asarray(bore))
    ro2 = np.square(0.5 * np.asarray(bore) + wall)
    return np.asarray((np.asarray(inside) * (ro2 + ri2) - 2.0 * np.asarray(outside) * ro2) / (ro2 - ri2))


def first_yield_pressure(strength: Numbers, bore: Numbers, wall: Numbers) -> FloatArray:
    """Pressure inside, over that outside, at which the bore begins to yield [Pa], Re (ro^2 - ri^2)/(ro^2 + ri^2).

    strength Re [Pa], bore 2 ri, wall [m] > 0. Source: Lame, rule of the largest hoop stress. ValueError out of range.
    """
    _above_zero(strength=strength)
    return np.asarray(np.asarray(strength) / hoop_stress(1.0, 0.0, bore, wall))


def stop_energy(rate: Numbers, travel: Numbers, progression: Numbers = 0.0) -> FloatArray:
    """Energy a bump stop takes until it is used up [J], k s^2 (1/2 + q/4), of F = k x (1 + q (x/s)^2).

    rate k [N/m], travel s [m], progression q, none below 0. Source: integral of the force. ValueError out of range.
    """
    if not all(np.all(np.asarray(value) >= 0.0) for value in (rate, travel, progression)):
        raise ValueError("rate, travel and progression of a stop must not be below 0")
    return np.asarray(np.asarray(rate) * np.square(travel) * (0.5 + 0.25 * np.asarray(progression)))


def bottoming_speed(energy: Numbers, mass: Numbers) -> FloatArray:
    """Speed of a mass that uses a stop up [m/s], sqrt(2 E/m): spring, damper and gravity left out.

    energy E [J] >= 0; mass m [kg] > 0. Source: kinetic energy. ValueError out of range.
    """
    _above_zero(mass=mass)
    if not np.all(np.asarray(energy) >= 0.0):
        raise ValueError("energy must not be below 0")
    return np.asarray(np.sqrt(2.0 * np.asarray(energy) / mass))
