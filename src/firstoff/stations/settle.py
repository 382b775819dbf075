"""From declared parameters and two sheets to settled values: nominal, lot and part scatter, and who says so."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from firstoff.chain.station import Characteristic, Parameter, Station, Value
from firstoff.errors import InputFault, Message
from firstoff.sheets.quantity import Quantity, parse
from firstoff.sheets.schema import Key, Section
from firstoff.sheets.spread import Spread
from firstoff.sheets.units import format_number, format_value, same_dimension, size_from_si

NEEDED = "is needed to plan this station and has no default"


@dataclass(frozen=True)
class Capability:
    """Measured scatter of one parameter, from the plant sheet. It outranks a tolerance on the drawing."""

    lot_sd: float | None  # None: not measured, the drawing's share stays
    part_sd: float | None
    source: str


@dataclass(frozen=True)
class Settings:
    """What the sheets say about the stations: the model sheet and the plant sheet, merged."""

    given: Mapping[str, Quantity]  # `station.parameter` -> quantity
    origin: Mapping[str, str]  # `station.parameter` -> file:line
    capability: Mapping[str, Capability] = field(default_factory=dict)
    limits: Mapping[str, Characteristic] = field(default_factory=dict)  # by characteristic, from the model sheet
    speeds: tuple[float, ...] = ()  # of the customer's table, m/s, ascending, positive
    file: str = ""
    drawing: Any = None  # of the family's own kind, where its sheet draws the part


def section_of(station: Station) -> Section:
    """The sheet section of a station, made from its declared parameters."""
    keys = tuple(
        Key(p.name, p.unit, p.what, low=p.low, high=p.high, pressure=p.pressure, default=p.default)
        for p in station.parameters
    )
    return Section(station.name, keys, station.title)


def settle(station: Station, settings: Settings) -> tuple[Value, ...]:
    """Every parameter of the station as a value. Raises InputFault naming each one that is nowhere given."""
    missing = [
        Message(
            NEEDED,
            file=settings.file,
            key=f"{station.name}.{p.name}",
            allowed=f"{p.what}, {_measure(p)}",
        )
        for p in station.parameters
        if p.default is None and f"{station.name}.{p.name}" not in settings.given
    ]
    if missing:
        raise InputFault(missing)
    return tuple(_value(station.name, p, settings) for p in station.parameters)


def _measure(parameter: Parameter) -> str:
    if parameter.whole:
        return "a whole number"
    return f"in {parameter.unit}" if parameter.unit != "1" else "a plain number"


def beyond(parameter: Parameter, value: Value) -> bool:
    """Whether the ordinary scatter of a value (mean ± 3 sd, the ends of a uniform one) leaves its parameter's range."""
    levels = [spread for spread in (value.lot, value.part) if spread]
    reach = math.hypot(*((math.sqrt(3.0) if s.shape == "uniform" else 3.0) * s.sd for s in levels))
    mean = value.nominal + sum(s.offset for s in levels)
    low, high = (
        parse(text, parameter.unit, pressure=parameter.pressure).nominal if text else None
        for text in (parameter.low, parameter.high)
    )
    slack = 1e-9 * abs(mean)  # rounding; a range may end where the scatter does
    return bool(levels) and (
        (low is not None and mean - reach < low - slack) or (high is not None and mean + reach > high + slack)
    )


def nominals(stations: Sequence[Station], settings: Settings) -> dict[str, float]:
    """Every nominal that is stated or has a default, SI by `station.parameter`."""
    found: dict[str, float] = {}
    for station in stations:
        for p in station.parameters:
            name = f"{station.name}.{p.name}"
            if name in settings.given:
                found[name] = settings.given[name].nominal
            elif p.default is not None:
                found[name] = parse(p.default, p.unit, pressure=p.pressure).nominal
    return found


def _value(station: str, parameter: Parameter, settings: Settings) -> Value:
    name = f"{station}.{parameter.name}"
    quantity = settings.given.get(name)
    declared = quantity is not None
    if quantity is None:
        assert parameter.default is not None  # settle() has refused the others
        quantity = parse(parameter.default, parameter.unit, pressure=parameter.pressure)
    where = settings.origin.get(name, "sheet") if declared else parameter.source or "assumed: default"
    value = Value(name, quantity.nominal, parameter.unit, parameter.kind, source=where, assumed=not declared)
    if parameter.follows:
        value = replace(value, follows=f"{station}.{parameter.follows}", correlation=parameter.correlation)
    drawn = _with_scatter(value, quantity, parameter, where)
    measured = settings.capability.get(name)
    return _measured(drawn, quantity, measured) if measured is not None else drawn


def _measured(drawn: Value, quantity: Quantity, measured: Capability) -> Value:
    """Measured scatter in the place of the drawn, level by level; the mean stays where the tolerance puts it."""
    offset = sum(s.offset for s in (quantity.total, quantity.lot, quantity.part) if s)
    lot, part = drawn.lot, drawn.part
    if measured.lot_sd is not None:
        lot = _spread(measured.lot_sd, measured.source)
    elif lot is not None:
        lot = replace(lot, offset=0.0)
    if measured.part_sd is not None:
        part = _spread(measured.part_sd, measured.source, offset)
    else:
        part = replace(part, offset=offset) if part else _spread(0.0, measured.source, offset)
    whole = measured.lot_sd is not None and measured.part_sd is not None
    scatter_assumed = not whole and drawn.assumed
    return replace(drawn, lot=lot, part=part, assumed=scatter_assumed)


def _with_scatter(value: Value, quantity: Quantity, parameter: Parameter, where: str) -> Value:
    total = quantity.total
    read_out = "; assumed: the tolerance stands for ±3 sd" if quantity.from_tolerance else ""
    if quantity.lot or quantity.part:
        source = where + read_out
        assumed = value.assumed or quantity.from_tolerance
        return replace(value, lot=_sourced(quantity.lot, source), part=_sourced(quantity.part, source), assumed=assumed)
    if total is None:
        return value
    if total.shape == "uniform":
        # a range has ends: split over two levels it would lose them, so it lives at the level that carries most
        whole = replace(total, source=f"{where}; assumed: every value of the range is equally likely")
        if parameter.lot_share >= 0.5:
            return replace(value, assumed=True, lot=whole)
        return replace(value, assumed=True, part=whole)
    # A stated total is split so that the variances of lot and part add up to it; the split itself is assumed.
    share = parameter.lot_share
    source = where + read_out
    if share:
        source += f"; assumed: {share:.0%} of the variance lies between lots"
    lot = _spread(total.sd * math.sqrt(share), source)
    part = Spread(total.sd * math.sqrt(1.0 - share), source, total.shape, total.offset)
    return replace(value, lot=lot, part=part, assumed=value.assumed or bool(share) or quantity.from_tolerance)


def _spread(sd: float, source: str, offset: float = 0.0) -> Spread | None:
    return Spread(sd, source, offset=offset) if sd > 0 or offset else None


def _sourced(spread: Spread | None, where: str) -> Spread | None:
    return replace(spread, source=where) if spread else None


def setting_lines(station: Station, values: Sequence[Value]) -> tuple[tuple[str, str], ...]:
    """What the station is set to, with the ordinary scatter (3 sd) of each setting: lines of its setup sheet."""
    lines = []
    for parameter, value in zip(station.parameters, values, strict=True):
        if parameter.kind != "setting":
            continue
        text = format_value(value.nominal, parameter.unit, 6)
        text += " abs" if parameter.pressure else ""
        sd = math.hypot(*(s.sd for s in (value.lot, value.part) if s))
        if sd:
            unit = "K" if parameter.unit == "degC" else parameter.unit
            text += f", ordinary scatter ±{format_number(size_from_si(3.0 * sd, parameter.unit), 2)} {unit}"
        lines.append((parameter.name.replace("_", " "), text))
    return tuple(lines)


def limited(gives: Sequence[Characteristic], settings: Settings) -> tuple[Characteristic, ...]:
    """The station's characteristics with the model sheet's limits put in. InputFault when they do not fit together."""
    found, faults = [], []
    for c in gives:
        limit = settings.limits.get(c.name)
        if limit is None:
            found.append(c)
            continue
        if not same_dimension(limit.unit, c.unit):
            what, allowed = "has limits of another dimension than the station computes", f"a unit like {c.unit}"
            faults.append(_limit_fault(settings, c, what, limit.unit, allowed))
        elif c.pressure and not limit.pressure and (limit.low, limit.high) != (None, None):
            faults.append(_limit_fault(settings, c, "must say which pressure it is", limit.unit, "gauge or abs"))
        found.append(replace(c, unit=limit.unit, low=limit.low, high=limit.high, safety=limit.safety))
    if faults:
        raise InputFault(faults)
    return tuple(found)


def _limit_fault(settings: Settings, c: Characteristic, what: str, found: str, allowed: str) -> Message:
    return Message(what, settings.file, key=f"characteristics.{c.name}", found=found, allowed=allowed)
