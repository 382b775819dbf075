"""The repeating timetable of a plant's line, as it is carried out: seconds, names of tanks, cranes."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class LoadPlan:
    """One load of a cycle. Stop 0 is where it is hung on, the last where it is taken off; move i leaves stop i."""

    product: str
    stops: tuple[tuple[str, ...], ...]  # names of the tanks of a stop; of several, the one free for longest is used
    lifts: tuple[Fraction, ...]  # start of each move, absolute
    downs: tuple[Fraction, ...]  # end of each move: set down, the crane free
    cranes: tuple[int, ...]  # of each move, counted from 0 along the track


@dataclass(frozen=True)
class PlantTimetable:
    """`loads` repeat every `period`."""

    period: Fraction
    loads: tuple[LoadPlan, ...]

    @property
    def per_load(self) -> Fraction:
        return self.period / len(self.loads)


@dataclass(frozen=True)
class PlanAnswer:
    """A timetable with its proof. `bound`: no timetable has a shorter period; both cover all loads of one cycle."""

    status: str  # optimal, feasible, infeasible, unknown
    table: PlantTimetable | None
    bound: Fraction | None
    seconds: float
    found_by: str
    over: str  # what the proof covers

    @property
    def period(self) -> Fraction | None:
        return None if self.table is None else self.table.period

    @property
    def gap(self) -> float | None:
        """How far the bound lies below the period, as a share of the period."""
        if self.table is None or self.bound is None:
            return None
        return float(1 - self.bound / self.table.period)
