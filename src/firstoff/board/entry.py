"""Readings as people bring them: typed for one part, pasted from a spreadsheet, uploaded as a file, posted by a rig.

The readings stay one plain CSV file of the launch folder. A new state of it is read whole by the same reader as the
command line's before it takes the place of the old one.
"""

from __future__ import annotations

import csv
import io
import re
import tempfile
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from firstoff.board.launches import NEW_READINGS, Known, Launch, digest
from firstoff.chain.station import Characteristic
from firstoff.errors import InputFault, Message
from firstoff.launch.prove import read_trial
from firstoff.launch.readable import readable, units_of
from firstoff.launch.write import write_bytes, write_text
from firstoff.report.tables import unit_sign
from firstoff.sheets import units
from firstoff.trials.cells import decimal_mark, number, tidy
from firstoff.trials.columns import Column, Header, Units
from firstoff.trials.readings import Trial
from firstoff.trials.readings_csv import read_table

_TYPED = re.compile(r"\s*([+-]?[0-9.,]+(?:[eE][+-]?[0-9]{1,3})?)\s*(.*?)\s*", re.DOTALL)
_NAME = re.compile(r"[^\s=+\-@][^\x00-\x1f\x7f-\x9f\u2028\u2029]{0,59}")
LARGEST_TABLE = 8 * 1024 * 1024  # bytes of an uploaded file
TRIES = 20  # when others write at the same moment
MOST_ROWS = 5000  # of a file that is edited here
WRITING = threading.Lock()  # between looking whether a file is still the one that was shown, and writing it


@dataclass(frozen=True)
class Typed:
    """One typed reading as it is understood."""

    value: float | None  # SI
    text: str  # the number in the characteristic's own unit
    fault: str = ""
    outside: bool = False


def header_of(known: Known) -> Header:
    """Everything that may be read of this launch."""
    assert known.job is not None
    return Header(units_of(readable(known.job, known.plan)), Units(units.to_si, units.same_dimension))


def typed(text: str, c: Characteristic, unit: str = "") -> Typed:
    """A number with decimal point or comma, with or without a unit, held against the limits.

    unit: in which a bare number is meant, and in which it is kept; the characteristic's own when empty.
    """
    expected = f"{c.unit} abs" if c.pressure else c.unit
    kept = unit or expected
    match = _TYPED.fullmatch(tidy(text))
    if match is None:
        return Typed(None, "", "is no number")
    digits, written = match.groups()
    if "," in digits and "." in digits:
        return Typed(None, "", "has a decimal comma and a decimal point")
    known = Units(units.to_si, units.same_dimension)
    wrong = known.fault(written or kept, expected)
    if wrong:
        return Typed(None, "", f"{wrong}; allowed: {unit_sign(expected)}")
    try:
        value = known.to_si(number(digits, "," if "," in digits else "."), written or kept)
        zero, one = known.to_si(0.0, kept), known.to_si(1.0, kept)
    except ValueError as error:
        return Typed(None, "", str(error))
    shown = digits.replace(",", ".") if not written or written == kept else f"{(value - zero) / (one - zero):.10g}"
    outside = (c.low is not None and value < c.low) or (c.high is not None and value > c.high)
    return Typed(value, shown, "", outside)


@dataclass(frozen=True)
class Sheet:
    """A CSV file of readings, cell by cell, as it will be written again."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    columns: tuple[Column, ...]
    separator: str = ","
    mark: str = "."

    @property
    def wide(self) -> bool:
        return all(c.kind not in ("characteristic", "value") for c in self.columns)

    def at(self, kind: str, name: str = "") -> int | None:
        """The place of a column."""
        return next((i for i, c in enumerate(self.columns) if c.kind == kind and c.name == name), None)

    def cell(self, row: int, kind: str, name: str = "") -> str:
        at = self.at(kind, name)
        cells = self.rows[row]
        return cells[at] if at is not None and at < len(cells) else ""

    def with_column(self, cell: str, column: Column) -> Sheet:
        return replace(self, header=(*self.header, cell), columns=(*self.columns, column))

    def text(self) -> str:
        out = io.StringIO()
        writer = csv.writer(out, delimiter=self.separator, lineterminator="\n")
        writer.writerow(self.header)
        writer.writerows([*row, *[""] * (len(self.header) - len(row))] for row in self.rows)
        return out.getvalue()


def read_sheet(data: bytes, file: str, known: Known) -> Sheet:
    """The cells of a CSV text. Raises InputFault with every fault of its header."""
    header = header_of(known)
    table = read_table(data, file, header.known)
    columns, faults = header.read(table.header, file, table.header_line)
    if len(table.rows) > MOST_ROWS:
        faults.append(Message("is too long to be edited here", file=file, allowed=f"up to {MOST_ROWS} lines"))
    if faults:
        raise InputFault(faults)
    rows = tuple(tuple(str(cell) for cell in row.cells) for row in table.rows)
    separator = ";" if table.comma_likely else "\t" if b"\t" in data.splitlines()[table.header_line - 1] else ","
    numeric = [i for i, c in enumerate(columns) if c.kind in ("reading", "value", "temperature")]
    mark, _ = decimal_mark((row[i] for row in rows for i in numeric if i < len(row)), table.comma_likely)
    return Sheet(table.header, rows, tuple(columns), separator, mark)


def sheet_of(launch: Launch, known: Known) -> Sheet | None:
    """The readings of a launch for editing: an empty sheet when there are none, None for a workbook or another form."""
    if launch.readings is None:
        header = ("part", "lot", "gauge", "temperature [degC]")
        kinds = ("part", "lot", "gauge", "temperature")
        columns = (Column(k, h, "", "degC" if "[" in h else "") for k, h in zip(kinds, header, strict=True))
        return Sheet(header, (), tuple(columns))
    if launch.readings.suffix.lower() != ".csv":
        return None
    sheet = read_sheet(launch.readings.read_bytes(), launch.readings.name, known)
    return sheet if sheet.wide else None


def with_part(
    sheet: Sheet, known: Known, row: int | None, names: Mapping[str, str], values: Mapping[str, str]
) -> Sheet:
    """The sheet with one part's line written (`row`) or added (None). InputFault for each value that is none.

    names: part, lot, gauge, temperature; values: characteristic -> as typed. What is empty is no reading.
    """
    assert known.job is not None
    faults = [_name_fault(kind, text) for kind, text in names.items() if kind != "temperature"]
    wrong = [fault for fault in faults if fault is not None]
    everything = readable(known.job, known.plan)
    cells = list(sheet.rows[row]) if row is not None else []
    said = {**{(kind, ""): text for kind, text in names.items()}, **{("reading", n): t for n, t in values.items()}}
    for (kind, name), text in said.items():
        at = sheet.at(kind, name)
        if at is None and not text.strip():
            continue
        if at is None:
            unit = f"{everything[name].unit}{' abs' if everything[name].pressure else ''}" if name else "degC"
            label = f"{name or kind} [{unit}]" if kind in ("reading", "temperature") else kind
            sheet = sheet.with_column(label, Column(kind, label, name, unit))
            at = len(sheet.columns) - 1
        cells += [""] * (at + 1 - len(cells))
        shown = tidy(text)
        if shown and kind in ("reading", "temperature"):
            c = everything[name] if name else Characteristic("temperature", "degC", "temperature")
            found = typed(shown, c, sheet.columns[at].unit)
            if found.fault:
                wrong.append(Message(found.fault, key=name or kind, found=text[:40]))
            shown = found.text.replace(".", sheet.mark)
        cells[at] = shown
    if wrong:
        raise InputFault(wrong)
    rows = list(sheet.rows)
    if row is None:
        rows.append(tuple(cells))
    else:
        rows[row] = tuple(cells)
    return replace(sheet, rows=tuple(rows))


def _name_fault(kind: str, text: str) -> Message | None:
    if not text and kind != "part":
        return None
    if _NAME.fullmatch(text):
        return None
    return Message("is no name", key=kind, found=text[:40], allowed="up to 60 signs, not beginning with = + - @")


def merged(sheet: Sheet, more: Sheet, known: Known) -> Sheet:
    """The sheet with the lines of a pasted one added, each value in the unit of its column here."""
    if not more.wide:
        raise InputFault([Message("has one reading a line; paste one part a line", key="pasted")])
    if more.at("trace") is not None:
        raise InputFault([Message("names traces; upload the file, with the traces in the launch folder", key="trace")])
    for i, row in enumerate(more.rows):
        names = {c.kind: row[j] if j < len(row) else "" for j, c in enumerate(more.columns)
                 if c.kind in ("part", "lot", "gauge", "temperature", "group", "time")}  # fmt: skip
        values = {}
        for j, c in enumerate(more.columns):
            text = row[j] if j < len(row) else ""
            if c.kind == "reading" and text:
                values[c.name] = f"{text} {c.unit}" if c.unit not in ("", "1") else text
        try:
            sheet = with_part(sheet, known, None, names, values)
        except InputFault as fault:
            raise InputFault([replace(m, line=i + 2) for m in fault.messages]) from fault
    return sheet


def tried(data: bytes, name: str, known: Known) -> Trial:
    """What the reader makes of a file that is not there yet. Raises InputFault, naming it as it will be called."""
    assert known.job is not None
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / name
        file.write_bytes(data)
        try:
            found = read_trial(known.job, known.plan, file)
        except InputFault as fault:
            raise InputFault(renamed(fault.messages, folder, "")) from fault
    return replace(found, messages=renamed(found.messages, folder, ""))


def renamed(messages: Sequence[Message], folder: str | Path, to: str) -> tuple[Message, ...]:
    """Messages whose file is named without its place on this machine."""
    lead = f"{folder}/"
    return tuple(replace(m, file=m.file.replace("\\", "/").replace(lead, to)) for m in messages)


class Changed(Exception):
    """Somebody else wrote the file since it was shown."""


def store(launch: Launch, text: str, shown: str) -> Path:
    """Write the readings file, if it is still the one whose digest was shown; raises Changed."""
    file = launch.readings or launch.folder / NEW_READINGS
    with WRITING:
        if digest(file) != shown:
            raise Changed
        return write_text(file, text)


def store_upload(launch: Launch, name: str, data: bytes) -> Path:
    """Keep an uploaded file under its own, harmless name; never over another file."""
    stem = re.sub(r"[^A-Za-z0-9_-]+", "_", Path(name.replace("\\", "/")).stem)[:40].strip("_") or "readings"
    suffix = ".xlsx" if data.startswith(b"PK\x03\x04") else ".csv"
    with WRITING:
        taken = {file.name for file in launch.folder.iterdir()}
        names = [f"{stem}{suffix}", *(f"{stem}-{n}{suffix}" for n in range(2, 1000))]
        free = next(each for each in names if each not in taken)
        return write_bytes(launch.folder / free, data)
