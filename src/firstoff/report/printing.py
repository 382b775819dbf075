"""From pages to PDF. Texts travel as data: whatever stands in a sheet, it is printed and never read as markup.

Equal pages give equal bytes. PDF/A-2a asks for a date of creation: it is a fixed one, since a clock would make every
file another; the date that counts is written by hand beside a signature.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import lru_cache
from importlib.resources import as_file, files
from typing import Any, Literal

from firstoff.report.first_off_sheet import FirstOffSheet
from firstoff.report.pages import Paper, SetupSheet, Table
from firstoff.report.tables import is_numeric, plain

FONT = "SourceSans3.ttf"  # unmodified, with its licence OFL.txt beside it
LONGEST = 22  # letters; a longer word may be broken, since nothing may run out of its column
_LETTERS, _LETTERS_SMALL = 112, 128  # letters on a line of the dossier's tables
_BREAKABLE = re.compile(rf"\S{{{LONGEST + 1},}}")
_SHORT, _MOST_FOR_SHORT = 22, 0.7  # letters of a column that is not broken, and how much all of these may take
_SPACE = "\u200b"  # a place to break that takes no room
_DROPPED = ("Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp")
STANDARDS: list[Literal["a-2a", "ua-1"]] = ["a-2a", "ua-1"]


def setup_pdf(sheets: Sequence[SetupSheet]) -> bytes:
    """One A4 page for each station; what is much shrinks until it fits."""
    return _compile("setup.typ", {"sheets": [asdict(s) for s in sheets]})


def first_off_pdf(sheet: FirstOffSheet) -> bytes:
    """The test plan on one page or more, then a form with a cell for every reading."""
    return _compile("first_off.typ", asdict(sheet))


def paper_pdf(paper: Paper) -> bytes:
    """A dossier with header, contents and page numbers."""
    data = asdict(paper)
    for section, plain_section in zip(paper.sections, data["sections"], strict=True):
        for table, found in zip(section.tables, plain_section["tables"], strict=True):
            found["columns"] = _columns(table)
    return _compile("paper.typ", data)


def _columns(table: Table) -> dict[str, Any]:
    """Which columns hold numbers, whether the table is set small, and widths in letters when it fills the page."""
    count = len(table.heads)
    if any(len(row) != count for row in table.rows):
        raise ValueError(f"table {table.title!r}: a row does not fit its {count} heads")
    columns = [[row[i] for row in table.rows] for i in range(count)]
    dense = count > 7
    room = (_LETTERS_SMALL if dense else _LETTERS) - 2 * count  # two letters' room between columns
    words = [max((_word(text) for text in (*column, head)), default=1) for column, head in _with(columns, table.heads)]
    texts = [max((len(text) for text in column), default=1) for column in columns]
    wanted = [max(word, text) for word, text in zip(words, texts, strict=True)]
    widths = [] if sum(wanted) <= room else _shared(room, words, wanted)
    return {"numbers": [is_numeric(column) for column in columns], "dense": dense, "widths": widths}


def _with(columns: list[list[str]], heads: tuple[str, ...]) -> list[tuple[list[str], str]]:
    return list(zip(columns, heads, strict=True))


def _word(text: str) -> int:
    """Letters of the longest word, as far as it is not broken."""
    return max((min(len(word), LONGEST) for word in text.split()), default=1)


def _shared(room: int, least: list[int], wanted: list[int]) -> list[float]:
    """Room in letters: short columns get what they want, long ones share the rest by the root of their length."""
    given = [float(w) if w <= _SHORT else 0.0 for w in wanted]
    if sum(given) > _MOST_FOR_SHORT * room:
        given = [0.0] * len(wanted)
    long = [i for i, width in enumerate(given) if not width]
    left, weight = room - sum(given), sum(wanted[i] ** 0.5 for i in long)
    for i in long:
        given[i] = max(left * wanted[i] ** 0.5 / weight, float(least[i]))
    return [width + 2.0 for width in given]


def _compile(template: str, data: Mapping[str, Any]) -> bytes:
    import typst

    with as_file(files("firstoff.report") / "typst") as folder:
        compiler = typst.Compiler(
            root=str(folder),
            font_paths=typst.Fonts(False, False, [str(folder)]),
            ignore_system_fonts=True,
        )
        given = {"data": json.dumps(_printable(data), ensure_ascii=False, allow_nan=False)}
        made = compiler.compile(str(folder / template), format="pdf", sys_inputs=given, pdf_standards=list(STANDARDS))
    assert isinstance(made, bytes)
    return made


def _printable(value: Any, key: str = "") -> Any:
    if isinstance(value, str):
        return value if key == "svg" else printable(value)
    if isinstance(value, Mapping):
        return {k: _printable(v, k) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_printable(v) for v in value]
    return value


def printable(text: str) -> str:
    """One line in letters that the font has; others stand as `[U+4E2D]`, so that no letter is lost or a blank box."""
    line = unicodedata.normalize("NFC", plain(text))
    known = _letters()
    kept = "".join(
        c if ord(c) in known else f"[U+{ord(c):04X}]"
        for c in line
        if unicodedata.category(c) not in _DROPPED and not 0xFE00 <= ord(c) <= 0xFE0F
    )
    return _BREAKABLE.sub(lambda m: _broken(m.group(0)), kept)


def _broken(word: str) -> str:
    """A long word with places to break: after its own joints, else every few letters."""
    jointed = re.sub(r"(?<=[_/.,;:+=-])(?=\w)", _SPACE, word)
    return re.sub(rf"([^{_SPACE}]{{{LONGEST}}})(?=[^{_SPACE}])", rf"\1{_SPACE}", jointed)


@lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    """Code points of the font."""
    from matplotlib.ft2font import FT2Font

    with as_file(files("firstoff.report") / "typst" / FONT) as path:
        return frozenset(FT2Font(str(path)).get_charmap())
