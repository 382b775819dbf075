"""The bumper's whole chain, coil to hit: 10,000 builds with a hit at the middle and one at the corner, two workers.

In a process of its own, kernels compiled before. The alternative is the same on one worker, a tenth of the builds timed
and taken ten times.
"""

from __future__ import annotations

from typing import Any

from bench.memory import watched

CODE = '''
import shutil, sys, tempfile, time
from pathlib import Path
from firstoff import launch
from firstoff.chain.predict import predict
from firstoff.launch import demo
HITS = """
[mounting]
bracket = "450 mm"

[[hit]]
name = "middle"
kind = "pendulum"
protocol = "part581"

[[hit]]
name = "corner"
kind = "corner"
protocol = "part581"

[characteristics.peak_force_middle]
unit = "kN"
limits = "<= 60 kN"

"""
folder = Path(tempfile.mkdtemp())
for file in (Path(demo.__file__).parents[1] / "examples" / "truck_rear_bumper").glob("*.toml"):
    shutil.copy(file, folder)
sheet = folder / "bumper.toml"
text = sheet.read_text("utf-8")
if "[mounting]" not in text:
    mark = "# Tonnage of the hits"
    assert mark in text
    sheet.write_text(text.replace(mark, HITS + mark), "utf-8")
plan = launch.plan(launch.read_job(sheet))
shutil.rmtree(folder)
predict(plan.stations, plan.plans, 64, 1)
start, busy = time.perf_counter(), time.process_time()
found = predict(plan.stations, plan.plans, int(sys.argv[1]), 1, workers=int(sys.argv[2]))
hit = next(c for c in found.characteristics if c.characteristic.name == "peak_force_middle")
busy = time.process_time() - busy
print(time.perf_counter() - start, hit.scatter.mean, found.any_outside.without_value, busy)
'''


def run(builds: int, workers: int) -> tuple[float, float, int, float, float]:
    """Seconds, mean peak force [N], builds without a value, processor time of all threads [s], peak memory [MB]."""
    text, peak = watched(CODE, str(builds), str(workers))
    seconds, mean, without, busy = text.split()
    return float(seconds), float(mean), int(without), float(busy), peak


def rows() -> list[dict[str, Any]]:
    one, few, _, _, _ = run(1_000, 1)
    two, many, without, busy, peak = run(10_000, 2)
    load = (
        f"10,000 builds from coil to two hits, 2 workers, {without} without a value, mean peak {many / 1e3:.1f} kN; "
        f"processor time {busy:.0f} s"
    )
    return [
        {
            "id": "impact-chain", "load": load, "seconds": two, "alternative": "the same on 1 worker, ten times 1,000",
            "alternative_seconds": 10.0 * one, "ratio": 10.0 * one / two, "error": abs(few / many - 1.0),
            "peak_pss_mb": peak,
        },
    ]  # fmt: skip
