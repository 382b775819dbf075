"""Reads the table of a workbook's sheet: cached results of formulas, error cells, dates."""

from __future__ import annotations

import datetime
import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from typing import Any
from xml.etree.ElementTree import ParseError

from firstoff.errors import InputFault, Message, nearest
from firstoff.trials.cells import Bad, Cell, tidy
from firstoff.trials.table import MOST_ROWS, Merged, Row, Table, refuse

MOST_UNPACKED = 400 * 1024 * 1024
MOST_COLUMNS = 2000
MOST_NAMED = 8  # cells or sheets in one remark
NOT_READ = "Not read"  # first word of a sheet that is no reading: it is passed over without a remark
_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s+ref=[\"']([A-Z]{1,3})([0-9]{1,7}):([A-Z]{1,3})([0-9]{1,7})[\"']")
_PIECE = 1 << 20  # bytes of a sheet looked through at a time
# what a damaged workbook makes the library raise; every one of them means: not readable
DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    ParseError,
    OSError,
    EOFError,
    ValueError,
    TypeError,
    LookupError,
    AttributeError,
    AssertionError,
    NotImplementedError,
    RuntimeError,
    OverflowError,
)


def read_table(data: bytes, file: str, sheet: str | None) -> Table:
    """The table on the sheet named, or on the first one. Raises InputFault when there is none."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(entry.file_size for entry in packed.infolist()) > MOST_UNPACKED:
                raise refuse(file, "is too large a workbook", allowed="up to 400 MB unpacked")
        rows = _rows(data, file, sheet)
        merged = _merged(_open(data, file, sheet, True)) if rows else ()
        others = _other_sheets(data, file) if rows and sheet is None else ()
    except InputFault:
        raise
    except DAMAGED as error:
        raise refuse(
            file, f"cannot be read as a workbook: {type(error).__name__}", allowed="an xlsx workbook"
        ) from error
    if not rows:
        raise refuse(
            file, "has no cells on the sheet", found=sheet or "first sheet", allowed="a header line and readings"
        )
    header = tuple(_text(cell) for cell in rows[0].cells)
    return Table(file, rows[0].line, header, tuple(rows[1:]), messages=others, merged=merged, lettered=True)


def _merged(page: Any) -> tuple[Merged, ...]:
    """The merged areas of a sheet; the reader of rows leaves them out, so they are looked up in the sheet's text."""
    found: dict[str, Merged] = {}
    with page._get_source() as text:
        rest = b""
        while piece := text.read(_PIECE):
            for match in _MERGED.finditer(rest + piece):
                left, top, right, bottom = (group.decode("ascii") for group in match.groups())
                name = f"{left}{top}:{right}{bottom}"
                found[name] = Merged(name, int(top), int(bottom), _column(left), _column(right))
            rest = piece[-100:]
    return tuple(found.values())


def _column(letters: str) -> int:
    """Number of a column from 0: A is 0, AA is 26."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number - 1


def _other_sheets(data: bytes, file: str) -> tuple[Message, ...]:
    """A remark when further sheets hold cells that nobody asked for."""
    book = _book(data, file, True)
    filled = [page.title for page in book.worksheets[1:] if _has_cells(page)]
    if not filled:
        return ()
    shown = ", ".join(filled[:MOST_NAMED]) + (f" and {len(filled) - MOST_NAMED} more" if filled[MOST_NAMED:] else "")
    what = f"was read on its first sheet only, {book.worksheets[0].title}; there are cells on others too"
    return (Message(what, file=file, found=shown, allowed="another sheet by --table", level="remark"),)


def _has_cells(page: Any) -> bool:
    page.reset_dimensions()
    values = (value for row in page.iter_rows(values_only=True) for value in row if value not in (None, ""))
    first = next(values, None)
    return first is not None and not str(first).startswith(NOT_READ)


def _book(data: bytes, file: str, results: bool) -> Any:
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        return load_workbook(io.BytesIO(data), read_only=True, data_only=results, keep_links=False)
    except InvalidFileException as error:
        raise refuse(file, "cannot be read as a workbook", allowed="an xlsx workbook") from error


def _open(data: bytes, file: str, sheet: str | None, results: bool) -> Any:
    book = _book(data, file, results)
    names = [page.title for page in book.worksheets]
    if not names:
        raise refuse(file, "has no sheet with cells")
    if sheet is not None and sheet not in names:
        wrong = Message(
            "has no such sheet", file=file, found=sheet, allowed=", ".join(names), nearest=nearest(sheet, names)
        )
        raise InputFault([wrong])
    page = book[sheet if sheet is not None else names[0]]
    page.reset_dimensions()  # the stated size of a sheet is often wrong
    return page


def _rows(data: bytes, file: str, sheet: str | None) -> list[Row]:
    """Rows that are not blank. Results and formulas are read side by side, to tell a formula without a result."""
    results = _open(data, file, sheet, True).iter_rows()
    formulas = _open(data, file, sheet, False).iter_rows()
    rows: list[Row] = []
    for line, (with_results, with_formulas) in enumerate(zip(results, formulas, strict=True), start=1):
        cells = tuple(_cells(with_results, with_formulas))
        if len(cells) > MOST_COLUMNS and any(cell != "" for cell in cells[MOST_COLUMNS:]):
            raise refuse(file, "has too many columns", allowed=f"up to {MOST_COLUMNS}", line=line)
        if any(cell != "" for cell in cells):
            rows.append(Row(line, cells[:MOST_COLUMNS]))
        if len(rows) > MOST_ROWS:
            raise refuse(file, "has too many lines", allowed=f"up to {MOST_ROWS}")
    return rows


def _cells(results: Any, formulas: Any) -> Iterator[Cell]:
    for result, formula in zip(results, formulas, strict=True):
        yield _cell(result, formula)


def _cell(result: Any, formula: Any) -> Cell:
    value = result.value
    if value is None:
        if formula.value is None:
            return ""
        return Bad(str(formula.value)[:40], "is a formula without a stored result; open, recalculate and save the file")
    if result.data_type == "e":
        return Bad(str(value), "is an error value")
    if isinstance(value, bool):
        return Bad(str(value), "is a truth value, not a number")
    if isinstance(value, int | float):
        if "%" in str(result.number_format or ""):
            shown = f"{value:g}, shown as {100 * value:g} %"
            return Bad(shown, "is formatted as a percentage, so that shown and stored value differ")
        return float(value)
    if isinstance(value, datetime.datetime | datetime.date | datetime.time):
        return Bad(value.isoformat(), "is a date, not a number")
    if isinstance(value, datetime.timedelta):
        return Bad(str(value), "is a duration, not a number")
    return tidy(str(value))


def _text(cell: Cell) -> str:
    return cell if isinstance(cell, str) else cell.found if isinstance(cell, Bad) else f"{cell:g}"
