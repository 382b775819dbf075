"""Flat annular valve disc, clamped at its inner edge and free at its outer."""

from __future__ import annotations

from functools import lru_cache

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


def stiffening(b: Numbers, r0: Numbers, poisson: Numbers) -> FloatArray:
    """Coefficient k of the stiffening at large deflection, y/t + k (y/t)^3 = C_y q a^4/(E t^4).

    The disc keeps the shape w = y phi(r) of small deflection; its middle plane stretches, held at the clamp (u(b) = 0)
    and free at the edge (N_r(a) = 0). With x = r/a, f = phi', G = int_b f^2/x dx, H = int_b x G dx:
    n_r = (B + A (x^2 - b^2)/2 - H/2)/x^2, n_t = A - G/2 - n_r, A = (1 + nu) B/b^2, B from n_r(1) = 0;
    k = 4 pi int (n_r^2 + n_t^2 - 2 nu n_r n_t) x dx / (2 pi/C_y int_r0 phi x dx).

    b, r0, poisson as in `uniform_pressure`. Against the full von Karman equations the deflection is within 2 % up to
    four thicknesses, on the soft side by that much. Discs that slide on each other all have the k of one. Source:
    energy method of Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, ch. 13 (from memory), for an annulus.
    ValueError out of range.
    """
    ratios = np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, dtype=np.float64)) for x in (b, r0, poisson)))
    if all(x.size and np.all(x == x.flat[0]) for x in ratios):  # one drawing, many builds: worked out once
        found = np.full(ratios[0].shape, _of_one(*(float(x.flat[0]) for x in ratios)))
    else:
        found = _stiffening(*(x.ravel() for x in ratios)).reshape(ratios[0].shape)
    return found if np.ndim(b) or np.ndim(r0) or np.ndim(poisson) else np.asarray(found[0])


@lru_cache(maxsize=4096)
def _of_one(b: float, r0: float, poisson: float) -> float:
    """`stiffening` of one disc; a chain asks for the same few discs over and over."""
    return float(_stiffening(*(np.array([x]) for x in (b, r0, poisson)))[0])


_NODES = 33  # odd; Simpson's rule is then good to 1e-4 of k for a clamp of a tenth of the edge or more


def _stiffening(b: FloatArray, r0: FloatArray, nu: FloatArray) -> FloatArray:
    """`stiffening` of n discs (n,), by Simpson's rule from the clamp to where the load begins and on to the edge."""
    coefficient, moment = uniform_pressure(b, r0, nu)
    b, r0, nu = (column[:, np.newaxis] for column in (b, r0, nu))
    grid = np.linspace(0.0, 1.0, _NODES)
    x = np.concatenate([b + (r0 - b) * grid, r0 + (1.0 - r0) * grid], axis=1)  # r0 stands twice: a kink of the load
    slope = _slope(x, b, r0, moment[:, np.newaxis]) * 12.0 * (1.0 - nu**2) / -coefficient[:, np.newaxis]
    shape = _running(slope, x)
    g = _running(slope**2 / x, x)
    h = _running(x * g, x)
    at_clamp = 0.5 * h[:, -1:] / (1.0 + (1.0 + nu) * (1.0 - b**2) / (2.0 * b**2))
    a = (1.0 + nu) * at_clamp / b**2
    radial = (at_clamp + a * (x**2 - b**2) / 2.0 - h / 2.0) / x**2
    hoop = a - g / 2.0 - radial
    membrane = _running((radial**2 + hoop**2 - 2.0 * nu * radial * hoop) * x, x)[:, -1]
    work = _running(shape * x, x)
    loaded = work[:, -1] - work[:, _NODES - 1]
    return np.asarray(2.0 * membrane * np.abs(coefficient) / loaded)


def _slope(x: FloatArray, b: FloatArray, r0: FloatArray, moment: FloatArray) -> FloatArray:
    """Slope of the small deflection, D theta/(q a^3) = -K x F5 + Q x^2 F6 - x^3 G14, Q = (1 - r0^2)/(2 b).

    Source: Roark 7th ed., table 11.2, general solution (from memory); tested by what it integrates to.
    """
    inside = np.maximum(x, r0)
    f5 = 0.5 * (1.0 - (b / x) ** 2)
    f6 = b / (4.0 * x) * ((b / x) ** 2 - 1.0 + 2.0 * np.log(x / b))
    g14 = (1.0 - (r0 / inside) ** 4 - 4.0 * (r0 / inside) ** 2 * np.log(inside / r0)) / 16.0
    return np.asarray(-moment * x * f5 + (1.0 - r0**2) / (2.0 * b) * x**2 * f6 - x**3 * g14)


def _running(y: FloatArray, x: FloatArray) -> FloatArray:
    """Integral of y over x (n, 2 m) from the start to each node, in two pieces of m equal steps each."""
    from scipy.integrate import cumulative_simpson

    pieces = [
        cumulative_simpson(y[:, part], dx=1.0, axis=1, initial=0.0) * (x[:, part][:, 1:2] - x[:, part][:, :1])
        for part in (slice(_NODES), slice(_NODES, None))
    ]
    return np.concatenate([pieces[0], pieces[0][:, -1:] + pieces[1]], axis=1)


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

    coefficient C_y of `uniform_pressure`; outer_radius a [m]; rigidity [N m] of `stack_rigidity`, 0 where a disc is
    missing: there the lift is endless.
    """
    with np.errstate(divide="ignore"):
        return np.asarray(coefficient * np.asarray(outer_radius, dtype=np.float64) ** 4 / rigidity)


def clamp_stress(moment: Numbers, modulus: Numbers, thickness: Numbers, rigidity: Numbers) -> FloatArray:
    """Radial bending stress at the clamp of one disc of a stack, sigma = 6 M_i/t^2, M_i = M E t^3/sum(E t^3) [Pa].

    moment M [N m/m] of the stack, |M_rb|; modulus E [Pa], thickness t [m] of the disc; rigidity [N m] of the stack.
    Without stress concentration. Source: plate theory, moment shared by stiffness.
    """
    return np.asarray(6.0 * np.asarray(moment) * modulus * thickness / rigidity)
