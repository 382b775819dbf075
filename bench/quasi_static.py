"""Speed of the quasi-static damper curve against library root finders at equal measured error.

Load: 2,000 scattered builds at 12 rod speeds. The alternative solves the same equations with the same compiled valve
functions, all points at once by `scipy.optimize.elementwise.find_root`; where the oil carries gas the two
pressures are solved in turn until they stand still. Error: largest difference of force against `brentq` at its
tightest, over the largest force of the build, on a sample of builds. Both sides run at the loosest setting that meets
the same error.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, NamedTuple

import numba
import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.optimize.elementwise import find_root

from firstoff.physics.damper import twin_tube as tt
from firstoff.physics.damper.mixture import density_and_compressibility
from firstoff.physics.damper.oil import mixture_density
from firstoff.physics.damper.valve import flow, valve_row

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BUILDS, SAMPLE, REPEATS, TARGET = 2000, 12, 7, 1e-9
SPEEDS = np.array([-1.5, -1.04, -0.52, -0.26, -0.13, -0.05, 0.05, 0.13, 0.26, 0.52, 1.04, 1.5])
PISTON_R, PISTON_C, BASE_C, BASE_I = 0, 1, 2, 3


@numba.njit
def compiled_flow(dp: Any, valves: Any, which: int, k: Any, rho: Any, mu: Any, cd: Any) -> Any:
    out = np.empty(dp.size)
    for j in range(dp.size):
        out[j] = flow(dp[j], valves[k[j], which], rho[j], mu[j], cd[j])
    return out


@numba.njit
def compiled_density(p: Any, oils: Any, k: Any) -> Any:
    out = np.empty(p.size)
    for j in range(p.size):
        out[j] = density_and_compressibility(p[j], oils[k[j]])[0]
    return out


class Physics(NamedTuple):
    """The two functions a library's search needs, over arrays of points."""

    flow: Callable[..., FloatArray]
    density: Callable[..., FloatArray]


def numpy_density(p: FloatArray, oils: FloatArray, k: IntArray) -> FloatArray:
    return mixture_density(p, oils[k, 0], oils[k, 2], oils[k, 3], oils[k, 4])


def numpy_flow(
    dp: FloatArray, valves: FloatArray, which: int, k: IntArray, rho: FloatArray, mu: FloatArray, cd: FloatArray
) -> FloatArray:
    """The valve law of `physics.valve` in plain NumPy."""
    at = valves[k, which].T
    drop = np.maximum(dp, 0.0)

    def speed(laminar: FloatArray) -> FloatArray:
        linear = laminar * mu
        total = linear + np.sqrt(linear**2 + 2 * rho * drop / cd**2)
        return np.asarray(2 * drop / np.maximum(total, 1e-300))

    disc = at[1] * at[2] * np.maximum(drop - at[3], 0.0)
    through = at[4] * disc / np.maximum(np.hypot(at[4], disc), 1e-300)
    lift = np.clip((drop * at[5] - at[6]) / at[7], 0.0, at[9])
    slow = through / np.maximum(at[4], 1e-300)
    return np.asarray(at[0] * speed(at[10]) + through * speed(at[11] * slow) + at[8] * lift * speed(at[12]))


COMPILED = Physics(compiled_flow, compiled_density)
PLAIN = Physics(numpy_flow, numpy_density)


def load(n: int, gassy: bool, seed: int = 7) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Builds, valves and oils with ordinary scatter about a made-up damper."""
    nominal = np.stack([
        valve_row(bleed_area=1.4e-6, disc_perimeter=0.069, disc_compliance=6e-11, disc_preload=3.5e5, port_area=1.5e-5,
                  relief_seat_area=4e-5, relief_preload=84.0, relief_rate=1.1e5, relief_perimeter=0.022,
                  relief_max_lift=6e-4, bleed_a=4e4),
        valve_row(bleed_area=1.4e-6, disc_perimeter=0.082, disc_compliance=5e-10, disc_preload=2e4, port_area=3.8e-5,
                  bleed_a=4e4),
        valve_row(bleed_area=5e-7, disc_perimeter=0.05, disc_compliance=2.5e-11, disc_preload=2.5e5, port_area=8e-6,
                  relief_seat_area=2e-5, relief_preload=55.0, relief_rate=1.5e5, relief_perimeter=0.0157,
                  relief_max_lift=5e-4, bleed_a=4e4),
        valve_row(bleed_area=5e-7, disc_perimeter=0.0628, disc_compliance=2e-9, disc_preload=5e3, port_area=6e-5,
                  bleed_a=4e4),
    ])  # fmt: skip
    draw = np.random.default_rng(seed)
    valves = nominal * np.exp(0.05 * draw.standard_normal((n, *nominal.shape)))
    builds = tt.build_rows(0.032, 0.0125, 6e5 * np.exp(0.03 * draw.standard_normal(n)), 0.7, 1e-7, 20.0)
    oils = tt.oil_rows(860.0, 0.012 * np.exp(0.1 * draw.standard_normal(n)), 1 / 1.5e9 if gassy else 0.0,
                       0.02 if gassy else 0.0)  # fmt: skip
    return builds, valves, oils


def with_leak(builds: FloatArray, valves: FloatArray) -> FloatArray:
    """Valves with the piston's leak in the bleed of both its valves."""
    full = valves.copy()
    full[:, :2, 0] += builds[:, 2:3]
    return full


Root = Callable[[Callable[..., FloatArray], FloatArray, FloatArray, tuple[FloatArray, ...]], FloatArray]


def elementwise(tolerance: float) -> Root:
    """All points at once by the library's bracketing search."""

    def solve(residual: Callable[..., FloatArray], low: FloatArray, high: FloatArray, args: Any) -> FloatArray:
        found = find_root(
            residual, (low, high), args=args, tolerances={"xatol": 0.0, "xrtol": tolerance, "fatol": 0.0, "frtol": 0.0}
        )
        return np.asarray(found.x)

    return solve


def one_by_one(residual: Callable[..., FloatArray], low: FloatArray, high: FloatArray, args: Any) -> FloatArray:
    """Point after point by `brentq` at its tightest: the reference."""
    out = np.empty(low.shape)
    for i in range(low.size):
        at = tuple(a[i : i + 1] for a in args)

        def single(x: float, at: tuple[FloatArray, ...] = at) -> float:
            return float(residual(np.array([x]), *at)[0])

        out[i] = brentq(single, low[i], high[i], xtol=1e-9, rtol=4 * np.finfo(float).eps)
    return out


def by_library(
    builds: FloatArray, valves: FloatArray, oils: FloatArray, root: Root, sweep: float, physics: Physics = COMPILED
) -> FloatArray:
    """Forces (n, m) from the balances of `twin_tube_kernel`, its pressures found by `root`."""
    valves = with_leak(builds, valves)
    force = np.empty((len(builds), SPEEDS.size))
    for side in (SPEEDS > 0, SPEEDS < 0):
        # index arrays in the place of rows, so that find_root can shrink them with the points still open
        i, v = (a.ravel() for a in np.meshgrid(np.arange(len(builds)), np.abs(SPEEDS[side]), indexing="ij"))
        solve = _rebound if SPEEDS[side][0] > 0 else _compression
        p_r, p_c = solve(builds, valves, oils, i, v, root, sweep, physics)
        piston, rod = builds[i, 0], builds[i, 1]
        f = p_r * (piston - rod) - p_c * piston + builds[i, 5] * rod + builds[i, 8] * np.sign(SPEEDS[side][0])
        force[:, side] = f.reshape(len(builds), -1)
    return force


def _sweeps(solve: Callable[[FloatArray], tuple[FloatArray, FloatArray]], ratio: FloatArray, sweep: float) -> Any:
    """Repeat `solve` with its own density until that moves no more: sweep 0 is for oil of constant density."""
    for _ in range(40):
        p, new = solve(ratio)
        if sweep == 0.0 or np.max(np.abs(new / ratio - 1.0)) <= sweep:
            return p
        ratio = new
    raise RuntimeError("the sweeps did not settle")


def _rebound(
    builds: Any,
    valves: Any,
    oils: Any,
    i: Any,
    v: Any,
    root: Root,
    sweep: float,
    physics: Physics,
) -> Any:
    piston, rod, cd, p_res, mu = builds[i, 0], builds[i, 1], builds[i, 3], builds[i, 4], oils[i, 1]
    rho_res = physics.density(p_res, oils, i)

    def base(p_c: Any, k: Any, feed: Any, swept: Any) -> Any:
        passed = physics.flow(p_res_of[k] - p_c, valves, BASE_I, k, rho_res_of[k], oils[k, 1], builds[k, 3])
        return rho_res_of[k] * passed + feed - physics.density(p_c, oils, k) * swept

    def ring(p_r: Any, k: Any, p_c: Any, q: Any) -> Any:
        return physics.flow(p_r - p_c, valves, PISTON_R, k, physics.density(p_r, oils, k), oils[k, 1], builds[k, 3]) - q

    p_res_of, rho_res_of = builds[:, 4], physics.density(builds[:, 4], oils, np.arange(len(builds)))
    q, swept = (piston - rod) * v, piston * v

    def solve(rho_r: FloatArray) -> Any:
        p_c = root(base, np.full_like(v, 1e3), p_res, (i, rho_r * q, swept))
        p_r = root(ring, p_c, p_c + _bleed_only(q, valves[i, PISTON_R], rho_res * 1.1, mu, cd), (i, p_c, q))
        return (p_r, p_c), physics.density(p_r, oils, i)

    return _sweeps(solve, rho_res, sweep)


def _compression(
    builds: Any, valves: Any, oils: Any, i: Any, v: Any, root: Root, sweep: float, physics: Physics
) -> Any:
    piston, rod, cd, p_res, mu = builds[i, 0], builds[i, 1], builds[i, 3], builds[i, 4], oils[i, 1]
    rho_res = physics.density(p_res, oils, i)
    q, swept = (piston - rod) * v, piston * v

    def base(p_c: Any, k: Any, passed: Any, swept: Any) -> Any:
        rho = physics.density(p_c, oils, k)
        out = physics.flow(p_c - builds[k, 4], valves, BASE_C, k, rho, oils[k, 1], builds[k, 3])
        return out + passed / rho - swept

    def ring(p_r: Any, k: Any, p_c: Any, q: Any) -> Any:
        rho = physics.density(p_c, oils, k)
        passed = physics.flow(p_c - p_r, valves, PISTON_C, k, rho, oils[k, 1], builds[k, 3])
        return rho * passed - physics.density(p_r, oils, k) * q

    def solve(rho_r: FloatArray) -> Any:
        high = p_res + _bleed_only(rod * v * 1.2, valves[i, BASE_C], rho_res * 1.1, mu, cd)
        p_c = root(base, p_res, high, (i, rho_r * q, swept))
        p_r = root(ring, np.full_like(v, 1e3), p_c, (i, p_c, q))
        return (p_r, p_c), physics.density(p_r, oils, i)

    return _sweeps(solve, rho_res, sweep)


def _bleed_only(q: FloatArray, valve: FloatArray, rho: FloatArray, mu: FloatArray, cd: FloatArray) -> FloatArray:
    """Pressure difference when nothing but the bleed is open: an upper bound."""
    u = q / valve[:, 0]
    return np.asarray((rho / (2 * cd**2) * u + valve[:, 10] * mu) * u)


def seconds(*calls: Callable[[], Any], repeats: int = REPEATS) -> list[float]:
    """Median time of each call, taken in turn so that a busy machine slows all alike, after one that warms up."""
    for call in calls:
        call()
    taken: list[list[float]] = [[] for _ in calls]
    for _ in range(repeats):
        for times, call in zip(taken, calls, strict=True):
            start = time.perf_counter()
            call()
            times.append(time.perf_counter() - start)
    return [float(np.median(times)) for times in taken]


def error_of(force: FloatArray, reference: FloatArray) -> float:
    """Largest difference over the largest force of the build."""
    return float(np.max(np.abs(force - reference) / np.abs(reference).max(axis=1, keepdims=True)))


def _row(name: str, load_text: str, own: float, other: str, took: float, error: float, off: float) -> dict[str, Any]:
    return {
        "id": name, "load": load_text, "seconds": own, "alternative": other, "alternative_seconds": took,
        "ratio": took / own, "error": error, "alternative_error": off, "peak_pss_mb": None,
    }  # fmt: skip


def _case(gassy: bool) -> list[dict[str, Any]]:
    parts = load(BUILDS, gassy)
    few = tuple(part[:SAMPLE] for part in parts)
    reference = by_library(*few, one_by_one, 1e-15 if gassy else 0.0)
    error = error_of(tt.curve(SPEEDS, *few).force, reference)
    for tolerance in 10.0 ** np.arange(-5, -16, -1):  # the loosest setting that meets the target
        sweep = tolerance if gassy else 0.0
        off = error_of(by_library(*few, elementwise(tolerance), sweep), reference)
        if off <= max(TARGET, error):
            break
    own, took, plain = seconds(
        lambda: tt.curve(SPEEDS, *parts),
        lambda: by_library(*parts, elementwise(tolerance), sweep),
        lambda: by_library(*parts, elementwise(tolerance), sweep, PLAIN),
    )
    name = "gassy" if gassy else "plain"
    text = f"{BUILDS} builds x {SPEEDS.size} speeds, {'2 % gas in the oil' if gassy else 'incompressible oil'}"
    other = "scipy elementwise.find_root, same compiled valve"
    rows = [_row(f"damper-curve-{name}", text, own, other, took, error, off)]
    off = error_of(by_library(*few, elementwise(tolerance), sweep, PLAIN), reference)
    rows.append(
        _row(f"damper-curve-{name}-numpy", text, own, "the same search, valve in plain NumPy", plain, error, off)
    )
    slow = seconds(lambda: by_library(*few, one_by_one, 1e-12 if gassy else 0.0), repeats=1)[0] * BUILDS / SAMPLE
    off = error_of(by_library(*few, one_by_one, 1e-12 if gassy else 0.0), reference)
    rows.append(_row(f"damper-curve-{name}-brentq", text, own, f"scipy brentq, from {SAMPLE} builds", slow, error, off))
    return rows


def rows() -> list[dict[str, Any]]:
    """The table's rows of this file."""
    return _case(gassy=False) + _case(gassy=True)


if __name__ == "__main__":
    for entry in rows():
        print({key: f"{value:.3g}" if isinstance(value, float) else value for key, value in entry.items()})
