"""Speed of the impact kernel: against its own fine mesh, and against SciPy's RK45 on the same equations.

`impact-middle`, `impact-corner`: a bowed bar with wrapped ends on yielding brackets, meshed as the station does;
error: the larger relative difference of filtered force and intrusion from 67 nodes with their plain masses.
`impact-rk45`: a straight bar under a pendulum, sliders as states of their own; error: largest intrusion against RK45 at
rtol 1e-5, RK45 timed at the loosest of three tolerances that errs no more than the kernel. Seconds of one core a build.
"""

from __future__ import annotations

import math
import time
from typing import Any

import numba
import numpy as np
import numpy.typing as npt
from scipy.integrate import solve_ivp

from firstoff.physics.impact import beam
from firstoff.physics.impact.mesh import Mesh, fine_marks, mesh
from firstoff.physics.impact.moment_curve import BAR, bar_rows

FloatArray = npt.NDArray[np.float64]
BUILDS, REPEATS, COARSE, FINE = 32, 5, 0.13, 0.026
ARCS, WRAP, HALF, ON = np.array([[0.52, 5.2], [0.30, 2.6]]), (0.061, math.pi / 3.0, 0.09), 0.82, (-0.45, 0.45)
END = WRAP[0] * WRAP[1] + WRAP[2]
SPAN = 0.08  # s, past the largest intrusion
CONTACT = 1e7  # N/m, of the one rider that touches the straight bar


def _bars(n: int) -> FloatArray:
    """A channel 180 x 78 mm, 2 mm thick, of 320 MPa, thickness scattered by 1 %."""
    place = np.concatenate([[0.0], (np.arange(12) + 0.5) / 12 * 0.078, [0.078]])
    length = np.concatenate([[0.165], np.full(12, 2 * 0.078 / 12), [0.022]])
    t = 2e-3 * (1.0 + 0.01 * np.linspace(-1.0, 1.0, n))[:, None]
    law = np.repeat([[206e9, 700e6, 0.17]], n, axis=0)
    pre = np.full((n, place.size), (320.0 / 700.0) ** (1.0 / 0.17))
    return bar_rows(place, length * t, pre, law, rate=(3200.0, 5.0))


def _hit(corner: bool, fine: bool, n: int) -> tuple[beam.Hit, float]:
    """The hit, and the seconds of one build; the fine mesh with plain masses."""
    at = HALF if corner else 0.0
    marks: tuple[float, ...] = (() if corner else (0.0,)) if fine else fine_marks(at, HALF, ON)
    grid = mesh(ARCS, HALF, ON, [at], FINE if fine else COARSE, marks, WRAP, 0.04)
    aim, angle = ((0.86, 0.12), -math.pi / 6.0) if corner else ((0.0, 0.0), 0.0)
    speed = 0.67056 if corner else 1.1176
    striker = beam.striker_row(2000.0, speed, aim, 0.2, angle, 0.3, pitch=0.04)
    brackets = np.repeat(beam.bracket_rows(np.full((1, 2), 4e6), 28e3, 2e5, 3e6), n, axis=0)
    bars, car = _bars(n), beam.vehicle_row(2000.0, 3500.0, 2.2)
    found, taken = None, math.inf
    for _ in range(REPEATS if n > 1 else 1):
        begin = time.process_time()
        found, _ = beam.hit(grid, bars, brackets, car, striker, END, slowest=0.0 if fine else beam.INERTIA_STEP)
        taken = min(taken, (time.process_time() - begin) / n)
    assert found is not None
    return found, taken


def _case(name: str, corner: bool) -> dict[str, Any]:
    coarse, ours = _hit(corner, False, BUILDS + 1)
    fine, theirs = _hit(corner, True, 1)
    middle = BUILDS // 2  # the build without scatter; a single one is drawn at its lower end
    low, _ = _hit(corner, False, 1)
    error = max(abs(float(low.peak[0] / fine.peak[0]) - 1.0),
                abs(float(low.intrusion[0, 0] / fine.intrusion[0, 0]) - 1.0))  # fmt: skip
    event = 1e3 * float(coarse.last_contact[middle]) + 8.0
    return {
        "id": name, "load": f"1 build, {event:.0f} ms of a hit, peak {coarse.peak[middle] / 1e3:.1f} kN, "
        f"step {1e6 * coarse.step[middle]:.0f} us", "seconds": ours, "alternative": "the same kernel, 67 nodes",
        "alternative_seconds": theirs, "ratio": theirs / ours, "error": error, "peak_pss_mb": None,
    }  # fmt: skip


@numba.njit
def rates(_: float, q: Any, n: int, h: float, bar: Any, m: Any, axial: float, k: float, car: float, mass: float) -> Any:
    """Rates of places, speeds, three sliders a node, car and striker: the kernel's equations as an ordinary system."""
    out, f = np.zeros(q.size), np.zeros(2 * n)
    x, y, vx, vy = q[:n], q[n : 2 * n], q[2 * n : 3 * n], q[3 * n : 4 * n]
    s, tail = q[4 * n : 7 * n], q[7 * n :]
    turn, moment = np.zeros(n), np.zeros(n)
    tx, ty, size = np.zeros(n), np.zeros(n), np.zeros(n)
    for i in range(n - 1):
        dx, dy = x[i + 1] - x[i], y[i + 1] - y[i]
        size[i] = math.sqrt(dx * dx + dy * dy)
        tx[i], ty[i] = dx / size[i], dy / size[i]
        turn[i] = (tx[i] * (vy[i + 1] - vy[i]) - ty[i] * (vx[i + 1] - vx[i])) / size[i]
    for i in range(1, n - 1):
        phi = 2.0 * (tx[i - 1] * ty[i] - ty[i - 1] * tx[i]) / (1.0 + tx[i - 1] * tx[i] + ty[i - 1] * ty[i])
        bend, rate = phi / h, (1.0 + 0.25 * phi * phi) * (turn[i] - turn[i - 1]) / h
        moment[i] = bar[6] * bend
        for j in range(3):
            at = s[3 * i + j]
            held = abs(at) >= bar[3 + j] and at * rate > 0.0
            out[4 * n + 3 * i + j] = 0.0 if held else bar[j] * rate
            moment[i] += min(max(at, -bar[3 + j]), bar[3 + j])
        moment[i] *= 1.0 + 0.25 * phi * phi
    for i in range(n - 1):
        g, a = (moment[i] - moment[i + 1]) / size[i], axial / h * (size[i] - h)
        fx, fy = a * tx[i] - g * ty[i], a * ty[i] + g * tx[i]
        f[i] += fx
        f[n + i] += fy
        f[i + 1] -= fx
        f[n + i + 1] -= fy
    held = k * (y[0] + y[n - 1] - 2.0 * tail[0])
    f[n] -= k * (y[0] - tail[0])
    f[2 * n - 1] -= k * (y[n - 1] - tail[0])
    push = max(0.0, CONTACT * (tail[1] - y[n // 2]))
    f[n + n // 2] += push
    out[: 2 * n] = q[2 * n : 4 * n]
    out[2 * n : 3 * n], out[3 * n : 4 * n] = f[:n] / m, f[n:] / m
    out[7 * n], out[7 * n + 1], out[7 * n + 2], out[7 * n + 3] = tail[2], tail[3], held / car, -push / mass
    return out


def _straight() -> tuple[Mesh, FloatArray, FloatArray, FloatArray, FloatArray]:
    grid = mesh(np.array([[1.0, 1e9]]), 0.5, [-0.5, 0.5], [0.0], 0.1, (0.0,))
    row = np.zeros((1, BAR))
    row[0] = (24000.0, 5000.0, 2000.0, 700.0, 400.0, 300.0, 765.0, 1e7, 1e9, 0.05, 4.2, 0.0, 5.0)
    brackets = beam.bracket_rows(np.full((1, 2), 2e7), beam.FREE, 0.0, 0.0)
    return grid, row, brackets, beam.vehicle_row(1500.0, 2000.0, 2.0), beam.striker_row(1500.0, 0.67, (0.0, 0.0), 0.02)


def by_rk45(rtol: float) -> tuple[float, float]:
    """Largest intrusion [m] and seconds."""
    grid, row, *_ = _straight()
    n = len(grid.nodes)
    h = 1.0 / (n - 1)
    m = np.full(n, 4.2 * h)
    m[[0, -1]] *= 0.5
    q = np.zeros(7 * n + 4)
    q[:n] = grid.nodes[:, 0]
    q[7 * n + 3] = 0.67
    args = (n, h, row[0], m, 1e7, 2e7, 1500.0, 1500.0)
    begin = time.process_time()
    run = solve_ivp(rates, (0.0, SPAN), q, method="RK45", rtol=rtol, atol=1e-3 * rtol, args=args, max_step=1e-3)
    taken = time.process_time() - begin
    return float((run.y[n + n // 2] - run.y[7 * n]).max()), taken


def _against_rk45() -> dict[str, Any]:
    grid, row, brackets, car, striker = _straight()
    many = (np.repeat(row, BUILDS, axis=0), np.repeat(brackets, BUILDS, axis=0))
    ours, value = math.inf, 0.0
    for _ in range(REPEATS):
        begin = time.process_time()
        found, _ = beam.hit(grid, *many, car, striker)
        ours, value = min(ours, (time.process_time() - begin) / BUILDS), float(found.intrusion[0, 0])
    exact, _ = by_rk45(1e-5)
    error = abs(value / exact - 1.0)
    best, rtol = math.inf, 0.0
    for rtol in (1e-2, 1e-3, 1e-4):
        theirs, best = by_rk45(float(rtol))
        if abs(theirs / exact - 1.0) <= error:
            break
    event = f"{1e3 * found.last_contact[0] + 8.0:.0f} ms"
    return {
        "id": "impact-rk45", "load": f"1 build, {len(grid.nodes)} nodes, {event} of a hit, with its filter and set",
        "seconds": ours, "alternative": f"scipy solve_ivp RK45, rtol {rtol:.0e}, 80 ms, same equations, compiled",
        "alternative_seconds": best, "ratio": best / ours, "error": error, "peak_pss_mb": None,
    }  # fmt: skip


def rows() -> list[dict[str, Any]]:
    return [_case("impact-middle", False), _case("impact-corner", True), _against_rk45()]
