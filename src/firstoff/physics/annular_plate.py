"""Flat annular valve disc, clamped at its inner edge and free at its outer."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.float64] | float


def _check(b: Numbers, r0: Numbers, poisson: Numbers) -> None:
    b_, r_, nu = (np.asarray(value, dtype=np.float64) for value in (b, r0, poisson))
    if not np.all((b_ > 0.0) & (b_ < 1.0)):
        raise ValueError("b_over_a must lie between 0 and 1")
    if not np.all((r_ >= b_) & (r_ <= 1.0)):
        raise ValueError("the load must lie between the clamp and the edge: b_over_a <= r0_over_a, r_over_a <= 1")
    if not np.all((nu >= 0.0) & (nu <= 0.5)):
        raise ValueError("poisson must lie between 0 and 0.5")


def _plate_constants(b: Numbers, nu: Numbers) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """C2, C3, C8, C9 of Roark table 11.2 over b/a."""
    log = np.log(1.0 / np.asarray(b))
    square = np.square(b)
    c2 = 0.25 * (1.0 - square * (1.0 + 2.0 * log))
    c3 = 0.25 * b * ((square + 1.0) * log + square - 1.0)
    c8 = 0.5 * (1.0 + nu + (1.0 - nu) * square)
    c9 = b * (0.5 * (1.0 + nu) * log + 0.25 * (1.0 - nu) * (1.0 - square))
    return c2, c3, c8, c9


def uniform_pressure(b: Numbers, r0: Numbers, poisson: Numbers) -> tuple[FloatArray, FloatArray]:
    """Edge deflection and clamp moment under uniform pressure q from r0 to the edge.

    C_y = |y(a)| E t^3/(q a^4), K_Mrb = |M_r(b)|/(q a^2); M_rb = -(q a^2/C8)(C9 (a^2 - r0^2)/(2 a b) - L17),
    y_a = (M_rb C2 + Q_b a C3 - q a^2 L11) a^2/D, Q_b = q (a^2 - r0^2)/(2 b).

    b, r0: ratios to the outer radius a, 0 < b < 1, b <= r0 <= 1; poisson 0 to 0.5; arrays of one shape.
    Small deflection (below about t/2), thin plate. Source: Roark 7th ed., table 11.2, case 2l, C and L constants.
    ValueError out of range.
    """
    _check(b, r0, poisson)
    c2, c3, c8, c9 = _plate_constants(b, poisson)
    square, log = np.square(r0), np.log(1.0 / np.asarray(r0))
    l11 = (1.0 + 4.0 * square - 5.0 * square**2 - 4.0 * square * (2.0 + square) * log) / 64.0
    l17 = 0.25 * (1.0 - 0.25 * (1.0 - poisson) * (1.0 - square**2) - square * (1.0 + (1.0 + poisson) * log))
    shear = (1.0 - square) / (2.0 * b)
    moment = (c9 * shear - l17) / c8
    deflection = moment * c2 - shear * c3 + l11
    return 12.0 * (1.0 - np.square(poisson)) * deflection, moment


def ring_load(b: Numbers, r: Numbers, poisson: Numbers) -> tuple[FloatArray, FloatArray]:
    """Edge deflection and clamp moment under a line load w on the circle of radius r.

    C_y = |y(a)| E t^3/(w a^3), K_Mrb = |M_r(b)|/(w a); M_rb = -(w a/C8)(r C9/b - L9), Q_b = w r/b,
    y_a = M_rb a^2 C2/D + Q_b a^3 C3/D - w a^3 L3/D.

    Arguments as in `uniform_pressure`; w [N/m]. Source: Roark 7th ed., table 11.2, case 1l. ValueError out of range.
    """
    _check(b, r, poisson)
    c2, c3, c8, c9 = _plate_constants(b, poisson)
    square, log = np.square(r), np.log(1.0 / np.asarray(r))
    l3 = 0.25 * r * ((square + 1.0) * log + square - 1.0)
    l9 = r * (0.5 * (1.0 + poisson) * log + 0.25 * (1.0 - poisson) * (1.0 - square))
    moment = (r / b * c9 - l9) / c8
    deflection = moment * c2 - r / b * c3 + l3
    return 12.0 * (1.0 - np.square(poisson)) * deflection, moment


def stack_rigidity(modulus: npt.ArrayLike, thickness: npt.ArrayLike) -> FloatArray:
    """Sum of E t^3 [N m] over the discs of a stack (last axis), which slide on each other without friction.

    modulus E [Pa], thickness t [m], both > 0. Source: plate theory; equal radii, equal deflected shape.
    """
    e, t = np.broadcast_arrays(np.asarray(modulus, np.float64), np.asarray(thickness, np.float64))
    if not (np.all(e > 0.0) and np.all(t > 0.0)):
        raise ValueError("modulus and thickness of a disc must be above 0")
    total: npt.NDArray[np.float64] = np.sum(e * t**3, axis=-1) if e.ndim else e * t**3
    return total


def edge_compliance(coefficient: Numbers, outer_radius: Numbers, rigidity: Numbers) -> FloatArray:
    """Lift of the edge over pressure, y/q = C_y a^4/sum(E t^3) [m/Pa].

    coefficient C_y of `uniform_pressure`; outer_radius a [m]; rigidity [N m] of `stack_rigidity`.
    """
    return np.asarray(coefficient * np.asarray(outer_radius, dtype=np.float64) ** 4 / rigidity)


def clamp_stress(moment: Numbers, modulus: Numbers, thickness: Numbers, rigidity: Numbers) -> FloatArray:
    """Radial bending stress at the clamp of one disc of a stack, sigma = 6 M_i/t^2, M_i = M E t^3/sum(E t^3) [Pa].

    moment M [N m/m] of the stack, |M_rb|; modulus E [Pa], thickness t [m] of the disc; rigidity [N m] of the stack.
    Without stress concentration. Source: plate theory, moment shared by stiffness.
    """
    return np.asarray(6.0 * np.asarray(moment) * modulus * thickness / rigidity)
