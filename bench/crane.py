"""The crane's timetable: proven and replayed, against plain CP-SAT (2 workers) on a model of the same line.

The model's building counts for both; kernels and libraries are loaded before. `error` is the difference of the periods,
as a share; memory is that of the whole process after both. CP-SAT proves its optimum over whole periods only, the
search over all. Besides the reference cases: made lines, seed by seed (`python -m bench.crane` for the whole list).
"""

from __future__ import annotations

import argparse
import math
import os
import statistics
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

from bench.lines import in_a_row, made_line
from bench.memory import tree_memory
from firstoff.line.case import Line
from firstoff.line.cpsat import Model, longest
from firstoff.line.problem import problem
from firstoff.line.read_case import read_case
from firstoff.line.solve import Answer, solve_cranes
from firstoff.report.tables import number, table

CASES = Path(__file__).parents[1] / "tests" / "reference" / "crane"
LIMIT = 60.0  # s for the alternative
SEPARATION = Fraction(2)
SIZES, SEEDS = (12, 16, 20, 24, 30), 40


def plain(line: Line, loads: int, cranes: int = 1, separation: Fraction = Fraction(0)) -> tuple[float, float]:
    """Seconds and period of CP-SAT alone; the time limit when it has proven nothing by then."""
    start = time.perf_counter()
    task = problem(line, loads, cranes, separation)
    model = Model(task, 1, longest(task))
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.max_time_in_seconds = LIMIT
    solver.solve(model.model)
    return time.perf_counter() - start, solver.objective_value / task.scale


def timed(line: Line, loads: int, cranes: int = 1, separation: Fraction = Fraction(0)) -> tuple[float, Answer]:
    start = time.perf_counter()
    answer = solve_cranes(line, cranes, loads, separation, LIMIT)
    return time.perf_counter() - start, answer


def cases() -> Iterator[tuple[str, Line, int, int]]:
    """Name, line, loads in a period, cranes."""
    for path in sorted(CASES.glob("*.json")):
        line = read_case(path)
        yield path.stem, line, 1, 1
        if path.stem == "phillips_unger_1976":
            yield path.stem, line, 2, 1
            yield "phillips_unger_x3", in_a_row(line, 3), 1, 1
            yield path.stem, line, 1, 2
        if path.stem in ("rand_n12_s1", "rand_n20_s1"):
            yield path.stem, line, 1, 2


def warm_up() -> None:
    for cranes in (1, 2):
        timed(made_line(6, 1), 1, cranes, SEPARATION)
        plain(made_line(6, 1), 1, cranes, SEPARATION)


def rows() -> list[dict[str, Any]]:
    found = []
    warm_up()
    for name, line, loads, cranes in cases():
        apart = SEPARATION if cranes > 1 and name.startswith("rand") else Fraction(0)
        seconds, answer = timed(line, loads, cranes, apart)
        if answer.period is None or answer.status != "optimal":
            raise RuntimeError(f"{name}: {answer.status}")
        other, period = plain(line, loads, cranes, apart)
        of = f"{line.n} stages" + (f", cranes: {cranes}" if cranes > 1 else "")
        found.append(
            {
                "id": f"crane-{name}-{loads}" + (f"-{cranes}c" if cranes > 1 else ""),
                "load": f"{of}, loads in a period: {loads}",
                "seconds": seconds, "alternative": "CP-SAT alone", "alternative_seconds": other,
                "ratio": other / seconds, "error": abs(period / float(answer.period) - 1),
                "peak_pss_mb": tree_memory(os.getpid()),
            }
        )  # fmt: skip
    return found


def main() -> None:
    """Many made lines: how the times are spread, and against CP-SAT if wanted."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--sizes", default=",".join(map(str, SIZES)))
    parser.add_argument("--seeds", type=int, default=SEEDS)
    parser.add_argument("--cranes", type=int, default=1)
    parser.add_argument("--long-soaks", type=int, default=0)
    parser.add_argument("--against", action="store_true", help="run CP-SAT as well")
    asked = parser.parse_args()
    warm_up()
    apart = SEPARATION if asked.cranes > 1 else Fraction(0)
    lines = []
    for n in map(int, asked.sizes.split(",")):
        seconds, busy, ratios, open_ones = [], [], [], 0
        for seed in range(1, asked.seeds + 1):
            line = made_line(n, seed, asked.long_soaks)
            before = time.process_time()
            took, answer = timed(line, 1, asked.cranes, apart)
            seconds.append(took)
            busy.append(time.process_time() - before)
            open_ones += answer.status != "optimal"
            if asked.against:
                ratios.append(plain(line, 1, asked.cranes, apart)[0] / took)
        mean = math.exp(statistics.fmean(map(math.log, ratios))) if ratios else None
        ends = [statistics.median(seconds), sorted(seconds)[int(0.9 * len(seconds))], max(seconds), max(busy)]
        lines.append(
            [str(n), str(len(seconds)), str(open_ones), *(number(s, 3) for s in ends)]
            + ([number(mean, 3), number(min(ratios), 3)] if mean is not None else [])
        )
    heads = ("stages", "lines", "not proven", "median [s]", "nine in ten [s]", "longest [s]", "most processor [s]")
    print(table((*heads, "mean ratio", "least ratio") if asked.against else heads, lines))


if __name__ == "__main__":
    main()
