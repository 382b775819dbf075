"""What is kept of a chunk of builds, and how chunks add up: the memory is the same for any number of builds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.chain.ensemble import Ensemble, StationFault
from firstoff.chain.station import Characteristic, FloatArray, Plan, Station
from firstoff.chain.status import Status, describe
from firstoff.methods import histogram, moments
from firstoff.methods.histogram import CountArray, Grid
from firstoff.methods.moments import Moments


@dataclass(frozen=True)
class Totals:
    """Sums over builds. c characteristics, s stations."""

    builds: int
    moments: Moments  # over builds with a value
    counts: CountArray  # (c, bins + 2) on the reducer's grid
    below: CountArray  # (c,) builds under the lower limit
    above: CountArray  # (c,) builds over the upper limit
    any_outside: int  # builds with any characteristic outside its limits
    flags: CountArray  # (s, 256) builds by status of each station

    @property
    def valued(self) -> int:
        """Builds that every station gave a value."""
        return self.moments.count

    @property
    def no_value(self) -> int:
        """Builds that some station could not give a value: no limit judges them, every rate counts them."""
        return self.builds - self.valued


@dataclass(frozen=True)
class Reducer:
    """Reduces one chunk. All of its fields are settled before the first chunk, so that chunks can be merged."""

    characteristics: tuple[Characteristic, ...]
    stations: tuple[str, ...]
    grid: Grid

    def reduce(self, ensemble: Ensemble) -> Totals:
        good = ensemble.has_value
        x = stack(self.characteristics, ensemble)[:, good]
        low = np.array([-np.inf if c.low is None else c.low for c in self.characteristics])
        high = np.array([np.inf if c.high is None else c.high for c in self.characteristics])
        below, above = x < low[:, np.newaxis], x > high[:, np.newaxis]
        flags = [np.bincount(ensemble.status[name], minlength=256) for name in self.stations]
        return Totals(
            builds=ensemble.n,
            moments=moments.moments(x),
            counts=histogram.tally(self.grid, x),
            below=below.sum(axis=1),
            above=above.sum(axis=1),
            any_outside=int((below | above).any(axis=0).sum()),
            flags=np.array(flags, dtype=np.int64).reshape(len(self.stations), 256),
        )


def merge(a: Totals, b: Totals) -> Totals:
    """Both together. Counts are exact in any order; means are equal to the last bit in a fixed order of chunks."""
    return Totals(
        builds=a.builds + b.builds,
        moments=moments.merge(a.moments, b.moments),
        counts=a.counts + b.counts,
        below=a.below + b.below,
        above=a.above + b.above,
        any_outside=a.any_outside + b.any_outside,
        flags=a.flags + b.flags,
    )


def stack(characteristics: Sequence[Characteristic], ensemble: Ensemble) -> FloatArray:
    """The characteristics as rows (c, n)."""
    rows = [ensemble.columns[c.name] for c in characteristics]
    return np.array(rows, dtype=np.float64).reshape(len(rows), ensemble.n)


def scalars(
    ordered: Sequence[Station], plans: Mapping[str, Plan], ensemble: Ensemble
) -> tuple[tuple[Characteristic, str], ...]:
    """Every characteristic with one number per build, and its station. Curves (n, axis) are left out."""
    found: dict[str, tuple[Characteristic, str]] = {}
    for station in ordered:
        for characteristic in plans[station.name].gives:
            name = characteristic.name
            if name not in ensemble.columns:
                raise StationFault(f"station {station.name}: its plan lists `{name}`, which no column holds")
            if name in found:
                raise StationFault(f"station {station.name}: `{name}` is also listed by {found[name][1]}")
            if ensemble.columns[name].ndim == 1:
                found[name] = (characteristic, station.name)
    return tuple(found.values())


def status_in_words(totals: Totals, stations: Sequence[str]) -> dict[str, dict[str, int]]:
    """Builds by station and status, in words: {"rig": {"ok": 990, "cavitating": 10}}."""
    words: dict[str, dict[str, int]] = {}
    for name, row in zip(stations, totals.flags, strict=True):
        counts: dict[str, int] = {}
        for flags in np.flatnonzero(row):
            text = describe(int(flags))
            unnamed = int(flags) & ~int(sum(Status))
            if unnamed:  # a flag without a name must not pass as ok
                text = f"flag {unnamed}" if text == "ok" else f"{text}, flag {unnamed}"
            counts[text] = counts.get(text, 0) + int(row[flags])
        words[name] = counts
    return words
