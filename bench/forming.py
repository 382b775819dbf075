"""Speed of the bends of a section, and of the whole forming chain.

`forming-bends`: all bends and walls of a truck bumper's section, drawn, straightened and let go, per build. The
alternative is the same search over the same layers in plain NumPy, all builds at once; both are held to the same error
of the curvature, against the kernel with four times the layers (of the largest curvature left). `forming-chain-10k`:
10,000 builds of the example bumper through every station, two workers; the alternative is one worker.

    python -c "from bench.forming import rows; print(rows())"
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import numpy.typing as npt

from bench.memory import watched
from firstoff.physics.forming import strip
from firstoff.physics.forming.flow_curve import strip_rows, swift
from firstoff.stations.bumper.pressing.common import LAYERS

FloatArray = npt.NDArray[np.float64]
BUILDS, STRIPS, SEED, REPEATS = 512, 6, 1, 5
T = 2e-3  # m
NEWTON, RETURN = 60, 12

CODE = """
import sys, time
from pathlib import Path
from firstoff import launch
from firstoff.chain.predict import predict
from firstoff.launch import demo
sheet = Path(demo.__file__).parents[1] / "examples" / "truck_rear_bumper" / "bumper.toml"
plan = launch.plan(launch.read_job(sheet))
predict(plan.stations, plan.plans, 64, 1)
start = time.perf_counter()
found = predict(plan.stations, plan.plans, int(sys.argv[1]), 1, workers=int(sys.argv[2]))
print(time.perf_counter() - start, found.characteristics[3].scatter.mean)
"""


def load() -> tuple[FloatArray, FloatArray]:
    """Programs (n, k, 3, 3): bend under tension, straighten, let go; materials (n, 6)."""
    rng = np.random.default_rng(SEED)
    proof = rng.normal(320e6, 8e6, BUILDS)
    strength, pre = swift(proof, proof + 100e6, rng.normal(0.17, 0.004, BUILDS))
    law = strip_rows(206e9, 0.3, strength, np.full(BUILDS, 0.17), pre, rng.normal(1.0, 0.1, BUILDS), 0.5)
    pull = rng.normal(2.2e5, 1e4, (BUILDS, 1)) * np.ones((1, STRIPS))
    program = np.zeros((BUILDS, STRIPS, 3, 3))
    program[..., 0] = [strip.BEND, strip.BEND, strip.RELEASE]
    program[:, :, 0, 1] = 1.0 / (np.linspace(6e-3, 10e-3, STRIPS) + 0.5 * T)
    program[:, :, 0, 2], program[:, :, 1, 2] = 0.7 * pull, pull
    return program, law


def ours(program: FloatArray, law: FloatArray, layers: int = LAYERS) -> FloatArray:
    places, weights = strip.layers(layers)
    start = strip.flat(BUILDS, STRIPS, layers)
    return strip.walk(start, program, np.full((BUILDS, STRIPS), T), places, weights, law)[0].curvature


class Plain:
    """The strips in plain NumPy: arrays (n, k, layers)."""

    def __init__(self, law: FloatArray, layers: int) -> None:
        self.e, self.c, self.n, self.pre, self.f, self.m = (law[:, i, None, None] for i in range(6))
        places, self.w = strip.layers(layers)
        self.y = places * T
        zero = np.zeros((BUILDS, STRIPS, layers))
        self.stress, self.back, self.p = zero, zero, zero
        self.first = self.flow(zero[..., :1])

    def flow(self, p: FloatArray) -> FloatArray:
        return np.asarray(self.c * (self.pre + self.f * p) ** self.n)

    def strained(self, strain: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        trial = self.stress + self.e * strain
        over = trial - self.back
        size, before = np.abs(over), self.flow(self.p)
        limit = self.first + (1.0 - self.m) * (before - self.first)
        yields = size > limit
        more = np.zeros_like(size)
        slope = before
        for _ in range(RETURN):
            now = self.flow(self.p + more)
            slope = self.n * self.f * now / (self.pre + self.f * (self.p + more))
            miss = np.where(yields, size - self.e * more - limit - (now - before), 0.0)
            if np.abs(miss).max() < strip.CLOSE * 1e8:
                break
            more = more + miss / (self.e + slope)
        sign = np.sign(over)
        tangent = np.where(yields, self.e * slope / (self.e + slope), self.e)
        back = self.back + sign * self.m * np.where(yields, self.flow(self.p + more) - before, 0.0)
        return trial - sign * self.e * more, back, self.p + more, tangent

    def bend(self, change: FloatArray, tension: FloatArray) -> None:
        e, low, high = np.zeros_like(change), np.full_like(change, -2.0), np.full_like(change, 2.0)
        for _ in range(NEWTON):
            stress, back, p, tangent = self.strained(e[..., None] + self.y * change[..., None])
            miss = (stress @ self.w) * T - tension
            if np.abs(miss).max() < strip.CLOSE * 3e8 * T:
                break
            low, high = np.where(miss > 0.0, low, e), np.where(miss > 0.0, e, high)
            following = e - miss / ((tangent @ self.w) * T)
            e = np.where((low < following) & (following < high), following, 0.5 * (low + high))
        self.stress, self.back, self.p = stress, back, p

    def release(self, left: float) -> FloatArray:
        force, moment = (self.stress @ self.w) * T, (self.stress @ (self.w * self.y)) * T
        wanted = left * force, left * moment
        e, k = np.zeros_like(force), np.zeros_like(force)
        tangent = np.broadcast_to(self.e, self.stress.shape)
        stress, back, p = self.stress, self.back, self.p
        for _ in range(NEWTON):
            off, turn = wanted[0] - force, wanted[1] - moment
            if max(np.abs(off).max(), np.abs(turn).max() / T) < strip.CLOSE * 3e8 * T:
                break
            a, b, d = (tangent @ (self.w * self.y**i) * T for i in range(3))
            det = a * d - b * b
            by_e, by_k = (off * d - turn * b) / det, (turn * a - off * b) / det
            left_over, share = off**2 + (turn / T) ** 2, np.ones_like(e)
            for _ in range(strip.MOST_HALVINGS):
                new_e, new_k = e + share * by_e, k + share * by_k
                stress, back, p, tangent = self.strained(new_e[..., None] + self.y * new_k[..., None])
                force, moment = (stress @ self.w) * T, (stress @ (self.w * self.y)) * T
                worse = (wanted[0] - force) ** 2 + ((wanted[1] - moment) / T) ** 2 > left_over + 1e-6
                if not worse.any():
                    break
                share = np.where(worse, 0.5 * share, share)
            e, k = new_e, new_k
        self.stress, self.back, self.p = stress, back, p
        return k

    def run(self, program: FloatArray) -> FloatArray:
        bend, tension = np.zeros((BUILDS, STRIPS)), np.zeros((BUILDS, STRIPS))
        for s in range(2):
            start = bend, tension
            for i in range(strip.SUBSTEPS):
                share = (i + 1.0) / strip.SUBSTEPS
                new = start[0] + share * (program[:, :, s, 1] - start[0])
                tension = start[1] + share * (program[:, :, s, 2] - start[1])
                self.bend(new - bend, tension)
                bend = new
        for i in range(strip.RELEASE_STEPS):
            bend = bend + self.release(1.0 - 1.0 / (strip.RELEASE_STEPS - i))
        return bend


def best(work: Any) -> float:
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def bends() -> dict[str, Any]:
    program, law = load()
    fine = ours(program, law, 4 * LAYERS)
    found, plain = ours(program, law), Plain(law, LAYERS).run(program)
    largest = np.abs(fine).max()
    error = float(np.abs(found - fine).max() / largest)
    other = float(np.abs(plain - fine).max() / largest)
    if abs(other - error) > 1e-3:
        raise RuntimeError(f"the two do not have the same error: {error:.3g} and {other:.3g}")
    seconds, alternative = best(lambda: ours(program, law)), best(lambda: Plain(law, LAYERS).run(program))
    return {
        "id": "forming-bends", "load": f"{STRIPS} strips of a section, bent, straightened, let go; a build",
        "seconds": seconds / BUILDS, "alternative": f"the same in plain NumPy, {BUILDS} builds at once",
        "alternative_seconds": alternative / BUILDS, "ratio": alternative / seconds, "error": error,
        "peak_pss_mb": None,
    }  # fmt: skip


def chain() -> dict[str, Any]:
    found = []
    for workers in (1, 2):
        text, peak = watched(CODE, "10000", str(workers))
        seconds, mean = map(float, text.split())
        found.append((seconds, mean, peak))
    if found[0][1] != found[1][1]:
        raise RuntimeError("one worker and two do not give the same numbers")
    return {
        "id": "forming-chain-10k", "load": "10,000 builds of the example bumper, 2 workers", "seconds": found[1][0],
        "alternative": "the same on 1 worker", "alternative_seconds": found[0][0],
        "ratio": found[0][0] / found[1][0], "error": 0.0, "peak_pss_mb": found[1][2],
    }  # fmt: skip


def rows() -> list[dict[str, Any]]:
    return [bends(), chain()]
