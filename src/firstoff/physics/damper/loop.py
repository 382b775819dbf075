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
    wander: float  # relative, longest less shortest cycle
    numbers: dict[str, float]  # LOOP_FIELDS
    each_travel: FloatArray  # (cycles, k), every cycle by itself
    each_force: FloatArray
    starts: FloatArray  # moments fully in, from before the first cycle to after the last


def reduce(
    time: FloatArray, travel: FloatArray, force: FloatArray, places: tuple[float, float], share: float = 0.5,
    steps: int = 128, harmonics: int = 12,
) -> Loop:  # fmt: skip
    """Align the cycles of a measured or simulated trace, average them and reduce the mean.

    The period is that which fits a cosine and a sine best (least squares); phase 0 is where each cycle's own
    fundamental is innermost, so that a drive that drifts smears nothing. Every whole cycle is laid on `steps` equal
    parts, each the mean of the cubic spline through its samples; then cycles are averaged. Speed: derivative of the
    mean travel's first `harmonics` harmonics. Noise: of the samples about the mean cycle.

    time [s] (m,) rising, travel [m], force [N] (m,); at least one whole cycle of 16 samples. ValueError otherwise.
    Source: least squares; Fourier series (textbook).
    """
    t, x, f = (np.asarray(a, dtype=np.float64) for a in (time, travel, force))
    if t.ndim != 1 or not t.shape == x.shape == f.shape or not np.isfinite([t, x, f]).all():
        raise ValueError("a trace needs times, travels and forces of one length, all finite")
    if t.size < 17 or not np.all(np.diff(t) > 0.0) or not np.ptp(x) > 0.0:
        raise ValueError("a trace needs at least 17 samples, rising times and a travel")
    period, innermost = _period(t, x)
    # the cycles begin at the first part of the trace, which need not be fully in: none is lost
    ahead = math.ceil((t[0] - innermost) / period * steps - 1e-6 * steps)
    count = math.floor((t[-1] - innermost) / period - ahead / steps + 1e-6)
    if count < 1 or (t.size - 1) * period / (t[-1] - t[0]) < 16:
        raise ValueError("a trace needs at least one whole cycle of 16 samples")
    turn = ahead % steps
    starts = _starts(t, x, period, innermost + (ahead / steps + np.arange(count + 1)) * period, turn / steps)
    slack = 0.25 * period / steps  # of a drive that drifts the outermost cycles may reach beyond the trace
    starts = starts[(starts >= t[0] - slack) & (starts <= t[-1] + slack)]
    count, lengths = starts.size - 1, np.diff(starts)
    if count < 1 or lengths.min() < 0.5 * period:
        raise ValueError("the cycles of a trace must be alike in length")
    edges = np.clip(starts[:-1, None] + lengths[:, None] * (np.arange(steps + 1) - 0.5) / steps, t[0], t[-1])
    each_x, each_f = (np.roll(_means(t, a, edges), turn, axis=1) for a in (x, f))
    length = float(lengths.mean())
    starts = np.append(starts, starts[-1] + length)[: count + 1 + (turn > 0)] - turn / steps * length
    cycle = mean_cycle(each_x.mean(axis=0), each_f.mean(axis=0), length, harmonics)
    numbers = loop_of(np.linspace(0.0, length, steps + 1), *cycle, places, share)
    noise = _noise(t, f, starts, cycle[2]) if count > 1 else 0.0
    drift = float(each_f[-1].mean() - each_f[0].mean())
    return Loop(length, count, *cycle, noise, drift, float(np.ptp(lengths)) / length, numbers, each_x, each_f, starts)


def mean_cycle(
    travel: FloatArray, force: FloatArray, period: float, harmonics: int = 12
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A closed cycle (k + 1,) of travel, speed and force from averaged ones (k,); speed as in `reduce`."""
    waves = np.fft.rfft(travel)
    waves[harmonics + 1 :] = 0.0
    speed = np.fft.irfft(waves * 2j * math.pi * np.arange(waves.size) / period, travel.size)
    closed = [np.append(a, a[0]) for a in (travel, speed, force)]
    return closed[0], closed[1], closed[2]


def _starts(t: FloatArray, x: FloatArray, period: float, about: FloatArray, share: float) -> FloatArray:
    """Moments near `about` at which the fundamental of the travel around each of them is at a share of its cycle."""
    found, count = about.copy(), 64
    for i, centre in enumerate(about):
        begin = min(max(centre - 0.5 * period, t[0]), t[-1] - period)
        turn = begin + period * (np.arange(count) + 0.5) / count
        y = np.interp(turn, t, x)
        wave = np.sum((y - y.mean()) * np.exp(-2j * math.pi * ((turn - centre) / period + share)))
        found[i] = centre - period * float(np.angle(-wave)) / (2.0 * math.pi)
    return found


def _means(t: FloatArray, y: FloatArray, edges: FloatArray) -> FloatArray:
    """Mean of the cubic spline through the samples from edge to edge, (cycles, steps)."""
    from scipy.interpolate import CubicSpline

    whole = CubicSpline(t, y).antiderivative()(edges)
    return np.asarray(np.diff(whole, axis=1) / np.diff(edges, axis=1))


def _noise(t: FloatArray, force: FloatArray, starts: FloatArray, mean: FloatArray) -> float:
    """Standard deviation of the samples about the mean cycle, freed of what the mean took over of each sample."""
    inside = (t >= starts[0]) & (t < starts[-1])
    steps, cycles = mean.size - 1, max((t[-1] - t[0]) / (starts[1] - starts[0]), 1.0)
    phase = np.interp(t[inside], starts, np.arange(starts.size)) % 1.0 * steps
    left = force[inside] - np.interp(phase, np.arange(steps + 1), mean)
    taken = min(cycles * steps / left.size, 1.0) / cycles  # share of one sample in its part of the mean cycle
    # of the straight line between two parts on average 2/3 of that share, and as much of the sample goes into it
    spread = 1.0 - 2.0 * 0.75 * taken + 2.0 / 3.0 * taken
    return math.sqrt(float(np.mean(left**2)) / spread)


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
