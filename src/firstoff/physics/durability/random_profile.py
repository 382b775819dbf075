"""Random vibration profiles of public standards, as data."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple

import numpy as np

from firstoff.physics.durability.spectra import Moments
from firstoff.physics.ranges import FloatArray, positive

PROFILES: Final = ("car_body", "truck_body")


class Profile(NamedTuple):
    """Break points of a one-sided acceleration spectrum, straight between them on log-log axes."""

    source: str
    duration: float  # s, each direction
    rms: float  # m/s2, as the standard prints it
    frequency: FloatArray  # Hz
    density: FloatArray  # (m/s2)2/Hz


@cache
def _table() -> dict[str, Any]:
    text = files("firstoff.physics.durability").joinpath("data/random_profiles.json").read_text("utf-8")
    table: dict[str, Any] = json.loads(text)
    return table


def profile(name: str) -> Profile:
    """A profile by name, one of `PROFILES`. Source: the file says which standard, and that it is from memory. KeyError
    for another name."""
    row = _table()[name]
    points = (np.array(row[key], np.float64) for key in ("frequency_Hz", "density_m2_s4_Hz"))
    return Profile(row["source"], 3600.0 * row["hours"], row["rms_m_s2"], *points)


def density_at(of: Profile, frequency: FloatArray) -> FloatArray:
    """Density [(m/s2)2/Hz] at frequencies [Hz] > 0; 0 beyond the ends. Source: straight lines on log-log axes."""
    f = positive("frequency", frequency)
    inside = (f >= of.frequency[0]) & (f <= of.frequency[-1])
    found = np.exp(np.interp(np.log(f), np.log(of.frequency), np.log(of.density)))
    return np.where(inside, found, 0.0)


def sampled_moments(frequency: FloatArray, density: FloatArray) -> list[Moments]:
    """Moments of sampled spectra, m_k = integral of f^k G df by trapezoids; frequency (f,) [Hz] rising, density (n, f).

    The grid must resolve every resonance. Source: definition; trapezoidal rule.
    """
    columns = [np.atleast_1d(np.trapezoid(frequency**k * density, frequency, axis=1)) for k in (0, 1, 2, 4)]
    return [Moments(*(float(column[i]) for column in columns)) for i in range(len(density))]
