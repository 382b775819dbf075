"""What can go wrong at a station: a declaration, as data. The chain moves its builds accordingly."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Literal

import numpy as np

from firstoff.chain.station import Columns, FloatArray

How = Literal["add", "scale", "set"]
Shape = Literal["uniform", "log-uniform", "half-normal"]
Who = Literal["all", "one", "group"]
Acts = Literal["parameters", "readings", "speed"]
Fate = Literal["rework", "scrap"]


@dataclass(frozen=True)
class Move:
    """One column that a fault changes: the size is added to it, multiplies it, or takes its place."""

    name: (
        str  # `station.parameter`; of a fault that acts on readings: a characteristic, or a stem with * for any ending
    )
    how: How


@dataclass(frozen=True)
class Sizes:
    """How large a fault is when it is there: a prior of its own, far wider than ordinary scatter.

    SI; for `scale` a factor. low, high: bounds with low < high, or equal for the one size of a discrete fault.
    """

    low: float
    high: float
    shape: Shape = "uniform"
    both_signs: bool = False

    def __post_init__(self) -> None:
        if not (np.isfinite(self.low) and np.isfinite(self.high) and self.low <= self.high):
            raise ValueError(f"sizes need finite bounds in order, not {self.low} to {self.high}")
        if self.shape != "uniform" and self.low * self.high <= 0.0:
            raise ValueError(f"{self.shape} sizes need bounds of one sign, not {self.low} to {self.high}")

    def grid(self, count: int) -> FloatArray:
        """`count` sizes of equal weight: the middles of equally probable classes of the prior.

        uniform: low + u (high - low); log-uniform: low (high/low)^u; half-normal, about the bound nearest zero, its sd
        half the range, cut at the far bound. u = (i + 1/2) / count. One size when low = high. With both signs the
        grid is mirrored. Source: definitions of the distributions.
        """
        if self.low == self.high:
            found = np.array([self.low])
        else:
            u = (np.arange(count) + 0.5) / count
            found = self._at(u)
        return np.concatenate([-found[::-1], found]) if self.both_signs else found

    def _at(self, u: FloatArray) -> FloatArray:
        if self.shape == "uniform":
            return np.asarray(self.low + u * (self.high - self.low))
        if self.shape == "log-uniform":
            return np.asarray(self.low * (self.high / self.low) ** u)
        from scipy.special import ndtr, ndtri

        near, far = sorted((self.low, self.high), key=abs)
        cut = 0.5 + u * (ndtr(2.0) - 0.5)  # the far bound stands at two standard deviations
        return np.sort(near + (far - near) * 0.5 * ndtri(cut))


@dataclass(frozen=True)
class Cure:
    """What it takes to undo the cause itself, so that its shift goes back to zero."""

    minutes: float = 240.0
    cost: float = 0.0  # in the plant's own money
    customer_approval: bool = False
    parts: Fate = "scrap"  # what can still be done with an affected part that does not conform
    by_setting: bool = False  # the cure is to move a setting back, which is a correction like any other
    note: str = ""  # how, or why not
    source: str = "assumed: common practice, no source"


@dataclass(frozen=True)
class Fault:
    """A cause as its station declares it."""

    name: str
    station: str
    title: str  # shop words
    moves: tuple[Move, ...]
    sizes: Sizes
    who: tuple[Who, ...]
    per_thousand: float  # launches in which it happens
    confirm: str  # what would prove it
    cure: str
    beware: str
    acts: Acts = "parameters"
    source: str = "assumed: common practice, no source"  # of frequency and sizes
    effort: Cure = Cure()  # what `cure` takes

    @property
    def kind(self) -> Literal["continuous", "discrete"]:
        return "discrete" if self.sizes.low == self.sizes.high and not self.sizes.both_signs else "continuous"


def moved(columns: Mapping[str, FloatArray], fault: Fault, sizes: FloatArray) -> Columns:
    """Builds, each repeated for every size (m,) with the fault in it: first all sizes of the first build.

    `columns` are left as they are. A pattern with * moves every column it fits. KeyError when a move fits none.
    """
    found = {name: np.repeat(column, len(sizes), axis=0) for name, column in columns.items()}
    for move in fault.moves:
        names = [name for name in found if fnmatchcase(name, move.name)]
        if not names:
            raise KeyError(move.name)
        for name in names:
            found[name] = _change(found[name], move.how, np.tile(sizes, len(columns[name])))
    return found


def applied(columns: Mapping[str, FloatArray], fault: Fault, size: float) -> Columns:
    """Builds with the fault in each of them at one size; `columns` are left as they are.

    KeyError when a move fits no column.
    """
    found = dict(columns)
    for move in fault.moves:
        names = [name for name in found if fnmatchcase(name, move.name)]
        if not names:
            raise KeyError(move.name)
        for name in names:
            found[name] = _change(found[name], move.how, np.full(len(found[name]), size))
    return found


def _change(column: FloatArray, how: How, sizes: FloatArray) -> FloatArray:
    if how == "add":
        return column + sizes
    return column * sizes if how == "scale" else np.array(sizes, dtype=np.float64)
