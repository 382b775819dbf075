"""A sheet against what it may hold: every fault at once, and what was given as parsed values."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message, nearest
from firstoff.sheets.quantity import LARGEST, Quantity, QuantityError, parse
from firstoff.sheets.schema import Key, Section
from firstoff.sheets.toml import Document, KeyPath, read
from firstoff.sheets.units import allowed_units, lookup

_PER = re.compile(r"(\d{1,9}(?:[.,]\d{1,9})?)\s*(?:per|in|/)\s*(\d{1,9})")
_EDGE = 1e-9  # relative; an inch sheet may not fall off a limit by rounding


@dataclass(frozen=True)
class Settled(Mapping[str, Any]):
    """What a sheet gives, by section: a mapping of keys; for a repeated section a list of them; for an open one a
    mapping from name to them. Only what stands in the sheet; defaults are the caller's."""

    sections: Mapping[str, Any]
    document: Document

    def __getitem__(self, section: str) -> Any:
        return self.sections[section]

    def __iter__(self) -> Iterator[str]:
        return iter(self.sections)

    def __len__(self) -> int:
        return len(self.sections)

    def line(self, section: str, *keys: str | int) -> int:
        """Line of a section or of a key in it; entries and names come between: `line("trial", 0, "gauge")`."""
        return self.document.line((*(section.split(".") if section else ()), *keys))


class _Fault(Exception):
    """One value cannot be used; carries the fields of its message."""

    def __init__(self, what: str, **fields: str) -> None:
        super().__init__(what)
        self.what = what
        self.fields = fields


def load(path: str | Path, sections: Sequence[Section], *, sigmas: float = 3.0) -> Settled:
    """Read and check a sheet. InputFault with every fault, when there is one."""
    settled, messages = check(read(path), sections, sigmas=sigmas)
    errors = [message for message in messages if message.level == "error"]
    if errors:
        raise InputFault(errors)
    return settled


def check(document: Document, sections: Sequence[Section], *, sigmas: float = 3.0) -> tuple[Settled, list[Message]]:
    """The parsed values of a sheet, and all that is wrong with it in the order of its lines. A tolerance stands for
    ±`sigmas` standard deviations."""
    checker = _Checker(document, sections, sigmas)
    checker.table(document.data, ())
    checker.missing_sections()
    messages = [*document.remarks, *checker.messages]
    return Settled(checker.settled, document), sorted(messages, key=lambda message: message.line)


class _Checker:
    def __init__(self, document: Document, sections: Sequence[Section], sigmas: float) -> None:
        self.document = document
        self.sections = {section.path: section for section in sections}
        self.sigmas = sigmas
        self.messages: list[Message] = []
        self.settled: dict[str, Any] = {}

    def say(self, path: KeyPath, what: str, **fields: str) -> None:
        key = ".".join(str(part) for part in path if isinstance(part, str))
        self.messages.append(Message(what, self.document.file, self.document.line(path), key, **fields))

    def table(self, table: Mapping[str, Any], path: tuple[str, ...]) -> None:
        """A table that is no section itself: the sheet, or what only holds sections."""
        own = self.sections.get(()) if not path else None
        loose: dict[str, Any] = {}
        for name, value in table.items():
            if not self.inner(value, (*path, name)):
                if own and (_is_key(own, name) or not _is_section(value)):
                    loose[name] = value
                else:
                    self.unknown((*path, name), value, own)
        if own:
            self.settled[""] = self.keys(own, loose, ())

    def inner(self, value: object, path: tuple[str, ...]) -> bool:
        """Whether `path` leads to sections; if so they are checked."""
        if path in self.sections:
            self.section(self.sections[path], value)
            return True
        if any(known[: len(path)] == path for known in self.sections):
            if isinstance(value, Mapping):
                self.table(value, path)
            else:
                self.say(path, "must hold sections", found=_shown(value), allowed=self.headers(path))
            return True
        return False

    def headers(self, above: tuple[str, ...] = ()) -> str:
        inside = [s.header for p, s in self.sections.items() if p[: len(above)] == above and p]
        return ", ".join(inside[:12]) + (", ..." if len(inside) > 12 else "")

    def section(self, section: Section, value: Any) -> None:
        path = section.path
        if section.repeated:
            if isinstance(value, list) and all(isinstance(entry, Mapping) for entry in value):
                self.settled[section.name] = [self.keys(section, e, (*path, i)) for i, e in enumerate(value)]
            else:
                self.say(path, "must be written once per entry", found=_shown(value), allowed=section.header)
        elif not isinstance(value, Mapping):
            self.say(path, "must be a section", found=_shown(value), allowed=section.header)
        elif section.open:
            self.settled[section.name] = {
                name: self.keys(section, entry, (*path, name))
                for name, entry in value.items()
                if self.entry(section, entry, (*path, name))
            }
        else:
            self.settled[section.name] = self.keys(section, value, path)

    def entry(self, section: Section, value: object, path: tuple[str, ...]) -> bool:
        """Whether a value inside an open section is an entry of it."""
        if self.inner(value, path):
            return False
        if not isinstance(value, Mapping):
            self.say(path, "must be a section of its own", found=_shown(value), allowed=section.header)
            return False
        return True

    def keys(self, section: Section, table: Mapping[str, Any], path: KeyPath) -> dict[str, Any]:
        """The parsed keys of one table; a faulty one is left out."""
        known = {key.name: key for key in section.keys}
        found: dict[str, Any] = {}
        for name, raw in table.items():
            if name in known:
                value = self.value(known[name], raw, (*path, name))
                if value is not None:
                    found[name] = value
            elif not (path == section.path and self.inner(raw, (*section.path, name))):
                self.unknown((*path, name), raw, section)
        for key in section.keys:
            if key.required and key.name not in table:
                self.say((*path, key.name), "is missing", allowed=_expected(key))
        return found

    def value(self, key: Key, raw: object, path: KeyPath) -> Any:
        """The parsed value of a key, or None once its faults are said; a list tells the faults of all its entries."""
        if key.type == "quantities" and isinstance(raw, list) and raw:
            one = replace(key, type="quantity")
            values = [self.value(one, entry, (*path, index)) for index, entry in enumerate(raw)]
            return None if None in values else values
        try:
            return _value(key, raw, self.sigmas)
        except _Fault as fault:
            self.say(path, fault.what, **fault.fields)
            return None

    def unknown(self, path: KeyPath, value: object, section: Section | None) -> None:
        """A name nobody asked for: a section, or a key of `section`, or a key outside any section."""
        name = str(path[-1])
        if _is_section(value) and not (section and _is_key(section, nearest(name, _names(section)))):
            full = ".".join(str(part) for part in path if isinstance(part, str))
            known = [s.name for s in self.sections.values() if s.name]
            near = nearest(full, known)
            self.say(path, "is not a known section", allowed=self.headers(), nearest=f"[{near}]" if near else "")
            return
        homes = [s.header for s in self.sections.values() if _is_key(s, name) and s is not section]
        what = f"is not a key of {section.header}" if section else "stands outside any section"
        if homes:
            what += f"; it is a key of {', '.join(homes[:3])}"
        names = _names(section) if section else []
        near = nearest(name, names)
        if not near and not homes:
            everywhere = {key.name: s for s in self.sections.values() for key in s.keys}
            other = nearest(name, everywhere)
            near = f"{other} of {everywhere[other].header}" if other else ""
        self.say(path, what, allowed=", ".join(names) or self.headers(), nearest=near)

    def missing_sections(self) -> None:
        for path, section in self.sections.items():
            value: Any = self.document.data
            for name in path:
                value = value.get(name) if isinstance(value, Mapping) else None
            if section.required and (value is None or value == [] or (section.open and value == {})):
                needed = [key.name for key in section.keys if key.required]
                self.say(path, "is missing", allowed=section.header + (" with " + ", ".join(needed) if needed else ""))


def _names(section: Section) -> list[str]:
    return [key.name for key in section.keys]


def _is_key(section: Section, name: str) -> bool:
    return any(key.name == name for key in section.keys)


def _is_section(value: object) -> bool:
    return isinstance(value, Mapping) or (
        isinstance(value, list) and bool(value) and all(isinstance(entry, Mapping) for entry in value)
    )


def _shown(value: object) -> str:
    """A TOML value as the engineer wrote it, cut short."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value[:60]}{"…" if len(value) > 60 else ""}"'
    if isinstance(value, int) and abs(value) > LARGEST:
        return "a huge number"
    if isinstance(value, Mapping):
        return "a section"
    if isinstance(value, list):
        return "entries [[...]]" if _is_section(value) else "a list"
    return str(value)


def _expected(key: Key) -> str:
    """What may stand behind a key, in words."""
    unit = allowed_units(lookup(key.unit)) if key.unit is not None else ""
    forms = {
        "quantity": unit,
        "quantities": f'a list ["...", "..."], each {unit}',
        "text": " | ".join(key.choices) or "a text in quotes",
        "integer": "a whole number",
        "number": "a number",
        "boolean": "true or false",
        "date": "a date without quotes, e.g. 2026-01-31",
        "table": 'names and texts in quotes, { force = "kN", time = "ms" }',
        "rate": '"15 per 1000", or a number from 0 to 1000 per thousand',
    }
    return f"{forms[key.type]} ({key.what})"


def _value(key: Key, raw: object, sigmas: float) -> Any:
    """The parsed value of one key. _Fault when it cannot be used."""
    match key.type:
        case "quantity":
            return _quantity(key, raw, sigmas)
        case "quantities" if raw == []:
            raise _Fault("is empty", allowed=_expected(key))
        case "integer" | "number":
            return _number(key, raw)
        case "text":
            return _text(key, raw)
        case "rate":
            return _rate(key, raw)
        case "table" if isinstance(raw, Mapping) and raw and all(isinstance(v, str) and v for v in raw.values()):
            return dict(raw)
        case "boolean" if isinstance(raw, bool):
            return raw
        case "date" if isinstance(raw, date) and not isinstance(raw, datetime):
            return raw
    raise _Fault("is of the wrong type", found=_shown(raw), allowed=_expected(key))


def _text(key: Key, raw: object) -> str:
    if not isinstance(raw, str) or not raw.strip():
        raise _Fault("is of the wrong type" if raw != "" else "is empty", found=_shown(raw), allowed=_expected(key))
    if key.choices and raw not in key.choices:
        allowed, near = " | ".join(key.choices), nearest(raw, key.choices)
        raise _Fault("is not one of the choices", found=_shown(raw), allowed=allowed, nearest=near)
    return raw


def _rate(key: Key, raw: object) -> float:
    """So many per thousand: a plain number, or `3 per 200`."""
    found = math.nan
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        found = float(raw)
    elif isinstance(raw, str) and (match := _PER.fullmatch(raw.strip())):
        many, of = (float(text.replace(",", ".")) for text in match.groups())
        found = 1000.0 * many / of if of > 0.0 else math.nan
    if not 0.0 <= found <= 1000.0:  # catches NaN too
        raise _Fault("is not a rate", found=_shown(raw), allowed=_expected(key))
    return found


def _number(key: Key, raw: object) -> int | float:
    right = isinstance(raw, int) if key.type == "integer" else isinstance(raw, int | float)
    if isinstance(raw, bool) or not right or not isinstance(raw, int | float):
        raise _Fault("is of the wrong type", found=_shown(raw), allowed=_expected(key))
    if not abs(raw) <= LARGEST:  # catches NaN too
        raise _Fault("is not a finite number of a usual size", found=_shown(raw), allowed=_expected(key))
    _within(key, float(raw), _shown(raw))
    return raw if key.type == "integer" else float(raw)


def _quantity(key: Key, raw: object, sigmas: float) -> Quantity:
    assert key.unit is not None  # Key sees to it
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        if lookup(key.unit).text != "1":
            raise _Fault("has no unit", found=_shown(raw), allowed=_expected(key))
        if not abs(raw) <= LARGEST:  # catches NaN too
            raise _Fault("is not a finite number of a usual size", found=_shown(raw), allowed=_expected(key))
        raw = str(raw)
    if not isinstance(raw, str):
        raise _Fault("is of the wrong type", found=_shown(raw), allowed=_expected(key))
    try:
        quantity = parse(raw, key.unit, pressure=key.pressure, sigmas=sigmas)
    except QuantityError as fault:
        raise _Fault(fault.what, found=fault.found, allowed=fault.allowed, nearest=fault.nearest) from None
    _within(key, quantity.nominal, quantity.text)
    return quantity


def _within(key: Key, nominal: float, shown: str) -> None:
    """Whether a nominal lies in the key's range."""
    unit = key.unit or "1"
    low, high = (parse(t, unit, pressure=key.pressure).nominal if t else None for t in (key.low, key.high))
    below = low is not None and nominal < low - _EDGE * abs(low)
    above = high is not None and nominal > high + _EDGE * abs(high)
    if below or above:
        both = f"{key.low} to {key.high}"
        allowed = both if key.low and key.high else f"at least {key.low}" if key.low else f"at most {key.high}"
        raise _Fault("is out of range", found=shown, allowed=allowed)
