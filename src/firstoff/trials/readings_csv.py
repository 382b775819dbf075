"""Reads the table of a text file: encoding, separator, quotes, blank lines."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable

from firstoff.errors import Message
from firstoff.trials.cells import tidy
from firstoff.trials.table import MOST_ROWS, Row, Table, refuse

SEPARATORS = {";": "semicolon", "\t": "tab", ",": "comma"}


def read_table(data: bytes, file: str, known_columns: Callable[[tuple[str, ...]], int]) -> Table:
    """The table in `data`. `known_columns` counts the header cells it recognises; it decides between separators.

    Raises InputFault when there is no table.
    """
    text, remarks = _decode(data, file)
    text, stated = _stated_separator(text)
    best: tuple[int, int, str] | None = None
    for separator in [stated] if stated else SEPARATORS:
        header = _header(text, separator)
        score = (known_columns(header), len(header), separator)
        if best is None or score[:2] > best[:2]:
            best = score
    assert best is not None
    offset = 1 if stated else 0
    rows = [Row(row.line + offset, row.cells) for row in _rows(text, best[2], file)]
    if not rows:
        raise refuse(file, "has no header line", allowed="a header line and readings")
    names = tuple(cell if isinstance(cell, str) else "" for cell in rows[0].cells)
    return Table(file, rows[0].line, names, tuple(rows[1:]), best[2] == ";", tuple(remarks))


def _decode(data: bytes, file: str) -> tuple[str, list[Message]]:
    binary = refuse(file, "is not a text file", allowed="CSV text or an xlsx workbook")
    encoding = _encoding(data)
    remarks: list[Message] = []
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        if encoding != "utf-8-sig":
            raise binary from None
        try:
            text = data.decode("cp1252")
        except UnicodeDecodeError:
            raise binary from None
        remarks.append(Message("is not UTF-8 and was read as Windows-1252 text", file=file, level="remark"))
    odd = sum(1 for c in text if c < " " and c not in "\t\r\n\f")
    if odd:
        raise binary
    return text, remarks


def _encoding(data: bytes) -> str:
    """utf-16 by its mark or by its zero bytes, otherwise UTF-8 with or without mark."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    start = data[:2000]
    if len(start) >= 4 and start[1::2].count(0) > len(start) // 4 and not start[0::2].count(0):
        return "utf-16-le"
    if len(start) >= 4 and start[0::2].count(0) > len(start) // 4 and not start[1::2].count(0):
        return "utf-16-be"
    return "utf-8-sig"


def _stated_separator(text: str) -> tuple[str, str]:
    """Spreadsheets may put `sep=;` on a line before the header."""
    first, _, rest = text.partition("\n")
    word = first.strip().lower()
    if word.startswith("sep=") and word[4:].strip() in (";", ",") or word == "sep=\\t":
        return rest, "\t" if word == "sep=\\t" else word[4:].strip()
    return text, ""


def _header(text: str, separator: str) -> tuple[str, ...]:
    """The cells of the first line that is not blank, cut by `separator`; empty when it cannot be cut."""
    try:
        for cells in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            found = tuple(tidy(cell) for cell in cells)
            if any(found):
                return found
    except csv.Error:
        return ()
    return ()


def _rows(text: str, separator: str, file: str) -> list[Row]:
    """Every line that is not blank, with the number of the line it starts on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows: list[Row] = []
    line = 1
    try:
        for cells in reader:
            found = tuple(tidy(cell) for cell in cells)
            if any(found):
                rows.append(Row(line, found))
            line = reader.line_num + 1
            if len(rows) > MOST_ROWS:
                raise refuse(file, "has too many lines", allowed=f"up to {MOST_ROWS}")
    except csv.Error as error:
        raise refuse(file, f"has a line that cannot be cut into cells: {error}", line=line) from error
    return rows
