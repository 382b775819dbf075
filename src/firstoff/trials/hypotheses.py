"""The hypotheses that are compared: each suspect in all parts, one part or one group, pairs, and what nobody declared.

Every hypothesis is a mixture of shifts of the readings. A shift stands for its class of sizes: it is taken as spread
over the way to its neighbours, so that a true size between two of the grid is not a misfit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from firstoff.methods import evidence
from firstoff.methods.evidence import Reduced
from firstoff.trials.scene import FloatArray, Scene, Suspect

SHAPE_ERROR = 0.03  # of a shift, each characteristic for itself: assumed, beside what the suspect says of itself
OTHER_ALL, OTHER_ONE = 0.050, 0.030  # prior of something undeclared in all parts, in one part or group: assumed
NAMED_SHARE = 0.5  # of that prior: one parameter or gauge nobody declared; the rest: many at once, or no pattern at all
MANY_SIZES = (4.0, 10.0)  # times the stated scatter of everything at once: assumed
MANY_FLOOR = 0.05  # times the usual size of declared faults, beside it: assumed
OTHER_SIZES = (0.3, 1.0)  # times the usual size of declared faults: assumed
PAIRS = 30  # how many pairs of faults are compared in full: those that fit best
NEGLIGIBLE = 18.0  # a hypothesis that lies as far below the best (natural log) is not worked out in full
NO_CHANCE = -1e9  # its log Bayes factor then: finite, for sums


@dataclass(frozen=True)
class Place:
    """Which parts a cause affects."""

    who: str
    label: str
    affected: npt.NDArray[np.bool_]
    share: float  # of the fault's prior


@dataclass
class Hypothesis:
    """One answer to what happened. Not `suspects`: nothing wrong, or something else."""

    suspects: tuple[Suspect, ...]
    place: Place
    prior: float
    log_scales: FloatArray  # log Bayes factor against no shift, for each scale of the scatter
    by_size: FloatArray | None = None  # (scales, sizes) of the first suspect
    other: bool = False


def places_of(scene: Scene) -> dict[str, list[Place]]:
    """All parts; each part; each group that somebody noted."""
    n = len(scene.parts)
    everything = np.ones(n, dtype=np.bool_)
    labels = [g for g in dict.fromkeys(scene.groups) if g]
    places = {"all": [Place("all", "all parts", everything, 1.0)], "one": [], "group": []}
    if n > 1:
        places["one"] = [Place("one", f"part {p}", np.arange(n) == i, 1.0 / n) for i, p in enumerate(scene.parts)]
    if len(labels) > 1:
        named = np.array(scene.groups)
        places["group"] = [Place("group", f"group {g}", named == g, 1.0 / len(labels)) for g in labels]
    return places


def spreads_of(s: Suspect, error: float) -> FloatArray:
    """Covariances (m, k, k) of a suspect's shifts: of its shape, stated and assumed, and of the size within its class.

    Within its class a size is uniform: variance (way to the neighbours)^2 / 12 along the shift's own way. Source:
    definition of the uniform distribution.
    """
    m, k = s.shifts.shape
    found = np.zeros((m, k, k)) if s.spreads is None else s.spreads.copy()
    index = np.arange(k)
    found[:, index, index] += (error * s.shifts) ** 2
    for same_sign in (s.sizes < 0.0, s.sizes >= 0.0):
        if same_sign.sum() > 1:
            way = np.gradient(s.shifts[same_sign], axis=0)
            found[same_sign] += way[:, :, None] * way[:, None, :] / 12.0
    return found


def singles(
    reduced: Sequence[Reduced], suspects: Sequence[Suspect], places: Mapping[str, Sequence[Place]], error: float
) -> list[Hypothesis]:
    """Every suspect in every place it may affect; one without a chance at any scale of scatter keeps only its prior."""
    spreads = {s.name: spreads_of(s, error) for s in suspects}
    tried = sorted({0, len(reduced) // 2, len(reduced) - 1})
    found: list[Hypothesis] = []
    rough: list[FloatArray] = []
    for who, where in places.items():
        chosen = [s for s in suspects if who in s.who]
        if not chosen:
            continue
        shifts = np.concatenate([s.shifts for s in chosen])
        spread = np.concatenate([spreads[s.name] for s in chosen])
        cuts = np.cumsum([len(s.sizes) for s in chosen])[:-1]
        gains_of = np.array([_gains(reduced[i], where, shifts, spread) for i in tried])
        for place, gains in zip(where, np.moveaxis(gains_of, 1, 0), strict=True):
            for s, of_sizes in zip(chosen, np.split(gains, cuts, axis=1), strict=True):
                prior = s.prior / len([w for w in s.who if places[w]]) * place.share
                found.append(Hypothesis((s,), place, prior, np.full(len(reduced), NO_CHANCE), other=not s.declared))
                rough.append(of_sizes.max(axis=1))
    if found:
        best = np.maximum(np.max(rough, axis=0), 0.0)
        likely = [h for h, log in zip(found, rough, strict=True) if (log > best - NEGLIGIBLE).any()]
        for label in dict.fromkeys(h.place.label for h in likely):
            _work_out([h for h in likely if h.place.label == label], reduced, spreads)
    return found


def _work_out(together: Sequence[Hypothesis], reduced: Sequence[Reduced], spreads: Mapping[str, FloatArray]) -> None:
    """Single suspects in one place, at every scale of the scatter."""
    of = [h.suspects[0] for h in together]
    shifts = np.concatenate([s.shifts for s in of])
    spread = np.concatenate([spreads[s.name] for s in of])
    gains = np.array([evidence.gain(*r.on(together[0].place.affected), shifts, spread) for r in reduced])
    cuts = np.cumsum([len(s.sizes) for s in of])[:-1]
    for h, by_size in zip(together, np.split(gains, cuts, axis=1), strict=True):
        h.by_size = by_size
        h.log_scales = evidence.average(by_size, np.full(by_size.shape[1], 1.0 / by_size.shape[1]), axis=1)


def _gains(r: Reduced, where: Sequence[Place], shifts: FloatArray, spread: FloatArray) -> FloatArray:
    """Gain of each shift in each place, (places, m); places of one curvature, such as equally read parts, together."""
    on = [r.on(place.affected) for place in where]
    found = np.empty((len(where), len(shifts)))
    todo = list(range(len(where)))
    while todo:
        curvature = on[todo[0]][1]
        same = [i for i in todo if np.allclose(on[i][1], curvature, rtol=1e-9, atol=0.0)]
        found[same] = evidence.gain(np.array([on[i][0] for i in same]), curvature, shifts, spread)
        todo = [i for i in todo if i not in same]
    return found


def others(
    scene: Scene, reduced: Sequence[Reduced], declared: Sequence[Suspect], named: float,
    places: Mapping[str, Sequence[Place]],
) -> list[Hypothesis]:  # fmt: skip
    """Something undeclared that is no single parameter: many at once, or a shift in any direction.

    Many at once shift the readings as their scatter does, only farther; any direction: of the size that declared
    faults have, or a part of it. named: the share of the prior that undeclared single parameters already took.
    """
    both = scene.lot + scene.part
    usual = 3.0 * np.sqrt(np.diag(both))
    if declared:
        usual = np.maximum(usual, np.sqrt(np.mean([np.mean(s.shifts**2, axis=0) for s in declared], axis=0)))
    many = [size**2 * both + np.diag((MANY_FLOOR * usual) ** 2) for size in MANY_SIZES]
    spreads = np.array(many + [np.diag((size * usual) ** 2) for size in OTHER_SIZES])
    weights = np.full(len(spreads), 1.0 / len(spreads))
    zero = np.zeros((len(spreads), len(usual)))
    found = []
    for place in (p for of in places.values() for p in of):
        prior = (1.0 - named) * other_prior(place.who) * place.share
        log = [float(evidence.average(evidence.gain(*r.on(place.affected), zero, spreads), weights)) for r in reduced]
        found.append(Hypothesis((), place, prior, np.array(log), other=True))
    return found


def other_prior(who: str) -> float:
    """Probability in a launch of something undeclared."""
    return OTHER_ALL if who == "all" else OTHER_ONE


def undeclared_priors(suspects: Sequence[Suspect]) -> list[Suspect]:
    """Undeclared ways of being wrong share out `NAMED_SHARE` of the prior, by the weights they come with."""
    total = sum(s.prior for s in suspects)
    whole = sum(other_prior(who) for who in ("all", "one", "group"))
    return [replace(s, prior=NAMED_SHARE * whole * s.prior / total) for s in suspects]


def pairs(reduced: Sequence[Reduced], suspects: Sequence[Suspect], place: Place, error: float) -> list[Hypothesis]:
    """Two faults in all parts that do not move the same thing: those which fit best at the stated scatter."""
    two = [(a, b) for i, a in enumerate(suspects) for b in suspects[i + 1 :] if not set(a.touches) & set(b.touches)]
    if not two:
        return []
    on = [r.on(place.affected) for r in reduced]
    spreads = {s.name: spreads_of(s, error) for s in suspects}
    coarse = {s.name: _classes(s, 3, spreads[s.name]) for s in suspects}
    sums = [_sum(*coarse[a.name], *coarse[b.name]) for a, b in two]
    ends = np.cumsum([len(mean) for mean, _ in sums])[:-1]
    means, wide = (np.concatenate([found[i] for found in sums]) for i in (0, 1))
    gains = np.split(evidence.gain(*on[len(on) // 2], means, wide), ends)
    priors = np.array([a.prior * b.prior for a, b in two])
    rough = np.array([float(evidence.average(g, np.full(len(g), 1.0 / len(g)))) for g in gains])
    found = []
    for i in np.argsort(-(rough + np.log(priors)), kind="stable")[:PAIRS]:
        a, b = two[i]
        mean, spread = _sum(a.shifts, spreads[a.name], *_classes(b, 4, spreads[b.name]))
        fine = np.array([evidence.gain(g, m, mean, spread) for g, m in on])
        count = len(a.sizes)
        of_a = fine.reshape(len(on), count, -1)
        by_size = evidence.average(of_a, np.full(of_a.shape[2], 1.0 / of_a.shape[2]), axis=2)
        log = evidence.average(by_size, np.full(count, 1.0 / count), axis=1)
        found.append(Hypothesis((a, b), place, float(priors[i]), log, by_size))
    return found


def _classes(s: Suspect, count: int, spreads: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of the shifts in `count` classes of sizes: neighbours stay together, and keep their sign."""
    whole = len(s.shifts) % count == 0
    rows = np.array_split(np.arange(len(s.shifts)), count if whole else len(s.shifts))
    means = np.array([s.shifts[r].mean(axis=0) for r in rows])
    wide = np.array([_covariance(s.shifts[r]) + spreads[r].mean(axis=0) for r in rows])
    return means, wide


def _sum(a: FloatArray, spread_a: FloatArray, b: FloatArray, spread_b: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Every shift of one fault with every shift of the other."""
    k = a.shape[1]
    mean = (a[:, None] + b[None]).reshape(-1, k)
    return mean, (spread_a[:, None] + spread_b[None]).reshape(-1, k, k)


def _covariance(shifts: FloatArray) -> FloatArray:
    about = shifts - shifts.mean(axis=0)
    return np.asarray(about.T @ about / len(shifts))
