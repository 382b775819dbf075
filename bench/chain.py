"""Speed and memory of the whole chain: the example damper, 100,000 and 1,000,000 trial builds.

Each is run in a process of its own, kernels compiled before. The alternative of the first row is the same prediction on
one worker; of the second the first, so that its ratio of memory shows that memory does not grow with the builds.
"""

from __future__ import annotations

from typing import Any

from bench.memory import watched

CODE = """
import sys, time
from pathlib import Path
from firstoff import launch
from firstoff.chain.predict import predict
from firstoff.launch import demo
sheet = Path(demo.__file__).parents[1] / "examples" / "light_truck_front" / "damper.toml"
plan = launch.plan(launch.read_job(sheet))
predict(plan.stations, plan.plans, 64, 1)
start = time.perf_counter()
found = predict(plan.stations, plan.plans, int(sys.argv[1]), 1, workers=int(sys.argv[2]))
print(time.perf_counter() - start, found.characteristics[0].scatter.mean)
"""


def run(builds: int, workers: int) -> tuple[float, float, float]:
    """Seconds, mean of the first characteristic, peak memory [MB]."""
    text, peak = watched(CODE, str(builds), str(workers))
    seconds, mean = map(float, text.split())
    return seconds, mean, peak


def rows() -> list[dict[str, Any]]:
    one, mean_one, _ = run(100_000, 1)
    two, mean_two, peak = run(100_000, 2)
    if mean_one != mean_two:
        raise RuntimeError("one worker and two do not give the same numbers")
    many, _, peak_many = run(1_000_000, 2)
    return [
        {
            "id": "chain-100k", "load": "100,000 builds of the example damper, 2 workers", "seconds": two,
            "alternative": "the same on 1 worker", "alternative_seconds": one, "ratio": one / two, "error": 0.0,
            "peak_pss_mb": peak,
        },
        {
            "id": "chain-1m", "load": f"1,000,000 builds; memory {peak_many / peak:.2f} times that of 100,000",
            "seconds": many, "alternative": "ten times chain-100k", "alternative_seconds": 10 * two,
            "ratio": 10 * two / many, "error": 0.0, "peak_pss_mb": peak_many,
        },
    ]  # fmt: skip
