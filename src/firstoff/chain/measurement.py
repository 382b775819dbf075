"""What could be measured beside the test of function: a declaration, as data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

On = Literal["same", "lot", "rig"]
BARRED = 3  # of `danger`: so dangerous that it is never proposed
ASSUMED = "assumed: common practice, no source"


@dataclass(frozen=True)
class Readout:
    """One number that a measurement gives: a parameter (`station.parameter`) or a characteristic.

    u: standard uncertainty of one reading, SI, where the plant sheet declares no gauge; relative: the same as a share
    of the expected value. The two add up as squares.
    """

    name: str
    u: float = 0.0
    relative: float = 0.0
    source: str = ASSUMED

    def __post_init__(self) -> None:
        if not (self.u >= 0.0 and self.relative >= 0.0 and self.u + self.relative > 0.0):
            raise ValueError(f"{self.name}: u {self.u} and relative {self.relative} must be 0 or more, and not both 0")


@dataclass(frozen=True)
class Measurement:
    """A measurement as its station declares it. Nothing that opens a charged damper may ever be declared."""

    name: str
    title: str  # shop words
    station: str  # where it is made
    reads: tuple[Readout, ...]
    on: On  # the same parts that were read, further parts of their lot, or the rig itself
    parts: int  # how many
    minutes: float  # for all of them, set-up included
    danger: int = 0  # 0 none, 1 usual care, 2 a real danger when done wrong, 3 never proposed
    cost: float = 0.0  # of parts and help besides the minutes, in the plant's own money
    beware: str = ""
    needs: str = ""  # what must be at hand, or when it can be done
    destructive: bool = False  # the parts measured are lost
    source: str = ASSUMED  # of minutes, cost and danger
    available: bool = True  # whether the plant can make it

    def __post_init__(self) -> None:
        if not self.reads or self.parts < 1 or not self.minutes > 0.0 or not 0 <= self.danger <= BARRED:
            raise ValueError(f"{self.name}: needs readings, parts, minutes above 0 and a danger of 0 to {BARRED}")
