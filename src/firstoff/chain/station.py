"""What a station is to the chain: named inputs, named outputs, a plan made once, a run made often."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

import numpy as np
import numpy.typing as npt

from firstoff.sheets.spread import Spread

FloatArray = npt.NDArray[np.float64]
StatusArray = npt.NDArray[np.uint8]
Columns = dict[str, FloatArray]  # name -> (n,) or (n, axis), SI

Kind = Literal["setting", "scatter", "given"]


@dataclass(frozen=True)
class Change:
    """How a setting is moved at its station: in which steps, and what one change takes, whatever its size."""

    step: str  # least real step, a difference as a quantity: `0.02 mm`
    minutes: float
    how: str  # where and with what, in shop words
    most_steps: int = 10  # each way; further away it is another design, not a correction
    cost: float = 0.0  # in the plant's own money
    customer_approval: bool = False
    source: str = "assumed: common practice, no source"


@dataclass(frozen=True)
class Parameter:
    """One declared input of a station. In columns it is called `station.name`."""

    name: str
    unit: str  # the trade's unit, for messages, sheets and print; columns are SI
    kind: Kind  # a setting we choose, scatter the world chooses, or given by drawing or customer
    what: str  # one line for the engineer
    default: str | None = None  # as a quantity on a drawing; None: the sheet must give it
    source: str = ""  # where the default and its scatter come from; `assumed: ...` when nobody measured it
    low: str | None = None  # least allowed nominal, as a quantity
    high: str | None = None
    pressure: bool = False  # gauge or absolute must be stated
    lot_share: float = 0.0  # share of a stated total variance that is common to a lot
    whole: bool = False  # a count: its nominal is a whole number
    change: Change | None = None  # None: nobody moves it to correct a part
    follows: str = ""  # parameter of the same station whose deviation it shares in part, level by level
    correlation: float = 0.0  # of the two, -1 to 1


@dataclass(frozen=True)
class Value:
    """A parameter as the sheet settles it, SI."""

    name: str  # `station.parameter`
    nominal: float
    unit: str  # for print
    kind: Kind
    lot: Spread | None = None
    part: Spread | None = None
    source: str = ""
    assumed: bool = False  # a default was used, or an assumed scatter
    follows: str = ""  # name of the value whose deviation it shares in part
    correlation: float = 0.0


@dataclass(frozen=True)
class Characteristic:
    """One output of a station that the chain can predict."""

    name: str
    unit: str
    what: str
    low: float | None = None  # limits, SI
    high: float | None = None
    safety: bool = False
    pressure: bool = False  # an absolute pressure: limits must say gauge or abs
    exact: bool = False  # follows by definition: the model itself has no error in it


@dataclass(frozen=True)
class Plan:
    """What a station settled once, before many builds run through it."""

    station: str
    values: tuple[Value, ...] = ()
    gives: tuple[Characteristic, ...] = ()
    data: Mapping[str, Any] = field(default_factory=dict)  # arrays and constants that run() needs
    setup: tuple[tuple[str, str], ...] = ()  # lines of the setup sheet: what, value with unit
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


class Station(Protocol):
    """One process step or one test of function."""

    @property
    def name(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def parameters(self) -> tuple[Parameter, ...]: ...
    @property
    def needs(self) -> tuple[str, ...]:
        """Columns of earlier stations that `run` reads."""
        ...

    @property
    def gives(self) -> tuple[str, ...]:
        """Columns that `run` adds."""
        ...

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        """One chunk of builds. Pure: reads `columns`, returns new ones and a status per build."""
        ...
