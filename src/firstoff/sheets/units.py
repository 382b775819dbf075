"""Units as written, and the way from them to SI and back.

pint knows the units; it is loaded only when the first unit is looked up, and only plain floats leave this file. A unit
text is checked before pint sees it, so that no text can make pint compute.
"""

from __future__ import annotations

import difflib
import math
import re
import tokenize
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

Number = TypeVar("Number", "float", "FloatArray")


class QuantityError(ValueError):
    """A quantity or unit cannot be used: what is wrong, what was found, what is allowed, the nearest unit."""

    def __init__(self, what: str, found: str = "", allowed: str = "", nearest: str = "") -> None:
        text = what + (f"; found {found}" if found else "") + (f"; allowed: {allowed}" if allowed else "")
        super().__init__(text + (f"; did you mean {nearest}?" if nearest else ""))
        self.what = what
        self.found = found
        self.allowed = allowed
        self.nearest = nearest


@dataclass(frozen=True)
class Unit:
    """SI value = written value * factor + offset."""

    text: str
    factor: float
    offset: float
    dimension: str  # canonical text; equal texts can be converted into each other
    difference: bool  # a temperature difference by its very name (delta_degC)


# Words of the trade: first those that name a kind, then units of that kind, the most usual first.
KINDS: tuple[tuple[str, ...], ...] = (
    ("a plain ratio or count", "1", "%", "ppm"),
    ("a length", "mm", "in", "um", "m", "cm", "nm", "inch", "thou", "mil", "ft"),
    ("an area", "mm^2", "dm^2", "m^2", "in^2", "cm^2"),
    ("a volume", "ml", "cm^3", "l", "mm^3", "m^3"),
    ("a mass", "kg", "g", "mg", "t", "lb", "oz"),
    ("a time", "s", "min", "h", "ms", "day"),
    ("a temperature", "degC", "K", "degF", "°C", "°F", "delta_degC"),
    ("a force", "N", "kN", "lbf", "kgf", "MN", "mN"),
    ("a pressure or stress", "MPa", "bar", "psi", "kPa", "Pa", "GPa", "ksi", "N/mm^2"),
    ("an energy or torque", "J", "N*m", "kJ", "Nm", "mJ", "kWh"),
    ("a power", "W", "kW", "hp"),
    ("a speed", "m/s", "mm/s", "km/h", "m/min", "mm/min", "mph", "in/s"),
    ("an acceleration", "m/s^2", "g_0"),
    ("a frequency or rate", "1/s", "Hz", "1/min", "1/h", "parts/h"),
    ("an angle", "deg", "rad", "degree", "mrad"),
    ("an angular speed", "rpm", "rad/s", "deg/s"),
    ("an electric current", "A", "mA", "kA"),
    ("a voltage", "V", "mV"),
    ("an electric charge", "A*h", "A*min", "C", "Ah"),
    ("a current density", "A/dm^2", "A/m^2", "A/cm^2", "A/ft^2"),
    ("a resistance", "ohm", "mohm"),
    ("an electrical conductivity", "S/m", "mS/cm"),
    ("a density or concentration", "g/l", "kg/m^3", "g/cm^3", "mg/l"),
    ("a molar concentration", "mol/l", "mol/m^3"),
    ("a dynamic viscosity", "mPa*s", "Pa*s", "cP"),
    ("a kinematic viscosity", "mm^2/s", "cSt", "m^2/s"),
    ("a stiffness or surface tension", "N/mm", "N/m", "kN/m", "mN/m"),
    ("a damping coefficient or mass flow", "N*s/m", "kg/s", "g/s", "g/min", "kg/h"),
    ("a volume flow", "l/min", "ml/s", "ml/min", "m^3/h", "m^3/s"),
    ("a mass per area", "g/m^2", "mg/cm^2"),
    ("a heating rate", "K/min", "K/s"),
    ("a thermal expansion", "1/K", "um/(m*K)"),
    ("a thermal conductivity", "W/(m*K)"),
    ("a specific heat", "J/(kg*K)"),
    ("a heat transfer coefficient", "W/(m^2*K)"),
    ("a Vickers hardness", "HV"),
    ("a Rockwell C hardness", "HRC"),
    ("a Brinell hardness", "HB"),
    ("a gloss reading", "GU"),
)

# Names that pint reads otherwise than the shop does (Nm, mil, pcs, C), or does not know.
_ALIASES = {
    **{name: name[:-1] + "*m" for name in ("Nm", "kNm", "mNm", "MNm")},
    **dict.fromkeys(("mil", "mils"), "thou"),
    **dict.fromkeys(("pcs", "pieces", "part", "parts", "cycle", "cycles", "shots", "strokes"), "count"),
    **{name: f"firstoff_{name}" for name in ("HV", "HRC", "HB", "GU")},
}
_NAME = r"[^\W\d_]\w*"
_TOKEN = re.compile(rf"\s*(?:({_NAME})|(?:\^|\*\*)\s*\(?-?[0-9](?:\.[0-9])?\)?(?![0-9.])|[*/()]|(?<![\w.])1(?=\s*/))")
_SIGNS = (
    ("℃", "degC"), ("℉", "degF"), ("Δ", "delta "), ("°C", "degC"), ("°F", "degF"), ("°", "degree"), ("%", "percent"),
    ("·", "*"), ("⋅", "*"), ("×", "*"), ("Ω", "ohm"), ("⁻", "^-"), ("¹", "1"), ("²", "2"), ("³", "3"), ('"', "inch"),
    ("″", "inch"), ("µ", "u"), ("μ", "u"),
)  # fmt: skip
_LOOKUP_FAULTS = (
    ArithmeticError, AssertionError, AttributeError, IndexError, KeyError, TypeError, ValueError, RecursionError,
    SyntaxError, tokenize.TokenError,
)  # fmt: skip


@lru_cache(maxsize=1)
def _registry() -> Any:
    """The one registry of the process; no cache on disk, so that nothing stale is ever read."""
    import pint

    registry: Any = pint.UnitRegistry(cache_folder=None)
    for name in ("HV", "HRC", "HB", "GU"):  # scales without a way to SI: each is a dimension of its own
        registry.define(f"firstoff_{name} = [scale_{name}]")
    return registry


def _for_pint(text: str) -> str:
    """The unit in pint's spelling, or an empty text when it is not made of names, products and small powers."""
    if "%" in text and text != "%" and not text.startswith("%/"):  # `% bar` is two units, not a product
        return ""
    for sign, word in _SIGNS:
        text = text.replace(sign, word)
    text = re.sub(r"\b(?:delta[_ ]+)(?:deg[ _]?)?([CF])\b", r"delta_deg\1", text)
    text = re.sub(r"\bdeg ([CF])\b", r"deg\1", text)
    text = re.sub(r"\b([A-Za-z]+)([23])\b", r"\1^\2", text)  # dm2, cm3
    text = re.sub(r"\^(-[0-9])", r"^(\1)", text)
    if re.search(r"(?:\^|\*\*)[\s(]*-?[0-9.]+[\s)]*(?:\^|\*\*)", text):  # a power of a power
        return ""
    spelt, at = [], 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None or match.end() == at:
            return ""
        name = match.group(1)
        spelt.append(f"({_ALIASES[name]})" if name in _ALIASES else match.group(0).strip())
        at = match.end()
    return " ".join(spelt).replace(" ^", "^").replace(" **", "**")


@lru_cache(maxsize=1024)
def lookup(text: str) -> Unit:
    """The unit called `text`; `1` or an empty text is a plain number. QuantityError when nobody knows it."""
    written = text.strip()
    if written in ("", "1"):
        return Unit("1", 1.0, 0.0, "1", False)
    spelt = _for_pint(written) if len(written) <= 40 else ""
    if not spelt:
        raise _unknown(written)
    try:
        registry = _registry()
        unit = registry.parse_units(spelt)
        zero, one, two = (registry.Quantity(x, unit).to_base_units() for x in (0.0, 1.0, 2.0))
        factor, offset = float(one.magnitude - zero.magnitude), float(zero.magnitude)
        powers = {**dict(one.dimensionality), "angle": dict(one.unit_items()).get("radian", 0)}
        curved = not math.isclose(float(two.magnitude - one.magnitude), factor, rel_tol=1e-9)
    except _LOOKUP_FAULTS as fault:  # pint's own faults are AttributeError, ValueError or TypeError
        raise _unknown(written) from fault
    if curved or not math.isfinite(factor) or factor <= 0 or not 1e-60 < factor < 1e60:
        raise QuantityError("has a unit that is not proportional to an SI unit", written)
    offset = offset if abs(offset) > 1e-9 * factor else 0.0
    if not offset:
        factor = float(f"{one.magnitude:.15g}")  # 0.9999999999999999 is rounding of pint's chain, not a fact
    elif "degF" in spelt:
        factor = 5.0 / 9.0
    else:
        factor = float(f"{factor:.12g}")
    dimension = " ".join(f"{name}^{power:g}" for name, power in sorted(powers.items()) if power) or "1"
    return Unit(written, factor, offset, dimension, spelt.startswith("delta_deg") and "/" not in spelt)


def _unknown(text: str) -> QuantityError:
    return QuantityError("has an unknown unit", text[:40], nearest=nearest_unit(text))


@lru_cache(maxsize=1)
def _kinds() -> dict[str, tuple[str, ...]]:
    return {lookup(kind[1]).dimension: kind for kind in KINDS}


def kind_of(unit: Unit) -> str:
    """What the unit measures, in words with an article: `a mass`."""
    if unit.difference:
        return "a temperature difference"
    kind = _kinds().get(unit.dimension)
    return kind[0] if kind else f"something measured in {unit.text}"


def allowed_units(unit: Unit) -> str:
    """What may be written where `unit` is expected: `a length, e.g. mm, in`."""
    if unit.difference:
        return "a temperature difference, e.g. K, delta_degC"
    kind = _kinds().get(unit.dimension)
    if kind is None:
        return f"a value that can be converted to {unit.text}"
    examples = dict.fromkeys((unit.text, *kind[1:]))
    return f"{kind[0]}, e.g. {', '.join(list(examples)[:3])}"


def _distance(a: str, b: str) -> float:
    """Letters that differ, be it by one more, one less or another; a wrong case counts a quarter."""
    row = [float(j) for j in range(len(b) + 1)]
    for i, x in enumerate(a, 1):
        before, row = row, [float(i)]
        for j, y in enumerate(b, 1):
            swap = 0.0 if x == y else 0.25 if x.lower() == y.lower() else 1.0
            row.append(min(before[j] + 1, row[-1] + 1, before[j - 1] + swap))
    return row[-1]


def nearest_unit(text: str, like: Unit | None = None) -> str:
    """The usual unit that was most likely meant, of the dimension of `like` if one is near enough; or empty."""
    text = text.strip()[:40]
    reach = 1.0 if len(text) <= 4 else 2.0
    kinds = [kind for kind in KINDS if like is None or lookup(kind[1]).dimension == like.dimension]
    known = [name for kind in kinds for name in kind[1:] if name != "1"]
    near = [(_distance(text, name), name[0].lower() != text[:1].lower(), name) for name in known]
    near = [item for item in near if item[0] <= reach and (len(text) > 1 or item[0] < 1)]
    if near:
        return min(near, key=lambda item: item[:2])[2]
    if like is not None:
        return nearest_unit(text)
    match = difflib.get_close_matches(text, known, n=1, cutoff=0.6)
    return match[0] if match else ""


def to_si(value: Number, unit: str) -> Number:
    """SI value of `value` written in `unit`; degC and degF are absolute temperatures."""
    known = lookup(unit)
    return value * known.factor + known.offset


def from_si(value: Number, unit: str) -> Number:
    """Value in `unit` of an SI value; the inverse of :func:`to_si`."""
    known = lookup(unit)
    return (value - known.offset) / known.factor


def same_dimension(one: str, other: str) -> bool:
    """Whether a value in one unit can be converted to the other; an angle per time is no frequency."""
    return lookup(one).dimension == lookup(other).dimension


def format_number(value: float, digits: int = 4) -> str:
    """`value` to so many significant digits, without an exponent where a person would write none."""
    if not math.isfinite(value):
        return "no value"
    rounded = float(f"{value:.{digits - 1}e}") + 0.0
    if rounded == 0 or not 1e-4 <= abs(rounded) < 1e7:
        return f"{rounded:.{digits}g}"
    places = max(0, digits - 1 - math.floor(math.log10(abs(rounded))))
    text = f"{rounded:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def size_from_si(size: float, unit: str) -> float:
    """A difference or standard deviation in SI as a number of `unit`: a scale's offset does not enter it."""
    return size / lookup(unit).factor


def format_value(value_si: float, unit: str, digits: int = 4) -> str:
    """An SI value as the engineer writes it: `29.98 mm`. Never NaN: `no value`."""
    number = format_number(from_si(float(value_si), unit), digits)
    plain = unit.strip() in ("", "1") or number == "no value"
    return number if plain else f"{number} {unit}"
