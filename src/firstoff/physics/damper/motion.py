"""Rod motion that drives a damper: sine, triangle, a programme of speeds, a road, or a recorded displacement.

Travel is counted from mid-stroke, positive out of the tube (rebound). Besides the grid every motion is given at one
inner point of each step, where the integrator of :mod:`firstoff.physics.damper.dynamic_kernel` needs it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
GAMMA: Final = 2.0 - math.sqrt(2.0)  # inner point of a TR-BDF2 step: the one that gives both halves one coefficient


@dataclass(frozen=True)
class Motion:
    """r runs of k steps each, SI: `time` and `travel` (r, k + 1) on the grid, `between` (r, k) at GAMMA of each step.

    speeds (r, k, 3): as each step begins, at GAMMA of it, as it ends; at a corner it jumps from one step to the next.
    periodic: the last point is the first one again, and the run may be repeated until it settles.
    """

    time: FloatArray
    travel: FloatArray
    between: FloatArray
    speeds: FloatArray
    periodic: bool

    @property
    def speed(self) -> FloatArray:
        """Speed (r, k + 1) on the grid [m/s]; at a corner the one that follows."""
        return np.concatenate([self.speeds[:, :, 0], self.speeds[:, -1:, 2]], axis=1)

    @property
    def paths(self) -> FloatArray:
        """What the kernels read, (r, 6, k + 1): time, travel, travel between, the three speeds."""
        rows = np.zeros((self.runs, 6, self.steps + 1))
        rows[:, 0], rows[:, 1], rows[:, 2, :-1] = self.time, self.travel, self.between
        rows[:, 3:, :-1] = self.speeds.transpose(0, 2, 1)
        return rows

    @property
    def runs(self) -> int:
        return len(self.time)

    @property
    def steps(self) -> int:
        return int(self.time.shape[1]) - 1


def sine(amplitude: float | FloatArray, peak_speed: float | FloatArray, steps: int = 128) -> Motion:
    """One cycle x = -X cos(w t), w = v_peak/X, from fully in over mid-stroke to fully out and back; one run a speed.

    amplitude X [m] > 0 and peak_speed [m/s] > 0, numbers or (r,); steps a multiple of 4, so that both passages of
    mid-stroke lie on the grid. Source: kinematics (textbook). ValueError out of range.
    """
    x, v = (np.atleast_1d(a).astype(float)[:, np.newaxis] for a in np.broadcast_arrays(amplitude, peak_speed))
    _above(x, v)
    if steps < 8 or steps % 4:
        raise ValueError("a cycle needs a multiple of 4 steps, at least 8")
    omega = v / x
    turn = 2.0 * math.pi * np.arange(steps + 1) / steps
    inner = turn[:-1] + GAMMA * turn[1]
    speeds = np.stack([v * np.sin(at) for at in (turn[:-1], inner, turn[1:])], axis=-1)
    return Motion(turn / omega, -x * np.cos(turn), -x * np.cos(inner), speeds, True)


def triangle(
    amplitude: float | FloatArray, speed: float | FloatArray, steps: int = 128, rounding: float = 0.05
) -> Motion:
    """One cycle of constant speed both ways, its corners rounded by constant acceleration.

    amplitude X [m] and speed v [m/s] > 0, numbers or (r,); rounding: the share of each stroke's time that both its ends
    take together, 0 (sharp) to 1 (all parabola). Starts fully in. Source: kinematics. ValueError out of range.
    """
    x, v = (np.atleast_1d(a).astype(float)[:, np.newaxis] for a in np.broadcast_arrays(amplitude, speed))
    _above(x, v)
    if steps < 8 or steps % 4 or not 0.0 <= rounding <= 1.0:
        raise ValueError("a cycle needs a multiple of 4 steps, at least 8, and a rounding of 0 to 1")
    part = np.arange(steps + 1) / steps
    soft = 0.5 * rounding  # of a stroke, at each end
    stroke = 2.0 * x / (1.0 - soft)  # travel of a stroke at full speed all the time

    def where(turn: FloatArray) -> tuple[FloatArray, FloatArray]:
        u = np.where(turn < 0.5, 2.0 * turn, 2.0 - 2.0 * turn)  # 0 fully in, 1 fully out
        near = np.minimum(u, 1.0 - u)
        with np.errstate(divide="ignore", invalid="ignore"):
            begun = np.where(near < soft, 0.5 * near**2 / soft, near - 0.5 * soft)
            slow = np.where(near < soft, near / soft, 1.0)
        begun = np.where(u > 0.5, (1.0 - soft) - begun, begun)
        return stroke * begun - x, np.where(turn < 0.5, slow, -slow) * v

    travel, velocity = where(part)
    between, inner = where(part[:-1] + GAMMA * part[1])
    begins, ends = velocity[:, :-1].copy(), velocity[:, 1:].copy()
    if soft == 0.0:
        half = steps // 2
        ends[:, half - 1], ends[:, -1] = v[:, 0], -v[:, 0]
    return Motion(part * 2.0 * stroke / v, travel, between, np.stack([begins, inner, ends], axis=-1), True)


def programme(amplitude: float, peak_speeds: Sequence[float], cycles: int = 1, steps: int = 128) -> Motion:
    """Cycles of a sine at one speed after another, as a rig steps through its speeds; one run, not periodic.

    amplitude [m], peak_speeds [m/s] > 0; cycles at each speed; steps of each cycle. Changes speed fully in, at rest.
    """
    if cycles < 1:
        raise ValueError("a programme needs at least one cycle a speed")
    parts = [sine(amplitude, v, steps) for v in peak_speeds for _ in range(cycles)]
    lengths = np.cumsum([0.0] + [float(p.time[0, -1]) for p in parts])
    grid = {
        "time": [p.time[0] + start for p, start in zip(parts, lengths[:-1], strict=True)],
        "travel": [p.travel[0] for p in parts],
    }
    joined = {k: np.concatenate([*(row[:-1] for row in rows), rows[-1][-1:]])[np.newaxis] for k, rows in grid.items()}
    between, speeds = (
        np.concatenate([getattr(p, name)[0] for p in parts])[np.newaxis] for name in ("between", "speeds")
    )
    return Motion(joined["time"], joined["travel"], between, speeds, False)


def recorded(time: FloatArray, travel: FloatArray, steps: int | None = None, periodic: bool = False) -> Motion:
    """A measured displacement, joined by a cubic spline; one run of `steps` equal steps, one a sample when left out.

    time [s] (k,) rising, travel [m] (k,), k >= 4. periodic: first and last travel are equal. Source: cubic spline.
    ValueError when the record cannot be used.
    """
    from scipy.interpolate import CubicSpline

    t, x = np.asarray(time, dtype=np.float64), np.asarray(travel, dtype=np.float64)
    if t.ndim != 1 or t.shape != x.shape or t.size < 4:
        raise ValueError("a record needs times and travels of one length, at least 4")
    if not (np.isfinite(t).all() and np.isfinite(x).all() and np.all(np.diff(t) > 0.0)):
        raise ValueError("a record needs finite numbers and rising times")
    if periodic and x[0] != x[-1]:
        raise ValueError("a periodic record must end where it began")
    spline = CubicSpline(t, x, bc_type="periodic" if periodic else "not-a-knot")
    grid = np.linspace(t[0], t[-1], (steps or t.size - 1) + 1)
    inner = grid[:-1] + GAMMA * np.diff(grid)
    speeds = np.stack([spline(at, 1) for at in (grid[:-1], inner, grid[1:])], axis=-1)
    return _single(grid - grid[0], spline(grid), spline(inner), speeds, periodic)


def road(
    roughness: float, speed: float, car: Sequence[float], seconds: float, steps: int, seed: int,
    n0: float = 0.1, highest: float = 25.0,
) -> Motion:  # fmt: skip
    """Travel of a linear quarter car on a random road of waviness 2: a sum of sines with random phases, periodic.

    x = sum a_k cos(w_k t + phi_k), a_k = |H(w_k)| sqrt(2 S(f_k)/T), S(f) = Gd(n0) n0^2 v/f^2, f_k = k/T, up to the
    frequency `highest` [Hz]; H: road to travel of body against wheel.

    roughness Gd(n0) [m3] one-sided at n0 [cycles/m]; speed v [m/s]; car: sprung and unsprung mass [kg], spring
    [N/m], damping [N s/m], tyre [N/m]; seconds T; steps in all; seed of the phases. A real damper is not linear: it
    is a travel to drive one by. Source: ISO 8608 (from memory); linear system (textbook). ValueError out of range.
    """
    if not min(roughness, speed, seconds, n0, highest, *car) > 0.0 or len(car) != 5:
        raise ValueError("roughness, speed, time, n0, highest frequency and the car's five values must be above 0")
    count = int(highest * seconds)
    if count < 1 or steps < 4 * count:
        raise ValueError(f"needs at least {4 * max(count, 1)} steps for {highest:g} Hz over {seconds:g} s")
    f = np.arange(1, count + 1) / seconds
    response = travel_response(f, *car)
    size = np.abs(response) * np.sqrt(2.0 * roughness * n0**2 * speed / f**2 / seconds)
    phase = np.random.default_rng(seed).uniform(0.0, 2.0 * math.pi, count) + np.angle(response)
    h, waves = seconds / steps, np.zeros(steps // 2 + 1, dtype=np.complex128)
    waves[1 : count + 1] = 0.5 * steps * size * np.exp(1j * phase)
    omega = 2.0 * math.pi * np.arange(waves.size) / seconds

    def at(shift: float, rate: bool) -> FloatArray:
        """Travel or speed on the grid, moved by `shift` steps: a Fourier sum."""
        shifted = waves * np.exp(1j * omega * shift * h) * (1j * omega if rate else 1.0)
        return np.asarray(np.fft.irfft(shifted, steps), dtype=np.float64)

    travel, speed_there = at(0.0, False), at(0.0, True)
    speeds = np.stack([speed_there, at(GAMMA, True), np.append(speed_there[1:], speed_there[0])], axis=-1)
    return _single(np.linspace(0.0, seconds, steps + 1), np.append(travel, travel[0]), at(GAMMA, False), speeds, True)


def travel_response(
    frequency: FloatArray, sprung: float, unsprung: float, spring: float, damping: float, tyre: float
) -> npt.NDArray[np.complex128]:
    """Travel of body against wheel over road height at a frequency [Hz], of the linear quarter car of `ride`.

    z_u/q = k_t/(k_t - m_u w^2 - D m_s w^2/(D - m_s w^2)), travel/z_u = m_s w^2/(D - m_s w^2), D = k + i w c.
    """
    omega = 2.0 * math.pi * np.asarray(frequency, dtype=np.float64)
    link = spring + 1j * omega * damping
    body = sprung * omega**2 / (link - sprung * omega**2)
    return np.asarray(body * tyre / (tyre - unsprung * omega**2 - link * body), dtype=np.complex128)


def _single(time: FloatArray, travel: FloatArray, between: FloatArray, speeds: FloatArray, periodic: bool) -> Motion:
    return Motion(time[np.newaxis], travel[np.newaxis], between[np.newaxis], speeds[np.newaxis], periodic)


def _above(*values: FloatArray) -> None:
    if not all(np.all(np.isfinite(v) & (v > 0.0)) for v in values):
        raise ValueError("amplitude and speed must be above 0")
