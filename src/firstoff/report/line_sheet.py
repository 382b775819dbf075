"""The setup sheet of a plating line: cautions, the cycle, every soak and every move of the cranes; plain data first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstoff.report.setup_sheet import NOT_A_CERTIFICATE, escape


@dataclass(frozen=True)
class Grid:
    """A table of texts."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class LineSheet:
    """Everything a page of the line's setup shows, in any form of print."""

    title: str
    plant: str
    cautions: tuple[str, ...]
    settings: tuple[tuple[str, str], ...]  # what, value with unit
    soaks: Grid
    moves: Grid
    assumed: tuple[str, ...]
    origin: tuple[tuple[str, str], ...]  # file, digest


def line_markdown(sheet: LineSheet, version: str) -> str:
    """The sheet as markdown: the same data give the same text."""
    page = [f"# {escape(sheet.title)}", "", "## Cautions", "", *(f"- **{escape(c)}**" for c in sheet.cautions)]
    page += ["", escape("The site's own safety rules hold in every case. " + NOT_A_CERTIFICATE), ""]
    page += ["## Cycle", "", "| What | Set to | As set |", "| --- | ---: | --- |"]
    page += [f"| {escape(what)} | {escape(value)} | |" for what, value in sheet.settings]
    page += ["", "## Soaks", "", *_grid(sheet.soaks), "", "## Moves", "", *_grid(sheet.moves), "", "## Assumed", ""]
    page += [f"- {escape(a)}" for a in sheet.assumed]
    page += ["", "## From", "", "| | |", "| --- | --- |", f"| plant | {escape(sheet.plant)} |"]
    page += [f"| {escape(name)} | sha256 {escape(digest)} |" for name, digest in sheet.origin]
    page += [f"| firstoff | {escape(version)} |", ""]
    page += ["Set by: ____________  Checked by: ____________  Date: ____________", ""]
    return "\n".join(page)


def _grid(grid: Grid) -> list[str]:
    def row(cells: Sequence[str]) -> str:
        return "| " + " | ".join(escape(c) for c in cells) + " |"

    return [row(grid.heads), "|" + " --- |" * len(grid.heads), *(row(r) for r in grid.rows)]
