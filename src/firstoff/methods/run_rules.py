"""Signals of an individuals chart: values beyond its limits, jumps, and runs on one side of its centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstoff.methods.control_charts import individuals_limits
from firstoff.methods.ranges import real, whole

RUN = (
    8  # values on one side in a row that are a signal: common practice; on average one in 2^8 - 1 values if nothing is
)


@dataclass(frozen=True)
class Individuals:
    """Limits of an individuals and moving-range chart, all in the unit of the values."""

    centre: float
    low: float
    high: float
    moving: float  # mean moving range
    moving_high: float


def moving_ranges(values: Sequence[float]) -> tuple[float, ...]:
    """MR_i = |x_i - x_(i-1)| of values in the order in which they came; one fewer than there are values.

    values: one unit. Raises ValueError. Source: ISO 7870-2.
    """
    checked = [real("x", x) for x in values]
    return tuple(abs(b - a) for a, b in zip(checked[:-1], checked[1:], strict=True))


def individuals_chart(values: Sequence[float]) -> Individuals:
    """Centre and limits from values in the order in which they came: centre = mean, limits by the mean moving range.

    values: one unit, 2 or more. Raises ValueError.
    Source: see :func:`firstoff.methods.control_charts.individuals_limits`.
    """
    whole("values", len(values), 2, 1_000_000)
    ranges = moving_ranges(values)
    mean, moving = sum(values) / len(values), sum(ranges) / len(ranges)
    low, high, moving_high = individuals_limits(mean, moving)
    return Individuals(mean, low, high, moving, moving_high)


def one_sided_runs(values: Sequence[float], centre: float, run: int = RUN) -> tuple[bool, ...]:
    """Whether each value ends a run of `run` or more strictly on the same side of the centre.

    values, centre: one unit; run: 2 to 1000. A value on the centre ends a run. Raises ValueError.
    Source: common practice. Where a coin decides the side, the first such value comes after 2^run - 1 on average.
    """
    centre, run = real("centre", centre), whole("run", run, 2, 1000)
    found, length, side = [], 0, 0
    for x in values:
        value = real("x", x)
        here = int(value > centre) - int(value < centre)
        length = length + 1 if here and here == side else int(here != 0)
        side = here
        found.append(length >= run)
    return tuple(found)
