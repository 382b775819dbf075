"""`make blind`: launches with planted faults from a damper code of its own, and how well `explain` answers them.

    python -m tests.blind.bench --launches 200 --seed 1 --workers 2 --loops 0.2

--loops: the share of the launches that have raw force traces among their readings, and faults that only these show.
Prints tables and writes build/blind.json: the figures, and one row a launch.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from functools import cache, partial
from pathlib import Path
from typing import Any

LAWS = 8  # damper types, one of which is behind each launch
BUILD = Path(__file__).parents[2] / "build"


@cache
def world_of(seed: int, laws: int) -> Any:
    from tests.blind.lots import world

    return world(seed, laws=laws)


@cache
def slopes_of(seed: int, laws: int) -> Any:
    from tests.blind.plain_fit import slopes

    return slopes(world_of(seed, laws).plan)


@cache
def knowledge_of(seed: int, laws: int, law: int) -> Any:
    from tests.blind.identify import know

    return know(world_of(seed, laws), law)


def _row(seed: int, laws: int, job: tuple[Any, Any, Any]) -> dict[str, Any]:
    """One launch, made, explained and measured."""
    from tests.blind import measure
    from tests.blind.identify import look
    from tests.blind.schedule import make

    order, knowledge, spread = job
    launch = make(world_of(seed, laws), order, seed)
    seen = look(launch, knowledge[launch.law], spread) if launch.planted else None
    with tempfile.TemporaryDirectory() as folder:
        e = measure.explained(launch, Path(folder))
    row = {
        **measure.truth(launch, seen),
        "seconds": e.seconds,
        "cpu": e.cpu,
        **measure.plainly(launch, slopes_of(seed, laws), e),
    }
    for each in measure.MEASURES:
        row |= each(launch, e.found)
    return row


def _loop_row(seed: int, laws: int, order: Any) -> dict[str, Any]:
    from tests.blind.loop_bench import row_of

    return row_of(world_of(seed, laws), order, seed)


def run_loops(launches: int, seed: int, workers: int, laws: int = LAWS) -> list[dict[str, Any]]:
    """Rows of launches with loops, in order; each explained without them and with them."""
    from tests.blind.loop_bench import orders

    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    jobs = orders(world_of(seed, laws), launches, seed)
    if workers < 2:
        return [_loop_row(seed, laws, order) for order in jobs]
    with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn")) as pool:
        return list(pool.map(partial(_loop_row, seed, laws), jobs))


def run(launches: int, seed: int, workers: int, laws: int = LAWS) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Rows of the launches in order, and the figures. The same for any number of workers, but for the seconds."""
    from tests.blind.identify import model_spread
    from tests.blind.schedule import orders
    from tests.blind.score import scores

    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")  # of the workers: one core each
    w = world_of(seed, laws)
    pool = ProcessPoolExecutor(workers, multiprocessing.get_context("spawn")) if workers > 1 else None
    each = pool.map if pool else map
    try:
        knowledge = list(each(partial(knowledge_of, seed, laws), range(laws)))
        spread = model_spread(knowledge, w)
        jobs = [(order, knowledge, spread) for order in orders(w, launches, seed)]
        rows = list(each(partial(_row, seed, laws), jobs))
    finally:
        if pool:
            pool.shutdown()
    return rows, scores(rows, {f.name: f.per_thousand for f in w.plan.job.family.faults})


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--launches", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path, default=BUILD / "blind.json")
    parser.add_argument("--loops", type=float, default=0.2, help="share of the launches with force loops, 0 to 1")
    said = parser.parse_args()
    start = time.perf_counter()
    with_loops = round(min(max(said.loops, 0.0), 1.0) * said.launches)
    result: dict[str, Any] = {"launches": said.launches, "seed": said.seed, "loops": with_loops}
    if said.launches > with_loops:
        rows, found = run(said.launches - with_loops, said.seed, said.workers)
        from tests.blind.score import report

        result |= {"figures": found, "rows": rows}
        print(report(rows, found))
    if with_loops:
        from tests.blind.loop_bench import report as loop_report

        result["loop_rows"] = run_loops(with_loops, said.seed, said.workers)
        print("\n" + loop_report(result["loop_rows"]))
    said.out.parent.mkdir(parents=True, exist_ok=True)
    said.out.write_text(json.dumps(result, indent=1, allow_nan=False) + "\n", "utf-8")
    print(f"\nseed {said.seed}; {time.perf_counter() - start:.0f} s in all; rows in {said.out}")


if __name__ == "__main__":
    main()
