"""Plain-text tables for a terminal, and numbers as the shop reads them. No numpy, no figure library."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal

from rich.cells import cell_len, chop_cells

from firstoff.errors import InputFault, Message

NO_VALUE = "–"
_GAP = "  "
_NARROWEST = 6  # cells; a text column is not squeezed further, the table turns into records instead
_TURNS = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # turn the direction of what follows
_NUMBER = re.compile(r"(?:[<>≤≥±] ?)?[+\-−]?(?:\d[\d ]*(?:\.\d+)?(?:e[+\-]?\d+)?|∞)(?: ?(?:%|ppm))?")

ROUNDING = 1e-9


def plain(text: object) -> str:
    """One printable line: runs of white space become one blank, control and escape characters go.

    Names come from sheets and readings files: one with an escape sequence must not steer a terminal or break an SVG.
    """
    line = " ".join(str(text).split())
    return "".join(c for c in line if unicodedata.category(c) not in ("Cc", "Cs", "Cn") and c not in _TURNS)


def op_label(op: int | str) -> str:
    """`op 10` for 10, "10" and "op 10"; any other text stays as it is."""
    text = plain(op)
    return f"op {text}" if text.isdecimal() else text


def number(value: float | int | None, digits: int = 4) -> str:
    """A number to `digits` significant digits, without trailing zeros.

    Integers and the integer part of a float are never rounded away (12 345.6 is `12346`); from a million up and below a
    thousandth the exponent goes in steps of three (`12.35e6`, `123.5e-6`), as in the trade's unit prefixes. None and
    NaN are `–`.
    """
    if value is None:
        return NO_VALUE
    if isinstance(value, int):
        return str(int(value))
    value = float(value)
    if math.isnan(value):
        return NO_VALUE
    if math.isinf(value):
        return "∞" if value > 0 else "-∞"
    if value == 0.0:
        return "0"
    exact = Decimal(repr(value))  # as it prints, so that a half is rounded as on paper
    rounded = _significant(exact, digits)
    exponent = rounded.adjusted()  # of the rounded value: 999.96 is 1000
    if -3 <= exponent < 6:
        step = Decimal(1).scaleb(min(exponent - digits + 1, 0))
        return _short(f"{exact.quantize(step, rounding=ROUND_HALF_UP):f}")
    thousands = 3 * (exponent // 3)
    return f"{_short(f'{rounded.scaleb(-thousands):f}')}e{thousands}"


def _significant(exact: Decimal, digits: int) -> Decimal:
    return exact.quantize(Decimal(1).scaleb(exact.adjusted() - digits + 1), rounding=ROUND_HALF_UP)


def _short(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def unit_sign(unit: str) -> str:
    """A unit as it is printed: `mm²` for mm2, `µm` for um, `°C` for degC; nothing for a plain number."""
    return "" if unit.strip() in ("", "1") else unit_signs(unit)


def unit_signs(text: str) -> str:
    """A text whose units are printed so."""
    text = re.sub(r"\b([kcdmu]?m)\^?([23])\b", lambda m: m[1] + "²³"[int(m[2]) - 2], text)
    text = re.sub(r"\bum\b", "µm", text)
    return text.replace("delta_degC", "K").replace("degC", "°C").replace("degF", "°F")


def share(p: float, *, bound: str = "") -> str:
    """A share of parts with two significant digits: `0.13 %`, `99.87 %`, `12 ppm`.

    From 0.1 % up in per cent, below in parts per million; near one, the digits are those of the rest 1 - p, so only
    an exact 1 prints `100 %`. `bound="<"` prints an upper bound (`< 37 ppm`, rounded up), `bound=">"` a lower one
    (rounded down), so that rounding never makes a claim stronger. NaN is `–`.
    """
    if bound not in ("", "<", ">"):
        raise InputFault([Message("is no bound of a share", key="bound", found=repr(bound), allowed="'', '<', '>'")])
    exact = _fraction(p, "share")
    if exact is None:
        return NO_VALUE
    sign = f"{bound} " if bound else ""
    if exact in (0, 1):
        return ("" if (exact == 0) == (bound == "<") else sign) + f"{exact * 100:.0f} %"
    way = {"": ROUND_HALF_UP, "<": ROUND_CEILING, ">": ROUND_FLOOR}[bound]
    if exact < Decimal("1e-8") and bound != ">":
        return "< 0.01 ppm"
    if 1 - exact < Decimal("1e-6") and bound != "<":
        return "> 99.9999 %"
    unit, size = ("%", 2) if exact >= Decimal("0.001") else ("ppm", 6)
    rest = min(exact, 1 - exact).scaleb(size)
    step = Decimal(1).scaleb(min(_significant(rest, 2).adjusted() - 1, 0))
    return f"{sign}{exact.scaleb(size).quantize(step, rounding=way):f} {unit}"


def probability(p: float) -> str:
    """A probability with two decimals, three within 0.01 of nought or one: `0.98`, `0.995`, `> 0.999`, `< 0.001`.

    Never `0` or `1`: no evidence of this trade makes a cause certain or impossible. NaN is `–`.
    """
    exact = _fraction(p, "probability")
    if exact is None:
        return NO_VALUE
    if exact > Decimal("0.999"):
        return "> 0.999"
    if exact < Decimal("0.001"):
        return "< 0.001"
    near_edge = min(exact, 1 - exact) <= Decimal("0.01")
    return f"{exact.quantize(Decimal('0.001' if near_edge else '0.01'), rounding=ROUND_HALF_UP):f}"


def _fraction(p: float, key: str) -> Decimal | None:
    """`p` as it prints, so that 37e-6 is 37 ppm and not 37.000000000000004; None for NaN."""
    value = float(p)
    if math.isnan(value):
        return None
    if 1.0 < value <= 1.0 + ROUNDING:
        value = 1.0  # a sum of many shares
    if not 0.0 <= value <= 1.0:
        raise InputFault([Message("is not a fraction of the whole", key=key, found=repr(value), allowed="0 to 1")])
    return Decimal(repr(value))


def table(headers: Sequence[str], rows: Sequence[Sequence[object]], *, width: int = 100) -> str:
    """Columns aligned by their width on screen, no line longer than `width` cells, no newline at the end.

    Floats go through :func:`number`, None is `–`; a column that holds only numbers (also with %, ppm, < or >) is
    aligned to the right and never broken. Text wraps inside its column. What cannot fit even so is printed as one
    `header: value` block per row.
    """
    faults = [
        Message(f"row {i} of the table has the wrong number of cells", found=str(len(r)), allowed=str(len(headers)))
        for i, r in enumerate(rows, start=1)
        if len(r) != len(headers)
    ]
    if width < 2:
        faults.append(Message("is no width of a table", key="width", found=str(width), allowed="2 or more"))
    if faults:
        raise InputFault(faults)
    heads = [plain(h) for h in headers]
    if not heads:
        return ""
    cells = [[_cell(value) for value in row] for row in rows]
    right = [is_numeric([row[j] for row in cells]) for j in range(len(heads))]
    widths = _widths(heads, cells, right, width)
    if not widths:
        return _records(heads, cells, width)
    lines = _lines(heads, widths, right)
    lines.append(_GAP.join("─" * w for w in widths))
    for row in cells:
        lines += _lines(row, widths, right)
    return "\n".join(lines)


def _cell(value: object) -> str:
    if value is None:
        return NO_VALUE
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return number(value)
    if hasattr(value, "item") and getattr(value, "shape", None) == ():  # a numpy scalar, without importing numpy
        return _cell(value.item())
    return plain(value)


def is_numeric(cells: Sequence[str]) -> bool:
    said = [c for c in cells if c not in ("", NO_VALUE)]
    return bool(said) and all(_NUMBER.fullmatch(c) for c in said)


def _widths(heads: list[str], cells: list[list[str]], right: list[bool], width: int) -> list[int]:
    """Widths that fit into `width`; the widest text column gives way first. Empty when nothing fits."""
    columns = [[row[j] for row in cells] for j in range(len(heads))]
    # a number is never broken, its header may be
    body = [max((cell_len(c) for c in column), default=0) for column in columns]
    widths = [max(cell_len(head), b, 1) for head, b in zip(heads, body, strict=True)]
    least = [
        min(w, max(b, max((cell_len(word) for word in head.split()), default=1)) if r else _NARROWEST)
        for head, w, b, r in zip(heads, widths, body, right, strict=True)
    ]
    excess = sum(widths) + len(_GAP) * (len(widths) - 1) - width
    for _ in range(max(excess, 0)):
        slack = [(w, j) for j, w in enumerate(widths) if w > least[j]]
        if not slack:
            return []
        widths[max(slack)[1]] -= 1
    return widths


def _lines(row: Sequence[str], widths: list[int], right: list[bool]) -> list[str]:
    wrapped = [wrap(text, w) for text, w in zip(row, widths, strict=True)]
    height = max(len(w) for w in wrapped)
    lines = []
    for i in range(height):
        parts = [w[i] if i < len(w) else "" for w in wrapped]
        padded = [_pad(p, w, r) for p, w, r in zip(parts, widths, right, strict=True)]
        lines.append(_GAP.join(padded).rstrip())
    return lines


def _pad(text: str, width: int, right: bool) -> str:
    blank = " " * max(width - cell_len(text), 0)
    return blank + text if right else text + blank


def wrap(text: str, width: int) -> list[str]:
    """Lines of at most `width` cells on screen, broken between words, within a word only when it is too long."""
    lines = [""]
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if cell_len(joined) <= width:
            lines[-1] = joined
            continue
        pieces = [word] if cell_len(word) <= width else chop_cells(word, width)
        lines += pieces
    return [line for line in lines if line] or [""]


def _records(heads: list[str], cells: list[list[str]], width: int) -> str:
    blocks = []
    for row in cells:
        lines: list[str] = []
        for head, text in zip(heads, row, strict=True):
            lines += wrap(f"{head}: {text}", width)
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) if blocks else "\n".join(wrap(", ".join(heads), width))
