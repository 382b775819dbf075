"""Speed of explaining: 8 parts of 14 readings, every hypothesis of the example launch.

The alternative gives each hypothesis of one fault at each size the density of all 112 readings at once, from the same
shifts and covariances, by SciPy's multivariate normal, at one scale of the scatter where explain averages over seven;
its seconds are scaled up from a share of the hypotheses. Both are in a warm process; the error is the largest
difference of the two in a log Bayes factor.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import multivariate_normal

from firstoff import launch
from firstoff.launch import demo
from firstoff.launch.explaining.suspects import prepare
from firstoff.methods import evidence
from firstoff.trials.explain import explain
from firstoff.trials.hypotheses import SHAPE_ERROR, places_of, spreads_of
from firstoff.trials.scene import Scene

SHARE = 40  # one hypothesis in as many is timed with the alternative


def rows() -> list[dict[str, Any]]:
    sheet = Path(demo.__file__).parents[1] / "examples" / "light_truck_front" / "damper.toml"
    plan = launch.plan(launch.read_job(sheet))
    trial = launch.read_trial(plan, sheet.parent / "first_offs.csv")
    launch.explain(plan, trial)  # compiles
    start = time.perf_counter()
    launch.explain(plan, trial)
    whole = time.perf_counter() - start
    prepared = prepare(plan, trial)
    start = time.perf_counter()
    explain(prepared.scene, prepared.suspects)
    seconds = time.perf_counter() - start
    plain, error = _plain(prepared.scene, prepared.suspects)
    return [
        {
            "id": "explain-8x14", "load": f"all hypotheses, 8 parts x 14 readings; with the chain {whole:.2f} s",
            "seconds": seconds, "alternative": "SciPy's density of all readings at once, one scale (scaled up)",
            "alternative_seconds": plain, "ratio": plain / seconds, "error": error, "peak_pss_mb": 0.0,
        }
    ]  # fmt: skip


def _plain(scene: Scene, suspects: Any) -> tuple[float, float]:
    """Seconds for all single faults, scaled up, and the largest difference in a log Bayes factor."""
    n, k = scene.readings.shape
    residual = (scene.readings - scene.expected).ravel()
    lots = np.kron(np.ones((n, n)), scene.lot + scene.model)
    base = lots + np.kron(np.eye(n), scene.part) + np.diag(scene.noise.ravel())
    nothing = multivariate_normal(np.zeros(n * k), base).logpdf(residual)
    reduced = scene.reduced(1.0)
    jobs = [
        (s, spreads_of(s, SHAPE_ERROR), i, place)
        for s in suspects
        for who in s.who
        for place in places_of(scene)[who]
        for i in range(len(s.sizes))
    ]
    error, start = 0.0, time.perf_counter()
    found = []
    for s, spreads, i, place in jobs[::SHARE]:
        hit = np.repeat(place.affected.astype(float), k)
        mean = hit * np.tile(s.shifts[i], n)
        wide = np.kron(np.outer(place.affected, place.affected), spreads[i])
        found.append(multivariate_normal(mean, base + wide).logpdf(residual) - nothing)
    seconds = (time.perf_counter() - start) * len(jobs) / len(found)
    for (s, spreads, i, place), theirs in zip(jobs[::SHARE], found, strict=True):
        ours = evidence.gain(*reduced.on(place.affected), s.shifts[i : i + 1], spreads[i : i + 1])
        error = max(error, abs(float(ours[0]) - theirs) / max(1.0, abs(theirs)))
    return seconds, float(error)
