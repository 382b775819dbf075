"""Which parameter leads a station out of range: by what its odd builds share, or by what would bring one build back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.order import order, upstream
from firstoff.chain.reduce import Totals
from firstoff.chain.sample import at_nominal
from firstoff.chain.station import Parameter, Plan, Station, Value
from firstoff.sheets.quantity import parse

FEWEST = 8  # odd builds; fewer say little
CLEAR = 4.0  # standard errors by which the odd builds must stand apart
LEAST = 1.5  # mean square, in variances, below which a parameter stands for nothing
# changes of one nominal that are tried, the smallest first: assumed
CHANGES = tuple(sign * size for size in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5) for sign in (1, -1)) + (1.0, 3.0)


@dataclass(frozen=True)
class Blame:
    """What a station's odd builds have in common."""

    builds: int
    parameter: str = ""  # the one that stands out most; empty when none does
    deviation: float = 0.0  # its mean deviation over these builds, in standard deviations


def blame(
    totals: Totals, stations: Sequence[str], parameters: Sequence[str], chain: Mapping[str, frozenset[str]]
) -> dict[str, Blame]:
    """For each station with odd builds, the scattering parameter that stands out in them.

    Compared is the mean square deviation, 1 for a parameter that has nothing to do with it, sd sqrt(2/n) for a normal
    one. chain: station -> stations it depends on; only their parameters can be at fault. Source: textbook.
    """
    found: dict[str, Blame] = {}
    for i, name in enumerate(stations):
        n = int(totals.odd[i])
        if not n:
            continue
        mine = [k for k, p in enumerate(parameters) if p.split(".")[0] in chain[name]]
        best = max(mine, key=lambda k: totals.square[i, k], default=-1)
        found[name] = Blame(n)
        if best < 0 or n < FEWEST:
            continue
        size = float(totals.square[i, best]) / n
        if size > LEAST and size - 1.0 > CLEAR * math.sqrt(2.0 / n):
            found[name] = Blame(n, parameters[best], float(totals.shift[i, best]) / n)
    return found


@dataclass(frozen=True)
class Cure:
    """The least change of one nominal that would bring a station back to ok."""

    parameter: str
    change: float  # relative, e.g. -0.05


def cure(stations: Sequence[Station], plans: Mapping[str, Plan], values: Sequence[Value], station: str) -> Cure | None:
    """The smallest of some relative changes of one nominal that makes `station` ok with all others at theirs.

    None when no single one does. A trial, not a recommendation: it shows which statement contradicts the others.
    """
    ordered = order(stations)
    mine = upstream(ordered)[station]
    declared = {f"{s.name}.{p.name}": p for s in ordered if s.name in mine for p in s.parameters}
    tried = [
        (change, v.name)
        for change in CHANGES
        for v in values
        if v.name in declared and _allowed(declared[v.name], v.nominal, v.nominal * (1.0 + change))
    ]
    if not tried:
        return None
    columns = {name: np.repeat(column, len(tried)) for name, column in at_nominal(values).items()}
    for k, (change, name) in enumerate(tried):
        columns[name][k] *= 1.0 + change
    builds = run(ordered, plans, Ensemble(columns, {}))
    good = np.all([builds.status[name] == 0 for name in mine], axis=0)
    if not good.any():
        return None
    change, name = tried[int(np.argmax(good))]
    return Cure(name, change)


def _allowed(parameter: Parameter, nominal: float, changed: float) -> bool:
    """Whether a nominal may be changed by a factor: no count, no temperature, and within the declared range."""
    if parameter.whole or parameter.unit == "degC" or nominal == 0.0:
        return False
    low, high = (
        parse(text, parameter.unit, pressure=parameter.pressure).nominal if text else None
        for text in (parameter.low, parameter.high)
    )
    return (low is None or changed >= low) and (high is None or changed <= high)
