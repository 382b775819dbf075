"""What each column of a readings file is, by its header: part, lot, ..., or a characteristic with its unit."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from firstoff.errors import Message, nearest

TEXT_COLUMNS = ("part", "lot", "group", "gauge", "time", "trace")
NOT_READ = ("step", "limits", "note")  # of a first-off sheet: for the eye
LONG_COLUMNS = ("characteristic", "value", "unit")
ATMOSPHERE = 101_325.0  # Pa, standard atmosphere (ISO 2533), added to a gauge pressure
_REFERENCE = re.compile(r"(.*\S)\s+(gauge|abs|absolute)", re.IGNORECASE)
_ROUND = re.compile(r"(.*?)\s*\(([^()]*)\)", re.DOTALL)
_BRACKETS = re.compile(r"(.*?)\s*\[([^\[\]]*)\]", re.DOTALL)

Convert = Callable[[float, str], float]
SameDimension = Callable[[str, str], bool]


def plain(name: str) -> str:
    """A name as compared: lower case, blanks and underscores alike, 0,52 as 0.52."""
    return re.sub(r"(?<=\d),(?=\d)", ".", re.sub(r"[\s_]+", "_", name.strip().lower()))


def split_header(cell: str) -> tuple[str, str | None]:
    """`rebound_0.52 [N]` as name and unit; the unit is None without brackets."""
    match = _BRACKETS.fullmatch(cell.strip())
    return (match.group(1).strip(), match.group(2).strip()) if match else (cell.strip(), None)


@dataclass(frozen=True)
class Units:
    """Conversion to SI by two functions, remembered per unit: `value * factor + offset`.

    A pressure's unit says which pressure it is: `bar gauge`, `MPa abs`.
    """

    convert: Convert
    same_dimension: SameDimension
    _known: dict[str, tuple[float, float] | None] = field(default_factory=dict)

    def fault(self, unit: str | None, expected: str) -> str:
        """What is wrong with `unit` where `expected` is the trade's unit; empty when nothing is."""
        expected = _unit(expected)
        if unit is None:
            return "" if expected == "1" else "has no unit"
        unit = _unit(unit)
        if unit == expected:
            return ""
        (unit, which), (expected, wanted) = _reference(unit), _reference(expected)
        if wanted and not which:
            return "does not say gauge or absolute"
        if which and not wanted:
            return f"says {which}, which this value is not"
        try:
            if not self.same_dimension(unit, expected):
                return "has a unit of the wrong kind"
            # a temperature difference has the dimension of a temperature, but not its zero
            if ("delta" in unit) != ("delta" in expected) and (self.to_si(0.0, unit) or self.to_si(0.0, expected)):
                return "mixes a temperature with a temperature difference"
        except ValueError:
            return "has an unknown unit"
        return ""

    def to_si(self, value: float, unit: str) -> float:
        """SI value; ValueError when it is not finite or the unit is unknown."""
        unit, which = _reference(_unit(unit))
        shift = ATMOSPHERE if which == "gauge" else 0.0
        if unit not in self._known:
            offset, one, many = (self.convert(x, unit) for x in (0.0, 1.0, 1024.0))
            factor = one - offset if offset else one
            straight = abs(offset + 1024.0 * factor - many) <= 1e-9 * abs(many)
            self._known[unit] = (factor, offset) if straight else None
        line = self._known[unit]
        found = shift + (value * line[0] + line[1] if line else self.convert(value, unit))
        if not abs(found) < float("inf"):
            raise ValueError("is too large")
        return found


def _unit(text: str) -> str:
    return "1" if text.strip() in ("", "-", "1") else text.strip()


def _reference(unit: str) -> tuple[str, str]:
    """`bar gauge` as `bar` and `gauge`; the second is empty when nothing is said."""
    match = _REFERENCE.fullmatch(unit)
    if match is None:
        return unit, ""
    return match.group(1), "gauge" if match.group(2).lower() == "gauge" else "absolute"


def bare(unit: str) -> str:
    """`bar` for `bar gauge` or `bar abs`: the unit without the pressure it counts from."""
    return _reference(_unit(unit))[0]


@dataclass(frozen=True)
class Column:
    """`kind` is a column's own name, one of NOT_READ among them, or `reading`; empty without a header."""

    kind: str
    header: str
    name: str = ""  # of the characteristic
    unit: str = ""


@dataclass(frozen=True)
class Header:
    """Reads header cells against the characteristics (name -> the trade's unit)."""

    characteristics: Mapping[str, str]
    units: Units

    @cached_property
    def names(self) -> dict[str, str]:
        return {plain(name): name for name in self.characteristics}

    def known(self, cells: tuple[str, ...]) -> int:
        """How many cells are recognised; used to tell the separator."""
        words = {*TEXT_COLUMNS, *LONG_COLUMNS, "temperature", *self.names}
        return sum(plain(split_header(cell)[0]) in words for cell in cells)

    def read(self, cells: tuple[str, ...], file: str, line: int) -> tuple[list[Column], list[Message]]:
        """The columns, and every fault of the header."""
        columns, faults = [], []
        long_form = {"characteristic", "value"} <= {plain(split_header(cell)[0]) for cell in cells}
        for cell in cells:
            column, fault = self._column(cell, long_form)
            columns.append(column)
            if fault is not None:
                faults.append(replace(fault, file=file, line=line, key=cell.strip()))
        kinds = [column.kind for column in columns]
        seen = [(column.kind, column.name) for column in columns]
        for i, column in enumerate(columns):
            if column.kind and seen[i] in seen[:i]:
                faults.append(Message("is there twice", file=file, line=line, key=column.header.strip()))
        if "part" not in kinds:
            faults.append(
                Message("is missing", file=file, line=line, key="part", allowed="a column with the part's number")
            )
        if not faults and not {"reading", "value", "trace"} & set(kinds):
            allowed = ", ".join(f"{name} [{unit}]" for name, unit in list(self.characteristics.items())[:8])
            faults.append(Message("has no column with readings", file=file, line=line, allowed=allowed))
        return columns, faults

    def _column(self, cell: str, long_form: bool) -> tuple[Column, Message | None]:
        written, unit = split_header(cell)
        word = plain(written)
        if not word and unit is None:
            return Column("", cell), None
        if word in self.names:
            return self._reading(cell, self.names[word], unit)
        if word == "temperature":
            what = self.units.fault(unit, "degC")
            fault = Message(what, found=unit or "none", allowed="temperature [degC] or [K]")
            return Column("temperature", cell, unit=unit or "degC"), fault if what else None
        if (word in TEXT_COLUMNS or (long_form and word in LONG_COLUMNS)) and (unit is None or word == "value"):
            return Column(word, cell, unit=unit or ""), None
        if word in NOT_READ and unit is None:
            return Column(word, cell), None
        round_ones = _ROUND.fullmatch(written)
        if round_ones and plain(round_ones.group(1)) in {*self.names, "temperature"}:
            right = f"{self.names.get(plain(round_ones.group(1)), 'temperature')} [{round_ones.group(2)}]"
            return Column("", cell), Message("has its unit in round brackets", allowed=f"square ones: {right}")
        known = [*TEXT_COLUMNS, "temperature", *(LONG_COLUMNS if long_form else ()), *self.characteristics]
        allowed = ", ".join(known) if len(known) <= 14 else ""
        return Column("", cell), Message(
            "is an unknown column", allowed=allowed, nearest=self._with_unit(written, known)
        )

    def _with_unit(self, written: str, known: list[str]) -> str:
        """The nearest known column as it would be written, a characteristic with its unit."""
        near = nearest(written, known)
        unit = "degC" if near == "temperature" else self.characteristics.get(near, "1")
        return near if unit == "1" else f"{near} [{unit}]"

    def _reading(self, cell: str, name: str, unit: str | None) -> tuple[Column, Message | None]:
        expected = self.characteristics[name]
        column = Column("reading", cell, name, unit if unit is not None else expected)
        what = self.units.fault(unit, expected)
        if not what:
            return column, None
        return column, Message(what, found=unit if unit is not None else "none", allowed=f"{name} [{expected}]")
