"""From the rows of a table to readings, with every fault and remark named by line and column."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from typing import Any

from firstoff.errors import Message, counted, nearest
from firstoff.trials.cells import Bad, Cell, Mark, decimal_mark, is_missing_word, number
from firstoff.trials.columns import TEXT_COLUMNS, Column, Header, plain
from firstoff.trials.readings import Reading
from firstoff.trials.table import Row, Table


@dataclass
class _Work:
    """What is gathered while the rows are read."""

    table: Table
    columns: list[Column]
    header: Header
    mark: Mark
    readings: list[Reading] = field(default_factory=list)
    named: list[Reading] = field(default_factory=list)
    faults: list[Message] = field(default_factory=list)
    empty: int = 0
    missing: list[tuple[int, str]] = field(default_factory=list)  # line, word
    converted: dict[str, None] = field(default_factory=dict)  # remarks, in order

    def fault(self, row: Row, key: str, what: str, cell: Cell = "", allowed: str = "", near: str = "") -> None:
        self.faults.append(Message(what, self.table.file, row.line, key, _shown(cell), allowed, near))


def interpret(
    table: Table, columns: list[Column], header: Header
) -> tuple[list[Reading], list[Reading], list[Message], list[Message]]:
    """Readings, rows that name traces, faults, remarks.

    A line that is there twice counts once; different values of one part are repeats."""
    table, remarks = _filled(table, columns)
    numeric = [i for i, c in enumerate(columns) if c.kind in ("reading", "value", "temperature")]
    cells = (row.cells[i] for row in table.rows for i in numeric if i < len(row.cells))
    mark, sure = decimal_mark(cells, table.comma_likely)
    work = _Work(table, columns, header, mark)
    rows, doubled = _without_doubles(table)
    remarks += doubled
    for row in rows:
        _read_row(work, row)
    if not sure:
        remarks.append(_remark(table, "every comma was read as a decimal comma; none of them proves it"))
    if work.empty:
        remarks.append(_remark(table, f"{_taken(work.empty, 'empty cell')} as no reading"))
    if work.missing:
        lines = ", ".join(dict.fromkeys(str(line) for line, _ in work.missing[:10]))
        words = ", ".join(dict.fromkeys(word for _, word in work.missing))
        place = "lines" if "," in lines else "line"
        remarks.append(_remark(table, f"{_taken(len(work.missing), 'cell')} as no reading: {words}; {place} {lines}"))
    remarks += [_remark(table, text) for text in work.converted]
    return work.readings, work.named, work.faults, remarks + _lots(work, rows) + _repeats(work)


def _taken(count: int, word: str) -> str:
    return f"{counted(count, word)} {'was' if count == 1 else 'were'} taken"


def _remark(table: Table, what: str, line: int = 0, key: str = "") -> Message:
    return Message(what, file=table.file, line=line, key=key, level="remark")


def _shown(cell: Cell) -> str:
    text = cell.found if isinstance(cell, Bad) else cell if isinstance(cell, str) else f"{cell:.10g}"
    return text if len(text) <= 40 else text[:37] + "..."


def _without_doubles(table: Table) -> tuple[list[Row], list[Message]]:
    first: dict[tuple[Cell, ...], int] = {}
    rows, remarks = [], []
    for row in table.rows:
        cells = row.cells
        while cells and cells[-1] == "":
            cells = cells[:-1]
        if cells in first:
            what = f"repeats line {first[cells]} in every cell and was left out"
            remarks.append(_remark(table, what, row.line))
        else:
            first[cells] = row.line
            rows.append(row)
    return rows, remarks


def _filled(table: Table, columns: list[Column]) -> tuple[Table, list[Message]]:
    """The table with the names of merged cells written into each of their lines, and a remark for every merged area.

    A merged part, lot, group or gauge stands for all its lines, as the eye reads it; a merged reading for none but the
    first: nobody knows whether it was taken once or several times.
    """
    remarks: list[Message] = []
    rows = {row.line: list(row.cells) for row in table.rows}
    for area in table.merged:
        at = area.first_column
        inside = [line for line in rows if area.first_line <= line <= area.last_line]
        if not inside or at >= len(columns):
            continue
        column = columns[at]
        top = rows[inside[0]][at] if at < len(rows[inside[0]]) else ""
        named = column.kind in TEXT_COLUMNS and at == area.last_column and top != ""
        what = "merged cells: their value was read for the first of them only"
        if named:
            what = f"merged cells: {column.kind} {_shown(top)} was read for lines {inside[0]} to {inside[-1]}"
            for line in inside:
                rows[line] += [""] * (at + 1 - len(rows[line]))
                rows[line][at] = top
        remarks.append(_remark(table, what, inside[0], area.name))
    return replace(table, rows=tuple(Row(line, tuple(cells)) for line, cells in rows.items())), remarks


def _lots(work: _Work, rows: list[Row]) -> list[Message]:
    """Remarks on lots that were left empty beside others, and on lots that differ by their writing only."""
    table = work.table
    at = next((i for i, c in enumerate(work.columns) if c.kind == "lot"), None)
    if at is None:
        return []
    lots = {row.line: (_label(row.cells[at], "lot") or "") if at < len(row.cells) else "" for row in rows}
    remarks: list[Message] = []
    empty = [table.cell_name(line, at) for line, lot in lots.items() if not lot]
    if empty and len(empty) < len(lots):
        shown = ", ".join(empty[:10]) + (f" and {len(empty) - 10} more" if len(empty) > 10 else "")
        what = f"is empty in {shown}: these parts are judged as a lot of their own, without a name"
        remarks.append(_remark(table, what, key="lot"))
    written: dict[str, dict[str, None]] = {}
    for lot in lots.values():
        written.setdefault(plain(lot).replace("_", ""), {})[lot] = None
    for alike in written.values():
        if len(alike) > 1:
            what = f"{' and '.join(alike)} differ only in their writing and are judged as {len(alike)} lots"
            remarks.append(_remark(table, what, key="lot"))
    return remarks


def _read_row(work: _Work, row: Row) -> None:
    count = len(work.columns)
    if any(cell != "" for cell in row.cells[count:]):
        what, allowed = "has more cells than the header", f"{counted(count, 'cell')}; decimal commas need ; or quotes"
        work.fault(row, "", what, counted(len(row.cells), "cell"), allowed)
        return
    cells = row.cells[:count] + ("",) * (count - len(row.cells))
    common = _common(work, row, cells)
    if common is None:
        return
    if common.trace:
        work.named.append(common)
    spots = {c.kind: i for i, c in enumerate(work.columns) if c.kind in ("characteristic", "value", "unit")}
    if "value" in spots:
        _read_long(work, row, cells, common, spots)
    for column, cell in zip(work.columns, cells, strict=True):
        if column.kind == "reading":
            _add(work, row, common, column.name, column.unit, column.header, cell)
        elif column.kind == "" and cell != "":
            work.fault(row, column.header, "stands in a column without a name", cell)


def _common(work: _Work, row: Row, cells: tuple[Cell, ...]) -> Reading | None:
    """What the readings of a row share, as a reading without value; None when the row cannot be used."""
    texts: dict[str, Any] = {}
    temperature: float | None = None
    usable = True
    for column, cell in zip(work.columns, cells, strict=True):
        if column.kind in TEXT_COLUMNS:
            text = _label(cell, column.kind)
            if text is None:
                work.fault(row, column.header, "is not a name", cell)
                usable = False
            texts[column.kind] = text or ""
        elif column.kind == "temperature" and cell != "" and not is_missing_word(cell):
            temperature = _value(work, row, column.header, cell, column.unit)
            usable = usable and temperature is not None
    if usable and not texts["part"]:
        work.fault(row, "part", "is empty", allowed="the part's number")
        usable = False
    return Reading("", 0.0, temperature=temperature, line=row.line, **texts) if usable else None


def _label(cell: Cell, kind: str) -> str | None:
    """A name or number as text: 12.0 of a workbook is part 12. None when it is an error cell."""
    if isinstance(cell, float):
        return f"{cell:.15g}"
    if isinstance(cell, Bad):
        return cell.found if kind == "time" and cell.what.startswith("is a d") else None
    return cell


def _value(work: _Work, row: Row, key: str, cell: Cell, unit: str) -> float | None:
    try:
        return work.header.units.to_si(number(cell, work.mark), unit)
    except ValueError as error:
        what = "is a value outside any range" if str(error) == "is too large" else str(error)
        work.fault(row, key, what, cell, f"a number with decimal {'comma' if work.mark == ',' else 'point'}, or empty")
        return None


def _add(work: _Work, row: Row, common: Reading, name: str, unit: str, key: str, cell: Cell) -> None:
    if cell == "":
        work.empty += 1
        return
    if is_missing_word(cell):
        work.missing.append((row.line, str(cell)))
        return
    value = _value(work, row, key, cell, unit)
    if value is None:
        return
    expected = work.header.characteristics[name]
    if unit.strip() != expected.strip():
        work.converted[f"{name}: read in {unit or '1'} instead of {expected or '1'} and converted"] = None
    work.readings.append(
        Reading(
            name,
            value,
            common.part,
            common.lot,
            common.group,
            common.gauge,
            common.temperature,
            common.time,
            row.line,
            key.strip(),
            unit,
        )
    )


def _read_long(work: _Work, row: Row, cells: tuple[Cell, ...], common: Reading, spots: dict[str, int]) -> None:
    written = cells[spots["characteristic"]]
    known = work.header.names.get(plain(written)) if isinstance(written, str) else None
    if known is None:
        near = nearest(_shown(written), work.header.characteristics)
        work.fault(row, "characteristic", "is an unknown characteristic", written, near=near)
        return
    column = work.columns[spots["value"]]
    unit: Cell = cells[spots["unit"]] if "unit" in spots else ""
    if isinstance(unit, float) and unit == 1.0:
        unit = "1"
    expected = work.header.characteristics[known]
    given = (unit or column.unit or None) if isinstance(unit, str) else _shown(unit)
    if column.unit and unit and unit != column.unit:
        work.fault(row, "unit", "contradicts the unit in the header", unit, column.unit)
        return
    what = work.header.units.fault(given, expected)
    if what and cells[spots["value"]] != "":
        work.fault(row, "unit" if "unit" in spots else column.header, what, given or "none", f"{expected} for {known}")
        return
    _add(work, row, common, known, given or expected, column.header, cells[spots["value"]])


def _repeats(work: _Work) -> list[Message]:
    """One remark for each characteristic with several readings of one part."""
    lines: dict[str, dict[tuple[str, str], list[int]]] = defaultdict(lambda: defaultdict(list))
    for reading in work.readings:
        lines[reading.characteristic][reading.lot, reading.part].append(reading.line)
    remarks = []
    for name, parts in lines.items():
        several = [(part, at) for (_, part), at in parts.items() if len(at) > 1]
        if several:
            part, at = several[0]
            lines_of = ", ".join(map(str, at[:6]))
            have = f"{counted(len(several), 'part')} {'has' if len(several) == 1 else 'have'}"
            what = f"{have} repeat readings, all kept; part {part} on lines {lines_of}"
            remarks.append(_remark(work.table, what, at[1], name))
    return remarks
