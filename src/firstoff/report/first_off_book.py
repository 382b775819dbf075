"""The first-off sheet as a workbook: a line a reading, with drop-downs; filled in, it is read back as it stands.

Equal sheets give equal bytes: the dates that a workbook keeps of itself are fixed ones.
"""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Sequence
from typing import Any

from firstoff.report.first_off_sheet import BookRow, FirstOffSheet
from firstoff.report.tables import plain

HEADS = ("step", "part", "lot", "characteristic", "value", "unit", "gauge", "limits", "temperature [degC]", "time",
         "note")  # fmt: skip
WIDTHS = (6, 9, 9, 26, 13, 11, 22, 20, 18, 18, 30)
MORE = 40  # empty lines with drop-downs, for repeats and what else is read
NOT_READ = "Not read back: "
_EPOCH = datetime.datetime(2000, 1, 1)
_STAMP = (2000, 1, 1, 0, 0, 0)


def first_off_xlsx(sheet: FirstOffSheet, rows: Sequence[BookRow], units: Sequence[str]) -> bytes:
    """The workbook: readings to fill in, the plan to look at, and hidden lists behind the drop-downs."""
    from openpyxl import Workbook

    book = Workbook()
    book.properties.creator, book.properties.created, book.properties.modified = "firstoff", _EPOCH, _EPOCH
    page = book.active
    page.title = "readings"
    _readings(page, rows)
    _plan(book.create_sheet("plan"), sheet)
    lists = book.create_sheet("lists")
    lists.sheet_state = "hidden"
    known = {
        "B": ("parts", list(dict.fromkeys(r.part for r in rows)), "warning"),
        "C": ("lots", list(dict.fromkeys(r.lot for r in rows)), "warning"),
        "D": ("characteristics", list(dict.fromkeys(r.characteristic for r in rows)), "stop"),
        "F": ("units", list(dict.fromkeys(units)), "stop"),
    }
    _lists(lists, page, known, len(rows) + MORE + 1)
    return _fixed(book)


def _style() -> dict[str, Any]:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    thin = Side(style="thin", color="B9C4CB")
    return {
        "head": Font(bold=True, color="FFFFFF"),
        "band": PatternFill("solid", fgColor="00324F"),
        "fill": PatternFill("solid", fgColor="FFF3D6"),
        "box": Border(left=thin, right=thin, top=thin, bottom=thin),
        "grey": Font(color="5A5A5A"),
        "bold": Font(bold=True),
        "title": Font(bold=True, size=14, color="00324F"),
        "wrap": Alignment(wrap_text=True, vertical="top"),
    }


def _text(value: str) -> str:
    """No text from a sheet becomes a formula."""
    shown = plain(value)
    return f"'{shown}" if shown[:1] in ("=", "+", "@") else shown


def _head(page: Any, heads: Sequence[str], widths: Sequence[int], line: int) -> None:
    style = _style()
    for column, (head, width) in enumerate(zip(heads, widths, strict=True), start=1):
        cell = page.cell(line, column, head)
        cell.font, cell.fill, cell.border = style["head"], style["band"], style["box"]
        page.column_dimensions[cell.column_letter].width = width


def _readings(page: Any, rows: Sequence[BookRow]) -> None:
    style = _style()
    _head(page, HEADS, WIDTHS, 1)
    page.freeze_panes = "F2"
    for line, row in enumerate(rows, start=2):
        texts = (row.part, row.lot, row.characteristic, None, row.unit, row.gauge, row.limits, None, None, row.note)
        page.cell(line, 1, row.step)
        for column, text in enumerate(texts, start=2):
            page.cell(line, column, None if text is None else _text(text) or None)
    for line in range(2, len(rows) + MORE + 2):
        for column in range(1, len(HEADS) + 1):
            page.cell(line, column).border = style["box"]
        page.cell(line, 5).fill = style["fill"]
        for column in (1, 8, 11):
            page.cell(line, column).font = style["grey"]
    page.page_setup.orientation, page.page_setup.fitToHeight = "landscape", 0
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.print_title_rows = "1:1"


def _plan(page: Any, sheet: FirstOffSheet) -> None:
    style = _style()
    page.cell(1, 1, NOT_READ + "what the first-offs are asked to prove").font = style["grey"]
    page.cell(2, 1, _text(f"{sheet.model} {sheet.revision}".strip())).font = style["title"]
    line = 3
    for text in sheet.says:
        page.cell(line, 1, _text(text))
        line += 1
    heads = ("step", "what", "unit", "limits", "gauge", "parts", "rule", "proves, if as foreseen")
    _head(page, heads, (8, 30, 9, 20, 22, 10, 22, 40), line + 1)
    line += 2
    for row in sheet.asked:
        texts = (row.step, row.what, row.unit, row.limits, row.gauge, row.parts, row.rule, row.proves)
        for column, text in enumerate(texts, start=1):
            cell = page.cell(line, column, _text(text))
            cell.border = style["box"]
            if row.safety and column == 2:
                cell.font = style["bold"]
        line += 1
    for title, lines in (("Notes", sheet.notes), ("Assumed", sheet.assumed), ("Caution", sheet.cautions)):
        if lines:
            page.cell(line + 1, 1, title).font = style["bold"]
            line += 2
            for text in lines:
                page.cell(line, 1, _text(text))
                line += 1


def _lists(lists: Any, page: Any, known: dict[str, tuple[str, list[str], str]], last: int) -> None:
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    lists.cell(1, 1, NOT_READ + "behind the drop-downs")
    for at, (column, (what, values, how)) in enumerate(known.items(), start=1):
        for line, value in enumerate(values, start=2):
            lists.cell(line, at, _text(value))
        letter = get_column_letter(at)
        rule = DataValidation(
            type="list", formula1=f"lists!${letter}$2:${letter}${max(2, len(values) + 1)}", allow_blank=True,
            showErrorMessage=True, errorStyle=how, errorTitle="Not in the plan", error=f"Not one of the plan's {what}.",
        )  # fmt: skip
        page.add_data_validation(rule)
        rule.add(f"{column}2:{column}{last}")


def _fixed(book: Any) -> bytes:
    """The workbook's bytes with one date for all that it holds."""
    raw, out = io.BytesIO(), io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as given, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name in given.namelist():
            data = given.read(name)
            if name == "docProps/core.xml":
                data = _dated(data)
            made.writestr(zipfile.ZipInfo(name, _STAMP), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _dated(data: bytes) -> bytes:
    import re

    return re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2000-01-01T00:00:00Z", data)
