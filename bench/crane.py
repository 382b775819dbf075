"""The crane's timetable: proven and replayed, against plain CP-SAT (2 workers) on a model of the same line.

The model's building counts for both; kernels and libraries are loaded before. `error` is the difference of the periods,
as a share; memory is that of the whole process after both. CP-SAT proves its optimum over whole periods only, the
search over all.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

from bench.memory import tree_memory
from firstoff.line.case import Line
from firstoff.line.cpsat import Model, longest
from firstoff.line.problem import problem
from firstoff.line.read_case import read_case
from firstoff.line.solve import solve

CASES = Path(__file__).parents[1] / "tests" / "reference" / "crane"
LIMIT = 60.0  # s for the alternative


def plain(line: Line, loads: int) -> tuple[float, float]:
    """Seconds and period of CP-SAT alone; the time limit when it has proven nothing by then."""
    start = time.perf_counter()
    task = problem(line, loads)
    model = Model(task, 1, longest(task))
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.max_time_in_seconds = LIMIT
    solver.solve(model.model)
    return time.perf_counter() - start, solver.objective_value / task.scale


def rows() -> list[dict[str, Any]]:
    found = []
    solve(read_case(CASES / "three_tank_no_wait.json"))
    plain(read_case(CASES / "three_tank_no_wait.json"), 1)
    for path in sorted(CASES.glob("*.json")):
        line = read_case(path)
        for loads in (1, 2) if path.stem == "phillips_unger_1976" else (1,):
            start = time.perf_counter()
            answer = solve(line, loads)
            seconds = time.perf_counter() - start
            if answer.period is None or answer.status != "optimal":
                raise RuntimeError(f"{path.stem}: {answer.status}")
            other, period = plain(line, loads)
            found.append(
                {
                    "id": f"crane-{path.stem}-{loads}", "load": f"{line.n} stages, loads in a period: {loads}",
                    "seconds": seconds, "alternative": "CP-SAT alone", "alternative_seconds": other,
                    "ratio": other / seconds, "error": abs(period / float(answer.period) - 1),
                    "peak_pss_mb": tree_memory(os.getpid()),
                }
            )  # fmt: skip
    return found
