"""What a damper is for: a quarter car on a standard road, and how a person feels it."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

ROAD_CLASSES: Final = "ABCDEFGH"
ROAD_N0: Final = 0.1  # cycles/m
ROAD_WAVINESS: Final = 2.0


def road_class_micro(road_class: str) -> int:
    """Geometric mean of the displacement PSD of a road class at n0 = 0.1 cycle/m, in 1e-6 m3: 16 4^k, k = 0 for A.

    One-sided, waviness 2; class limits are half and double. Source: ISO 8608 table C.1 (from memory).
    ValueError for an unknown class.
    """
    if len(road_class) != 1 or road_class not in ROAD_CLASSES:
        raise ValueError(f"road_class {road_class!r} is unknown; allowed: {', '.join(ROAD_CLASSES)}")
    return int(16 * 4 ** ROAD_CLASSES.index(road_class))


class QuarterCar(NamedTuple):
    """Road velocity PSD [(m/s)2/Hz] and RMS responses: [m/s2], [m], [m], [N]; damping of least acceleration [N s/m]."""

    road_velocity_psd: float
    body_acceleration: float
    suspension_travel: float
    tyre_deflection: float
    wheel_load: float
    least_acceleration_damping: float


def quarter_car(
    sprung: float,
    unsprung: float,
    spring: float,
    damping: float,
    tyre: float,
    roughness: float,
    n0: float,
    speed: float,
) -> QuarterCar:
    """RMS response of a linear quarter car without tyre damping on a road of waviness 2.

    S = (2 pi n0)^2 Gd(n0) v, q = S/2; var(acc) = q/2 ((ms + mu) k^2/(ms^2 c) + kt c/ms^2);
    var(travel) = q (ms + mu)/(2 c); var(tyre) = q/(2 c) ((ms + mu)^3 k^2/(kt^2 ms^2) - 2 mu (ms + mu) k/(kt ms) + mu
    + c^2 (ms + mu)^2/(kt ms^2)); least acceleration at c = k sqrt((ms + mu)/kt).

    sprung ms, unsprung mu [kg]; spring k, tyre kt [N/m]; damping c [N s/m]; roughness Gd(n0) [m3] one-sided at n0
    [cycles/m]; speed v [m/s]; all > 0. Over all frequencies: a finite road or band gives less.
    Source: Lyapunov equation of the linear system; ISO 8608 road. ValueError out of range.
    """
    if not min(sprung, unsprung, spring, damping, tyre, roughness, n0, speed) > 0.0:
        raise ValueError("masses, rates, damping, roughness, n0 and speed must be above 0")
    psd = (2.0 * math.pi * n0) ** 2 * roughness * speed
    q, total = 0.5 * psd, sprung + unsprung
    acceleration = 0.5 * q * (total * spring**2 / damping + tyre * damping) / sprung**2
    travel = 0.5 * q * total / damping
    deflection = (
        0.5 * q / damping
        * (
            total**3 * spring**2 / (tyre * sprung) ** 2
            - 2.0 * unsprung * total * spring / (tyre * sprung)
            + unsprung
            + (damping * total / sprung) ** 2 / tyre
        )
    )  # fmt: skip
    return QuarterCar(
        psd,
        math.sqrt(acceleration),
        math.sqrt(travel),
        math.sqrt(deflection),
        tyre * math.sqrt(deflection),
        spring * math.sqrt(total / tyre),
    )


def weighting_wk(frequency: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Magnitude of the frequency weighting Wk (vertical, seated) at frequency f.

    Product of a high pass f1 = 0.4 Hz and a low pass f2 = 100 Hz (Q = 1/sqrt 2), a transition f3 = f4 = 12.5 Hz
    (Q4 = 0.63) and an upward step f5 = 2.37 Hz (Q5 = 0.91), f6 = 3.35 Hz (Q6 = 0.91), scaled by (f5/f6)^2.

    frequency [Hz] > 0, any shape. Source: ISO 2631-1, filter of ISO 8041. ValueError out of range.
    """
    f = np.asarray(frequency, dtype=np.float64)
    if not (np.all(f > 0.0) and np.all(np.isfinite(f))):
        raise ValueError("frequency must be above 0")

    def second_order(corner: float, quality: float) -> npt.NDArray[np.complex128]:
        s = 1j * f / corner
        return np.asarray(1.0 + s / quality + s * s)

    butterworth = 1.0 / math.sqrt(2.0)
    high_pass = (1j * f / 0.4) ** 2 / second_order(0.4, butterworth)
    low_pass = 1.0 / second_order(100.0, butterworth)
    transition = (1.0 + 1j * f / 12.5) / second_order(12.5, 0.63)
    step = second_order(2.37, 0.91) / second_order(3.35, 0.91) * (2.37 / 3.35) ** 2
    return np.asarray(np.abs(high_pass * low_pass * transition * step), dtype=np.float64)
