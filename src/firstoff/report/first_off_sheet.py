"""The first-off sheet as plain data: what is asked, the order of work, and a form with a cell for every reading."""

from __future__ import annotations

from dataclasses import dataclass

READ, NONE = "", "none"  # a cell to be filled in, a cell without a reading; else the name of what loses the part


@dataclass(frozen=True)
class AskedRow:
    """One characteristic or test: how many parts, by which rule, and what they prove."""

    step: str
    what: str
    unit: str
    limits: str
    gauge: str
    parts: str
    rule: str
    proves: str
    safety: bool = False
    lost: bool = False


@dataclass(frozen=True)
class FormRow:
    """One line of the form."""

    step: str
    what: str
    unit: str
    limits: str
    gauge: str
    cells: tuple[str, ...]  # one a part of the form: READ, NONE or the test in which the part is lost
    safety: bool = False


@dataclass(frozen=True)
class Form:
    """Some parts of a lot, side by side."""

    lot: str
    parts: tuple[str, ...]
    rows: tuple[FormRow, ...]


@dataclass(frozen=True)
class BookRow:
    """One reading of the workbook."""

    step: int
    part: str
    lot: str
    characteristic: str
    unit: str
    gauge: str
    limits: str
    note: str = ""


@dataclass(frozen=True)
class FirstOffSheet:
    """Everything that the printed sheet and the workbook show."""

    model: str
    revision: str
    plant: str
    version: str
    says: tuple[str, ...]
    asked: tuple[AskedRow, ...]
    forms: tuple[Form, ...]
    notes: tuple[str, ...] = ()  # why a rule was taken, what is missing
    assumed: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    hashes: tuple[tuple[str, str], ...] = ()
