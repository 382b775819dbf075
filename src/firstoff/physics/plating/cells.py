"""Cells whose current distribution has a closed form: plates, cylinders, discs, Haring-Blum, Hull's empirical scale."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within


class Plates(NamedTuple):
    """Current densities without and with polarisation [A/m2], Wagner number on the gap."""

    primary: FloatArray
    linear: FloatArray
    wagner: FloatArray


def parallel_plates(gap: Numbers, conductivity: Numbers, cathode_resistance: Numbers, voltage: Numbers) -> Plates:
    """Current density between plates, the cathode polarised linearly: i = V/(d/kappa + r_c), primary V kappa/d.

    gap d [m], conductivity kappa [S/m], voltage V [V] at the bath, all > 0; cathode_resistance r_c [ohm m2] >= 0; any
    one shape. Wagner number kappa r_c/d. Source: Ohm's law. ValueError out of range.
    """
    d, kappa, v = positive("gap", gap), positive("conductivity", conductivity), positive("voltage", voltage)
    rc = not_negative("polarisation resistance", cathode_resistance)
    return Plates(v * kappa / d, v / (d / kappa + rc), kappa * rc / d)


class Cylinders(NamedTuple):
    """Resistance [ohm], current [A], densities at inner and outer electrode [A/m2], primary and polarised."""

    resistance_primary: FloatArray
    resistance_linear: FloatArray
    current_primary: FloatArray
    current_linear: FloatArray
    inner_primary: FloatArray
    outer_primary: FloatArray
    inner_linear: FloatArray
    outer_linear: FloatArray
    wagner: FloatArray  # of the cathode, on its radius times ln(b/a)


def coaxial_cylinders(
    inner: Numbers,
    outer: Numbers,
    length: Numbers,
    conductivity: Numbers,
    voltage: Numbers,
    inner_resistance: Numbers = 0.0,
    outer_resistance: Numbers = 0.0,
    cathode_inside: bool = True,
) -> Cylinders:
    """Current between coaxial cylinders, both polarised linearly.

    R = ln(b/a)/(2 pi kappa L) + r_a/(2 pi a L) + r_b/(2 pi b L); I = V/R; i = I/(2 pi radius L).
    Wagner number of the cathode: kappa r/(radius ln(b/a)).

    inner a < outer b [m], length L [m], conductivity kappa [S/m], voltage V [V], all > 0; inner_resistance,
    outer_resistance: polarisation [ohm m2] >= 0; any one shape. Ends insulated. Source: Laplace's equation, e.g. Newman
    and Thomas-Alyea, Electrochemical Systems. ValueError out of range.
    """
    a, b, long = positive("inner radius", inner), positive("outer radius", outer), positive("length", length)
    if not np.all(a < b):
        raise ValueError("the inner radius must be below the outer radius")
    kappa, v = positive("conductivity", conductivity), positive("voltage", voltage)
    ra, rb = (not_negative("polarisation resistance", r) for r in (inner_resistance, outer_resistance))
    log, round_ = np.log(b / a), 2.0 * math.pi * long
    primary = log / (round_ * kappa)
    linear = primary + ra / (round_ * a) + rb / (round_ * b)
    one, two = v / primary, v / linear
    wagner = kappa * ra / (a * log) if cathode_inside else kappa * rb / (b * log)
    return Cylinders(
        primary,
        linear,
        one,
        two,
        one / (round_ * a),
        one / (round_ * b),
        two / (round_ * a),
        two / (round_ * b),
        wagner,
    )


def disc_resistance(radius: Numbers, conductivity: Numbers, sides: int = 1) -> FloatArray:
    """Primary resistance of a disc to a counter electrode at infinity [ohm].

    sides 1: flush in an insulating plane, 1/(4 kappa R); 2: thin and free in an unbounded bath, 1/(8 kappa R).

    radius R [m], conductivity kappa [S/m], both > 0, any one shape. Source: Newman 1966 (from memory). ValueError out
    of range.
    """
    if sides not in (1, 2):
        raise ValueError("a disc has one side in the bath, or two")
    return 1.0 / (4.0 * sides * positive("conductivity", conductivity) * positive("radius", radius))


def disc_density(r_over_radius: Numbers) -> FloatArray:
    """Primary current density over its mean, i/i_avg = 0.5/sqrt(1 - (r/R)^2); 0 <= r/R < 1, endless at the rim.

    Source: Newman 1966 (from memory). ValueError out of range.
    """
    return 0.5 / np.sqrt(1.0 - within("r/R", r_over_radius, least=0.0, below=1.0) ** 2)


def disc_enclosed(r_over_radius: Numbers) -> FloatArray:
    """Share of the current inside a radius, 1 - sqrt(1 - (r/R)^2); 0 <= r/R <= 1. Integral of `disc_density`."""
    square = within("r/R", r_over_radius, least=0.0, most=1.0) ** 2
    return square / (1.0 + np.sqrt(1.0 - square))


def haring_blum(
    near: Numbers, far: Numbers, conductivity: Numbers, cathode_resistance: Numbers
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Ratio of distances K, ratio of metal M, throwing power TP of a Haring-Blum cell with linear polarisation.

    K = far/near; M = (far + kappa r_c)/(near + kappa r_c); TP = (K - M)/(K + M - 2), 0 primary, 1 even.

    near < far [m], conductivity kappa [S/m], all > 0; cathode_resistance r_c [ohm m2] >= 0; any one shape. Equal
    efficiency on both cathodes; the anode between them does not polarise. Source: Haring and Blum 1923, Field 1932
    (from memory). ValueError out of range.
    """
    a, b, kappa = positive("near distance", near), positive("far distance", far), positive("conductivity", conductivity)
    if not np.all(a < b):
        raise ValueError("the near distance must be below the far distance")
    extra = kappa * not_negative("polarisation resistance", cathode_resistance)
    k, m = b / a, (b + extra) / (a + extra)
    return k, m, (k - m) / (k + m - 2.0)


def hull_scale(distance: Numbers) -> FloatArray:
    """Current density on a 267 ml Hull panel by Hull's empirical scale, (5.10 - 5.24 log10 L) A/dm2 per A, in 1/m2.

    distance L [m] > 0 from the near end; made for 0.64 cm to 8.25 cm: below and above it is extrapolated, and turns
    negative beyond 9.4 cm. From plated thickness; not the primary distribution. Source: Hull 1939 (from memory).
    ValueError out of range.
    """
    return (5.10 - 5.24 * np.log10(positive("distance", distance) * 100.0)) * 100.0
