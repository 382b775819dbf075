"""Two cranes by true position: a CP-SAT model that also settles which crane makes each move.

The optimum is one over whole time units; nothing is proven about periods in between.
"""

from __future__ import annotations

import math
import time
from fractions import Fraction
from typing import Any

from firstoff.line.case import Line
from firstoff.line.cpsat import Model, longest
from firstoff.line.problem import Problem, problem, scale_of
from firstoff.line.replay import Timetable
from firstoff.line.track import gap_between_cranes

WORKERS = 2


class TwoCranes(Model):
    """The model of one crane, with the order of each two moves bound by the cranes that make them."""

    def __init__(self, task: Problem, least: int, most: int, separation: Fraction) -> None:
        self.separation = separation
        super().__init__(task, least, most)

    def _orders(self) -> None:
        task, model = self.task, self.model
        self.right = [model.new_bool_var(f"c{a}") for a in range(task.size)]
        for a in range(task.size):
            model.add(self.start[a] < self.period)
        for a in range(task.size):
            for b in range(a + 1, task.size):
                first = model.new_bool_var(f"o{a},{b}")
                if a == 0:
                    model.add(first == 1)
                model.add(self.start[b] >= self.start[a]).only_enforce_if(first)
                model.add(self.start[a] >= self.start[b]).only_enforce_if(~first)
                for one in (False, True):
                    for two in (False, True):
                        self._pair(a, b, one, two, first)

    def _pair(self, a: int, b: int, one: bool, two: bool, first: Any) -> None:
        forth, back = self._gap(a, b, one, two), self._gap(b, a, two, one)
        if forth is None or back is None:
            return
        cranes = [self.right[a] if one else ~self.right[a], self.right[b] if two else ~self.right[b]]
        s, period, add = self.start, self.period, self.model.add
        add(s[b] >= s[a] + forth).only_enforce_if(*cranes, first)
        add(s[b] + back <= s[a] + period).only_enforce_if(*cranes, first)
        add(s[a] >= s[b] + back).only_enforce_if(*cranes, ~first)
        add(s[a] + forth <= s[b] + period).only_enforce_if(*cranes, ~first)

    def _gap(self, a: int, b: int, one: bool, two: bool) -> int | None:
        if one == two:
            return int(self.task.gap[a, b])
        m = self.task.line.moves
        gap = gap_between_cranes(self.task.line, a % m, b % m, not one, self.separation)
        return None if gap is None else math.ceil(gap * self.task.scale)


def solve_two(
    line: Line, loads: int, separation: Fraction, end: float, most: Fraction | None
) -> tuple[str, Timetable | None, Fraction | None]:
    """Status of the proof over whole units, timetable and bound; `most`: a macro-period known to be possible."""
    task = problem(line, loads, cranes=2)
    stays = zip(line.loaded_move, line.stages, line.loaded_move[1:], strict=False)
    # a tank is taken from the start of the move that fills it to the end of the one that empties it
    least = max(1, *(math.ceil((d + s.min_soak + e) * loads * scale_of(line) / s.tanks) for d, s, e in stays))
    # whoever makes a move makes it again one period later
    least = max(least, *(math.ceil(line.gap(i, i) * scale_of(line)) for i in range(line.moves)))
    top = int(most * task.scale) if most is not None else longest(task)
    model = TwoCranes(task, min(least, top), top, separation)
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.max_time_in_seconds = max(0.1, end - time.perf_counter())
    status = solver.status_name(solver.solve(model.model))
    if status not in ("OPTIMAL", "FEASIBLE"):
        return ("infeasible" if status == "INFEASIBLE" else "unknown"), None, None
    period, times = model.times(solver.value)
    cranes = [int(solver.value(c)) for c in model.right]
    m, scale = line.moves, task.scale
    rows = tuple(tuple(Fraction(t, scale) for t in times[x * m : (x + 1) * m]) for x in range(loads))
    of_move = tuple(tuple(cranes[x * m : (x + 1) * m]) for x in range(loads))
    bound = Fraction(math.ceil(solver.best_objective_bound - 1e-6), scale)
    return status.lower(), Timetable(Fraction(period, scale), rows, of_move), bound
