"""What a printed paper holds, without how it looks: sections for the dossier, one sheet a station for the shop floor.

A verb says what it has to say as sections; the templates know nothing of verbs, so that a new verb needs none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

Tone = Literal["", "good", "open", "bad"]  # how loud a verdict is said; never by colour alone

SAFETY = "SAFETY"


@dataclass(frozen=True)
class Table:
    """Rows of texts under heads. Widths follow the texts; a column of numbers is aligned to the right by itself.

    A cell that reads `SAFETY` is printed as a mark.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = ""
    note: str = ""  # under the table: what its signs mean
    bold: tuple[int, ...] = ()  # rows that must not be missed


def marked(table: Table, safety: Sequence[bool]) -> Table:
    """The table with a mark beside the first cell of each safety characteristic's row; as it is when there is none."""
    if not any(safety):
        return table
    rows = tuple(
        (row[0], SAFETY if is_safety else "", *row[1:]) for row, is_safety in zip(table.rows, safety, strict=True)
    )
    return replace(table, heads=(table.heads[0], "", *table.heads[1:]), rows=rows)


@dataclass(frozen=True)
class Figure:
    """A drawing as SVG text, and what it shows in words, for who cannot see it."""

    svg: str
    title: str
    alt: str


@dataclass(frozen=True)
class Section:
    """One heading of a paper; its contents are printed in the order of the fields."""

    title: str
    cautions: tuple[str, ...] = ()
    paragraphs: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    figures: tuple[Figure, ...] = ()
    sign: tuple[str, ...] = ()  # who has to sign here, a line each


@dataclass(frozen=True)
class Paper:
    """A dossier: what it is about, what it comes to in a word, its sections, and what it was made from."""

    title: str
    model: str
    revision: str
    plant: str
    version: str
    sections: tuple[Section, ...]
    word: str = ""  # `HOLD`
    tone: Tone = ""
    says: tuple[str, ...] = ()  # under the word: why
    hashes: tuple[tuple[str, str], ...] = ()  # file, sha256


@dataclass(frozen=True)
class Setting:
    """One number that a setter dials in or finds: value and unit apart, so that the value can be large."""

    what: str
    value: str
    unit: str = ""
    tolerance: str = ""  # `±0.01 mm`
    note: str = ""  # `= 5 bar gauge`


@dataclass(frozen=True)
class Check:
    """What is measured on the first part of a station, and with what."""

    what: str
    limits: str
    unit: str
    gauge: str  # its name, or that none is declared
    safety: bool = False

    @property
    def characteristic(self) -> str:
        """By which the board's pages link to it."""
        return self.what


@dataclass(frozen=True)
class SetupSheet:
    """One station's page for the wall at the machine."""

    op: str
    title: str
    model: str
    revision: str
    plant: str
    version: str
    cautions: tuple[str, ...] = ()
    settings: tuple[Setting, ...] = ()
    lines: tuple[tuple[str, str], ...] = ()  # what else is set, in words
    given: tuple[Setting, ...] = ()  # of the drawing: looked after, not set
    checks: tuple[Check, ...] = ()
    assumed: int = 0  # how many assumptions stand behind the page
    hashes: tuple[tuple[str, str], ...] = ()
