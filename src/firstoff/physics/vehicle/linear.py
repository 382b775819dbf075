"""The linear two-mass model in the frequency domain: any waviness, contact length, tyre damping, comfort weighting."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from firstoff.physics.vehicle.ride import weighting_wk
from firstoff.physics.vehicle.road import contact_filter, displacement_psd

FloatArray = npt.NDArray[np.float64]


class Linear(NamedTuple):
    """RMS responses, one for each damping: [m/s2], weighted [m/s2], [m], [m/s], [N]."""

    acceleration: FloatArray
    comfort: FloatArray  # body acceleration weighted by Wk
    travel: FloatArray
    damper_speed: FloatArray  # of the wheel against the body
    wheel_load: FloatArray


class Road(NamedTuple):
    """What is driven on, and how fast."""

    roughness: float  # Gd(n0) [m3] at 0.1 cycles/m
    waviness: float
    speed: float  # m/s
    contact_length: float = 0.0  # m


def respond(
    sprung: float,
    unsprung: float,
    spring: float,
    damping: npt.ArrayLike,
    tyre: float,
    road: Road,
    tyre_damping: float = 0.0,
    band: tuple[float, float] = (0.1, 100.0),
    lines: int = 4000,
) -> Linear:
    """RMS response of the linear two-mass model to a road, by integrating the response spectra over the band.

    With K = k + i w c, T = kt + i w ct: Zu/Zr = T/(K + T - mu w^2 - K^2/(K - ms w^2)), Zs/Zu = K/(K - ms w^2);
    rms^2 = integral |H|^2 G df, G(f) = Gd(f/v)/v.

    sprung ms, unsprung mu [kg]; spring k, tyre kt [N/m] > 0; damping c, tyre_damping ct [N s/m] >= 0, c of shape (m,);
    band [Hz]. Trapezium over logarithmic lines. Source: textbook of vehicle dynamics, two-mass model; Wk of ISO 2631-1.
    ValueError out of range.
    """
    c = np.atleast_1d(np.asarray(damping, dtype=np.float64))[:, None]
    if not (min(sprung, unsprung, spring, tyre) > 0.0 and np.all(c >= 0.0) and tyre_damping >= 0.0):
        raise ValueError("masses and rates must be above 0, damping not below 0")
    f = np.geomspace(band[0], band[1], lines)
    w = 2.0 * math.pi * f
    psd = displacement_psd(f / road.speed, road.roughness, road.waviness) / road.speed
    psd = psd * contact_filter(f / road.speed, road.contact_length) ** 2
    k, t = spring + 1j * w * c, tyre + 1j * w * tyre_damping
    body = k / (k - sprung * w**2)
    wheel = t / (k + t - unsprung * w**2 - k * body)
    acceleration = w**2 * np.abs(body * wheel)
    travel = np.abs((body - 1.0) * wheel)

    def rms(response: FloatArray) -> FloatArray:
        return np.asarray(np.sqrt(np.trapezoid(response**2 * psd, f, axis=-1)))

    return Linear(
        rms(acceleration),
        rms(acceleration * weighting_wk(f)),
        rms(travel),
        rms(w * travel),
        rms(np.abs(t * (1.0 - wheel))),
    )
