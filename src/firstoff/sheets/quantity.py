"""What an engineer writes on a drawing, settled into SI: nominal, limits, and scatter by level.

A tolerance without a named level is the total; once a spread for the lot is given, it is the part's. When the spread is
stated by itself (`30 ±0.03 mm, sd 0.005 mm`), the tolerance only sets the limits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.sheets.grammar import FORMS, Level, Piece, Tolerance, Written, read
from firstoff.sheets.spread import Spread
from firstoff.sheets.units import (
    QuantityError,
    Unit,
    allowed_units,
    format_number,
    format_value,
    from_si,
    kind_of,
    lookup,
    nearest_unit,
    same_dimension,
    to_si,
)

__all__ = [
    "ATMOSPHERE", "Quantity", "QuantityError", "format_number", "format_value", "from_si", "parse", "parse_limits",
    "same_dimension", "to_si",
]  # fmt: skip

ATMOSPHERE = 101_325.0  # Pa, standard atmosphere (ISO 2533), added to a gauge pressure
LARGEST = 1e30  # SI; beyond it a value is a slip of the pen


@dataclass(frozen=True)
class Quantity:
    """A quantity as the sheet states it, in SI; its limits are absolute values, its spreads are about the nominal."""

    nominal: float  # the middle of a range
    unit: str  # as written, `1` for a plain number
    text: str  # as written
    low: float | None = None
    high: float | None = None
    total: Spread | None = None
    lot: Spread | None = None
    part: Spread | None = None
    from_tolerance: bool = False  # a sd was read out of a tolerance, as so many sd: the caller lists this as assumed


@dataclass(frozen=True)
class _Frame:
    """What every piece of one text is read against."""

    text: str
    expected: Unit
    pressure: bool
    shift: float  # Pa, added to values but not to differences
    written: Unit  # of the head


def _mismatch(text: str, found: Unit, expected: Unit) -> QuantityError:
    near = "" if found.text == "1" else nearest_unit(found.text, expected)
    return QuantityError(f"is {kind_of(found)}", text, allowed_units(expected), near if near != found.text else "")


def _known(name: str, text: str, expected: Unit) -> Unit:
    """The unit called `name`; an unknown one is answered with the nearest of the expected dimension."""
    try:
        return lookup(name)
    except QuantityError as fault:
        raise QuantityError(
            f"{fault.what} {fault.found!r}", text, allowed_units(expected), nearest_unit(name, expected)
        ) from None


def _finite(value: float, text: str) -> float:
    if not math.isfinite(value) or abs(value) > LARGEST:
        raise QuantityError("is too large", text)
    return value


def _value(piece: Piece, frame: _Frame, unit: Unit) -> float:
    """SI value of a piece that stands for a value, not for a difference."""
    expected = frame.expected
    if unit.dimension != expected.dimension or (unit.difference and expected.offset):
        raise _mismatch(frame.text, unit, expected)
    if expected.difference and unit.offset:
        raise QuantityError("is a temperature, not a difference", frame.text, allowed_units(expected))
    value = _finite(piece.value * unit.factor + unit.offset + frame.shift, frame.text)
    if value < 0 and (unit.offset or expected.offset):
        raise QuantityError("is below absolute zero", frame.text, "0 K and above")
    if value < 0 and frame.pressure:
        raise QuantityError("is below vacuum", frame.text, "an absolute pressure of zero and above")
    return value


def _difference(piece: Piece, frame: _Frame, head: Piece | None) -> float:
    """SI size of a deviation or standard deviation; a percentage is one of the head as written."""
    unit = _known(piece.unit, frame.text, frame.expected) if piece.unit else frame.written
    ratio = frame.expected.dimension == "1"
    if unit.text == "%" and head is not None and not (ratio and (head.unit == "%" or frame.expected.text == "%")):
        if frame.written.offset:
            raise QuantityError("is a percentage of a temperature scale", frame.text, "a tolerance in K")
        return _finite(piece.value / 100 * abs(head.value) * frame.written.factor, frame.text)
    if unit.dimension != frame.expected.dimension:
        raise _mismatch(frame.text, unit, frame.expected)
    return _finite(piece.value * unit.factor, frame.text)


def _deviations(tolerance: Tolerance, frame: _Frame, head: Piece) -> tuple[float, float]:
    first, second = (_difference(p, frame, head) for p in (tolerance.first, tolerance.second))
    if first == second and first != 0:
        raise QuantityError("has a tolerance without width", frame.text, "two different deviations")
    return min(first, second), max(first, second)


def _head_unit(written: Written, text: str, expected: Unit) -> Unit:
    """The unit of the value itself: its own, or the one stated once at the end of the text."""
    pieces = [p for p in (written.head, written.last, written.low, written.high) if p]
    names = [p.unit for p in pieces if p.unit]
    if written.head and not names and written.tolerance:
        ends = {p.unit for p in (written.tolerance.first, written.tolerance.second) if p.unit}
        names = [name for name in ends if name != "%" or expected.text == "%"]
        if names and expected.offset and not _known(names[0], text, expected).offset:
            raise QuantityError("does not state the unit of the temperature itself", text, "20 degC ±2 K")
    if not names and expected.dimension != "1":
        raise QuantityError("has no unit", text, allowed_units(expected))
    if not names and expected.text != "1":
        raise QuantityError("has no unit", text, f"a number with its unit, e.g. {expected.text}")
    return _known(names[0] if names else "1", text, expected)


def _frame(written: Written, text: str, unit: str, pressure: bool) -> _Frame:
    expected = lookup(unit)
    of_head = _head_unit(written, text, expected)
    if of_head.dimension != expected.dimension:
        raise _mismatch(text, of_head, expected)
    if pressure and not written.reference:
        raise QuantityError(
            "does not say gauge or absolute", text, f'"6 {of_head.text} gauge" or "6 {of_head.text} abs"'
        )
    if written.reference and not pressure:
        raise QuantityError(
            f"says {written.reference}, which a difference or a value other than a pressure is not", text
        )
    return _Frame(text, expected, pressure, ATMOSPHERE if written.reference == "gauge" else 0.0, of_head)


def _spread(of: Piece | Tolerance, frame: _Frame, head: Piece, sigmas: float) -> Spread:
    if isinstance(of, Piece):
        return Spread(_difference(of, frame, head), "sheet")
    lower, upper = _deviations(of, frame, head)
    return Spread((upper - lower) / 2 / sigmas, "sheet", offset=(lower + upper) / 2)


def _limits(written: Written, frame: _Frame) -> tuple[float | None, float | None, float | None]:
    """Low, nominal and high in SI: from the tolerance or the range, and from limits stated by themselves."""

    def at(piece: Piece | None) -> float | None:
        if piece is None:
            return None
        return _value(piece, frame, _known(piece.unit, frame.text, frame.expected) if piece.unit else frame.written)

    nominal, last, low, high = (at(p) for p in (written.head, written.last, written.low, written.high))
    if (low is not None or high is not None) and (written.tolerance or written.last):
        raise QuantityError("states its limits twice", frame.text, FORMS)
    if nominal is not None and written.head is not None and written.tolerance is not None:
        lower, upper = _deviations(written.tolerance, frame, written.head)
        low, high = nominal + lower, nominal + upper
    elif nominal is not None and last is not None:
        low, high = nominal, last
        nominal = (low + high) / 2
    elif nominal is not None and ((low is not None and nominal < low) or (high is not None and nominal > high)):
        raise QuantityError("has its value outside its own limits", frame.text)
    width_needed = written.last is not None or written.low is not None
    if width_needed and low is not None and high is not None and not low < high:
        raise QuantityError("is a range from high to low", frame.text, "the lower end first")
    return low, nominal, high


def _text(text: object) -> str:
    if not isinstance(text, str):
        raise QuantityError("is not a quantity in quotes", str(text)[:60], FORMS)
    return text if len(text) <= 60 else text[:60] + "…"


def parse(text: str, unit: str, *, pressure: bool = False, sigmas: float = 3.0) -> Quantity:
    """Read a value with its scatter.

    A tolerance -a/+b is read as ±`sigmas` standard deviations about its middle: sd = (a + b) / (2 sigmas),
    offset = (b - a) / 2; a range as uniform over it: sd = width / sqrt(12). `unit` sets the dimension that is
    expected; `pressure` tells that gauge or absolute must be stated. QuantityError for everything else.
    """
    shown = _text(text)
    if not (math.isfinite(sigmas) and sigmas > 0):
        raise ValueError("sigmas must be positive")
    written = read(text)
    if written.head is None:
        raise QuantityError("is a limit, not a value", shown, FORMS)
    frame = _frame(written, shown, unit, pressure)
    low, nominal, high = _limits(written, frame)
    if nominal is None:
        raise QuantityError("states no value", shown, FORMS)
    spreads = {level: _spread(s, frame, written.head, sigmas) for level, s in written.spreads.items()}
    tolerances = any(isinstance(s, Tolerance) for s in written.spreads.values())
    unnamed: Level = "part" if "lot" in spreads else ""
    if "" in spreads and unnamed:
        if "part" in spreads:
            raise QuantityError("states the spread of lot, part and the whole at once", shown)
        spreads["part"] = spreads.pop("")
    if "part" not in spreads and unnamed not in spreads:
        if written.tolerance:
            spreads[unnamed] = _spread(written.tolerance, frame, written.head, sigmas)
            tolerances = True
        elif written.last and low is not None and high is not None:
            spreads[unnamed] = Spread((high - low) / math.sqrt(12), "sheet", "uniform")
    return Quantity(
        nominal, frame.written.text, text.strip(), low, high,
        spreads.get(""), spreads.get("lot"), spreads.get("part"), tolerances,
    )  # fmt: skip


def parse_limits(text: str, unit: str, *, pressure: bool = False) -> tuple[float | None, float | None, float | None]:
    """Low, nominal and high in SI of a value with a tolerance, a range (nominal in its middle) or bare limits."""
    shown = _text(text)
    written = read(text)
    frame = _frame(written, shown, unit, pressure)
    if written.head is not None:  # spreads are not used here, but a wrong one is still a fault of the sheet
        for spread in written.spreads.values():
            _spread(spread, frame, written.head, 3.0)
    elif written.spreads or written.tolerance:
        raise QuantityError("is a limit with a spread but without a value", shown, FORMS)
    return _limits(written, frame)
