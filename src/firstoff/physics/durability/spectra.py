"""One-sided power spectral densities: area, moments, level crossings."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive


class Moments(NamedTuple):
    """Spectral moments m0, m1, m2, m4 of frequency in Hz: [x2], [x2 Hz], [x2 Hz2], [x2 Hz4]."""

    m0: float
    m1: float
    m2: float
    m4: float

    @property
    def rms(self) -> float:
        return float(np.sqrt(self.m0))

    @property
    def crossings(self) -> float:
        """Upward crossings of the mean a second, nu0 = sqrt(m2/m0)."""
        return float(np.sqrt(self.m2 / self.m0))

    @property
    def peaks(self) -> float:
        """Peaks a second, nu_p = sqrt(m4/m2)."""
        return float(np.sqrt(self.m4 / self.m2))

    @property
    def irregularity(self) -> float:
        """gamma = m2/sqrt(m0 m4): 1 for a sine or a narrow band, towards 0 for a wide one."""
        return float(self.m2 / np.sqrt(self.m0 * self.m4))


def band_moments(low: Numbers, high: Numbers, density: Numbers) -> Moments:
    """Moments of a spectrum of flat bands, m_n = sum G (f2^(n+1) - f1^(n+1))/(n + 1).

    low f1 < high f2 [Hz], f1 >= 0, bands rising and not overlapping; density G [x2/Hz] >= 0, one-sided; shapes
    (n_bands,). Source: definition. ValueError out of range, or when all bands are empty.
    """
    f1, f2 = np.atleast_1d(not_negative("f1", low)), np.atleast_1d(positive("f2", high))
    g = np.atleast_1d(not_negative("density", density))
    if not f1.shape == f2.shape == g.shape:
        raise ValueError("every band needs f1, f2 and a density")
    if not np.all(f1 < f2):
        raise ValueError("f1 must be below f2 in every band")
    if not np.all(f1[1:] >= f2[:-1]):
        raise ValueError("the bands must rise in frequency and not overlap")
    if not g.any():
        raise ValueError("the spectrum is empty")
    return Moments(*(float(np.sum(g * (f2 ** (n + 1) - f1 ** (n + 1)) / (n + 1))) for n in (0, 1, 2, 4)))


def _segments(frequency: Numbers, density: Numbers) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """f, G, log step and slope of the straight pieces of a spectrum on log-log axes."""
    f, g = np.atleast_1d(positive("frequency", frequency)), np.atleast_1d(positive("density", density))
    if f.shape != g.shape or f.size < 2:
        raise ValueError("two break points or more are needed, each with frequency and density")
    if not np.all(np.diff(f) > 0.0):
        raise ValueError("the frequencies must rise")
    step = np.diff(np.log(f))
    return f, g, step, np.diff(np.log(g)) / step


def break_point_moments(frequency: Numbers, density: Numbers) -> Moments:
    """Moments of a spectrum given by break points joined by straight lines on log-log axes.

    Piece from f1: G f1^(n+1) L phi((s + n + 1) L), L = ln(f2/f1), s = ln(G2/G1)/L, phi(x) = (e^x - 1)/x, phi(0) = 1.

    frequency [Hz] > 0, rising, (n,); density [x2/Hz] > 0, one-sided, (n,), n >= 2. Source: integral of a power law.
    ValueError out of range.
    """
    f, g, step, slope = _segments(frequency, density)

    def moment(n: int) -> float:
        x = (slope + n + 1) * step
        small = np.abs(x) < 1e-12
        phi = np.where(small, 1.0, np.expm1(x) / np.where(small, 1.0, x))
        return float(np.sum(g[:-1] * f[:-1] ** (n + 1) * step * phi))

    return Moments(*(moment(n) for n in (0, 1, 2, 4)))


def slopes(frequency: Numbers, density: Numbers) -> FloatArray:
    """Slope of each piece of a spectrum by break points [dB/octave], s 10 log10(2); arguments as in
    `break_point_moments`; result (n - 1,)."""
    steep: FloatArray = _segments(frequency, density)[3] * (10.0 * math.log10(2.0))
    return steep
