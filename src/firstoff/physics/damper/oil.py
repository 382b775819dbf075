"""Damper oil over temperature and pressure."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.float64] | float
_SHIFT = 0.7  # mm2/s, of the law; holds above 2 mm2/s
P_REF = 101325.0  # Pa absolute


def kinematic_viscosity(t: Numbers, t1: Numbers, nu1: Numbers, t2: Numbers, nu2: Numbers) -> FloatArray:
    """Kinematic viscosity [m2/s] at temperature t from two known points.

    log10 log10(nu + 0.7) = A - B log10 T, nu in mm2/s, T in K, A and B from the two points.

    t, t1, t2 [K] and nu1, nu2 [m2/s] of shapes that go together; t1 and t2 different.
    For liquid petroleum oil with nu above 2 mm2/s, between
    the points or a few tens of kelvin outside, above the pour point. Source: ASTM D341 (Walther's equation).
    ValueError when the points do not make a falling line or a viscosity is 0.31 mm2/s or less.
    """
    first, second, asked = (np.asarray(value, dtype=np.float64) for value in (t1, t2, t))
    if not (np.all(np.minimum(first, second) > 0.0) and np.all(first != second) and np.all(asked > 0.0)):
        raise ValueError("temperatures must be above 0 K, and the two known ones different")
    if not np.all(np.minimum(nu1, nu2) > 0.31e-6):
        raise ValueError("a known viscosity must be above 0.31 mm2/s")
    w1, w2 = (np.log10(np.log10(np.asarray(nu, dtype=np.float64) * 1e6 + _SHIFT)) for nu in (nu1, nu2))
    slope = (w1 - w2) / (np.log10(second) - np.log10(first))
    if not np.all(slope > 0.0):
        raise ValueError("viscosity must fall as temperature rises")
    with np.errstate(over="ignore"):
        nu = 10.0 ** (10.0 ** (w1 - slope * (np.log10(asked) - np.log10(first)))) - _SHIFT
    if not np.all((nu > 0.31) & np.isfinite(nu)):
        raise ValueError("the temperature is too far from the known points")
    return np.asarray(nu * 1e-6, dtype=np.float64)


def within_reach(t: Numbers, t1: Numbers, nu1: Numbers, t2: Numbers, nu2: Numbers) -> npt.NDArray[np.bool_]:
    """Whether `kinematic_viscosity` has a value at t: above 0.31 mm2/s and a number. Arguments as there, in range.

    nu > 0.31 mm2/s where log10 log10(nu + 0.7) > log10 log10(1.01); nu a number where it is below log10 308.
    """
    w1, w2 = (np.log10(np.log10(np.asarray(nu, dtype=np.float64) * 1e6 + _SHIFT)) for nu in (nu1, nu2))
    level = w1 - (w1 - w2) / np.log10(np.divide(t2, t1)) * np.log10(np.divide(t, t1))
    found: npt.NDArray[np.bool_] = (level > math.log10(math.log10(1.01 + 1e-6))) & (level < math.log10(300.0))
    return found


def liquid_density(t: Numbers, density_15: Numbers, expansion: Numbers) -> FloatArray:
    """Density of the oil without gas, rho = rho15 (1 - alpha (T - 288.15 K)) [kg/m3].

    t [K]; density_15 [kg/m3] at 15 degrees C; expansion alpha [1/K], about 7e-4 for mineral oil. Linear, good to
    0.5 % over 100 K. Source: common practice, no source. ValueError when nothing is left.
    """
    rho = np.asarray(density_15 * (1.0 - np.asarray(expansion) * (t - 288.15)), dtype=np.float64)
    if not np.all(rho > 0.0):
        raise ValueError("density of the oil must be above 0")
    return rho


def mixture_density(
    p: Numbers, liquid: Numbers, compressibility: Numbers = 0.0, gas_fraction: Numbers = 0.0, exponent: Numbers = 1.0
) -> FloatArray:
    """Density of oil with free gas, rho_l (1 + beta (p - p_ref))/(1 + x/(1 - x) (p_ref/p)^(1/n)) [kg/m3].

    p [Pa] absolute > 0; liquid rho_l [kg/m3] at p_ref = 101325 Pa; compressibility beta [1/Pa]; gas_fraction x of the
    mixture's volume at p_ref, 0 to below 1; exponent n, 1 isothermal. Mass of the gas left out, none dissolves.
    Source: Merritt, Hydraulic Control Systems, ch. 2. ValueError out of range.
    """
    x, pressure = np.asarray(gas_fraction, dtype=np.float64), np.asarray(p, dtype=np.float64)
    if not (np.all(pressure > 0.0) and np.all((x >= 0.0) & (x < 1.0))):
        raise ValueError("pressure must be above 0 and the gas fraction 0 to below 1")
    gas = x / (1.0 - x) * (P_REF / pressure) ** (1.0 / np.asarray(exponent))
    return np.asarray(liquid * (1.0 + compressibility * (pressure - P_REF)) / (1.0 + gas), dtype=np.float64)


def dynamic_viscosity(nu: Numbers, rho: Numbers) -> FloatArray:
    """Dynamic viscosity mu = nu rho [Pa s] of nu [m2/s] and rho [kg/m3]. Definition."""
    return np.asarray(nu * np.asarray(rho), dtype=np.float64)
