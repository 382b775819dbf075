"""Speed of the damper in motion against SciPy's LSODA at equal measured error, on the same compiled right-hand side.

Load: sine at six peak speeds, stroke 100 mm, half a cycle to swing in and one whole. Error: of the peaks, both ways at
every speed; or of the force anywhere in the cycle, over its largest; each against a run of 8192 steps a cycle. Each
side runs at its loosest setting that meets the target on a sample of builds: ours the fewest steps, LSODA the largest
relative tolerance. Seconds are those of one core.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from typing import Any

import numba
import numpy as np
import numpy.typing as npt
from scipy.integrate import solve_ivp

from bench.memory import watched
from bench.quasi_static import load
from firstoff.physics.damper import dynamic_balance as balance_of
from firstoff.physics.damper.dynamic import body_rows, trace
from firstoff.physics.damper.dynamic_balance import CARRIED, FOUND, Q_BASE, Q_PISTON, balance
from firstoff.physics.damper.dynamic_kernel import STATE
from firstoff.physics.damper.dynamic_run import start
from firstoff.physics.damper.motion import sine
from firstoff.physics.damper.twin_tube import oil_rows

FloatArray = npt.NDArray[np.float64]
SPEEDS = np.array([0.05, 0.13, 0.26, 0.52, 1.04, 1.5])
AMPLITUDE, BUILDS, SAMPLE, REPEATS = 0.05, 200, 4, 5
GRID = 128  # points of a cycle at which LSODA is asked for the force
SCALE = 1e4  # of the unknown, so that a tolerance means about the same to it as to a library's usual numbers
A, X = balance_of.A, balance_of.X


def parts(n: int) -> tuple[FloatArray, ...]:
    """Builds, valves, oils and bodies: those of the quasi-static bench, with settled oil."""
    builds, valves, oils = load(n, True)
    oils = oil_rows(860.0, oils[:, 1], 1 / 1.5e9, 0.002)
    return builds, valves, oils, np.repeat(body_rows(7e-5, 9e-5, 9e-5, 1.2), n, axis=0)


@numba.njit
def rates(t: float, y: Any, omega: float, known: Any, build: Any, valves: Any, body: Any, oil: Any, now: Any) -> Any:
    """d m/dt of both chambers, by the very balance that our own steps solve."""
    known[A], known[X] = 1.0, -AMPLITUDE * np.cos(omega * t)
    balance(y[0] / SCALE, y[1] / SCALE, 0.0, known, build, valves, body, oil, now)
    return np.array([-now[Q_PISTON], now[Q_PISTON] + now[Q_BASE]]) * SCALE


@numba.njit
def forces(t: Any, y: Any, omega: float, known: Any, build: Any, valves: Any, body: Any, oil: Any, now: Any) -> Any:
    out = np.empty(t.size)
    for i in range(t.size):
        rates(t[i], y[:, i], omega, known, build, valves, body, oil, now)
        out[i] = now[0] * (build[0] - build[1]) - now[1] * build[0] + build[5] * build[1]
    return out


def by_lsoda(row: Iterable[FloatArray], rtol: float) -> FloatArray:
    """Force (6, 129) over one cycle of each speed, friction left out."""
    build, valves, oil, body = row
    own = valves.copy()
    own[:2, 0] += build[2]
    found = []
    for speed in SPEEDS:
        known, now, y = np.zeros(CARRIED), np.zeros(FOUND), np.zeros(STATE)
        start(AMPLITUDE, build, body, oil, known, y)
        omega = speed / AMPLITUDE
        grid = np.minimum(np.linspace(2.0, 4.0, GRID + 1), 4.0 - 1e-12) * np.pi / omega
        args = (omega, known, build, own, body, oil, now)
        run = solve_ivp(rates, (np.pi / omega, 4 * np.pi / omega), y[:2] * SCALE, method="LSODA", rtol=rtol,
                        atol=1e-3 * rtol, t_eval=grid, args=args)  # fmt: skip
        found.append(forces(run.t, run.y, *args))
    return np.array(found)


def without_friction(rows: tuple[FloatArray, ...]) -> tuple[FloatArray, ...]:
    builds = rows[0].copy()
    builds[:, 8] = 0.0
    return (builds, *rows[1:])


def by_us(rows: tuple[FloatArray, ...], steps: int, tolerance: float = 20.0) -> FloatArray:
    """Force (n, 6, steps + 1) over one cycle."""
    return trace(sine(AMPLITUDE, SPEEDS, steps), *rows, tolerance=tolerance).force


def peaks(force: FloatArray) -> FloatArray:
    return np.stack([force.max(axis=-1), force.min(axis=-1)])


def error_of_peaks(force: FloatArray, exact: FloatArray) -> float:
    """Largest difference of a peak [N]."""
    return float(np.abs(peaks(force) - peaks(exact)).max())


def error_of_shape(force: FloatArray, exact: FloatArray) -> float:
    """Largest difference on the common points of a cycle, over the largest force of it."""
    points = np.gcd(force.shape[-1] - 1, GRID)
    own, true = (a[..., :: (a.shape[-1] - 1) // points] for a in (force, exact))
    return float((np.abs(own - true).max(axis=-1) / np.abs(exact).max(axis=-1)).max())


Error = Callable[[FloatArray, FloatArray], float]


def loosest(rows: tuple[FloatArray, ...], exact: FloatArray, error: Error, target: float) -> tuple[int, float]:
    """Fewest steps and largest tolerance that meet the target on every build of the sample."""
    steps = next(s for s in (24, 32, 40, 48, 64, 96, 128, 192, 256, 384, 512, 768, 1024, 2048)
                 if error(by_us(rows, s), exact) <= target)  # fmt: skip
    for rtol in 10.0 ** np.arange(-4.0, -12.0, -0.2):
        found = np.stack([by_lsoda(row, rtol) for row in zip(*rows, strict=True)])
        if error(found, exact) <= target:
            break
    return steps, float(rtol)


def _case(name: str, what: str, error: Error, target: float) -> dict[str, Any]:
    few, many = without_friction(parts(SAMPLE)), without_friction(parts(BUILDS))
    exact = by_us(few, 8192, 0.01)
    steps, rtol = loosest(few, exact, error, target)
    own = error(by_us(few, steps), exact)
    other = error(np.stack([by_lsoda(row, rtol) for row in zip(*few, strict=True)]), exact)
    taken = []
    for _ in range(REPEATS):
        begin = time.process_time()
        by_us(many, steps)
        middle = time.process_time()
        for row in zip(*few, strict=True):
            by_lsoda(row, rtol)
        taken.append(((middle - begin) / BUILDS, (time.process_time() - middle) / SAMPLE))
    ours, theirs = (float(x) for x in np.median(np.array(taken), axis=0))
    return {
        "id": name, "load": f"1 build x {len(SPEEDS)} speeds, {what} ({steps} steps a cycle)", "seconds": ours,
        "alternative": f"scipy solve_ivp LSODA, rtol {rtol:.0e}, same compiled right-hand side",
        "alternative_seconds": theirs, "ratio": theirs / ours, "error": own, "alternative_error": other,
        "peak_pss_mb": None,
    }  # fmt: skip


CHAIN = """
import sys, time
from pathlib import Path
from firstoff import launch
from firstoff.chain.order import order
from firstoff.chain.predict import predict
from firstoff.launch import demo
from firstoff.stations.damper.dynamic_rig import DynamicRig
sheet = Path(demo.__file__).parents[1] / "examples" / "light_truck_front" / "damper.toml"
plan = launch.plan(launch.read_job(sheet))
stations, plans = plan.stations, dict(plan.plans)
if sys.argv[3] == "motion":
    rig = DynamicRig(plan.job.settings.speeds)
    plans[rig.name] = rig.plan(plan.job.settings)
    stations = order((*stations, rig))
predict(stations, plans, 64, 1)
start = time.perf_counter()
found = predict(stations, plans, int(sys.argv[1]), 1, workers=int(sys.argv[2]))
print(time.perf_counter() - start, found.characteristics[-1].scatter.mean)
"""


def _chain(builds: int = 10_000) -> dict[str, Any]:
    def run(workers: int, rig: str) -> tuple[float, float, float]:
        text, peak = watched(CHAIN, str(builds), str(workers), rig)
        seconds, mean = map(float, text.split())
        return seconds, mean, peak

    two, mean_two, peak = run(2, "motion")
    one, mean_one, _ = run(1, "motion")
    still, _, _ = run(2, "still")
    if mean_one != mean_two:
        raise RuntimeError("one worker and two do not give the same numbers")
    return {
        "id": "chain-motion-10k",
        "load": f"{builds:,} builds of the example damper with its force loops, 2 workers; {still:.2f} s without",
        "seconds": two, "alternative": "the same on 1 worker", "alternative_seconds": one, "ratio": one / two,
        "error": 0.0, "peak_pss_mb": peak,
    }  # fmt: skip


def rows() -> list[dict[str, Any]]:
    return [
        _case("damper-motion-peaks", "peaks within 0.3 N", error_of_peaks, 0.3),
        _case("damper-motion-shape", "force within 0.5 % everywhere", error_of_shape, 5e-3),
        _chain(),
    ]
