"""A plating line as it stands in the plant: tanks along the track, cranes, products with their recipes.

Times in seconds on a grid of `time_step`, positions in metres, currents in amperes; exact fractions throughout.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from firstoff.line.travel import travel_time

ZERO = Fraction(0)
LOAD, UNLOAD, SHARED = "load", "unload", "load and unload"
STATIONS = (LOAD, UNLOAD, SHARED)


@dataclass(frozen=True)
class Tank:
    """One tank or load place. `turnaround`: of a load place only."""

    name: str
    operation: str
    position: Fraction
    lift: Fraction
    drip: Fraction
    lower: Fraction
    turnaround: Fraction = ZERO
    bus: str = ""


@dataclass(frozen=True)
class Crane:
    """One crane of the track; `low` and `high` are its reach, None where nothing stops it."""

    name: str
    low: Fraction | None = None
    high: Fraction | None = None


@dataclass(frozen=True)
class Step:
    """One immersion of a recipe, from set down to the start of the lift. Contact and ramp lie inside it."""

    operation: str
    least: Fraction
    most: Fraction | None = None
    current: Fraction = ZERO
    contact: Fraction = ZERO  # from set down until current flows
    ramp: Fraction = ZERO  # from then until full current
    live: bool = False  # current is on while the load is lowered

    def full_current(self, soak: Fraction) -> Fraction:
        """Time at full current in a soak."""
        return max(ZERO, soak - self.contact - self.ramp)

    def charge(self, soak: Fraction) -> Fraction:
        """Charge [C] of a soak: the ramp, taken as straight, counts half."""
        return self.current * (self.full_current(soak) + self.ramp / 2)


@dataclass(frozen=True)
class Product:
    """What hangs on a load; `loads` of them in one cycle."""

    name: str
    steps: tuple[Step, ...]
    loads: int = 1
    parts: int | None = None  # on one load


@dataclass(frozen=True)
class AirLimit:
    """Most time in air from lifting out of one operation until set down in a later one; rinses between do not count."""

    source: str
    target: str
    most: Fraction


@dataclass(frozen=True)
class Measured:
    """Times taken with a watch between two tanks; they outrank what speed and acceleration give."""

    loaded: Fraction | None = None
    empty: Fraction | None = None


@dataclass(frozen=True)
class PlantLine:
    """The whole line. Cranes stand in their order along the track."""

    name: str
    tanks: tuple[Tank, ...]
    cranes: tuple[Crane, ...]
    products: tuple[Product, ...]
    speed: Fraction
    acceleration: Fraction | None = None
    separation: Fraction = ZERO
    bars: int | None = None
    air: tuple[AirLimit, ...] = ()
    buses: Mapping[str, Fraction] = field(default_factory=dict)  # name -> most current at once
    measured: Mapping[tuple[str, str], Measured] = field(default_factory=dict)
    time_step: Fraction = Fraction(1, 10)
    slack: Fraction = ZERO  # asked for: kept free at both ends of every window

    def travel(self, distance: Fraction) -> Fraction:
        return travel_time(distance, self.speed, self.acceleration, self.time_step)

    def empty(self, a: Tank, b: Tank) -> Fraction:
        """Empty way from above one tank to above another."""
        own = self.measured.get((a.name, b.name))
        if own is not None and own.empty is not None:
            return own.empty
        return self.travel(a.position - b.position)

    def carry(self, a: Tank, b: Tank) -> Fraction:
        """From the start of the lift at one tank until a load stands in the other and the crane is free."""
        own = self.measured.get((a.name, b.name))
        if own is not None and own.loaded is not None:
            return own.loaded
        return a.lift + a.drip + self.travel(a.position - b.position) + b.lower

    @cached_property
    def _by_name(self) -> dict[str, Tank]:
        return {t.name: t for t in self.tanks}

    def tank(self, name: str) -> Tank:
        return self._by_name[name]

    def product(self, name: str) -> Product:
        return next(p for p in self.products if p.name == name)

    def stations(self, *kinds: str) -> tuple[Tank, ...]:
        return tuple(t for t in self.tanks if t.operation in kinds)

    @property
    def shared(self) -> bool:
        """Whether loads are hung on and taken off at the same place."""
        return any(t.operation == SHARED for t in self.tanks)

    def first(self) -> str:
        return SHARED if self.shared else LOAD

    def last(self) -> str:
        return SHARED if self.shared else UNLOAD

    def reach(self, crane: int) -> tuple[Fraction | None, Fraction | None]:
        """Where a crane can be at all: its own reach, and what the others, at their ends, leave of the track."""
        lows = [c.low + (crane - k) * self.separation for k, c in enumerate(self.cranes[:crane]) if c.low is not None]
        highs = [c.high - k * self.separation for k, c in enumerate(self.cranes[crane + 1 :], 1) if c.high is not None]
        own = self.cranes[crane]
        low = max([*lows, *([] if own.low is None else [own.low])], default=None)
        high = min([*highs, *([] if own.high is None else [own.high])], default=None)
        return low, high

    def reaches(self, crane: int, position: Fraction) -> bool:
        low, high = self.reach(crane)
        return (low is None or position >= low) and (high is None or position <= high)

    def without(self, names: Sequence[str]) -> PlantLine:
        """The same line with tanks out of service."""
        return replace(self, tanks=tuple(t for t in self.tanks if t.name not in names))

    def with_windows(self, slack: Fraction) -> PlantLine:
        """The same line with every window narrowed by `slack` at both ends."""

        def narrow(step: Step) -> Step:
            most = None if step.most is None else step.most - slack
            return replace(step, least=step.least + slack, most=most)

        products = tuple(replace(p, steps=tuple(map(narrow, p.steps))) for p in self.products)
        return replace(self, products=products, slack=slack)
