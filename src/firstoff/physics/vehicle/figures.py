"""What a drive is reduced to: comfort, holding the road, travel."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from firstoff.physics.vehicle.ride import weighting_wk
from firstoff.physics.vehicle.two_mass import Car

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Ride:
    """One drive over a road, or over one bump, SI."""

    comfort: float  # m/s2, rms of the body's acceleration weighted by Wk; of a bump: the largest over one second
    acceleration: float  # m/s2, rms, unweighted
    peak_acceleration: float  # m/s2
    load_coefficient: float  # rms of the wheel load's variation over the load at rest
    off_ground: float  # share of the time
    least_load: float  # share of the load at rest
    travel: float  # m, rms about its mean
    ride_height: float  # m, mean of the travel: below zero the damper has pulled the body down
    compressed: float  # m, deepest, positive
    extended: float  # m, furthest, positive
    damper_speed: float  # m/s, rms, at the wheel
    in_bump_stop: float  # share of the time
    bottomed: float  # share of the time that the bump stop is used up
    damper_power: float  # W, mean, taken by the damper

    @property
    def finite(self) -> bool:
        return bool(np.isfinite(self.comfort) and np.isfinite(self.load_coefficient))


@lru_cache(maxsize=8)
def _gains(n: int, step: float) -> FloatArray:
    """Wk at the lines of the spectrum of n steps; nothing at 0 Hz."""
    f = np.fft.rfftfreq(n, step)
    return np.concatenate(([0.0], weighting_wk(f[1:])))


def weighted(acceleration: FloatArray, step: float) -> FloatArray:
    """Acceleration [m/s2] weighted by the magnitude of Wk, of a history that repeats itself or begins and ends at rest.

    acceleration (n,), n even; step [s]. Weighted in the frequency domain, without the filter's phase.
    Source: ISO 2631-1.
    """
    lines = np.fft.rfft(acceleration) * _gains(len(acceleration), step)
    return np.asarray(np.fft.irfft(lines, len(acceleration)))


def weighted_rms(acceleration: FloatArray, step: float) -> float:
    """Rms of `weighted` [m/s2], by Parseval's theorem. Arguments as there."""
    power = np.abs(np.fft.rfft(acceleration) * _gains(len(acceleration), step)) ** 2
    return float(np.sqrt(2.0 * np.sum(power[:-1]) + power[-1]) / len(acceleration))


def worst_second(acceleration: FloatArray, step: float) -> float:
    """Largest running rms over one second of the weighted acceleration [m/s2]: MTVV. Arguments as in `weighted`.

    Source: ISO 2631-1, 6.3.1 (from memory).
    """
    felt = weighted(acceleration, step) ** 2
    window = min(len(felt), max(1, round(1.0 / step)))
    total = np.concatenate(([0.0], np.cumsum(felt)))
    return float(np.sqrt(max(0.0, float(np.max(total[window:] - total[:-window])) / window)))


def reduce(
    history: FloatArray, step: float, car: Car, speeds: FloatArray, forces: FloatArray, single: bool = False
) -> Ride:
    """The figures of a history (n, 4) of `two_mass.drive`, n even.

    step [s]; speeds, forces: the damper's table at the wheel, for the power it takes; single: of one event, whose
    comfort is that of its worst second. Not a number where the history is none. Dynamic load coefficient: rms of the
    wheel load's variation over the load at rest (common practice, no source).
    """
    a, x, v, load = np.ascontiguousarray(history.T)
    return Ride(
        worst_second(a, step) if single else weighted_rms(a, step),
        float(np.sqrt(np.mean(a * a))),
        float(np.max(np.abs(a))),
        float(np.std(load) / car.static_load),
        float(np.mean(load <= 0.0)),
        float(np.min(load) / car.static_load),
        float(np.std(x)),
        float(np.mean(x)),
        float(max(0.0, -np.min(x))),
        float(max(0.0, np.max(x))),
        float(np.sqrt(np.mean(v * v))),
        float(np.mean(-x > car.bump_clearance)),
        float(np.mean(-x > car.bump_travel)),
        float(np.mean(v * np.interp(v, speeds, forces))),
    )
