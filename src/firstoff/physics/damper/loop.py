"""What a force loop says: a cycle of travel, speed and force reduced to a few numbers, simulated or measured alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.jit import njit

Row = npt.NDArray[np.float64]
FloatArray = npt.NDArray[np.float64]
LOOP_FIELDS: Final = (
    "peak_rebound",  # N, most force
    "peak_compression",  # N, least force
    "mid_rebound",  # N at half stroke, going out
    "mid_compression",  # N at half stroke, going in
    "energy",  # J a cycle, work done on the damper
    "dead_rebound",  # m of travel after the inner turn until the force is half its peak
    "dead_compression",  # m, after the outer turn
    "hysteresis_rebound",  # N, slowing down less speeding up, at a share of the peak speed
    "hysteresis_compression",  # N, as amounts: above 0 when the force lags the speed
    "friction_in",  # N, half the difference out - in at the inner place
    "friction_out",  # N, at the outer place
    "rest_in",  # N, half the sum at the inner place: gas and stops, at crawling speed
    "rest_out",
)
PEAK_R, PEAK_C, MID_R, MID_C, ENERGY, DEAD_R, DEAD_C, HYST_R, HYST_C, RUB_IN, RUB_OUT, REST_IN, REST_OUT = range(13)


@njit("f8(f8[::1], f8[::1], i8, i8, f8)")
def crossing(key: Row, value: Row, first: int, last: int, level: float) -> float:
    """Value where `key` first comes to `level` on the way from index first to last; nan if it never does.

    Linear between the points of a closed cycle, past its end if need be: the last point is the first.
    """
    k, i = key.size - 1, first % (key.size - 1)
    for _ in range((last - first) % k):
        j = i + 1
        if (key[i] - level) * (key[j] - level) <= 0.0 and key[i] != key[j]:
            share = (level - key[i]) / (key[j] - key[i])
            return float(value[i] + share * (value[j] - value[i]))
        i = j % k
    return math.nan


@njit("void(f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8, f8[::1])")
def loop_numbers(t: Row, x: Row, v: Row, force: Row, places: Row, share: float, out: Row) -> None:
    """LOOP_FIELDS of one closed cycle.

    t [s], x [m], v [m/s], force [N] (k + 1,), last point = first; places (2,): inner and outer travel for friction and
    rest; share of the stroke's peak speed for the hysteresis. Work: integral of F v dt by the trapezium rule. nan for
    what the cycle does not reach.
    """
    k = x.size - 1
    inner, outer = int(np.argmin(x[:k])), int(np.argmax(x[:k]))
    out[PEAK_R], out[PEAK_C] = force[:k].max(), force[:k].min()
    half = 0.5 * (x[inner] + x[outer])
    out[MID_R], out[MID_C] = crossing(x, force, inner, outer, half), crossing(x, force, outer, inner, half)
    work = 0.0
    for i in range(k):
        work += 0.5 * (force[i] * v[i] + force[i + 1] * v[i + 1]) * (t[i + 1] - t[i])
    out[ENERGY] = work
    out[DEAD_R] = crossing(force, x, inner, outer, 0.5 * out[PEAK_R]) - x[inner]
    out[DEAD_C] = x[outer] - crossing(force, x, outer, inner, 0.5 * out[PEAK_C])
    top, bottom = int(np.argmax(v[:k])), int(np.argmin(v[:k]))
    fast, slow = share * v[top], share * v[bottom]
    out[HYST_R] = crossing(v, force, top, outer, fast) - crossing(v, force, inner, top, fast)
    out[HYST_C] = crossing(v, force, outer, bottom, slow) - crossing(v, force, bottom, inner, slow)
    for i in range(2):
        going, coming = crossing(x, force, inner, outer, places[i]), crossing(x, force, outer, inner, places[i])
        out[RUB_IN + i], out[REST_IN + i] = 0.5 * (going - coming), 0.5 * (going + coming)


def loop_of(
    time: FloatArray,
    travel: FloatArray,
    speed: FloatArray,
    force: FloatArray,
    places: tuple[float, float],
    share: float = 0.5,
) -> dict[str, float]:
    """LOOP_FIELDS by name of one closed cycle, as in `loop_numbers`. ValueError for shapes that do not fit."""
    t, x, v, f = (np.ascontiguousarray(a, dtype=np.float64) for a in (time, travel, speed, force))
    if x.ndim != 1 or not t.shape == x.shape == v.shape == f.shape or x.size < 9:
        raise ValueError("a loop needs time, travel, speed and force of one length, at least 9 points")
    out = np.empty(len(LOOP_FIELDS))
    loop_numbers(t, x, v, f, np.array(places, dtype=np.float64), share, out)
    return dict(zip(LOOP_FIELDS, out.tolist(), strict=True))


@dataclass(frozen=True)
class Loop:
    """The mean cycle of a trace, from fully in, on equal parts of its period; SI."""

    period: float
    cycles: int
    travel: FloatArray  # (k + 1,), last point = first
    speed: FloatArray
    force: FloatArray
    noise: float  # N, standard deviation of one force sample about the mean cycle; 0 for a single cycle
    drift: float  # N, of the mean force from the first cycle to the last
    numbers: dict[str, float]  # LOOP_FIELDS


def reduce(
    time: FloatArray, travel: FloatArray, force: FloatArray, places: tuple[float, float], share: float = 0.5,
    steps: int = 128, harmonics: int = 12,
) -> Loop:  # fmt: skip
    """Align the cycles of a measured or simulated trace, average them and reduce the mean.

    The period is that which fits a cosine and a sine best (least squares); phase 0 is the innermost point of that fit.
    Every whole cycle is laid on `steps` equal parts by linear interpolation; noise: pooled standard deviation over
    cycles. Speed: derivative of the mean travel's first `harmonics` harmonics.

    time [s] (m,) rising, travel [m], force [N] (m,); at least one whole cycle of 16 samples. ValueError otherwise.
    Source: least squares; Fourier series (textbook).
    """
    t, x, f = (np.asarray(a, dtype=np.float64) for a in (time, travel, force))
    if t.ndim != 1 or not t.shape == x.shape == f.shape or not np.isfinite([t, x, f]).all():
        raise ValueError("a trace needs times, travels and forces of one length, all finite")
    if t.size < 17 or not np.all(np.diff(t) > 0.0) or not np.ptp(x) > 0.0:
        raise ValueError("a trace needs at least 17 samples, rising times and a travel")
    period, innermost = _period(t, x)
    first = math.ceil((t[0] - innermost) / period - 1e-6)
    count = math.floor((t[-1] - innermost) / period + 1e-6) - first
    if count < 1 or (t.size - 1) * period / (t[-1] - t[0]) < 16:
        raise ValueError("a trace needs at least one whole cycle, from fully in to fully in, of 16 samples")
    part = np.arange(steps) / steps
    moments = innermost + (first + np.arange(count)[:, np.newaxis] + part) * period
    cycles = [np.interp(moments, t, a) for a in (x, f)]
    mean_x, mean_f = (c.mean(axis=0) for c in cycles)
    noise = math.sqrt(float(cycles[1].var(axis=0, ddof=1).mean())) if count > 1 else 0.0
    drift = float(cycles[1][-1].mean() - cycles[1][0].mean())
    waves = np.fft.rfft(mean_x)
    waves[harmonics + 1 :] = 0.0
    speed = np.fft.irfft(waves * 2j * math.pi * np.arange(waves.size) / period, steps)
    cycle_x, cycle_v, cycle_f = (np.append(a, a[0]) for a in (mean_x, speed, mean_f))
    numbers = loop_of(np.linspace(0.0, period, steps + 1), cycle_x, cycle_v, cycle_f, places, share)
    return Loop(period, count, cycle_x, cycle_v, cycle_f, noise, drift, numbers)


def _period(t: FloatArray, x: FloatArray) -> tuple[float, float]:
    """Period of a travel and a moment at which its fundamental is innermost."""
    from scipy.optimize import minimize_scalar

    y = x - 0.5 * (x.max() + x.min())
    rises = np.flatnonzero((y[:-1] < 0.0) & (y[1:] >= 0.0))
    # noise may cross the middle several times in a row: crossings nearer than half the largest gap are one
    spread = np.diff(t[rises])
    kept = rises[np.concatenate([[True], spread > 0.5 * spread.max()])] if spread.size else rises
    length = float(np.diff(t[kept]).mean()) if kept.size > 1 else float(t[-1] - t[0])

    def fit(period: float) -> tuple[float, FloatArray]:
        turn = 2.0 * math.pi * (t - t[0]) / period
        table = np.stack([np.cos(turn), np.sin(turn), np.ones(t.size)], axis=1)
        found = np.linalg.lstsq(table, x, rcond=None)[0]
        return float(np.sum((x - table @ found) ** 2)), found

    whole = (t[-1] - t[0]) / length
    slack = 0.25 / max(whole, 1.0) if kept.size > 1 else 0.0
    if slack:
        bounds = (length * (1.0 - slack), length * (1.0 + slack))
        length = float(minimize_scalar(lambda p: fit(p)[0], bounds=bounds, method="bounded", options={"xatol": 1e-9}).x)
    cosine, sine, _ = fit(length)[1]
    return length, float(t[0] + length * (math.atan2(sine, cosine) / (2.0 * math.pi) + 0.5))
