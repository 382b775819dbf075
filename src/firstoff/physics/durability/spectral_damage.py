"""Fatigue damage a second of a stationary Gaussian stress, from the moments of its spectrum."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from scipy.special import gamma

from firstoff.physics.durability.spectra import Moments
from firstoff.physics.ranges import positive, within

NARROWEST: Final = 1e-9  # irregularity closer to 1 than this: Dirlik's constants have no digits left


def narrow_band_damage(moments: Moments, exponent: float, constant: float) -> float:
    """Damage a second of a narrow-band process, D = nu0/C (sqrt(2 m0))^k Gamma(1 + k/2) [1/s].

    moments of the stress [Pa2 Hz^n]; S-N line N = C S_a^-k in stress amplitude: exponent k 1 to 30, constant C [Pa^k]
    > 0. No endurance limit, no mean stress; on the safe side for wider bands. Source: Bendat 1964, Miles 1954.
    ValueError out of range.
    """
    k = float(within("exponent k", exponent, least=1.0, most=30.0))
    c = float(positive("constant C", constant))
    amplitude = float((2.0 * moments.m0) ** (k / 2.0))
    return moments.crossings / c * amplitude * float(gamma(1.0 + k / 2.0))


class Dirlik(NamedTuple):
    """Constants of Dirlik's density of ranges, and damage a second [1/s]."""

    d1: float
    d2: float
    d3: float
    r: float
    q: float
    mean_frequency: float  # x_m
    damage: float


def dirlik(moments: Moments, exponent: float, constant: float) -> Dirlik:
    """Damage a second after Dirlik's empirical density of rainflow ranges.

    x_m = m1/m0 sqrt(m2/m4); D1 = 2 (x_m - g^2)/(1 + g^2); R = (g - x_m - D1^2)/(1 - g - D1 + D1^2);
    D2 = (1 - g - D1 + D1^2)/(1 - R); D3 = 1 - D1 - D2; Q = 1.25 (g - D3 - D2 R)/D1;
    D = nu_p/C m0^(k/2) [D1 Q^k Gamma(1 + k) + 2^(k/2) Gamma(1 + k/2)(D2 |R|^k + D3)], Z = S_a/sqrt(m0).

    Arguments as in `narrow_band_damage`. Fitted to simulated unimodal and bimodal spectra: some 10 % off on these, more
    on spectra with far-apart bands. Source: Dirlik 1985, form in public texts. ValueError out of range, when the
    band is so narrow that the constants have no digits (use the narrow-band form), or when a constant leaves its range.
    """
    k = float(within("exponent k", exponent, least=1.0, most=30.0))
    c = float(positive("constant C", constant))
    g, mean = moments.irregularity, moments.m1 / moments.m0 * float(np.sqrt(moments.m2 / moments.m4))
    if 1.0 - g < NARROWEST:
        raise ValueError("the band is too narrow for Dirlik's constants: use the narrow-band form")
    d1 = 2.0 * (mean - g**2) / (1.0 + g**2)
    rest = 1.0 - g - d1 + d1**2
    r = (g - mean - d1**2) / rest
    d2 = rest / (1.0 - r)
    d3 = 1.0 - d1 - d2
    q = 1.25 * (g - d3 - d2 * r) / d1
    if not (d1 > 0.0 and q > 0.0 and d2 >= 0.0 and d3 >= -1e-12):
        raise ValueError("this spectrum is outside what Dirlik's formula can describe")
    exponential = d1 * q**k * float(gamma(1.0 + k))
    rayleigh = 2.0 ** (k / 2.0) * float(gamma(1.0 + k / 2.0)) * (d2 * abs(r) ** k + d3)
    return Dirlik(d1, d2, d3, r, q, mean, moments.peaks / c * moments.m0 ** (k / 2.0) * (exponential + rayleigh))
