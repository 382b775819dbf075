"""Other ways to the shortest period, for the tests: trying all of it, and a mixed-integer program solved by HiGHS."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from firstoff.line.case import Line
from firstoff.line.problem import Problem
from firstoff.line.replay import Timetable, replay


def tried(line: Line, loads: int, longest: int) -> int | None:
    """The least whole period, up to `longest`, at which some whole removal times pass the replay: all are tried.

    The replay alone judges; soaks are tried up to the most, or to two periods where there is no most.
    """
    for period in range(1, longest + 1):
        ways = []
        for i, stage in enumerate(line.stages):
            least = int(line.loaded_move[i] + stage.min_soak)
            most = stage.max_soak if stage.max_soak is not None else stage.min_soak + period * stage.tanks
            ways.append(range(least, int(line.loaded_move[i] + most) + 1))
        one_load = [tuple(np.cumsum([0, *stays]).tolist()) for stays in product(*ways)]
        for starts in product(range(period), repeat=loads - 1):
            for rows in product(one_load, repeat=loads):
                times = tuple(tuple(Fraction(t + s) for t in row) for s, row in zip((0, *starts), rows, strict=True))
                if not replay(line, Timetable(Fraction(period), times)):
                    return period
    return None


def by_highs(task: Problem) -> Fraction:
    """The least period of one load (over all periods, in floating point) by a mixed-integer program.

    Variables: period T, removal times t, whole periods k between every two moves as 0-1 choices; products k T are told
    apart by a bound on T (big M), which is why this is only for small lines.
    """
    n, most = task.size, 1.0
    most = float(task.line.gap(0, 0) + sum(task.line.loaded_move) * 4) * task.scale
    most += sum(float((s.max_soak or s.min_soak) * task.scale) for s in task.line.stages)
    choices = [(i, j, k) for i in range(n) for j in range(i + 1, n) for k in range(task.low[i, j], task.high[i, j] + 1)]
    size = 1 + n + len(choices)
    rows, least = [], []

    def row(v: int, u: int, length: float, height: float, choice: int | None = None) -> None:
        """t[v] - t[u] >= length - height T, if the choice is made."""
        line = np.zeros(size)
        line[0], line[1 + v], line[1 + u] = height, 1.0, -1.0
        if choice is not None:
            big = most * (n + 2 + abs(height)) + abs(length)
            line[1 + n + choice] = -big
            length -= big
        rows.append(line)
        least.append(length)

    for u, v, length, height in task.arcs.tolist():
        row(v, u, length, height)
    for c, (i, j, k) in enumerate(choices):
        row(j, i, float(task.gap[i, j]), -k, c)
        row(i, j, float(task.gap[j, i]), k + 1, c)
    upper = [np.inf] * len(rows)
    for i in range(n):
        for j in range(i + 1, n):
            line = np.zeros(size)
            line[[1 + n + c for c, choice in enumerate(choices) if choice[:2] == (i, j)]] = 1.0
            rows.append(line)
            least.append(1.0)
            upper.append(1.0)
    low = np.zeros(size)
    high = np.array([most, *[most * (n + 2)] * n, *[1.0] * len(choices)])
    cost = np.zeros(size)
    cost[0] = 1.0
    whole = np.array([0] * (1 + n) + [1] * len(choices))
    found = milp(
        cost, integrality=whole, bounds=Bounds(low, high), constraints=LinearConstraint(np.array(rows), least, upper),
        options={"mip_rel_gap": 0.0},
    )  # fmt: skip
    assert found.success, found.message
    return Fraction(float(found.x[0]) / task.scale).limit_denominator(60)
