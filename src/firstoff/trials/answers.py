"""Which answer of a measurement would speak for which cause."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from firstoff.methods.expected_information import FloatArray, Mixture

LEAST_SHARE = 0.02  # probability below which a cause is not spoken of
SURE = 0.5  # probability from which a reading speaks for a cause
GRID = 801  # points of the range over which one reading is looked at
TAIL = 4.0  # standard deviations


@dataclass(frozen=True)
class Range:
    """Values of one reading; None: open. The mean over the parts where several are measured."""

    name: str
    low: float | None
    high: float | None
    step: float  # a change of the reading that is worth printing


@dataclass(frozen=True)
class Answer:
    """A cause, and where the reading then lies."""

    name: str
    title: str
    who: str
    probability: float  # of the cause before the measurement
    ranges: tuple[Range, ...]  # one reading: where it speaks for the cause; several: the central 90 % of each
    decides: bool  # whether a reading there makes this cause the most likely

    def in_units(self, units: Mapping[str, float]) -> Answer:
        """The same in SI."""

        def si(name: str, value: float | None) -> float | None:
            return None if value is None else value * units[name]

        scaled = (Range(r.name, si(r.name, r.low), si(r.name, r.high), r.step * units[r.name]) for r in self.ranges)
        return replace(self, ranges=tuple(scaled))


def answers(mixture: Mixture, labels: Sequence[tuple[str, str, str]], names: Sequence[str]) -> tuple[Answer, ...]:
    """Answers of the causes worth naming, the most probable first.

    labels: name, title and who of each hypothesis; names: of the readings. Causes that predict the same are told apart
    by no answer, so one reading names only those for which some value speaks.
    """
    prior = mixture.prior(len(labels))
    named = [int(i) for i in np.argsort(-prior, kind="stable") if prior[i] >= LEAST_SHARE]
    if len(names) == 1:
        return _of_one(mixture, labels, names[0], prior, named)
    return tuple(
        Answer(*labels[i], float(prior[i]), tuple(_central(mixture, i, d, n) for d, n in enumerate(names)), False)
        for i in named
    )


def _of_one(
    mixture: Mixture, labels: Sequence[tuple[str, str, str]], name: str, prior: FloatArray, named: Sequence[int]
) -> tuple[Answer, ...]:
    sd = np.sqrt(mixture.covariances[:, 0, 0])
    heavy = mixture.weights >= 1e-3 * mixture.weights.max()
    low = float((mixture.means[:, 0] - TAIL * sd)[heavy].min())
    high = float((mixture.means[:, 0] + TAIL * sd)[heavy].max())
    z = np.linspace(low, high, GRID)
    p = mixture.posterior(z[:, None])
    best = p.argmax(axis=0)
    found = []
    for i in named:
        runs = _runs((best == i) & (p[i] >= SURE))
        ends = [(None if a == 0 else float(z[a]), None if b == GRID - 1 else float(z[b])) for a, b in runs]
        ranges = tuple(Range(name, *pair, _step(mixture, 0)) for pair in ends)
        found.append(Answer(*labels[i], float(prior[i]), ranges or (_central(mixture, i, 0, name),), bool(ranges)))
    return tuple(found)


def _step(mixture: Mixture, column: int) -> float:
    """Half of the least scatter that any cause leaves the reading."""
    return 0.5 * float(np.sqrt(mixture.covariances[:, column, column].min()))


def _runs(flags: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int64), [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _central(mixture: Mixture, hypothesis: int, column: int, name: str) -> Range:
    """The central 90 % of a reading under one hypothesis, by the two moments of its components."""
    own = mixture.hypothesis == hypothesis
    w = mixture.weights[own] / mixture.weights[own].sum()
    mean = mixture.means[own, column]
    middle = float(w @ mean)
    sd = float(np.sqrt(w @ (mixture.covariances[own, column, column] + (mean - middle) ** 2)))
    return Range(name, middle - 1.645 * sd, middle + 1.645 * sd, _step(mixture, column))
