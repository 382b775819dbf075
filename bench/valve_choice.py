"""Weighing every valve of the example's bin at nominal, against the plain way and against a general optimiser.

    python -c "from bench.valve_choice import rows; print(rows())"

Ours: the two valves put together from parts, every pair of paths by the kernel, the ten best pairs of all combinations;
two threads. `plain`: the same kernel and threads on every combination, timed on a sample of
them and scaled; its error is the largest difference of use there. `DE`: SciPy's
differential evolution over the same whole-number choices, one combination at a time by the kernel, until it stops by
itself; its error is how much more of the tolerance its best valve uses than the best there is.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np

from firstoff import launch
from firstoff.chain.predict import in_order
from firstoff.launch import demo
from firstoff.launch.valve_choice.choose import bin_of
from firstoff.launch.valve_choice.search import Search, least_use
from firstoff.physics.damper.twin_tube import curve
from firstoff.stations.damper.valve_search import best

SAMPLE = 40_960
CHUNK = 4096
WORKERS = 2
SHEET = Path(demo.__file__).parents[1] / "examples" / "light_truck_front" / "damper.toml"


class Plain:
    """One combination after the other, by the kernel."""

    def __init__(self, search: Search) -> None:
        self.search, self.field = search, search.field
        self.speeds = np.concatenate([t.speeds for t in search.tables])
        self.cut = len(search.tables[0].speeds)

    def use(self, p: np.ndarray, b: np.ndarray) -> np.ndarray:
        """Score of pairs of valves, all their speeds computed."""
        piston, base = self.field.piston, self.field.base
        rows = np.stack(
            [piston.main[piston.of_main[p]], piston.check[piston.of_check[p]], base.main[base.of_main[b]],
             base.check[base.of_check[b]]], axis=1,
        )  # fmt: skip
        force = curve(self.speeds, self.search.inner.builds, rows, self.search.inner.oils).force
        use = [t.use(f) for t, f in zip(self.search.tables, (force[:, : self.cut], force[:, self.cut :]), strict=True)]
        return least_use(use[0], use[1], p, b)

    def sample(self) -> tuple[float, float]:
        """Seconds for all combinations, from a sample of them spread over the whole; and how far ours differs there."""
        total = self.field.pairs
        of = np.linspace(0, total - 1, SAMPLE).astype(np.int64)
        jobs = [of[i : i + CHUNK] for i in range(0, SAMPLE, CHUNK)]
        n = len(self.field.base.kept)
        start = time.perf_counter()
        scores = list(in_order(lambda k: self.use(k // n, k % n), jobs, WORKERS))
        seconds = (time.perf_counter() - start) * total / SAMPLE
        tables, forces = self.search.tables, self.field.forces(of // n, of % n)
        used = [t.use(f) for t, f in zip(tables, forces, strict=True)]
        return seconds, float(np.abs(least_use(used[0], used[1], of, of) - np.concatenate(scores)).max())

    def evolution(self) -> tuple[float, float]:
        """Seconds and best score of differential evolution over the part and step of every place."""
        from scipy.optimize import differential_evolution

        rows = [s.rows[p.kept] for s, p in zip(self.search.sets, (self.field.piston, self.field.base), strict=True)]
        places = [{tuple(row): i for i, row in enumerate(side.tolist())} for side in rows]
        values = [np.unique(side[:, k]) for side in rows for k in range(side.shape[1])]

        def score(x: np.ndarray) -> float:
            picked = [int(v[int(i)]) for v, i in zip(values, np.rint(x), strict=True)]
            p, b = (place.get(tuple(picked[8 * k : 8 * k + 8])) for k, place in enumerate(places))
            if p is None or b is None:
                return 1e3  # parts that do not fit
            return float(self.use(np.array([p]), np.array([b]))[0])

        start = time.perf_counter()
        bounds = [(0.0, len(v) - 1.0 + 1e-9) for v in values]
        found = differential_evolution(score, bounds, integrality=np.ones(len(values)), rng=1, tol=1e-6, popsize=15,
                                       maxiter=300, polish=False)  # fmt: skip
        return time.perf_counter() - start, float(found.fun)


def ours(plan: Any, parts: Any) -> tuple[float, Search, float]:
    """Seconds, the search, and the least score."""
    start = time.perf_counter()
    search = Search(plan, parts, workers=WORKERS)
    used = search.tables[0].use(search.field.rebound), search.tables[1].use(search.field.compression)
    found = best(search.field, used, least_use, 10)
    return time.perf_counter() - start, search, float(found.score[0])


def rows() -> list[dict[str, Any]]:
    plan = launch.plan(launch.read_job(SHEET))
    parts, _, _ = bin_of(plan.job)
    ours(plan, parts)
    seconds, search, least = min((ours(plan, parts) for _ in range(3)), key=lambda run: run[0])
    plain = Plain(search)
    plain.use(np.zeros(1, np.int64), np.zeros(1, np.int64))
    whole, off = plain.sample()
    evolved, reached = plain.evolution()
    load = f"{search.field.pairs:,} valves x {len(plain.speeds)} speeds, the best of them"
    both = {"load": load, "seconds": seconds, "peak_pss_mb": None}
    return [
        {"id": "valve-choice-plain", **both, "alternative": "every combination by the same kernel, 2 threads",
         "alternative_seconds": whole, "ratio": whole / seconds, "error": off},
        {"id": "valve-choice-de", **both, "alternative": "scipy differential_evolution, same kernel",
         "alternative_seconds": evolved, "ratio": evolved / seconds, "error": reached - least},
    ]  # fmt: skip
