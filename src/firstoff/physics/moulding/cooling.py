"""Cooling of a flat moulded wall."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy.optimize import brentq

from firstoff.physics.ranges import FloatArray, Numbers, positive, within

TERMS: Final = 400


def diffusivity(conductivity: Numbers, density: Numbers, heat_capacity: Numbers) -> FloatArray:
    """Thermal diffusivity a = k/(rho c_p) [m2/s]; conductivity [W/(m K)], density [kg/m3], heat_capacity [J/(kg K)],
    all > 0, any one shape. Definition. ValueError out of range."""
    return positive("conductivity", conductivity) / (
        positive("density", density) * positive("heat capacity", heat_capacity)
    )


def mean_left(fourier: Numbers, terms: int = TERMS) -> FloatArray:
    """Mean excess temperature left in a slab whose faces are held cold, as a share of that at the start.

    theta = sum 8/((2n+1)^2 pi^2) exp(-(2n+1)^2 pi^2 Fo/4), Fo = a t/(s/2)^2.

    fourier Fo >= 0, any shape; terms 1 gives the one-term form, which is good to 0.1 % above Fo = 0.25 and under-reads
    below. Constant properties, no latent heat. Source: Carslaw and Jaeger. ValueError out of range.
    """
    fo = within("Fourier number", fourier, least=0.0)
    odd = (2.0 * np.arange(terms) + 1.0) * math.pi
    # what the terms beyond the last leave at Fo = 0 is 2/(pi^2 terms); at any Fo of use it is nothing
    left: FloatArray = np.sum(8.0 / odd**2 * np.exp(-np.multiply.outer(fo, odd**2) / 4.0), axis=-1)
    return left


def centre_left(fourier: Numbers, terms: int = TERMS) -> FloatArray:
    """Excess temperature left at the middle of the slab, as a share of that at the start.

    theta = sum 4 (-1)^n/((2n+1) pi) exp(-(2n+1)^2 pi^2 Fo/4); arguments as in `mean_left`. Source: Carslaw and Jaeger.
    """
    fo = within("Fourier number", fourier, least=0.0)
    n = np.arange(terms)
    odd = (2.0 * n + 1.0) * math.pi
    left: FloatArray = np.sum(4.0 * (-1.0) ** n / odd * np.exp(-np.multiply.outer(fo, odd**2) / 4.0), axis=-1)
    return left


def _left(melt: float, mould: float, eject: float) -> float:
    """Share of the excess temperature at ejection; ValueError unless it lies between 0 and 1."""
    values = [float(within(what, t)) for what, t in (("melt", melt), ("mould", mould), ("ejection", eject))]
    if not (values[1] < values[2] < values[0] or values[0] < values[2] < values[1]):
        raise ValueError("the ejection temperature must lie between the mould's and the melt's")
    return (values[2] - values[1]) / (values[0] - values[1])


def one_term_time(
    wall: float, diffusivity_: float, melt: float, mould: float, eject: float, centre: bool = False
) -> float | None:
    """Cooling time of a wall by the first term, t = s^2/(pi^2 a) ln(f (T_m - T_w)/(T_e - T_w)) [s].

    f = 8/pi^2 to the mean, 4/pi to the middle. wall s [m], diffusivity a [m2/s], both > 0; melt T_m, mould T_w, eject
    T_e, one scale of temperature. Cooled alike from both sides, faces at T_w at once. None where T_e is too near T_m
    for one term. Source: Carslaw and Jaeger; form of the moulding trade. ValueError out of range.
    """
    s, a = float(positive("wall", wall)), float(positive("diffusivity", diffusivity_))
    inside = (4.0 / math.pi if centre else 8.0 / math.pi**2) / _left(melt, mould, eject)
    return s * s / (math.pi**2 * a) * math.log(inside) if inside > 1.0 else None


def series_time(
    wall: float, diffusivity_: float, melt: float, mould: float, eject: float, centre: bool = False
) -> float:
    """Cooling time of a wall by the full series [s]; arguments as in `one_term_time`.

    ValueError out of range, and where T_e is within 0.5 % of T_m, too early for the series.
    """
    s, a = float(positive("wall", wall)), float(positive("diffusivity", diffusivity_))
    left, law = _left(melt, mould, eject), centre_left if centre else mean_left
    if left > 0.995:
        raise ValueError("the ejection temperature is too near the melt's for the series")
    # the last digits of left need no more than Fo = 300
    fo = brentq(lambda f: float(law(f)) - left, 1e-6, 300.0, xtol=1e-15, rtol=1e-13)
    return float(fo) * (s / 2.0) ** 2 / a
