"""Powder-metal parts: pressed density, sintering, oil impregnation."""

from __future__ import annotations

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within


def heckel_density(pressure: Numbers, slope: Numbers, intercept: Numbers, full_density: Numbers) -> FloatArray:
    """Density of a compact, ln(1/(1 - D)) = K p + A, rho = D rho_full [kg/m3].

    pressure p [Pa] >= 0, slope K [1/Pa] > 0, intercept A >= 0, full_density rho_full [kg/m3] > 0 of the mix without
    pores (lubricant and graphite included); any one shape. K and A belong to one powder and die: measured, never a
    default. Holds from some 100 MPa up; the first rearrangement is in A. Source: Heckel 1961. ValueError out of range.
    """
    exponent = positive("slope K", slope) * not_negative("pressure", pressure) + not_negative("intercept A", intercept)
    return -np.expm1(-exponent) * positive("full density", full_density)


def heckel_pressure(density: Numbers, slope: Numbers, intercept: Numbers, full_density: Numbers) -> FloatArray:
    """Pressure for a density, p = (ln(1/(1 - rho/rho_full)) - A)/K [Pa]; arguments as in `heckel_density`.

    ValueError where the density is not below the full one, or below that without pressure.
    """
    rho, full = positive("density", density), positive("full density", full_density)
    if not np.all(rho < full):
        raise ValueError("the density must be below the full density")
    found = (-np.log1p(-rho / full) - not_negative("intercept A", intercept)) / positive("slope K", slope)
    if not np.all(found >= 0.0):
        raise ValueError("the density is below the one at no pressure")
    return found


def sintered_density(
    green: Numbers, mass_loss: Numbers, diameter_change: Numbers, height_change: Numbers
) -> FloatArray:
    """Density after sintering, rho_s = rho_g (1 - l)/((1 + e_d)^2 (1 + e_h)) [kg/m3].

    green rho_g [kg/m3] > 0; mass_loss l, 0 to below 1; diameter_change e_d and height_change e_h, relative to green,
    above -0.5, growth positive; any one shape. Source: balance of mass. ValueError out of range.
    """
    left = 1.0 - within("mass loss", mass_loss, least=0.0, below=1.0)
    d = 1.0 + within("change of diameter", diameter_change, above=-0.5, below=0.5)
    h = 1.0 + within("change of height", height_change, above=-0.5, below=0.5)
    return positive("green density", green) * left / (d**2 * h)


def dimensional_change(die: Numbers, green: Numbers, sintered: Numbers) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Relative changes: sintered from die, green from die (spring), sintered from green: (b - a)/a.

    die, green, sintered: the same size [m], all > 0; any one shape. Source: definitions of ISO 4492 and MPIF 44, die
    size as the base (from memory). ValueError out of range.
    """
    a, b, c = positive("die", die), positive("green", green), positive("sintered", sintered)
    return c / a - 1.0, b / a - 1.0, c / b - 1.0


def oil_impregnated(
    dry: Numbers, oiled: Numbers, oiled_in_water: Numbers, water: Numbers, oil: Numbers
) -> tuple[FloatArray, FloatArray]:
    """Density [kg/m3] and open porosity by oil impregnation and weighing in water.

    V = (m_oiled - m_oiled,water)/rho_w; rho = m_dry/V; porosity = (m_oiled - m_dry)/(rho_oil V).

    dry, oiled, oiled_in_water [kg], the last without the wire; water, oil: densities [kg/m3]; all > 0, any one shape.
    Source: principle of ISO 2738 and MPIF 42 (from memory). ValueError out of range, or when the part cannot hold as
    much oil.
    """
    m, mo, mw = positive("dry mass", dry), positive("oiled mass", oiled), positive("mass in water", oiled_in_water)
    if not np.all((m <= mo) & (mw < mo)):
        raise ValueError("the oiled part must weigh at least as much as dry, and less in water")
    volume = (mo - mw) / positive("density of water", water)
    porosity = (mo - m) / (positive("density of oil", oil) * volume)
    if not np.all(porosity < 1.0):
        raise ValueError("the oil taken up fills more than the part")
    return m / volume, porosity
