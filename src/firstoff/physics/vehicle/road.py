"""Roads as spectra and as profiles: ISO 8608, any waviness, what the tyre's contact length smooths, single bumps."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def displacement_psd(n: npt.ArrayLike, roughness: float, waviness: float = 2.0, n0: float = 0.1) -> FloatArray:
    """Displacement PSD of a road, Gd(n) = Gd(n0) (n/n0)^-w [m3], one-sided.

    n [cycles/m] > 0, any shape; roughness Gd(n0) [m3] > 0; waviness w, 2 for the classes; n0 [cycles/m].
    Source: ISO 8608 (from memory). ValueError out of range.
    """
    wave = np.asarray(n, dtype=np.float64)
    if not (np.all(wave > 0.0) and roughness > 0.0 and n0 > 0.0 and math.isfinite(waviness)):
        raise ValueError("spatial frequencies, roughness and n0 must be above 0")
    return np.asarray(roughness * (wave / n0) ** -waviness)


def contact_filter(n: npt.ArrayLike, contact_length: float) -> FloatArray:
    """Share of a sine of the road that a tyre of contact length L follows, |sin(pi n L)/(pi n L)|.

    n [cycles/m] >= 0, any shape; contact_length L [m] >= 0. The moving mean over the contact; a tyre that envelops an
    edge is softer still. Source: moving mean (textbook). ValueError out of range.
    """
    wave = np.asarray(n, dtype=np.float64)
    if not (contact_length >= 0.0 and np.all(wave >= 0.0)):
        raise ValueError("contact length and spatial frequencies must not be below 0")
    return np.asarray(np.abs(np.sinc(wave * contact_length)))


def profile(
    steps: int,
    step: float,
    speed: float,
    roughness: float,
    waviness: float = 2.0,
    contact_length: float = 0.0,
    seed: int = 1,
    band: tuple[float, float] = (0.1, 100.0),
) -> tuple[FloatArray, FloatArray]:
    """Height [m] and its rate [m/s] under a wheel, (steps,) each: sines of random phases, repeating after the last.

    z(t) = sum sqrt(2 Gd(n_i) dn) H(n_i) cos(2 pi f_i t + phi_i), f_i = v n_i = i/(steps step) inside the band.

    steps, even; step [s] > 0; speed v [m/s] > 0; band [Hz]; the rest as in `displacement_psd` and `contact_filter`.
    The same seed and steps give the same phases at any speed. Source: Shinozuka and Jan, J. Sound Vib. 25 (1972).
    ValueError out of range.
    """
    if steps < 4 or steps % 2 or not (step > 0.0 and speed > 0.0 and 0.0 < band[0] < band[1]):
        raise ValueError("steps must be even, and step, speed and band above 0")
    frequency = np.arange(steps // 2 + 1) / (steps * step)
    inside = (frequency >= band[0]) & (frequency <= band[1]) & (frequency < 0.5 / step)
    lines = np.zeros(len(frequency), dtype=np.complex128)
    phase = np.random.default_rng(seed).uniform(0.0, 2.0 * math.pi, len(frequency))[inside]
    n = frequency[inside] / speed
    dn = 1.0 / (steps * step * speed)
    amplitude = np.sqrt(2.0 * displacement_psd(n, roughness, waviness) * dn) * contact_filter(n, contact_length)
    lines[inside] = 0.5 * steps * amplitude * np.exp(1j * phase)
    height = np.fft.irfft(lines, steps)
    rate = np.fft.irfft(2j * math.pi * frequency * lines, steps)
    return height, rate


def bump(times: npt.ArrayLike, height: float, length: float, speed: float) -> tuple[FloatArray, FloatArray]:
    """Height [m] and rate [m/s] of a single cosine bump, z = h/2 (1 - cos(2 pi v t/L)) while 0 <= v t <= L.

    times t [s], any shape; height h [m], < 0 for a pothole; length L [m], speed v [m/s] > 0. Definition.
    ValueError out of range.
    """
    if not (length > 0.0 and speed > 0.0):
        raise ValueError("length and speed must be above 0")
    t = np.asarray(times, dtype=np.float64)
    angle = 2.0 * math.pi * speed / length
    over = (t >= 0.0) & (t <= length / speed)
    z = np.where(over, 0.5 * height * (1.0 - np.cos(angle * t)), 0.0)
    return z, np.where(over, 0.5 * height * angle * np.sin(angle * t), 0.0)
