"""Readings that another unit, a moved decimal point or a lost sign would explain: remarked, never corrected."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from firstoff.errors import Message
from firstoff.methods.conformity import Limits
from firstoff.sheets.units import KINDS, Unit, format_value, lookup
from firstoff.trials.columns import bare
from firstoff.trials.readings import Reading, Trial

FEWEST_OTHERS = 3  # parts, whose median may say what is usual
MOST_NAMED = 6  # lines or columns in one remark
DECIMALS = tuple(
    (f"the decimal point moved by {places}", factor)
    for places, power in (("one place", 10.0), ("two places", 100.0), ("three places", 1000.0))
    for factor in (power, 1.0 / power)
)


@dataclass(frozen=True)
class Usual:
    """What a reading is expected to be, SI: `near` it when a slip is made good, outside `odd` when it is one."""

    near: tuple[float, float]
    odd: tuple[float, float]
    source: str  # shop words

    @classmethod
    def about(cls, value: float, source: str) -> Usual:
        """Near: within 35 % of the value; odd: beyond 60 % of it. Assumed: common practice, no source."""
        return cls((value - 0.35 * abs(value), value + 0.35 * abs(value)),
                   (value - 0.6 * abs(value), value + 0.6 * abs(value)), source)  # fmt: skip

    def is_near(self, value: float) -> bool:
        return self.near[0] <= value <= self.near[1]

    def is_odd(self, value: float) -> bool:
        return not self.odd[0] <= value <= self.odd[1]


def slips(trial: Trial, limits: Mapping[str, Limits], expected: Mapping[str, float]) -> tuple[Message, ...]:
    """A remark for each slip that would explain readings far from what is usual.

    Usual is the middle of two limits, else the value at nominal settings (`expected`, SI), else a single limit, else
    the median of the other parts. Known slips: every common unit of the dimension (so factors such as 1000, 25.4,
    4.448, 9.81), the decimal point, the sign.
    """
    by_name: dict[str, list[Reading]] = {}
    for reading in trial.readings:
        by_name.setdefault(reading.characteristic, []).append(reading)
    causes: dict[tuple[str, str], list[Reading]] = {}
    for name, readings in by_name.items():
        for reading in readings:
            usual = _usual(limits.get(name, Limits()), expected.get(name), reading, readings)
            if usual is not None and usual.is_odd(reading.value):
                words = _explained(reading, usual)
                if words:
                    causes.setdefault((words, usual.source), []).append(reading)
    return tuple(_remark(trial, odd, *cause) for cause, odd in causes.items())


def _usual(limits: Limits, expected: float | None, reading: Reading, all_of_it: Sequence[Reading]) -> Usual | None:
    """What a reading should be near; None where nothing says so, or where it is about zero."""
    low, high = limits.low, limits.high
    if low is not None and high is not None and low * high > 0.0:
        return Usual.about(0.5 * (low + high), "the limits")
    if expected is not None:
        return Usual.about(expected, "the value at nominal settings") if expected else None
    if low is None and high is not None and high > 0.0:  # of what is never below zero: run-out, friction
        return Usual((0.05 * high, high), (-8.0 * high, 8.0 * high), "the limit")
    if high is None and low is not None and low > 0.0:
        return Usual((low, 20.0 * low), (0.125 * low, math.inf), "the limit")
    others = [r.value for r in all_of_it if (r.lot, r.part) != (reading.lot, reading.part)]
    middle = median(others) if len(others) >= FEWEST_OTHERS else 0.0
    return Usual.about(middle, "the other parts") if middle else None


def _explained(reading: Reading, usual: Usual) -> str:
    """The slips that would bring a reading near the usual, the likeliest first; empty when there is none."""
    written = lookup(bare(reading.unit))
    middle = 0.5 * (usual.near[0] + usual.near[1])
    fitting = [
        (abs(value - middle), words) for words, value in _corrected(reading.value, written) if usual.is_near(value)
    ]
    names = list(dict.fromkeys(words for _, words in sorted(fitting)))
    units = [name for name in names if name.startswith("the unit")]
    # a unit with a name explains better than a bare power of ten
    return " or ".join([*units, *(name for name in names if name not in units)][:2])


def _corrected(value: float, written: Unit) -> Iterator[tuple[str, float]]:
    """What a reading would have been, slip by slip."""
    yield "the sign is the other one", -value
    number = (value - written.offset) / written.factor
    kind = next((kind for kind in KINDS if lookup(kind[1]).dimension == written.dimension), ())
    seen = {(written.factor, written.offset)}
    for name in kind[1:]:
        unit = lookup(name)
        if unit.difference == written.difference and (unit.factor, unit.offset) not in seen:
            seen.add((unit.factor, unit.offset))
            yield f"the unit is {name}", number * unit.factor + unit.offset
    if not written.offset:
        for words, factor in DECIMALS:
            yield words, value * factor


def _remark(trial: Trial, odd: Sequence[Reading], words: str, source: str) -> Message:
    first = odd[0]
    lines = _listed("line", [str(line) for line in dict.fromkeys(r.line for r in odd)])
    columns = list(dict.fromkeys(r.column or r.characteristic for r in odd))
    lines = f"{_listed('column', columns)}, {lines}" if len(columns) > 1 else lines
    count = "1 reading lies" if len(odd) == 1 else f"{len(odd)} readings lie"
    what = f"{count} far from {source} and would fit if {words}: {lines}; used as written"
    shown = f"{format_value(first.value, bare(first.unit), 6)} of part {first.part}"
    return Message(what, trial.file, first.line, first.column or first.characteristic, shown, level="remark")


def _listed(word: str, names: Sequence[str]) -> str:
    """`line 4`, `lines 2, 3, 4 and 5 more`."""
    shown = ", ".join(names[:MOST_NAMED]) + (f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else "")
    return f"{word}{'s' * (len(names) > 1)} {shown}"
