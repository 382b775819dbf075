"""What to measure next: how much each possible reading is expected to tell about the cause, and what it would say.

Given the readings y so far, a hypothesis with the shift s (plus its shape error e ~ N(0, B)) predicts further readings.
With the lot offset l ~ N(0, L), the part deviation d_p ~ N(0, P), W_p = (P + R_p)^-1 on what was read of part p, and K
and M of :mod:`firstoff.methods.evidence` (g the gradient):

    e | y    ~ N(C (g - M s), C),  C = (B^-1 + M)^-1
    l | y, e ~ N(K (sum W r - A (s + e)), K),  A the sum of W_p over the affected parts
    z of a read part    = m + P W r + J (l + a (s + e)) + N(0, P - P W P + R),  J = I - P W
    z of q further parts (their mean) = m + l + a (s + e) + N(0, (P + R) / q)

a: whether the hypothesis affects the part. Source: conditioning of normal distributions (textbook).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from firstoff.chain.measurement import BARRED, Measurement
from firstoff.methods.evidence import Reduced
from firstoff.methods.expected_information import Mixture, entropy, expected_information
from firstoff.trials.answers import Answer, answers
from firstoff.trials.scene import FloatArray, Scene

LEAST_WEIGHT = 3e-4  # of a component of the mixture: what is lighter is left out
STANDS_OUT = 0.1  # by which a part must be more suspected than any other for the answers to be about it
WORTH = 0.05  # nat: a reading that is expected to tell less is not proposed; assumed


@dataclass(frozen=True)
class Held:
    """One hypothesis that the readings leave standing: sizes with their weights, and what they shift."""

    name: str  # of the fault, of two joined by +, `none`, `something else`
    title: str
    who: str  # `all parts`, `part FO-03`, `group A`, or empty
    weight: float  # probability after the readings
    affected: npt.NDArray[np.bool_]  # (n,) parts of the scene
    elsewhere: bool  # whether the rig and further parts of the lot have it, too
    sizes: FloatArray  # (m,) weights of the sizes after the readings, summing to one
    shifts: FloatArray  # (m, k), units of the scene
    variances: FloatArray  # (m, k) of the error of each shift, the same for all affected parts


@dataclass(frozen=True)
class Belief:
    """What is thought of the causes after the readings so far."""

    hypotheses: tuple[Held, ...]
    scale: float  # of the stated scatter

    @property
    def open(self) -> float:
        """How much is left to be told [nat]: the entropy of the hypotheses."""
        return entropy(np.array([h.weight for h in self.hypotheses]))


@dataclass(frozen=True)
class NextReading:
    """One possible measurement with what it is expected to tell."""

    measurement: Measurement
    parts: tuple[str, ...]  # of the parts already read, those to measure; empty for further parts or the rig
    information: float  # nat, expected
    share: float  # of what is open
    per_minute: float
    answers: tuple[Answer, ...]  # which reading would speak for which cause
    told_of: str = ""  # the part that the answers are about; empty: the mean of all that are measured
    confirms: bool = False  # all this is meant under the doubt, not under the belief

    @property
    def proposed(self) -> bool:
        return self.measurement.danger < BARRED and self.information >= WORTH


def rank(
    scene: Scene, belief: Belief, measurements: Sequence[Measurement], doubt: Belief | None = None
) -> tuple[NextReading, ...]:
    """Every measurement that is possible and not yet taken, the most information a minute first.

    scene: with a column for every name that a measurement reads; columns not yet read are empty. Measurements that
    are not proposed (too dangerous, or telling next to nothing) come last. doubt: what is believed instead where one
    cause is as good as sure: the measurements are then ranked by how well they confirm it.
    """
    held = doubt or belief
    reduced = scene.reduced(held.scale)
    prior = _prepared(scene, held, reduced)
    found = [_one(scene, held, prior, m, doubt is not None) for m in measurements if _possible(scene, m)]
    return tuple(sorted(found, key=lambda r: (not r.proposed, -r.per_minute, -r.information, r.measurement.name)))


def _possible(scene: Scene, m: Measurement) -> bool:
    """Whether the plant can make it, every name has a column, and at least one of them was not read yet."""
    if not m.available or not all(r.name in scene.names for r in m.reads):
        return False
    columns = [scene.names.index(r.name) for r in m.reads]
    return bool(np.isnan(scene.readings[:, columns]).all(axis=0).any())


@dataclass(frozen=True)
class _Component:
    """One size of one hypothesis, conditioned on the readings."""

    hypothesis: int
    weight: float
    affected: npt.NDArray[np.bool_]
    elsewhere: bool
    shift: FloatArray  # (k,) with the estimated shape error in it
    error: FloatArray  # C, (k, k)
    some: FloatArray  # A, (k, k)


@dataclass(frozen=True)
class _Prior:
    """What predictions of all measurements share."""

    components: tuple[_Component, ...]
    reduced: Reduced
    part: FloatArray  # P at the scale, (k, k)
    whole: FloatArray  # K sum W r, (k,)


def _prepared(scene: Scene, belief: Belief, reduced: Reduced) -> _Prior:
    found = []
    on: dict[bytes, tuple[FloatArray, FloatArray, FloatArray]] = {}
    eye = np.eye(len(scene.names))
    for i, h in enumerate(belief.hypotheses):
        key = h.affected.tobytes()
        if key not in on:
            on[key] = (*reduced.on(h.affected), reduced.weights[h.affected].sum(axis=0))
        g, m, some = on[key]
        for weight, s, b in zip(h.weight * h.sizes, h.shifts, h.variances, strict=True):
            if weight < LEAST_WEIGHT and weight < h.weight * h.sizes.max():
                continue
            spread = np.linalg.solve(eye + b[:, None] * m, np.diag(b))  # C without inverting B, which may be singular
            spread = 0.5 * (spread + spread.T)
            shift = s + spread @ (g - m @ s)
            found.append(_Component(i, float(weight), h.affected, h.elsewhere, shift, spread, some))
    return _Prior(tuple(found), reduced, belief.scale**2 * scene.part, reduced.common @ reduced.pulls.sum(axis=0))


def _one(scene: Scene, belief: Belief, prior: _Prior, m: Measurement, confirms: bool) -> NextReading:
    columns = [scene.names.index(r.name) for r in m.reads]
    of: list[int] = []
    told_of = ""
    if m.on == "same":
        of, first = _most_suspected(belief, m.parts)
        mixture = _of_read_parts(scene, prior, columns, of)
        told = _part_of(mixture, len(of), first)
        told_of = "" if first is None else scene.parts[of[first]]
    else:
        mixture = told = _of_further_parts(scene, prior, columns, m.parts if m.on == "lot" else 1)
    information = expected_information(mixture)
    share = information / belief.open if belief.open > 0.0 else 0.0
    labels = [(h.name, h.title, h.who) for h in belief.hypotheses]
    parts = tuple(scene.parts[i] for i in of)
    said = answers(told, labels, [r.name for r in m.reads])
    return NextReading(m, parts, information, share, information / m.minutes, said, told_of, confirms)


def _most_suspected(belief: Belief, count: int) -> tuple[list[int], int | None]:
    """The parts most likely to be affected, in the order of the scene, and which of them stands out, if one does."""
    suspicion = np.sum([h.weight * h.affected for h in belief.hypotheses if h.name != "none"], axis=0)
    order = np.argsort(-suspicion, kind="stable")
    of = sorted(int(i) for i in order[:count])
    stands_out = len(order) > 1 and suspicion[order[0]] > suspicion[order[1]] + STANDS_OUT
    return of, of.index(int(order[0])) if stands_out else None


def _mixture(prior: _Prior, means: Sequence[FloatArray], covariances: Sequence[FloatArray]) -> Mixture:
    weights = np.array([c.weight for c in prior.components])
    label = np.array([c.hypothesis for c in prior.components])
    return Mixture(weights / weights.sum(), np.array(means), np.array(covariances), label)


def _of_further_parts(scene: Scene, prior: _Prior, columns: list[int], count: int) -> Mixture:
    """The mean of the readings of `count` further parts, or of the rig."""
    common = prior.reduced.common
    noise = np.diag(scene.noise.mean(axis=0)[columns])
    at_rest = (scene.expected.mean(axis=0) + prior.whole)[columns]
    base = common[np.ix_(columns, columns)] + (prior.part[np.ix_(columns, columns)] + noise) / count
    pick = np.eye(len(common))[columns]
    means, covariances = [], []
    for c in prior.components:
        reach = float(c.elsewhere) * pick - common[columns] @ c.some
        means.append(at_rest + reach @ c.shift)
        covariances.append(base + reach @ c.error @ reach.T)
    return _mixture(prior, means, covariances)


def _of_read_parts(scene: Scene, prior: _Prior, columns: list[int], of: Sequence[int]) -> Mixture:
    """Readings of some of the parts that were read before, part after part."""
    r, common, wide = prior.reduced, prior.reduced.common, len(columns)
    pulls = [np.eye(len(common))[columns] - prior.part[columns] @ r.weights[i] for i in of]  # rows of J of each part
    own = np.zeros((len(of) * wide, len(of) * wide))
    for q, i in enumerate(of):
        block = prior.part - prior.part @ r.weights[i] @ prior.part + np.diag(scene.noise[i])
        own[q * wide : (q + 1) * wide, q * wide : (q + 1) * wide] = block[np.ix_(columns, columns)]
    stacked = np.concatenate(pulls)
    at_rest = np.concatenate([(scene.expected[i] + prior.part @ r.pulls[i])[columns] + j @ prior.whole
                              for i, j in zip(of, pulls, strict=True)])  # fmt: skip
    base = own + stacked @ common @ stacked.T
    means, covariances = [], []
    for c in prior.components:
        has = np.repeat([float(c.affected[i]) for i in of], wide)[:, None]
        reach = has * stacked - stacked @ common @ c.some
        means.append(at_rest + reach @ c.shift)
        covariances.append(base + reach @ c.error @ reach.T)
    return _mixture(prior, means, covariances)


def _part_of(mixture: Mixture, count: int, which: int | None) -> Mixture:
    """The same of one part's readings, or of the mean over the parts: (c, parts * r) to (c, r)."""
    r = mixture.means.shape[1] // count
    share = np.full(count, 1.0 / count) if which is None else np.eye(count)[which]
    pick = np.kron(share[None, :], np.eye(r))
    return Mixture(mixture.weights, mixture.means @ pick.T, pick @ mixture.covariances @ pick.T, mixture.hypothesis)


def in_units(found: Sequence[NextReading], units: Mapping[str, float]) -> tuple[NextReading, ...]:
    """The same with every reading in SI: `units` of the scene's columns."""
    return tuple(replace(r, answers=tuple(a.in_units(units) for a in r.answers)) for r in found)
