"""How a quantity is written on a drawing: text into numbers and unit texts, before any unit is known.

head [tolerance] {, level spread} {, limit}         30 ±0.03 mm, lot sd 0.01 mm, max 30.05 mm
first to last {, ...}                               60 to 75 s
limit {, limit}                                     min 5 N, max 80 N
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import Literal

from firstoff.sheets.units import QuantityError

FORMS = '"30 mm", "30 ±0.03 mm", "2.0 +0.05/-0.08 mm", "340 MPa, sd 12 MPa", "60 to 75 s", "<= 80 N"'
CLAUSES = '"..., sd 12 MPa", "..., lot sd 0.01 mm, part ±0.02 mm", "..., max 80 N"'
LONGEST = 200  # characters of one quantity

Level = Literal["", "lot", "part"]
Reference = Literal["", "gauge", "absolute"]

_UNSIGNED = r"(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3}(?![0-9]))?"
_ZERO = r"(?<![0-9.,])0(?:[.,]0+)?(?![0-9.,])"
_PIECE = re.compile(rf"([+-]?\s*{_UNSIGNED})(?![0-9.,])\s*(.*)", re.DOTALL)
_ASYMMETRIC = re.compile(
    rf"(?P<a>(?<![\^*(])[+-]\s*{_UNSIGNED}(?![0-9.,])|{_ZERO})\s*(?P<ua>[^±/]*?(?:/[^±/+-]*?)??)"
    rf"(?:\s*/\s*|\s+(?=[+-]))(?P<b>[+-]\s*{_UNSIGNED}(?![0-9.,])|{_ZERO})(?P<ub>[^±+-]*(?:\^-[^±+-]*)?)$",
    re.DOTALL,
)
_CLAUSE = re.compile(r"\s*[,;]\s*(?=(?:lot|part|total|sd|max|min)\b|<|>|±)", re.IGNORECASE)
_LIMIT = re.compile(r"(<=?|max\b\.?|>=?|min\b\.?)\s*(.*)", re.IGNORECASE | re.DOTALL)
_LEVEL = re.compile(r"(?:(lot|part|total)\b\s*)?(sd\b\s*[=:]?|(?=[±+\-0]))\s*(.*)", re.IGNORECASE | re.DOTALL)
_RANGE = re.compile(r"\s+to\s+|\s*(?:–|—|…|\.\.\.?)\s*", re.IGNORECASE)
_REFERENCE = re.compile(
    r"\b(?P<word>gauge|gage|abs(?:olute)?)\b\.?|(?<=bar)\s?\((?P<par>[ag])\)|(?<=bar|psi)(?P<letter>[ag])\b",
    re.IGNORECASE,
)
_SPELLINGS = (("−", "-"), ("+/-", "±"), ("+-", "±"), ("≤", "<="), ("≥", ">="))


@dataclass(frozen=True)
class Piece:
    """A number and the unit text behind it, which may be empty."""

    value: float
    unit: str


@dataclass(frozen=True)
class Tolerance:
    """Two deviations from the head, in the order written: which is the upper is known once both are SI."""

    first: Piece
    second: Piece


@dataclass
class Written:
    """What a quantity text says, in the units it says it in."""

    head: Piece | None = None
    last: Piece | None = None  # of a range
    tolerance: Tolerance | None = None
    spreads: dict[Level, Piece | Tolerance] = field(default_factory=dict)
    low: Piece | None = None
    high: Piece | None = None
    reference: Reference = ""


def number(text: str) -> float:
    """A number with a decimal point, or with a decimal comma where that cannot be a thousands separator."""
    plain = re.sub(r"\s+", "", text)
    commas, points = plain.count(","), plain.count(".")
    grouped = re.match(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9])", plain)
    if commas + points > 1 or grouped:
        raise QuantityError("has a number that can be read in two ways", text, "a decimal point and no thousands comma")
    value = float(plain.replace(",", "."))
    if not math.isfinite(value):
        raise QuantityError("has a number that is too large", text)
    return value


def piece(text: str) -> Piece:
    """`30 mm` as number and unit text."""
    match = _PIECE.fullmatch(text.strip())
    if match is None:
        raise QuantityError("is not a number with a unit", text.strip(), FORMS)
    unit = match.group(2).strip()
    if re.search("[,;]", unit):
        raise QuantityError("has a clause that cannot be read", text.strip(), CLAUSES)
    return Piece(number(match.group(1)), unit)


def _tolerance(text: str) -> Tolerance:
    """`±0.03 mm` or `+0.05/-0.08 mm`; a unit stated once holds for both deviations."""
    text = text.strip()
    if text.startswith("±"):
        width = piece(text[1:])
        if width.value < 0:
            raise QuantityError("has a negative tolerance", text, "a tolerance of zero or more")
        return Tolerance(Piece(-width.value, width.unit), width)
    match = _ASYMMETRIC.fullmatch(text)
    if match is None:
        raise QuantityError("has a tolerance that cannot be read", text, "±0.03 mm or +0.05/-0.08 mm")
    a, b = (Piece(number(match[n]), (match["u" + n] or "").strip()) for n in "ab")
    a, b = Piece(a.value, a.unit or b.unit), Piece(b.value, b.unit or a.unit)
    return Tolerance(a, b)


def _head(text: str, written: Written) -> None:
    """The value itself: single, with a tolerance, or a range."""
    start = _PIECE.match(text)
    if start is None:
        raise QuantityError("is not a number with a unit", text, FORMS)
    after = start.end(1)
    mark = text.find("±", after)
    deviations = _ASYMMETRIC.search(text, after) if mark < 0 else None
    at = mark if mark >= 0 else deviations.start() if deviations else len(text)
    ends = _RANGE.split(text[:at])
    if len(ends) > 2 or (len(ends) == 2 and at < len(text)):
        raise QuantityError("is a range and something else at once", text, FORMS)
    written.head = piece(ends[0])
    if len(ends) == 2:
        written.last = piece(ends[1])
    if at < len(text):
        written.tolerance = _tolerance(text[at:])


def _clause(text: str, written: Written) -> None:
    """One clause after the value: a limit, or the spread of a level."""
    limit = _LIMIT.fullmatch(text)
    if limit:
        side = "high" if limit[1][0] in "<" or limit[1].lower().startswith("max") else "low"
        if getattr(written, side) is not None:
            raise QuantityError(f"states its {'upper' if side == 'high' else 'lower'} limit twice", text)
        setattr(written, side, piece(limit[2]))
        return
    match = _LEVEL.fullmatch(text)
    if match is None:
        raise QuantityError("has a clause that cannot be read", text, CLAUSES)
    level: Level = "lot" if (match[1] or "").lower() == "lot" else "part" if (match[1] or "").lower() == "part" else ""
    spread = piece(match[3]) if match[2] else _tolerance(match[3])
    if isinstance(spread, Piece) and spread.value < 0:
        raise QuantityError("has a negative standard deviation", text, "a standard deviation of zero or more")
    if match[1] is None and isinstance(spread, Tolerance):
        if written.tolerance or written.last:
            raise QuantityError("states its tolerance twice", text)
        written.tolerance = spread
    elif level in written.spreads:
        raise QuantityError(f"states the spread of {'the ' + level if level else 'the value'} twice", text)
    else:
        written.spreads[level] = spread


def read(text: str) -> Written:
    """Take a quantity text apart. QuantityError when it is not written as on a drawing."""
    plain = " ".join(text.split())
    if not plain:
        raise QuantityError("is empty", '""', FORMS)
    if len(plain) > LONGEST:
        raise QuantityError(f"is longer than {LONGEST} characters", plain[:40] + "…", FORMS)
    for sign, spelling in _SPELLINGS:
        plain = plain.replace(sign, spelling)
    written = Written()
    said = {(m["word"] or m["par"] or m["letter"])[0].lower() for m in _REFERENCE.finditer(plain)}
    if len(said) > 1:
        raise QuantityError("says both gauge and absolute", text, "one of gauge, abs")
    if said:
        written.reference = "gauge" if said == {"g"} else "absolute"
        plain = " ".join(_REFERENCE.sub("", plain).split())
    first, *clauses = _CLAUSE.split(plain)
    if _LIMIT.fullmatch(first):
        clauses.insert(0, first)
    else:
        _head(first, written)
    for clause in clauses:
        _clause(clause, written)
    return written
