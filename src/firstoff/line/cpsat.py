"""The same problem as a CP-SAT model: order of every two moves within the period, whole periods of every stay.

Its timetables have whole periods; each is settled to the exact, perhaps fractional, least period of its own order and
handed to the search as the period to beat. Its own bound is one over whole periods only and proves nothing here.
"""

from __future__ import annotations

import threading
import time
from fractions import Fraction
from typing import Any

import numpy as np

from firstoff.line.problem import Ints, Problem
from firstoff.line.sweep import Search, State

WORKERS = 1  # the other core is the search's


class Model:
    """Start s of each move within the period, whole periods w before it: t = s + w T."""

    def __init__(self, task: Problem, least: int, most: int) -> None:
        from ortools.sat.python import cp_model

        self.cp: Any = cp_model
        self.task = task
        model = self.model = cp_model.CpModel()
        n, spans = task.size, int(np.abs(task.high).max()) + 2
        self.period = model.new_int_var(least, most, "T")
        self.start = [model.new_int_var(0, most, f"s{a}") for a in range(n)]
        self.turn = [model.new_int_var(-1, spans, f"w{a}") for a in range(n)]
        model.add(self.start[0] == 0)
        model.add(self.turn[0] == 0)
        if task.loads > 1:
            second = task.line.moves
            model.add(self.turn[second] == 0)
            model.add(task.loads * self.start[second] <= self.period)
        self._orders()
        for u, v, length, height in task.arcs.tolist():
            if height % task.loads == 0:
                self._arc(u, v, length, height // task.loads)
        model.minimize(self.period)

    def _orders(self) -> None:
        n, gap, add = self.task.size, self.task.gap, self.model.add
        for a in range(n):
            add(self.start[a] < self.period)
            for b in range(a + 1, n):
                one, two = self.start[a], self.start[b]
                forth, back = int(gap[a, b]), int(gap[b, a])
                if a == 0:  # the period is counted from the first move
                    add(two >= one + forth)
                    add(two + back <= one + self.period)
                    continue
                first = self.model.new_bool_var(f"o{a},{b}")
                add(two >= one + forth).only_enforce_if(first)
                add(two + back <= one + self.period).only_enforce_if(first)
                add(one >= two + back).only_enforce_if(~first)
                add(one + forth <= two + self.period).only_enforce_if(~first)

    def _arc(self, u: int, v: int, length: int, height: int) -> None:
        """s[v] - s[u] + k T >= length with k = w[v] - w[u] + height, one case for each k."""
        model = self.model
        count, cases = self.turn[v] - self.turn[u] + height, []
        for k in range(-int(self.task.high.max()) - 2, 3):
            case = model.new_bool_var(f"k{u},{v}={k}")
            (model.add(count == k) if k < 2 else model.add(count >= k)).only_enforce_if(case)
            model.add(self.start[v] - self.start[u] + k * self.period >= length).only_enforce_if(case)
            cases.append(case)
        model.add_exactly_one(cases)

    def times(self, value: Any) -> tuple[int, list[int]]:
        period = int(value(self.period))
        turns = zip(self.start, self.turn, strict=True)
        return period, [int(value(s)) + int(value(w)) * period for s, w in turns]


def whole_periods(task: Problem, period: int, times: list[int]) -> Ints:
    """floor((t[b] - t[a]) / T) for every pair."""
    t = np.array(times, dtype=np.int64)
    found: Ints = (t[None, :] - t[:, None]) // period
    return found


def improve(task: Problem, state: State, over: threading.Event, end: float) -> None:
    """Look for timetables better than state.best until `over` is set or the time is up."""
    most = int(state.best * task.loads) if state.best is not None else longest(task)
    least = max(1, -(-state.bound.numerator * task.loads // state.bound.denominator))
    if least > most or over.is_set():
        return
    model = Model(task, least, most)
    cp, search = model.cp, Search(task)

    class Watch(cp.CpSolverSolutionCallback):  # type: ignore[misc, name-defined]
        def on_solution_callback(self) -> None:
            period, times = model.times(self.value)
            between = whole_periods(task, period, times)
            settled = search.settle(between, between, state.bound, None)
            if settled is not None:
                best, exact = settled
                state.improve(best, exact, best.denominator, "CP-SAT")
            if over.is_set():
                self.stop_search()

    solver = cp.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.max_time_in_seconds = max(0.1, end - time.perf_counter())
    stopper = threading.Thread(target=lambda: (over.wait(), solver.stop_search()), daemon=True)
    stopper.start()
    solver.solve(model.model, Watch())


def longest(task: Problem) -> int:
    """A period at which one load at a time can go through."""
    line = task.line
    soaks = sum((s.min_soak for s in line.stages), Fraction(0))
    one = soaks + sum(line.loaded_move) + max(max(row) for row in line.empty_move) + line.turnaround
    return int(one * task.scale) * task.loads + 1
