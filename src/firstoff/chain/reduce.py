"""What is kept of a chunk of builds, and how chunks add up: the memory is the same for any number of builds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from firstoff.chain.ensemble import Ensemble, StationFault
from firstoff.chain.station import Characteristic, FloatArray, Plan, Station
from firstoff.chain.status import Status, describe
from firstoff.methods import histogram, moments
from firstoff.methods.histogram import CountArray, Grid
from firstoff.methods.moments import Moments


@dataclass(frozen=True)
class Totals:
    """Sums over builds. c characteristics, s stations, p parameters that scatter."""

    builds: int
    moments: Moments  # of each characteristic over the builds in which it has a value
    counts: CountArray  # (c, bins + 2) on the reducer's grid
    below: CountArray  # (c,) builds under the lower limit
    above: CountArray  # (c,) builds over the upper limit
    any_outside: int  # builds with any characteristic outside its limits
    any_without: int  # further builds in which a characteristic with limits has no value
    flags: CountArray  # (s, 256) builds by what each station itself made of them
    passed_on: CountArray  # (s, s) builds that a station (row) could not use, by the station (column) that spoilt them
    odd: CountArray  # (s,) builds that are not ok by a station's own doing
    shift: FloatArray  # (s, p) sum over those of the parameters' deviations, in standard deviations
    square: FloatArray  # (s, p) sum of their squares

    @property
    def no_value(self) -> CountArray:
        """(c,) builds in which a characteristic has no value: no limit judges them, its rate counts them."""
        return self.builds - self.moments.count


@dataclass(frozen=True)
class Reducer:
    """Reduces one chunk. All of its fields are settled before the first chunk, so that chunks can be merged."""

    characteristics: tuple[Characteristic, ...]
    stations: tuple[str, ...]  # in the order of the chain
    upstream: Mapping[str, frozenset[str]]  # column or station -> stations that it depends on
    parameters: Mapping[str, tuple[float, float]]  # that scatter -> mean and standard deviation
    grid: Grid

    def reduce(self, ensemble: Ensemble) -> Totals:
        x = valued(self.characteristics, ensemble, self.upstream)
        low = np.array([-np.inf if c.low is None else c.low for c in self.characteristics])
        high = np.array([np.inf if c.high is None else c.high for c in self.characteristics])
        below, above = x < low[:, np.newaxis], x > high[:, np.newaxis]
        limited = np.isfinite(low) | np.isfinite(high)
        outside = (below | above).any(axis=0)
        without = np.isnan(x[limited] if limited.any() else x).any(axis=0) & ~outside
        return Totals(
            builds=ensemble.n,
            moments=moments.moments(x),
            counts=histogram.tally(self.grid, x),
            below=below.sum(axis=1),
            above=above.sum(axis=1),
            any_outside=int(outside.sum()),
            any_without=int(without.sum()),
            **self._by_station(ensemble),
        )

    def _by_station(self, ensemble: Ensemble) -> dict[str, Any]:
        """What each station did by itself: a build that an earlier one spoilt is put down to that one only."""
        count = len(self.stations)
        flags = np.zeros((count, 256), np.int64)
        passed_on, odd = np.zeros((count, count), np.int64), np.zeros(count, np.int64)
        shift, square = np.zeros((2, count, len(self.parameters)))
        good = {name: ensemble.has_value_in([name]) for name in self.stations}
        spoilers = [j for j, name in enumerate(self.stations) if not good[name].all()]
        for i, name in enumerate(self.stations):
            left = np.ones(ensemble.n, dtype=np.bool_)  # builds that came to this station in good order
            for j in spoilers:
                if j < i and self.stations[j] in self.upstream[name]:
                    spoilt = left & ~good[self.stations[j]]
                    passed_on[i, j] = spoilt.sum()
                    left &= ~spoilt
            own = ensemble.status[name][left]
            flags[i] = np.bincount(own, minlength=256)
            strange = np.flatnonzero(left)[own != 0]
            odd[i] = len(strange)
            if len(strange):
                z = [(ensemble.columns[p][strange] - m) / s for p, (m, s) in self.parameters.items()]
                shift[i], square[i] = np.sum(z, axis=1), np.sum(np.square(z), axis=1)
        return {"flags": flags, "passed_on": passed_on, "odd": odd, "shift": shift, "square": square}


def merge(a: Totals, b: Totals) -> Totals:
    """Both together. Counts are exact in any order; means are equal to the last bit in a fixed order of chunks."""
    added = {f.name: getattr(a, f.name) + getattr(b, f.name) for f in fields(Totals) if f.name != "moments"}
    return Totals(moments=moments.merge(a.moments, b.moments), **added)


def valued(
    characteristics: Sequence[Characteristic], ensemble: Ensemble, upstream: Mapping[str, frozenset[str]]
) -> FloatArray:
    """The characteristics as rows (c, n), NaN where a station that they depend on gave no value."""
    x = stack(characteristics, ensemble)
    if not ensemble.has_value.all():
        for row, c in zip(x, characteristics, strict=True):
            row[~ensemble.has_value_in(upstream[c.name])] = np.nan
    return x


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
    """Builds by station and status, in words: {"rig": {"ok": 980, "cavitating": 10, "spoilt at gas": 10}}."""
    words: dict[str, dict[str, int]] = {}
    for i, name in enumerate(stations):
        row = totals.flags[i]
        counts: dict[str, int] = {}
        for flags in np.flatnonzero(row):
            text = describe(int(flags))
            unnamed = int(flags) & ~int(sum(Status))
            if unnamed:  # a flag without a name must not pass as ok
                text = f"flag {unnamed}" if text == "ok" else f"{text}, flag {unnamed}"
            counts[text] = counts.get(text, 0) + int(row[flags])
        counts |= {f"spoilt at {other}": int(k) for other, k in zip(stations, totals.passed_on[i], strict=True) if k}
        words[name] = counts
    return words
