"""What the file readers hand over: a header and rows of cells, with line numbers. And the one way to refuse a file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from firstoff.errors import InputFault, Message
from firstoff.trials.cells import Cell

MOST_BYTES = 64 * 1024 * 1024
MOST_ROWS = 500_000
MOST_MESSAGES = 200


@dataclass(frozen=True)
class Row:
    line: int  # of the file or sheet, counted from 1
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Merged:
    """Cells of a workbook that were made into one; only the first of them holds the value. Columns from 0."""

    name: str  # B2:B5
    first_line: int
    last_line: int
    first_column: int
    last_column: int


@dataclass(frozen=True)
class Table:
    file: str
    header_line: int
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    comma_likely: bool = False  # semicolons separate the fields
    messages: tuple[Message, ...] = ()
    merged: tuple[Merged, ...] = ()
    lettered: bool = False  # a workbook, whose columns have letters

    def cell_name(self, line: int, column: int) -> str:
        """`B4` in a workbook, `line 4` in a text file; `column` counts from 0."""
        if not self.lettered:
            return f"line {line}"
        letters, left = "", column + 1
        while left:
            left, digit = divmod(left - 1, 26)
            letters = chr(ord("A") + digit) + letters
        return f"{letters}{line}"


def refuse(file: str, what: str, *, found: str = "", allowed: str = "", line: int = 0) -> InputFault:
    """The fault of a file as a whole, to be raised."""
    return InputFault([Message(what, file=file, line=line, found=found[:80], allowed=allowed)])


def load(path: Path) -> bytes:
    """The bytes of a readings file. Raises InputFault when it is missing, empty, too large or no file."""
    file = str(path)
    try:
        if path.is_dir():
            raise refuse(file, "is a folder, not a readings file", allowed="a CSV or xlsx file")
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise refuse(file, "is too large for a readings file", found=f"{size / 1e6:.0f} MB", allowed="up to 67 MB")
        if not path.is_file():  # a pipe or device would never end
            raise refuse(file, "is not an ordinary file", allowed="a CSV or xlsx file")
        data = path.read_bytes()
    except FileNotFoundError:
        raise refuse(file, "does not exist") from None
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        raise refuse(file, f"cannot be read: {error}") from error
    if not data.strip():
        raise refuse(file, "is empty", allowed="a header line and readings")
    return data


def raise_if(faults: Iterable[Message], file: str) -> None:
    """Raises InputFault with the faults, if there are any; a flood is cut and counted."""
    messages = list(faults)
    if len(messages) > MOST_MESSAGES:
        rest = len(messages) - MOST_MESSAGES
        messages = [*messages[:MOST_MESSAGES], Message(f"has {rest} more faults of this sort", file=file)]
    if messages:
        raise InputFault(messages)
