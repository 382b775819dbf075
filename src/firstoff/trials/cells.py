"""One cell of a readings file: a number, nothing, or a fault. Decimal comma and point are told apart per file."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Mark = Literal[".", ","]

_PLAIN = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,4})?")
_GROUPS = re.compile(r"[+-]?[0-9]{1,3}(?:[.,' ][0-9]{3})+(?:[.,][0-9]*)?")
_THOUSAND = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")  # 1,234 may be a little over one, or over a thousand
_MISSING = {"n/a", "na", "-", "--", "–", "—", "nan"}

LARGEST = 1e30  # in any unit; beyond it a cell holds a slip, and its square would leave the numbers


@dataclass(frozen=True)
class Bad:
    """A cell that holds no usable value: an error value, a formula without a result, a date among numbers."""

    found: str
    what: str


Cell = str | float | Bad


def tidy(text: str) -> str:
    """The text as compared and read: no outer blanks, plain spaces, plain minus."""
    return text.replace("\u00a0", " ").replace("\u202f", " ").replace("\u2212", "-").strip()


def is_missing_word(cell: Cell) -> bool:
    """Whether the cell says in words that there is no reading."""
    return isinstance(cell, str) and cell.lower() in _MISSING


def decimal_mark(cells: Iterable[Cell], comma_likely: bool) -> tuple[Mark, bool]:
    """The decimal mark of a file's number cells, and whether the commas leave no doubt about it.

    A cell such as 12,5 or 0,125 can only be a decimal comma; 1,234 alone can be either. `comma_likely`: fields are
    separated by semicolons, which is done because the comma is taken by the decimals.
    """
    sure = {",": 0, ".": 0}
    doubtful_commas = 0
    for cell in cells:
        if not isinstance(cell, str) or not _PLAIN.fullmatch(cell):
            continue
        mark = "," if "," in cell else "." if "." in cell else ""
        if mark == "," and _THOUSAND.fullmatch(cell):
            doubtful_commas += 1
        elif mark:
            sure[mark] += 1
    if sure[","] > sure["."] or (comma_likely and doubtful_commas and not sure["."]):
        return ",", sure[","] > 0
    return ".", True


def number(cell: Cell, mark: Mark) -> float:
    """The cell as a finite float. Raises ValueError saying what is wrong with it."""
    if isinstance(cell, Bad):
        raise ValueError(cell.what)
    if isinstance(cell, str):
        if not _PLAIN.fullmatch(cell):
            if _GROUPS.fullmatch(cell):
                raise ValueError("has separators between thousands, which cannot be told from decimals")
            raise ValueError("is not a number")
        other = "." if mark == "," else ","
        if other in cell:
            if _THOUSAND.fullmatch(cell):
                raise ValueError("is ambiguous: decimals, or a separator between thousands")
            raise ValueError(f"has a decimal {_word(other)} in a file with decimal {_word(mark)}s")
        cell = float(cell.replace(",", "."))
    if not math.isfinite(cell):
        raise ValueError("is not a finite number")
    if abs(cell) > LARGEST:
        raise ValueError("is too large to be a reading")
    return cell


def _word(mark: str) -> str:
    return "comma" if mark == "," else "point"
