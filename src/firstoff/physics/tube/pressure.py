"""A tube under inner pressure: hoop stress, first yield, burst."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive


class HoopStress(NamedTuple):
    """Hoop stress [Pa] by five forms, arrays of one shape."""

    barlow: FloatArray  # outside diameter
    inner_diameter: FloatArray
    mid: FloatArray  # mean diameter
    lame_inner: FloatArray
    lame_outer: FloatArray


def _radii(inner: Numbers, outer: Numbers) -> tuple[FloatArray, FloatArray]:
    ri, ro = positive("inner radius", inner), positive("outer radius", outer)
    if not np.all(ri < ro):
        raise ValueError("the inner radius must be below the outer radius")
    return ri, ro


def hoop_stress(pressure: Numbers, inner_radius: Numbers, outer_radius: Numbers) -> HoopStress:
    """Hoop stress of a long tube under inner pressure, thin-wall and thick-wall forms.

    Barlow p D_o/(2 t), inner diameter p D_i/(2 t), mean diameter p D_m/(2 t), t = r_o - r_i;
    Lamé: p (r_o^2 + r_i^2)/(r_o^2 - r_i^2) at the bore, 2 p r_i^2/(r_o^2 - r_i^2) outside.

    pressure p [Pa] gauge, >= 0; radii r_i < r_o [m]; any one shape. Elastic, away from ends and welds; Lamé is the true
    elastic peak, Barlow on the outside diameter lies above it. Source: Lamé and Barlow, any strength-of-materials text.
    ValueError out of range.
    """
    p = not_negative("pressure", pressure)
    ri, ro = _radii(inner_radius, outer_radius)
    wall, squares = ro - ri, ro**2 - ri**2
    return HoopStress(
        p * ro / wall, p * ri / wall, p * (ro + ri) / (2.0 * wall), p * (ro**2 + ri**2) / squares,
        2.0 * p * ri**2 / squares,
    )  # fmt: skip


def first_yield_pressure(yield_strength: Numbers, inner_radius: Numbers, outer_radius: Numbers) -> FloatArray:
    """Pressure at which the bore first yields by the maximum-hoop-stress rule, p = R_e (r_o^2 - r_i^2)/(r_o^2 + r_i^2).

    yield_strength R_e [Pa] > 0; radii r_i < r_o [m]; result [Pa] gauge, same shape. Long tube, no axial load counted:
    Tresca with closed ends gives a lower pressure for a thick wall. Source: Lamé's stress at the bore. ValueError out
    of range.
    """
    strength = positive("yield strength", yield_strength)
    ri, ro = _radii(inner_radius, outer_radius)
    return strength * (ro**2 - ri**2) / (ro**2 + ri**2)


def burst_pressure(wall: Numbers, tensile_strength: Numbers, mean_diameter: Numbers) -> FloatArray:
    """Estimate of the burst pressure of a thin tube, p = 2 t R_m/D_m [Pa] gauge.

    wall t [m], mean_diameter D_m [m], tensile_strength R_m [Pa]; all > 0, t <= D_m/4. An estimate of the order of 10 %:
    only a burst test (with liquid, shielded) shows it. Source: hoop stress at the mean diameter set to R_m (common
    practice). ValueError out of range.
    """
    t, d = positive("wall", wall), positive("mean diameter", mean_diameter)
    if not np.all(t <= d / 4.0):
        raise ValueError("the estimate holds for walls up to a quarter of the mean diameter")
    return 2.0 * t * positive("tensile strength", tensile_strength) / d
