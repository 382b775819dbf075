"""Which station must run before which, and which must run again after a change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from firstoff.chain.station import Station
from firstoff.errors import InputFault, Message, nearest


def order(stations: Sequence[Station]) -> tuple[Station, ...]:
    """The stations in an order in which each finds the columns it needs; process order wherever needs allow.

    A station may need what another gives and any `station.parameter`, which is there from the start. Raises one
    InputFault with a Message for every station or column that is doubled, missing, or in a circle.
    """
    givers, faults = _givers(stations)
    parameters = {f"{s.name}.{p.name}" for s in stations for p in s.parameters}
    known = [*givers, *sorted(parameters)]
    for station in stations:
        for need in station.needs:
            if need not in givers and need not in parameters:
                what = "is needed but no station gives it"
                near = nearest(need, known)
                faults.append(Message(f"`{need}` {what}", key=station.name, found=need, nearest=near))
    if faults:
        raise InputFault(faults)
    waiting = {s.name: {givers[need] for need in s.needs if need in givers} for s in stations}
    done: list[Station] = []
    left = list(stations)
    while left:
        ready = next((s for s in left if not waiting[s.name] - {d.name for d in done}), None)
        if ready is None:
            raise InputFault(_circles(left, givers))
        done.append(ready)
        left.remove(ready)
    return tuple(done)


def after(ordered: Sequence[Station], changed: str | Iterable[str]) -> tuple[Station, ...]:
    """The stations of an ordered chain that must run again when something changed.

    changed: names of columns or of stations. A changed parameter reruns its station, a changed given column reruns the
    stations that need it (not the one that gives it), a station's own name reruns that station; and, from there, all
    that depend on them. Raises InputFault for a name that is none of these.
    """
    names = [changed] if isinstance(changed, str) else list(changed)
    owners = {f"{s.name}.{p.name}": s.name for s in ordered for p in s.parameters}
    known = {s.name for s in ordered} | set(owners) | {g for s in ordered for g in s.gives}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise InputFault(
            [Message("is neither a column nor a station", key=n, nearest=nearest(n, sorted(known))) for n in unknown]
        )
    stale = set(names)
    again = {owners[name] for name in names if name in owners} | {s.name for s in ordered if s.name in stale}
    rerun: list[Station] = []
    for station in ordered:
        if station.name in again or stale.intersection(station.needs):
            rerun.append(station)
            stale.update(station.gives)
    return tuple(rerun)


def upstream(ordered: Sequence[Station]) -> dict[str, frozenset[str]]:
    """The stations that each column depends on: the one that gives it, and all whose columns that one reads.

    Another station's parameter is drawn, not given: reading it makes nobody depend on that station's run. ordered: as
    `order` leaves them; keys are the columns that stations give and the stations' own names.
    """
    found: dict[str, frozenset[str]] = {}
    for station in ordered:
        mine = frozenset({station.name}).union(*(found[need] for need in station.needs if need in found))
        found |= dict.fromkeys((*station.gives, station.name), mine)
    return found


def _givers(stations: Sequence[Station]) -> tuple[dict[str, str], list[Message]]:
    """Which station gives which column, and a message for every name that is there twice."""
    faults: list[Message] = []
    givers: dict[str, str] = {}
    names: set[str] = set()
    parameters = {f"{s.name}.{p.name}": s.name for s in stations for p in s.parameters}
    for station in stations:
        if station.name in names:
            faults.append(Message("is in the chain twice", key=station.name))
            continue
        names.add(station.name)
        faults += _doubled_parameters(station)
        for column in station.gives:
            other = givers.get(column) or parameters.get(column)
            if other:
                faults.append(Message(f"gives `{column}`, which {other} has already", key=station.name, found=column))
            else:
                givers[column] = station.name
    return givers, faults


def _doubled_parameters(station: Station) -> list[Message]:
    names = [p.name for p in station.parameters]
    twice = sorted({name for name in names if names.count(name) > 1})
    return [Message("is declared twice", key=f"{station.name}.{name}") for name in twice]


def _circles(left: Sequence[Station], givers: Mapping[str, str]) -> list[Message]:
    """One message per circle among the stations that can never start."""
    stuck = {s.name: s for s in left}
    faults: list[Message] = []
    named: set[str] = set()
    for start in stuck:
        path: list[str] = []
        name = start
        while name not in path:  # every stuck station waits for a stuck one, so this walk must close
            path.append(name)
            name = next(n for n in (givers.get(need, "") for need in stuck[name].needs) if n in stuck)
        circle = path[path.index(name) :]
        if not named.intersection(circle):
            named.update(circle)
            text = " needs ".join([*circle, circle[0]])
            faults.append(Message(f"these stations wait for each other: {text}", key=circle[0], found=text))
    return faults
