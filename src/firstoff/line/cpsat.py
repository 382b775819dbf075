"""The same problem as a CP-SAT model: order of every two moves within the period, whole periods of every stay.

A second way to the same timetables, written apart from the search: the tests and the bench set both against each other.
Its periods are whole; its bound is one over whole periods only.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np

from firstoff.line.problem import Problem
from firstoff.line.replay import Timetable


class Model:
    """Start s of each move within the period, whole periods w before it: t = s + w T."""

    def __init__(self, task: Problem, least: int, most: int) -> None:
        from ortools.sat.python import cp_model

        self.cp: Any = cp_model
        self.task, self.most = task, most
        model = self.model = cp_model.CpModel()
        n, spans = task.size, int(np.abs(task.high).max()) + 2
        self.period = model.new_int_var(least, most, "T")
        self.start = [model.new_int_var(0, most, f"s{a}") for a in range(n)]
        self.turn = [model.new_int_var(-1, spans, f"w{a}") for a in range(n)]
        self.first: dict[tuple[int, int], Any] = {}
        self.of = [[model.new_bool_var(f"c{a}={c}") for c in range(task.cranes)] for a in range(n)]
        model.add(self.start[0] == 0)
        model.add(self.turn[0] == 0)
        if task.loads > 1:
            second = task.line.moves
            model.add(self.turn[second] == 0)
            model.add(task.loads * self.start[second] <= self.period)
        for a in range(n):
            model.add_exactly_one(self.of[a])
            model.add(self.start[a] < self.period)
            for b in range(a + 1, n):
                self._order(a, b)
        for u, v, length, height in task.arcs.tolist():
            if height % task.loads == 0:
                self._arc(u, v, length, height // task.loads)
        self._load_place()
        model.minimize(self.period)

    def _order(self, a: int, b: int) -> None:
        add, last = self.model.add, self.task.cranes - 1
        first = self.first[a, b] = self.model.new_bool_var(f"o{a},{b}")
        if a == 0:  # the period is counted from the first move
            add(first == 1)
        s, t, period = self.start[a], self.start[b], self.period
        add(t >= s).only_enforce_if(first)
        add(s >= t).only_enforce_if(~first)
        for c in range(self.task.cranes):
            for d in range(self.task.cranes):
                step = last + d - c
                forth = int(self.task.gaps[step, step, a, b])
                back = int(self.task.gaps[2 * last - step, 2 * last - step, b, a])
                both = [self.of[a][c], self.of[b][d]] if last else []
                if forth or back:
                    add(t >= s + forth).only_enforce_if(*both, first)
                    add(t + back <= s + period).only_enforce_if(*both, first)
                    add(s >= t + back).only_enforce_if(*both, ~first)
                    add(s + forth <= t + period).only_enforce_if(*both, ~first)

    def _arc(self, u: int, v: int, length: Any, height: int) -> None:
        """s[v] - s[u] + k T >= length with k = w[v] - w[u] + height, one case for each k."""
        model = self.model
        count, cases = self.turn[v] - self.turn[u] + height, []
        for k in range(-int(self.task.high.max()) - 2, 3):
            case = model.new_bool_var(f"k{u},{v}={k}")
            (model.add(count == k) if k < 2 else model.add(count >= k)).only_enforce_if(case)
            model.add(self.start[v] - self.start[u] + k * self.period >= length).only_enforce_if(case)
            cases.append(case)
        model.add_exactly_one(cases)

    def _load_place(self) -> None:
        """Lifts and settings down of a shared load place take turns: see problem.py."""
        line, r = self.task.line, self.task.loads
        if r == 1 or not (line.turnaround and line.shared_load_place):
            return
        inside = self.model.new_int_var(-r, sum(s.tanks for s in line.stages) + 2 * r, "loads in the line")
        for x in range(r):
            for y in range(r):
                lift, down = x * line.moves, y * line.moves + line.n
                early = self.first[lift, down] if lift < down else ~self.first[down, lift]
                whole = self.turn[down] - self.turn[lift] + early - 1
                self.model.add(r * whole <= y + inside - x)
                self.model.add(y + inside - x <= r * whole + r - 1)

    def times(self, value: Any) -> tuple[int, list[int]]:
        period = int(value(self.period))
        turns = zip(self.start, self.turn, strict=True)
        return period, [int(value(s)) + int(value(w)) * period for s, w in turns]

    def timetable(self, value: Any) -> Timetable:
        """What the solver has found, as a timetable; `value` gives a variable's value."""
        (period, times), m, scale = self.times(value), self.task.line.moves, self.task.scale
        made_by = self.cranes(value)
        rows = [slice(x * m, (x + 1) * m) for x in range(self.task.loads)]
        return Timetable(
            Fraction(period, scale),
            tuple(tuple(Fraction(t, scale) for t in times[row]) for row in rows),
            tuple(tuple(made_by[row]) for row in rows) if self.task.cranes > 1 else None,
        )

    def cranes(self, value: Any) -> list[int]:
        return [next(c for c, made in enumerate(row) if value(made)) for row in self.of]


def longest(task: Problem) -> int:
    """A period at which one load at a time can go through."""
    line = task.line
    soaks = sum((s.min_soak for s in line.stages), Fraction(0))
    one = soaks + sum(line.loaded_move) + max(max(row) for row in line.empty_move) + line.turnaround
    return int(one * task.scale) * task.loads + 1
