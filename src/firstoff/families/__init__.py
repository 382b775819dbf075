"""One file per family of products: its stations in process order. `find` gives a family by name."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib import import_module
from typing import TYPE_CHECKING, Protocol

from firstoff.chain.fault import Fault
from firstoff.chain.measurement import Measurement
from firstoff.chain.station import Characteristic, Plan, Station
from firstoff.sheets.schema import Section
from firstoff.stations.contradiction import Contradiction
from firstoff.stations.reading import Drawn, SheetInReading
from firstoff.stations.settle import Settings

if TYPE_CHECKING:
    from firstoff.chain.station import FloatArray
    from firstoff.stations.trace_station import TraceNumbers

NAMES = ("damper", "bumper")


class PlannedStation(Station, Protocol):
    """A station of a family: one that can also settle itself from the sheets."""

    def plan(self, settings: Settings) -> Plan: ...


class CheckStation(PlannedStation, Protocol):
    """Where parts or the rig are checked beside the route: computed only when asked for, or when a sheet limits it."""

    @property
    def characteristics(self) -> tuple[Characteristic, ...]: ...

    @property
    def costly(self) -> bool:
        """Whether it takes so long, or so much drawing data, that nobody computes it unasked."""
        ...


class TraceStation(CheckStation, Protocol):
    """A check that reduces a part's measured trace to the characteristics that it computes itself."""

    def trace_numbers(
        self, time: FloatArray, travel: FloatArray, force: FloatArray, values: Mapping[str, float],
        speeds: tuple[float, ...], nominal: Mapping[str, float], stated: float | None,
    ) -> TraceNumbers:  # fmt: skip
        """values: the stations' parameters at nominal; stated: the speed written with the trace. Raises Unfit."""
        ...

    def simulated(
        self, columns: Mapping[str, FloatArray], speed: float, crawling: bool
    ) -> tuple[FloatArray, FloatArray, FloatArray]: ...


Reader = Callable[[SheetInReading, SheetInReading | None], Drawn]
UNSTATED = Settings({}, {})  # of sheets that state nothing


def _no_checks(settings: Settings) -> tuple[CheckStation, ...]:
    return ()


def _nothing_drawn(model: SheetInReading, plant: SheetInReading | None) -> Drawn:
    return Drawn()


@dataclass(frozen=True)
class Family:
    """The stations of a family in process order, made for what the sheets state: a customer's table, a drawing."""

    name: str
    title: str
    make: Callable[[Settings], tuple[PlannedStation, ...]]
    faults: tuple[Fault, ...] = ()  # what can go wrong, as far as these stations can show it
    not_seen: tuple[str, ...] = ()  # what they cannot show
    temperature: str = ""  # the parameter that is known when a reading carries its temperature
    make_checks: Callable[[Settings], tuple[CheckStation, ...]] = _no_checks
    check_faults: Mapping[str, tuple[Fault, ...]] = field(default_factory=dict)  # what only that check can show
    measurements: tuple[Measurement, ...] = ()  # what can be measured beside the test of function
    contradictions: Callable[[Mapping[str, float], Settings], Sequence[Contradiction]] = lambda at, settings: ()
    temperature_window: float = 0.0  # K, how far from its nominal the test may be, as the setup sheet says
    make_trace_station: Callable[[tuple[float, ...]], TraceStation] | None = None  # None: no traces are read
    handling: str = ""  # what must never be done to a finished part that is set aside
    sections: tuple[Section, ...] = ()  # of the model sheet, beside those of the stations
    plant_sections: tuple[Section, ...] = ()  # of the plant sheet, beside those of the stations
    read: Reader = _nothing_drawn  # what those sections state
    start: tuple[str, str] = ("", "")  # model and plant sheet to start from, between the head and the stations
    readings_unit: str = "1"
    readings: str = "reading"  # what a fault that acts on readings moves, in shop words

    @property
    def stations(self) -> tuple[PlannedStation, ...]:
        """Every station there may be: what they are called and which parameters they take."""
        return self.make(UNSTATED)

    @property
    def checks(self) -> tuple[CheckStation, ...]:
        """The check stations, whatever the sheets state."""
        return self.make_checks(UNSTATED)

    @property
    def every_fault(self) -> tuple[Fault, ...]:
        """With those that only a check can show."""
        return (*self.faults, *(f for of in self.check_faults.values() for f in of))

    def showing(self, stations: Collection[str], parameters: Collection[str]) -> Family:
        """The family with the faults that only some of these stations can show, once each.

        Of those, a fault that moves a parameter which is not there (a shield where none hangs) is left out.
        """
        known = {f.name for f in self.faults}
        more = [
            f for name, of in self.check_faults.items() if name in stations for f in of
            if f.name not in known and (f.acts != "parameters" or all(m.name in parameters for m in f.moves))
        ]  # fmt: skip
        return replace(self, faults=(*self.faults, *more)) if more else self

    def operation(self, station: str) -> int:
        """Number on the route card: 10, 20, 30 ..."""
        return 10 * (1 + [s.name for s in self.stations].index(station))


def find(name: str) -> Family:
    """The family of that name. KeyError when there is none."""
    if name not in NAMES:
        raise KeyError(name)
    family: Family = import_module(f"firstoff.families.{name}").FAMILY
    return family
