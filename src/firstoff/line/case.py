"""A cyclic crane line: stages with their windows, the moves, the cranes."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Stage:
    """One treatment stage: the window of its soak and its identical tanks."""

    min_soak: Fraction
    max_soak: Fraction | None  # None: no limit
    tanks: int = 1


@dataclass(frozen=True)
class Line:
    """Places 0 (load), 1..N (stages), N+1 (unload). Move i takes a load from place i to place i+1."""

    name: str
    stages: tuple[Stage, ...]
    loaded_move: tuple[Fraction, ...]  # N+1: from starting to lift at place i until set down at place i+1, crane free
    empty_move: tuple[tuple[Fraction, ...], ...]  # [place r+1][place c], r, c = 0..N
    shared_load_place: bool = True  # place N+1 is place 0
    turnaround: Fraction = Fraction(0)  # of a shared load place: from setting down to the next lift; 0: not limiting
    position: tuple[Fraction, ...] | None = None  # of places 0..N+1 along the track
    time_unit: str = "s"

    @property
    def n(self) -> int:
        return len(self.stages)

    @property
    def moves(self) -> int:
        return len(self.stages) + 1

    def gap(self, i: int, j: int) -> Fraction:
        """Least time from the start of move i to the start of move j by the same crane."""
        gap = self.loaded_move[i] + self.empty_move[i][j]
        if self.turnaround and self.shared_load_place and i == self.n and j == 0:
            gap = max(gap, self.loaded_move[i] + self.turnaround)
        return gap
