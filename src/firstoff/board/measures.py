"""Metric or US customary: in which units an account reads and types. The sheets and the readings keep their own.

What the launch computed in SI is shown in the other unit at once; what was put into words is rewritten number by
number, each with so many decimals that none of its own resolution is lost.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from firstoff.chain.station import Characteristic
from firstoff.launch.account import limits_text
from firstoff.report.tables import unit_sign
from firstoff.sheets.units import from_si, lookup, to_si

METRIC, US = "metric", "us"
SYSTEMS = (METRIC, US)
DIGITS = 4  # significant, at least

# a unit of the trade -> the US customary one that is shown for it; what is not here is the same in both
CUSTOMARY: Mapping[str, str] = {
    "mm": "in", "cm": "in", "m": "ft", "um": "mil", "mm2": "in^2", "mm^2": "in^2", "cm2": "in^2", "cm^2": "in^2",
    "dm2": "ft^2", "dm^2": "ft^2", "m2": "ft^2", "m^2": "ft^2", "mm3": "in^3", "cm3": "in^3", "cm^3": "in^3",
    "ml": "in^3", "l": "gal", "kg": "lb", "g": "oz", "N": "lbf", "kN": "lbf", "MPa": "psi", "kPa": "psi", "Pa": "psi",
    "bar": "psi", "GPa": "ksi", "1/GPa": "1/ksi", "N/mm": "lbf/in", "kN/mm": "lbf/in", "N/m": "lbf/in",
    "N s/m": "lbf*s/in", "N*s/m": "lbf*s/in", "N*m": "ft*lbf", "Nm": "ft*lbf", "kN*m": "ft*lbf", "J": "ft*lbf",
    "kJ": "ft*lbf", "degC": "degF", "K": "delta_degF", "1/K": "1/delta_degF", "m/s": "in/s", "mm/s": "in/s",
    "m/min": "ft/min", "m/s2": "ft/s^2", "m/s^2": "ft/s^2", "A*min/dm2": "A*min/ft^2", "km/h": "mph",
    "kg/m3": "lb/ft^3", "kg/m^3": "lb/ft^3", "ml/min": "in^3/min", "l/min": "gal/min", "1/m": "1/ft",
    "A/dm2": "A/ft^2", "A/dm^2": "A/ft^2",
}  # fmt: skip
SIGNS: Mapping[str, str] = {
    "ft*lbf": "ft-lbf", "lbf*s/in": "lbf·s/in", "in^2": "in²", "in^3": "in³", "ft^2": "ft²", "lb/ft^3": "lb/ft³",
    "in^3/min": "in³/min", "ft/s^2": "ft/s²", "A*min/ft^2": "A·min/ft²", "A/ft^2": "A/ft²", "delta_degF": "°F",
    "1/delta_degF": "1/°F",
}  # fmt: skip
_PRINTED = {"N s/m": "N·s/m", "N*s/m": "N·s/m", "N*m": "N·m", "kN*m": "kN·m"}  # as results print some of them
_NUMBER = r"[+\-−]?\d+(?:\.\d+)?(?:e[+\-]?\d+)?"
_ONE = re.compile(_NUMBER)
_NEXT = rf"(?:(?: to | … | ± ?| ?±){_NUMBER}|/[-−]{_NUMBER})"
_ROW = rf"(?<![\w.,/\-−])(±? ?{_NUMBER}{_NEXT}*) ?"
_SUFFIX = re.compile(r"(.*?)( (?:abs|gauge))?")


def sign(unit: str) -> str:
    """A unit as the board prints it."""
    base, suffix = _parted(unit)
    return f"{SIGNS[base]}{suffix}" if base in SIGNS else unit_sign(unit)


def _parted(unit: str) -> tuple[str, str]:
    """A unit, and ` abs` or ` gauge` after it."""
    match = _SUFFIX.fullmatch(unit)
    return (match[1], match[2] or "") if match else (unit, "")


def _spellings(units: Mapping[str, str]) -> dict[str, str]:
    """Every way in which a unit is printed -> the unit."""
    return {spelt: unit for unit in units for spelt in (unit, unit_sign(unit), _PRINTED.get(unit, unit))}


_METRIC_WORDS = _spellings(CUSTOMARY)
_US_WORDS = {spelt: unit for unit in CUSTOMARY.values() for spelt in (unit, sign(unit))} | {"°F": "degF"}


def _quantities(words: Mapping[str, str]) -> re.Pattern[str]:
    units = "|".join(sorted(map(re.escape, words), key=len, reverse=True))
    return re.compile(rf"{_ROW}({units})(?![\w·*/^²³°-])")


_IN_METRIC, _IN_US = _quantities(_METRIC_WORDS), _quantities(_US_WORDS)


def _step(number: str) -> float:
    """What its last digit counts: 0.01 of 31.97."""
    mantissa, _, exponent = number.partition("e")
    return float(10.0 ** (int(exponent or 0) - len(mantissa.partition(".")[2])))


def _moved(number: str, old: str, new: str, size: bool, step: float) -> str:
    """A number in another unit, with so many decimals that nothing of the resolution is lost, and four digits."""
    found = _value(number, old, new, size)
    decimals = least = max(0, math.ceil(-math.log10(step * lookup(old).factor / lookup(new).factor) - 1e-9))
    if found:
        decimals = min(max(decimals, DIGITS - 1 - math.floor(math.log10(abs(found)))), 9)
    text = f"{found:.{decimals}f}"
    if float(text) == 0.0:
        return "0"
    while decimals > least and text.endswith("0"):
        text, decimals = text[:-1].rstrip("."), decimals - 1
    lead = "+" if number.startswith("+") and found > 0 else ""
    return lead + (text.replace("-", "−") if "−" in number else text)


def _value(number: str, old: str, new: str, size: bool) -> float:
    value = float(number.replace("−", "-"))
    if size:
        return value * lookup(old).factor / lookup(new).factor
    return float(from_si(to_si(value, old), new))


def _is_size(numbers: str, match: re.Match[str]) -> bool:
    """Whether a number follows a ± or stands in `+0.05/−0.08`: then no offset enters it."""
    return numbers[: match.start()].rstrip().endswith("±") or ("/" in numbers and match[0][0] in "+-−")


def _row(numbers: str, old: str, new: str) -> str:
    """Several numbers of one unit: `1225 to 1455`, `+0.05/−0.08`."""
    step = min((_step(each) for each in _ONE.findall(numbers)), default=1.0)
    return _ONE.sub(lambda m: _moved(m[0], old, new, _is_size(numbers, m), step), numbers)


@dataclass(frozen=True)
class Measures:
    """What an account chose."""

    system: str = METRIC

    @property
    def us(self) -> bool:
        return self.system == US

    def unit(self, unit: str) -> str:
        """The unit that is shown for a unit of the trade; `bar abs` keeps its `abs`."""
        if not self.us:
            return unit
        base, suffix = _parted(unit)
        known = _METRIC_WORDS.get(base, base)
        return CUSTOMARY[known] + suffix if known in CUSTOMARY else unit

    def of(self, c: Characteristic) -> Characteristic:
        """A characteristic whose values are shown in its other unit; limits stay SI."""
        return replace(c, unit=self.unit(c.unit)) if self.us else c

    def limits(self, c: Characteristic) -> str:
        """The limits of a characteristic as its own unit states them, in the unit that is shown."""
        return self.numbers(limits_text(c), c.unit)

    def numbers(self, text: str, unit: str) -> str:
        """A text of numbers in `unit`, whose unit stands elsewhere."""
        base = _METRIC_WORDS.get(_parted(unit)[0])
        return _row(text, base, CUSTOMARY[base]) if self.us and base else text

    def words(self, text: str) -> str:
        """A sentence, with every quantity in it rewritten."""
        if not self.us:
            return text

        def one(match: re.Match[str]) -> str:
            unit = _METRIC_WORDS[match[2]]
            return f"{_row(match[1], unit, CUSTOMARY[unit])} {sign(CUSTOMARY[unit])}"

        return _IN_METRIC.sub(one, text)

    def everywhere(self, value: Any) -> Any:
        """The same in every text of a result."""
        if isinstance(value, str):
            return self.words(value)
        if isinstance(value, Mapping):
            return {key: self.everywhere(each) for key, each in value.items()}
        if isinstance(value, list | tuple):
            return type(value)(self.everywhere(each) for each in value)
        return value

    def typed(self, text: str, unit: str) -> str:
        """What was typed for a value of `unit`, with its unit: a bare number is meant as it is shown."""
        tidy = text.strip().replace("ft-lbf", "ft*lbf").replace("ft-lb", "ft*lbf")
        if (
            not self.us
            or not tidy
            or self.unit(unit) == unit
            or not re.fullmatch(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?", tidy)
        ):
            return tidy if self.us else text
        return f"{tidy} {self.unit(unit)}"

    def for_sheet(self, text: str, unit: str) -> str:
        """What was typed for a setting, in the unit in which the sheet has it; another metric unit stays as typed."""
        base = _METRIC_WORDS.get(_parted(unit)[0])
        if not self.us or base is None:
            return text

        def one(match: re.Match[str]) -> str:
            return f"{_six(match[1], _US_WORDS[match[2]], base)} {base}"

        bare = re.fullmatch(rf"{_NUMBER}(?: ?± ?{_NUMBER}| [+]{_NUMBER}/[-−]{_NUMBER})?", text.strip())
        return f"{_six(text.strip(), CUSTOMARY[base], base)} {base}" if bare else _IN_US.sub(one, text)


def _six(numbers: str, old: str, new: str) -> str:
    """Numbers in another unit to six digits, as a sheet would have them."""

    def one(match: re.Match[str]) -> str:
        found = _value(match[0], old, new, _is_size(numbers, match))
        return f"{'+' if match[0].startswith('+') else ''}{float(f'{found:.6g}'):.10g}"

    return _ONE.sub(one, numbers)
