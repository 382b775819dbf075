"""Reads the file of a gauge study: who measured or sorted which part, what came out, and what it should have been."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from firstoff.errors import Message, nearest
from firstoff.sheets.units import QuantityError, same_dimension, to_si
from firstoff.trials import readings_csv, readings_xlsx
from firstoff.trials.cells import Bad, Cell, decimal_mark, is_missing_word, number
from firstoff.trials.columns import plain, split_header
from firstoff.trials.table import Row, Table, load, raise_if, refuse

WORDS = {
    "part": "part", "appraiser": "appraiser", "person": "appraiser", "operator": "appraiser", "trial": "trial",
    "value": "value", "reading": "value", "reference": "reference", "verdict": "verdict", "decision": "verdict",
    "time": "time", "note": "note",
}  # fmt: skip
NUMBERS = ("value", "reference")
ALLOWED = "part, appraiser, trial, value [unit], reference [unit], verdict, time, note"


@dataclass(frozen=True)
class Entry:
    """One line of a study, SI. Empty or None where the file has no such column."""

    line: int
    part: str
    appraiser: str
    trial: str
    value: float | None
    reference: float | None
    verdict: str
    right: str  # the reference of a verdict


@dataclass(frozen=True)
class StudyFile:
    """The lines of a study. `unit` is that of the values, as written; empty for verdicts."""

    file: str
    unit: str
    entries: tuple[Entry, ...]
    columns: frozenset[str]


def read_study(path: Path, unit: str | None = None, table: str | None = None) -> StudyFile:
    """The study in a CSV or xlsx file; `unit` that the values must be convertible to, `table` a sheet of a workbook.

    Raises InputFault with every fault: columns, units, cells, by line.
    """
    found = _table(path, table)
    names, units, faults = _header(found, unit)
    raise_if(faults, found.file)
    at = {name: i for i, name in enumerate(names) if name}
    of_verdicts = "verdict" in at
    cells = [row.cells[at[n]] for row in found.rows for n in NUMBERS if n in at and at[n] < len(row.cells)]
    mark, _ = decimal_mark([] if of_verdicts else cells, found.comma_likely)
    entries: list[Entry] = []
    for row in found.rows:
        texts: dict[str, str] = {}
        values: dict[str, float] = {}
        for name, i in at.items():
            cell: Cell = row.cells[i] if i < len(row.cells) else ""
            if name in NUMBERS and not of_verdicts:
                try:
                    values[name] = to_si(number(cell, mark), units[name])
                except ValueError as error:
                    faults.append(_fault(found, row, name, "is empty" if cell == "" else str(error), cell))
            else:
                text = f"{cell:.15g}" if isinstance(cell, float) else "" if isinstance(cell, Bad) else cell
                needed = name in ("part", "appraiser", "verdict", "reference")
                if needed and (not text or is_missing_word(text)):
                    faults.append(_fault(found, row, name, "is empty", cell))
                texts[name] = text
        entries.append(
            Entry(row.line, texts.get("part", ""), texts.get("appraiser", ""), texts.get("trial", ""),
                  values.get("value"), values.get("reference"), _category(texts.get("verdict", "")),
                  _category(texts.get("reference", "")) if of_verdicts else "")
        )  # fmt: skip
    raise_if(faults, found.file)
    if not entries:
        raise refuse(found.file, "has no lines under its header", allowed="one line a reading or verdict")
    return StudyFile(found.file, units.get("value", ""), tuple(entries), frozenset(at))


def _category(text: str) -> str:
    return " ".join(text.lower().split())


def _table(path: Path, table: str | None) -> Table:
    data, file = load(path), str(path)
    if data.startswith(b"PK\x03\x04") or path.suffix.lower() in (".xlsx", ".xlsm"):
        return readings_xlsx.read_table(data, file, table)
    if table is not None:
        raise refuse(file, "is a text file and has no sheets", found=table)
    return readings_csv.read_table(data, file, _known)


def _known(cells: tuple[str, ...]) -> int:
    return sum(plain(split_header(cell)[0]) in WORDS for cell in cells)


def _header(table: Table, unit: str | None) -> tuple[list[str], dict[str, str], list[Message]]:
    names: list[str] = []
    units: dict[str, str] = {}
    faults: list[Message] = []

    def fault(key: str, what: str, **more: str) -> None:
        faults.append(Message(what, table.file, table.header_line, key, **more))

    for cell in table.header:
        written, of = split_header(cell)
        name = WORDS.get(plain(written), "")
        if written and not name:
            fault(cell, "is an unknown column", allowed=ALLOWED, nearest=nearest(plain(written), WORDS))
        if name in names and name:
            fault(cell, "is there twice")
        names.append(name)
        if name in NUMBERS:
            units[name] = of or "1"
    if "verdict" in names:
        _need(names, ("part", "appraiser"), fault)
        if "value" in names:
            fault("verdict", "stands beside value: a study is of readings or of verdicts", allowed="two files")
    elif "value" not in names:
        fault("value", "is missing", allowed="a column value [unit], or verdict for parts that were sorted")
    elif not {"part", "reference"} & set(names):
        fault("part", "is missing", allowed="a column part, or reference [unit]")
    if "verdict" not in names:
        _units(units, unit, fault)
    return names, units, faults


def _need(names: Sequence[str], wanted: Sequence[str], fault: Callable[..., None]) -> None:
    for name in wanted:
        if name not in names:
            fault(name, "is missing", allowed=ALLOWED)


def _units(units: dict[str, str], wanted: str | None, fault: Callable[..., None]) -> None:
    try:
        for name, unit in units.items():
            against = wanted or units.get("value", unit)
            if not same_dimension(unit, against):
                fault(name, "has a unit of the wrong kind", found=unit, allowed=f"{name} [{against}]")
    except QuantityError as error:
        fault("value", error.what, found=error.found, nearest=error.nearest)


def _fault(table: Table, row: Row, name: str, what: str, cell: Cell) -> Message:
    shown = cell.found if isinstance(cell, Bad) else f"{cell:g}" if isinstance(cell, float) else cell
    return Message(what, table.file, row.line, name, shown[:40])


def complete(file: StudyFile) -> dict[tuple[str, str], list[Entry]]:
    """(appraiser, part) -> entries, in the order in which they first came. InputFault for gaps, each named."""
    cells: dict[tuple[str, str], list[Entry]] = {}
    for entry in file.entries:
        cells.setdefault((entry.appraiser, entry.part), []).append(entry)
    people, parts = (list(dict.fromkeys(key[i] for key in cells)) for i in (0, 1))
    sizes = [len(of) for of in cells.values()]
    usual = max(set(sizes), key=sizes.count)
    faults = []
    for person in people:
        for part in parts:
            count = len(cells.get((person, part), ()))
            if count != usual:
                who = f"{person}, part {part}" if person else f"part {part}"
                where = cells[person, part][-1].line if count else 0
                what = "is not measured as often as the others: the study is not whole"
                faults.append(Message(what, file.file, where, who, str(count), f"{usual} times"))
    raise_if(faults, file.file)
    return {(person, part): cells[person, part] for person in people for part in parts}
