"""Any loads in one cycle, each with its own way and windows: a CP-SAT model over whole time steps.

Every move has a start s within the period T; every stay a number of whole periods that pass in it. Of each two moves
one comes first within the period, and the gap between them holds for the cranes and places that make them, around the
period as well. Tanks, flight bars, load places and rectifier buses are counted whenever a load comes to them: what is
there then is the whole periods of each stay, and one more for each that came before and has not left (see `Share`).
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass
from typing import Any

from firstoff.line.jobs import Jobs, Mode, Visit
from firstoff.line.mixed_bound import least_period, longest_period
from firstoff.line.plant_line import STATIONS
from firstoff.line.plant_table import LoadPlan, PlanAnswer, PlantTimetable

WORKERS = 1  # measured: two searchers on these models take longer than one, and one gives the same table every time
OVER = "whole time steps"
ROOM_SECONDS = 30.0  # in case of a very slow machine
ROOM_WORK = 1.0  # the solver's units, roughly seconds; measured: six times as much finds nothing better


@dataclass(frozen=True)
class Event:
    """Something that happens once a period: its phase within it, and whole periods since the job's first lift."""

    phase: Any
    turns: Any
    move: int = -1  # when it is the start of a move
    name: str = ""


class Mixed:
    """The model. Moves of all jobs are numbered through; `first[j]` is job j's first.

    With `rooms` it looks, at a period that is settled, for the timetable whose moves may be late by the most in all,
    each by at most `rooms`: by its room a move may be late, with all others on time.
    """

    def __init__(self, jobs: Jobs, least: int, most: int, rooms: int = 0) -> None:
        from ortools.sat.python import cp_model

        self.cp: Any = cp_model
        self.jobs = jobs
        self.model = cp_model.CpModel()
        self.period = self.model.new_int_var(least, most, "T")
        self.least, self.top = least, most
        self.first: list[int] = []
        self.modes: list[list[Mode]] = []
        for job in jobs.jobs:
            self.first.append(len(self.modes))
            self.modes += [jobs.modes(job, m) for m in range(job.moves)]
        self.start = [self.model.new_int_var(0, most - 1, f"s{a}") for a in range(len(self.modes))]
        self.made_by = [self._choices(a) for a in range(len(self.modes))]
        self.duration = [
            sum(mode.duration * by for mode, by in zip(self.modes[a], self.made_by[a], strict=True))
            for a in range(len(self.modes))
        ]
        self.room = [self.model.new_int_var(0, rooms, f"r{a}") if rooms else 0 for a in range(len(self.modes))]
        self.order: dict[tuple[int, int], Any] = {}
        self.before_event: dict[tuple[str, str], Any] = {}
        self._orders()
        self._busy()
        self._stays()
        self._air()
        self._alike()
        from firstoff.line.mixed_share import add_shares

        add_shares(self)
        if rooms:
            self.model.maximize(sum(self.room))
        else:
            self.model.minimize(self.period)

    def _choices(self, a: int) -> list[Any]:
        """A literal for each way to make a move; a move with one way has the constant 1."""
        if len(self.modes[a]) == 1:
            return [1]
        found = [self.model.new_bool_var(f"x{a},{k}") for k in range(len(self.modes[a]))]
        self.model.add_exactly_one(found)
        return found

    def when(self, *literals: Any) -> list[Any]:
        """The literals that are no constants."""
        return [x for x in literals if not isinstance(x, int)]

    def at(self, a: int, place: int, *, source: bool) -> list[Any]:
        """Literals of the ways of move a that start (or end) at a place."""
        pairs = zip(self.modes[a], self.made_by[a], strict=True)
        return [by for mode, by in pairs if (mode.source if source else mode.target) == place]

    # --- cranes -----------------------------------------------------------------------------------------------------

    def _orders(self) -> None:
        model, start, period = self.model, self.start, self.period
        model.add(start[0] == 0)
        for a in range(len(start)):
            model.add(start[a] < period)
            for mode, by in zip(self.modes[a], self.made_by[a], strict=True):
                again = self.jobs.gap(mode, mode)
                model.add(period >= again).only_enforce_if(*self.when(by))
        for a in range(len(start)):
            for b in range(a + 1, len(start)):
                first = model.new_bool_var(f"o{a},{b}")
                self.order[a, b], self.order[b, a] = first, ~first
                if a == 0:
                    model.add(first == 1)
                model.add(start[b] >= start[a]).only_enforce_if(first)
                model.add(start[a] >= start[b]).only_enforce_if(~first)
                self._apart(a, b, first)

    def _apart(self, a: int, b: int, first: Any) -> None:
        s, period, room = self.start, self.period, self.room
        for one, x in zip(self.modes[a], self.made_by[a], strict=True):
            for two, y in zip(self.modes[b], self.made_by[b], strict=True):
                both = self.when(x, y)
                forth, back = self._gap(one, two), self._gap(two, one)
                if forth is not None:
                    self.model.add(s[b] >= s[a] + forth + room[a]).only_enforce_if(*both, first)
                    self.model.add(s[a] + forth + room[a] <= s[b] + period).only_enforce_if(*both, ~first)
                if back is not None:
                    self.model.add(s[b] + back + room[b] <= s[a] + period).only_enforce_if(*both, first)
                    self.model.add(s[a] >= s[b] + back + room[b]).only_enforce_if(*both, ~first)

    def _busy(self) -> None:
        """Each crane's moves, and the least empty way after each, fit into a period: implied, but proves sooner."""
        visits = [job.visits[m + 1] for job in self.jobs.jobs for m in range(job.moves)]
        sources = {(mode.crane, mode.source) for ways in self.modes for mode in ways}
        for crane in range(len(self.jobs.line.cranes)):
            work = []
            for ways, made, visit in zip(self.modes, self.made_by, visits, strict=True):
                for mode, by in zip(ways, made, strict=True):
                    if mode.crane == crane:
                        rest = [self._between(mode, visit, p) for c, p in sources if c == crane]
                        work.append((mode.duration + min(rest)) * by)
            self.model.add(sum(work) <= self.period)

    def _between(self, mode: Mode, visit: Visit, source: int) -> int:
        """Least time from the end of a move to the next lift at `source`; a single tank must treat its load first."""
        if source == mode.target and len(self.jobs.places[source].tanks) == 1:
            return visit.least
        return self.jobs.empty[mode.target][source]

    def _gap(self, one: Mode, two: Mode) -> int | None:
        gap = self.jobs.gap(one, two)
        if one.source == two.target and self.jobs.places[one.source].operation not in STATIONS:
            # what leaves a tank has left before the next load is on its way there, whichever crane brings it
            return max(one.duration, gap or 0)
        return gap

    # --- soaks ------------------------------------------------------------------------------------------------------

    def _stays(self) -> None:
        """Windows, and `turns[a]`: whole periods from the job's first lift to the start of move a."""
        self.turns: list[Any] = [0] * len(self.start)
        self.passed: dict[int, Any] = {}  # whole periods in the stay before move b
        for j, job in enumerate(self.jobs.jobs):
            for m in range(1, job.moves):
                a, b = self.first[j] + m - 1, self.first[j] + m
                visit = job.visits[m]
                self._same_place(a, b, visit.places)
                tanks = max(len(self.jobs.places[p].tanks) for p in visit.places)
                self.passed[b] = self._stay(a, b, visit.least, visit.most, tanks)
                self.turns[b] = self.turns[a] + self.passed[b]

    def _same_place(self, a: int, b: int, places: tuple[int, ...]) -> None:
        """What was set down at a place is lifted there."""
        if len(places) > 1:
            for p in places:
                self.model.add(sum(self.at(a, p, source=False)) == sum(self.at(b, p, source=True)))

    def _stay(self, a: int, b: int, least: int, most: int | None, tanks: int) -> Any:
        """s[b] - s[a] + k T - carry in the window with k whole periods, one case for each k that the tanks allow."""
        model = self.model
        if tanks == 1:
            first = self.order[a, b]
            cases = [(0, first), (1, ~first)]
        else:
            cases = [(k, model.new_bool_var(f"w{b}={k}")) for k in range(tanks + 1)]
            model.add_exactly_one([case for _, case in cases])
            model.add_implication(cases[0][1], self.order[a, b])
            model.add_implication(cases[-1][1], ~self.order[a, b])
        for k, case in cases:
            soak = self.start[b] - self.start[a] + k * self.period - self.duration[a]
            self._window(a, b, soak, (least, most), case)
        return sum(k * case for k, case in cases if k)

    def _window(self, a: int, b: int, soak: Any, window: tuple[int, int | None], case: Any) -> None:
        """The soak between moves a and b keeps its window, in one case."""
        least, most = window
        self.model.add(soak >= least + self.room[a]).only_enforce_if(case)
        if most is not None:
            self.model.add(soak + self.room[b] <= most).only_enforce_if(case)

    def _air(self) -> None:
        for j, job in enumerate(self.jobs.jobs):
            for moves, most in self.jobs.air_rows(job):
                self.model.add(sum(self.duration[self.first[j] + m] for m in moves) <= most)

    def _alike(self) -> None:
        """Loads that are alike come in the order of their numbers."""
        for j, job in enumerate(self.jobs.jobs[1:], 1):
            if job == self.jobs.jobs[j - 1]:
                self.model.add(self.order[self.first[j - 1], self.first[j]] == 1)

    # --- events, for what is counted --------------------------------------------------------------------------------

    def begin(self, a: int) -> Event:
        return Event(self.start[a], self.turns[a], a, f"m{a}")

    def shifted(self, a: int, name: str, shift: int, *, after: bool = False) -> Event:
        """`shift` after the start of move a, or after its end; in whichever period that falls."""
        name = f"{name}{a}"
        phase = self.model.new_int_var(0, self.top - 1, name)
        self.model.add(phase < self.period)
        way = [mode.duration for mode in self.modes[a]] if after else [0]
        spans = range((min(way) + shift) // self.least, (max(way) + shift) // self.least + 2)
        cases = [(z, self.model.new_bool_var(f"{name}z{z}")) for z in spans]
        self.model.add_exactly_one([case for _, case in cases])
        whole = self.start[a] + shift + (self.duration[a] if after else 0)
        for z, case in cases:
            self.model.add(phase == whole - z * self.period).only_enforce_if(case)
        return Event(phase, self.turns[a] + sum(z * case for z, case in cases), -1, name)

    def not_after(self, one: Event, two: Event) -> Any:
        """A literal: phase of one <= phase of two; free to be either when they are equal."""
        if one.move >= 0 and two.move >= 0:
            return self.order[one.move, two.move]
        key = (one.name, two.name)
        if key not in self.before_event:
            literal = self.model.new_bool_var(f"{one.name}<={two.name}")
            self.model.add(one.phase <= two.phase).only_enforce_if(literal)
            self.model.add(two.phase <= one.phase).only_enforce_if(~literal)
            self.before_event[key], self.before_event[two.name, one.name] = literal, ~literal
        return self.before_event[key]

    def hint(self, known: PlantTimetable) -> None:
        """Start the search from a timetable of these loads."""
        step, add = self.jobs.line.time_step, self.model.add_hint
        add(self.period, int(known.period / step))
        for j, load in enumerate(known.loads):
            for i, lift in enumerate(load.lifts):
                a = self.first[j] + i
                add(self.start[a], int((lift - known.loads[0].lifts[0]) % known.period / step))
                for mode, by in zip(self.modes[a], self.made_by[a], strict=True):
                    ends = [self.jobs.places[p].tanks[0].name for p in (mode.source, mode.target)]
                    same = mode.crane == load.cranes[i] and ends == [load.stops[i][0], load.stops[i + 1][0]]
                    if not isinstance(by, int):
                        add(by, int(same))

    # --- the answer -------------------------------------------------------------------------------------------------

    def table(self, value: Any) -> PlantTimetable:
        """The timetable of a solution; `value` gives the value of an expression."""
        step, period = self.jobs.line.time_step, int(value(self.period))
        loads = []
        for j, job in enumerate(self.jobs.jobs):
            lifts, downs, made = [], [], []
            for a in range(self.first[j], self.first[j] + job.moves):
                time_ = int(value(self.start[a])) + int(value(self.turns[a])) * period
                pairs = zip(self.modes[a], self.made_by[a], strict=True)
                mode = next(mode for mode, by in pairs if value(by))
                lifts.append(time_ * step)
                downs.append((time_ + mode.duration) * step)
                made.append(mode)
            places = [made[0].source, *(mode.target for mode in made)]
            stops = tuple(tuple(t.name for t in self.jobs.places[p].tanks) for p in places)
            cranes = tuple(mode.crane for mode in made)
            loads.append(LoadPlan(job.product.name, stops, tuple(lifts), tuple(downs), cranes))
        return PlantTimetable(period * step, tuple(loads))


def solve_mixed(jobs: Jobs, time_limit: float = 60.0, known: PlantTimetable | None = None) -> PlanAnswer:
    """The shortest cycle of these loads, over whole time steps. `known`: a timetable that can be run, to be beaten."""
    begun = time.perf_counter()
    step = jobs.line.time_step
    least = least_period(jobs)
    top = longest_period(jobs) if known is None else int(known.period / step)
    model = Mixed(jobs, least, max(least, top))
    if known is not None:
        model.hint(known)
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = max(0.1, time_limit - (time.perf_counter() - begun))
    status = solver.status_name(solver.solve(model.model))
    seconds = time.perf_counter() - begun
    if status == "INFEASIBLE":
        return PlanAnswer("infeasible", None, None, seconds, "CP-SAT", OVER)
    bound = max(least, math.ceil(solver.best_objective_bound - 1e-6)) * step
    if status not in ("OPTIMAL", "FEASIBLE"):
        if known is None:
            return PlanAnswer("unknown", None, bound, seconds, "CP-SAT", OVER)
        return PlanAnswer("feasible", known, min(bound, known.period), seconds, "one load, repeated", OVER)
    table = model.table(lambda x: x if isinstance(x, int) else solver.value(x))
    return PlanAnswer(status.lower(), table, min(bound, table.period), seconds, "CP-SAT", OVER)


def roomiest(jobs: Jobs, table: PlantTimetable, rooms: int) -> PlantTimetable | None:
    """Of the timetables of this period, one whose moves may be late by more in all; None when none was found.

    The work is limited by the solver's own count of it, not by the clock: the same timetable on every machine.
    """
    period = table.period / jobs.line.time_step
    if period.denominator != 1:
        return None
    model = Mixed(jobs, int(period), int(period), rooms)
    solver = model.cp.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = ROOM_WORK
    solver.parameters.max_time_in_seconds = ROOM_SECONDS
    if solver.status_name(solver.solve(model.model)) not in ("OPTIMAL", "FEASIBLE"):
        return None
    return model.table(lambda x: x if isinstance(x, int) else solver.value(x))
