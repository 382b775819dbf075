"""One oil chamber with a laminar passage and a compressible volume: why a damper's loop has a width."""

from __future__ import annotations

import math
from typing import NamedTuple


class ChamberResponse(NamedTuple):
    """Amplitude of force [N], its lag behind the speed [rad], work per cycle [J]."""

    force: float
    lag: float
    energy: float


def harmonic_response(
    area: float, volume: float, bulk_modulus: float, conductance: float, amplitude: float, peak_speed: float
) -> ChamberResponse:
    """Steady harmonic response of V/K dp/dt + G p = A v, v = v_peak cos(w t), w = v_peak/X.

    F = A^2 v_peak/sqrt(G^2 + (w V/K)^2); lag = atan(w V/(K G)); energy = pi F X cos(lag).

    area A [m2], volume V [m3], bulk_modulus K [Pa], conductance G [m3/(s Pa)], amplitude X [m], peak_speed [m/s]; all
    > 0. Constant volume (small stroke), constant pressure behind the passage. Source: first-order linear equation
    (textbook). ValueError out of range.
    """
    if not min(area, volume, bulk_modulus, conductance, amplitude, peak_speed) > 0.0:
        raise ValueError("area, volume, bulk modulus, conductance, amplitude and speed must be above 0")
    storage = peak_speed / amplitude * volume / bulk_modulus
    force = area**2 * peak_speed / math.hypot(conductance, storage)
    lag = math.atan2(storage, conductance)
    return ChamberResponse(force, lag, math.pi * force * amplitude * math.cos(lag))
