"""Closed forms of springback: pure bending and bend-unbend of a wide sheet. The layers of `strip` are held to them."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from firstoff.physics.forming.flow_curve import plane_strain_factor, plane_strain_modulus

RIGHT_ANGLE = 0.5 * pi


@dataclass(frozen=True)
class Springback:
    """What is left of a bend when it is let go; angles of a bend of 90 degrees with constant arc length."""

    ratio: float  # radius before release over radius after
    radius: float  # m, after release; infinite when nothing stays
    angle: float  # rad, that is left of 90 degrees
    overbend: float  # rad, to which the tool must bend for 90 degrees; infinite when nothing stays


def _of_ratio(ratio: float, radius: float) -> Springback:
    back = 1.0 / ratio if ratio > 0.0 else float("inf")
    return Springback(ratio, radius * back, RIGHT_ANGLE * ratio, RIGHT_ANGLE * back)


def _positive(**sizes: float) -> None:
    for name, size in sizes.items():
        if not size > 0.0:
            raise ValueError(f"{name} must be above zero, not {size:g}")


def perfectly_plastic(radius: float, thickness: float, strength: float, modulus: float) -> Springback:
    """Bend of an elastic-perfectly plastic strip, let go.

    R_i/R_f = 4 X^3 - 3 X + 1, X = R Y / (E t); 0 for X of 1/2 and more, where the bend is elastic

    radius R [m]: neutral, to the middle of the sheet; thickness t [m]; strength Y and modulus E [Pa], of the strip:
    plane strain 2 Y / sqrt(3) and E / (1 - nu2). Raises ValueError unless all are above zero. Source: textbook
    (Gardiner 1957 in its uniaxial form).
    """
    _positive(radius=radius, thickness=thickness, strength=strength, modulus=modulus)
    x = radius * strength / (modulus * thickness)
    return _of_ratio(4.0 * x**3 - 3.0 * x + 1.0 if x < 0.5 else 0.0, radius)


def power_law(
    radius: float, thickness: float, strength: float, exponent: float, modulus: float, poisson: float, r: float = 1.0
) -> tuple[float, Springback]:
    """Moment per width [N] and springback of a wide strip with sigma = K eps^n, elastic core neglected.

    M = 2 K' (t/2)^(n+2) / ((n+2) R^n), K' = f^(n+1) K; R_i/R_f = 1 - 12 M R / (E' t^3)

    radius R [m] neutral; thickness t [m]; strength K [Pa]; exponent n in 0..1; modulus E [Pa], poisson nu. Raises
    ValueError out of range. Source: textbook (Hosford and Caddell, Metal Forming, chapter on bending, from memory).
    """
    _positive(radius=radius, thickness=thickness, strength=strength, modulus=modulus)
    if not 0.0 <= exponent <= 1.0:
        raise ValueError(f"exponent must lie in 0 to 1, not {exponent:g}")
    along = float(plane_strain_factor(r)) ** (exponent + 1.0) * strength
    moment = 2.0 * along * (0.5 * thickness) ** (exponent + 2.0) / ((exponent + 2.0) * radius**exponent)
    stiff = float(plane_strain_modulus(modulus, poisson))
    return moment, _of_ratio(max(1.0 - 12.0 * moment * radius / (stiff * thickness**3), 0.0), radius)


def sidewall_curl(tension: float, thickness: float, strength: float, modulus: float) -> float:
    """Radius [m] of a wall that was bent over a small radius and straightened under tension, then let go.

    R = E' t^3 / (12 M), M = Y' t^2 / 4 (1 - tau^2), tau = T / (Y' t)

    tension T per width [N/m], below Y' t; thickness t [m]; strength Y' and modulus E' of the wide strip [Pa]. Elastic,
    perfectly plastic; reversal complete. Raises ValueError out of range. Source: textbook, derived.
    """
    _positive(thickness=thickness, strength=strength, modulus=modulus)
    share = tension / (strength * thickness)
    if not 0.0 <= share < 1.0:
        raise ValueError(f"tension must lie in 0 to the yield force of the sheet, not {share:g} times that")
    moment = 0.25 * strength * thickness**2 * (1.0 - share**2)
    return modulus * thickness**3 / (12.0 * moment)
