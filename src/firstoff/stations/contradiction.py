"""A design that cannot be: one parameter, what is wrong with its nominal, and what would be allowed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from firstoff.chain.station import Station
from firstoff.sheets.units import format_number


@dataclass(frozen=True)
class Contradiction:
    """Two statements of the sheets that exclude each other, told at the parameter that is most likely wrong."""

    key: str  # `station.parameter`
    what: str
    allowed: str


def not_whole(stations: Sequence[Station], at: Mapping[str, float]) -> Iterator[Contradiction]:
    """Every count among the parameters whose nominal (`at`, SI by `station.parameter`) is a fraction."""
    for station in stations:
        for parameter in station.parameters:
            key = f"{station.name}.{parameter.name}"
            if parameter.whole and key in at and at[key] != round(at[key]):
                around = sorted({max(int(at[key]), 0), int(at[key]) + 1})
                what = f"is {format_number(at[key])}: {parameter.what} must be a whole number"
                yield Contradiction(key, what, " or ".join(map(str, around)))
