"""Many builds at once, and their way through the stations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from firstoff.chain.order import after, order
from firstoff.chain.station import Columns, Plan, Station, StatusArray
from firstoff.chain.status import Status
from firstoff.errors import InputFault, Message, nearest


class StationFault(RuntimeError):
    """A station broke, or did not keep to what it declares. The text names it."""


@dataclass(frozen=True)
class Ensemble:
    """Builds: their columns, and what became of each build in each station that ran."""

    columns: Columns
    status: dict[str, StatusArray]

    @property
    def n(self) -> int:
        """How many builds."""
        return next((len(column) for column in self.columns.values()), 0)

    @property
    def has_value(self) -> npt.NDArray[np.bool_]:
        """Builds (n,) that came through every station with a usable value."""
        return self.has_value_in(self.status)

    def has_value_in(self, stations: Iterable[str]) -> npt.NDArray[np.bool_]:
        """Builds (n,) that came through each of these stations with a usable value."""
        good = np.ones(self.n, dtype=np.bool_)
        for name in stations:
            good &= (self.status[name] & np.uint8(Status.NO_VALUE)) == 0
        return good


def run(
    stations: Sequence[Station],
    plans: Mapping[str, Plan],
    known: Ensemble,
    since: str | Iterable[str] | None = None,
) -> Ensemble:
    """Run the builds `known` through the chain; `known` itself is left as it is.

    since: names of changed columns or stations; then only the stations that depend on them run, and the rest of `known`
    is kept. None runs all. A build with a number that is not finite is marked as without a value in the station that
    gave it. Raises InputFault for a missing plan or column, StationFault, naming the station, for a station that breaks
    or does not give what it declares.
    """
    ordered = order(stations)
    chosen = ordered if since is None else after(ordered, since)
    columns, status = dict(known.columns), dict(known.status)
    _check(chosen, plans, columns)
    for station in chosen:
        given, flags = _run_one(station, plans[station.name], columns, known.n)
        columns |= given
        status[station.name] = flags
    return Ensemble(columns, status)


def _check(chosen: Sequence[Station], plans: Mapping[str, Plan], columns: Columns) -> None:
    """Refuse, by name, a station without a plan or without its columns."""
    faults = [Message("has no plan", key=s.name, nearest=nearest(s.name, plans)) for s in chosen if s.name not in plans]
    known = set(columns).union(*(s.gives for s in chosen))
    for station in chosen:
        values = plans[station.name].values if station.name in plans else ()
        wanted = [*station.needs, *(value.name for value in values)]
        for name in dict.fromkeys(wanted):
            if name not in known:
                what = f"`{name}` is needed but is not among the columns"
                faults.append(Message(what, key=station.name, found=name, nearest=nearest(name, sorted(known))))
    if faults:
        raise InputFault(faults)


def _run_one(station: Station, plan: Plan, columns: Columns, n: int) -> tuple[Columns, StatusArray]:
    """Run one station and hold it to its declaration."""
    try:
        given, flags = station.run(plan, MappingProxyType(columns))
    except InputFault as fault:
        named = [Message(**{**m.as_dict(), "key": m.key or station.name}) for m in fault.messages]
        raise InputFault(named) from fault
    except Exception as error:
        raise StationFault(f"station {station.name}: {type(error).__name__}: {error}") from error
    if set(given) != set(station.gives):
        missing = ", ".join(sorted(set(station.gives) - set(given))) or "nothing"
        extra = ", ".join(sorted(set(given) - set(station.gives))) or "nothing"
        raise StationFault(f"station {station.name}: declared, not given: {missing}; given, not declared: {extra}")
    marked = np.array(flags, dtype=np.uint8)  # a copy: the station keeps its own array
    if marked.shape != (n,):
        raise StationFault(f"station {station.name}: status of shape {marked.shape} for {n} builds")
    checked: Columns = {}
    for name, column in given.items():
        numbers = np.asarray(column, dtype=np.float64)
        if numbers.shape[:1] != (n,):
            raise StationFault(f"station {station.name}: `{name}` has shape {numbers.shape} for {n} builds")
        finite = np.isfinite(numbers)
        if not finite.all():
            marked[~finite.reshape(n, -1).all(axis=1)] |= np.uint8(Status.NO_VALUE)
        checked[name] = numbers
    return checked, marked
