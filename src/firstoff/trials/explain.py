"""Explain: which cause makes the readings of a lot what they are, and how sure that is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.stats import chi2

from firstoff.methods import evidence
from firstoff.methods.evidence import Reduced
from firstoff.trials.scene import FloatArray, Scene, Suspect

SHAPE_ERROR = 0.05  # of a shift, common to all parts: assumed, the model is not exact in the shape of a fault either
OTHER_ALL, OTHER_ONE = 0.015, 0.010  # prior of something undeclared in all parts, in one part: assumed
OTHER_SIZES = (0.3, 1.0)  # times the usual size of declared faults: assumed
PAIRS = 30  # how many pairs of faults are compared in full: those that fit best
TOLD_APART = 2.3  # expected log of the Bayes factor, ln 10: below, readings do not tell two causes apart
SHOWN = 0.001  # causes less probable than this are not listed
MISFIT = 0.01


@dataclass(frozen=True)
class Cause:
    """One explanation of the readings. Sizes are as the fault declares them: added, or a factor."""

    name: str  # of the fault, of two joined by +, or `something else`
    title: str
    stations: tuple[str, ...]
    who: str  # `all parts`, `part FO-03`, `group A`
    probability: float
    log_bayes: float  # against `none of these`
    size: float | None = None  # posterior mean; of the first fault of a pair
    low: float | None = None  # the central 90 % of the posterior
    high: float | None = None
    readings: tuple[tuple[str, float], ...] = ()  # what each characteristic adds to the log likelihood, largest first
    alike: tuple[str, ...] = ()  # faults that these readings do not tell from it


@dataclass(frozen=True)
class Explanation:
    """Ranked causes; `none` and the probabilities of the causes that are not listed make up the rest of one."""

    none: float
    causes: tuple[Cause, ...]
    who: dict[str, float]  # none, all, group, one -> probability
    stations: dict[str, float]  # probability that the station has part in it; pairs count for both
    faults: dict[str, float]  # probability that the fault has part in it
    other: float  # something that nobody declared
    scale: float  # of the scatter, against the stated one: posterior mean
    fit: float  # probability of a worse fit than that of the best cause, if it were so
    statements: tuple[str, ...]
    unseen: tuple[str, ...] = ()  # faults that would hardly show in these readings at any size


@dataclass(frozen=True)
class _Place:
    """Which parts a cause affects."""

    who: str
    label: str
    affected: npt.NDArray[np.bool_]
    share: float  # of the fault's prior


@dataclass
class _Hypothesis:
    suspects: tuple[Suspect, ...]  # none: nothing wrong, or something else
    place: _Place
    prior: float
    log_scales: FloatArray  # log Bayes factor against no shift, for each scale
    by_size: FloatArray | None = None  # (scales, sizes) of the first suspect
    other: bool = False


def explain(scene: Scene, suspects: Sequence[Suspect], shape_error: float = SHAPE_ERROR) -> Explanation:
    """Compare every suspect, in all parts, one part or one group, pairs of suspects, something else, and nothing.

    P(h | readings) ~ P(h) sum_c w_c sum_size p(readings | h, size, c): sizes over their own prior, the factor c of the
    stated scatter over `evidence.scales`. Shifts of two faults are added. ValueError when nothing was read.
    """
    factors, weights = evidence.scales()
    reduced = [scene.reduced(float(c)) for c in factors]
    places = _places(scene)
    hypotheses = [_Hypothesis((), _Place("none", "", places["all"][0].affected, 1.0), 0.0, np.zeros(len(factors)))]
    hypotheses += _singles(reduced, suspects, places, shape_error)
    hypotheses += _others(scene, reduced, suspects, places)
    hypotheses += _pairs(reduced, [s for s in suspects if "all" in s.who], places["all"][0], shape_error)
    hypotheses[0].prior = max(1.0 - sum(h.prior for h in hypotheses), 0.05)
    base = np.array([r.log_density for r in reduced])
    joint = np.array([h.log_scales + base for h in hypotheses]).T  # (scales, hypotheses)
    log_evidence = evidence.average(joint, weights)
    p = evidence.posterior(log_evidence, np.array([h.prior for h in hypotheses]))
    at_scale = np.exp(joint - joint.max(axis=0)) * weights[:, None]
    at_scale /= at_scale.sum(axis=0)
    return _account(scene, suspects, hypotheses, p, log_evidence, at_scale, reduced, factors)


def _places(scene: Scene) -> dict[str, list[_Place]]:
    n = len(scene.parts)
    everything = np.ones(n, dtype=np.bool_)
    labels = [g for g in dict.fromkeys(scene.groups) if g]
    places = {"all": [_Place("all", "all parts", everything, 1.0)], "one": [], "group": []}
    if n > 1:
        places["one"] = [_Place("one", f"part {p}", np.arange(n) == i, 1.0 / n) for i, p in enumerate(scene.parts)]
    if len(labels) > 1:
        named = np.array(scene.groups)
        places["group"] = [_Place("group", f"group {g}", named == g, 1.0 / len(labels)) for g in labels]
    return places


def _shape(shifts: FloatArray, error: float) -> FloatArray:
    found = np.zeros((*shifts.shape, shifts.shape[1]))
    index = np.arange(shifts.shape[1])
    found[:, index, index] = (error * shifts) ** 2
    return found


def _singles(
    reduced: Sequence[Reduced], suspects: Sequence[Suspect], places: dict[str, list[_Place]], error: float
) -> list[_Hypothesis]:
    found = []
    for who, where in places.items():
        chosen = [s for s in suspects if who in s.who]
        if not chosen or not where:
            continue
        shifts = np.concatenate([s.shifts for s in chosen])
        spread = _shape(shifts, error)
        cuts = np.cumsum([len(s.sizes) for s in chosen])[:-1]
        for place in where:
            gains = np.array([evidence.gain(*r.on(place.affected), shifts, spread) for r in reduced])
            for s, of_sizes in zip(chosen, np.split(gains, cuts, axis=1), strict=True):
                kinds = [w for w in s.who if places[w]]
                log = evidence.average(of_sizes, np.full(len(s.sizes), 1.0 / len(s.sizes)), axis=1)
                found.append(_Hypothesis((s,), place, s.prior / len(kinds) * place.share, log, of_sizes))
    return found


def _others(
    scene: Scene, reduced: Sequence[Reduced], suspects: Sequence[Suspect], places: dict[str, list[_Place]]
) -> list[_Hypothesis]:
    """Something undeclared: a shift in any direction, of the size that declared faults have or a part of it."""
    k = len(scene.names)
    usual = 3.0 * np.sqrt(np.diag(scene.lot + scene.part))
    if suspects:
        usual = np.maximum(usual, np.sqrt(np.mean([np.mean(s.shifts**2, axis=0) for s in suspects], axis=0)))
    spreads = np.array([np.diag((size * usual) ** 2) for size in OTHER_SIZES])
    weights = np.full(len(spreads), 1.0 / len(spreads))
    found = []
    for place in (*places["all"], *places["one"], *places["group"]):
        prior = (OTHER_ALL if place.who == "all" else OTHER_ONE) * place.share
        zero = np.zeros((len(spreads), k))
        log = [float(evidence.average(evidence.gain(*r.on(place.affected), zero, spreads), weights)) for r in reduced]
        found.append(_Hypothesis((), place, prior, np.array(log), other=True))
    return found


def _pairs(reduced: Sequence[Reduced], suspects: Sequence[Suspect], place: _Place, error: float) -> list[_Hypothesis]:
    """Two faults in all parts that do not move the same thing: those which fit best at the stated scatter."""
    pairs = [(a, b) for i, a in enumerate(suspects) for b in suspects[i + 1 :] if not set(a.touches) & set(b.touches)]
    if not pairs:
        return []
    on = [r.on(place.affected) for r in reduced]
    coarse = {s.name: _classes(s, 3, error) for s in suspects}
    sums = [_sum(*coarse[a.name], *coarse[b.name]) for a, b in pairs]
    ends = np.cumsum([len(mean) for mean, _ in sums])[:-1]
    means, spreads = (np.concatenate([found[i] for found in sums]) for i in (0, 1))
    gains = np.split(evidence.gain(*on[len(on) // 2], means, spreads), ends)
    priors = np.array([a.prior * b.prior for a, b in pairs])
    rough = np.array([float(evidence.average(g, np.full(len(g), 1.0 / len(g)))) for g in gains])
    found = []
    for i in np.argsort(-(rough + np.log(priors)), kind="stable")[:PAIRS]:
        a, b = pairs[i]
        mean, spread = _sum(a.shifts, _shape(a.shifts, error), *_classes(b, 4, error))
        fine = np.array([evidence.gain(g, m, mean, spread) for g, m in on])
        count = len(a.sizes)
        of_a = fine.reshape(len(on), count, -1)
        by_size = evidence.average(of_a, np.full(of_a.shape[2], 1.0 / of_a.shape[2]), axis=2)
        log = evidence.average(by_size, np.full(count, 1.0 / count), axis=1)
        found.append(_Hypothesis((a, b), place, float(priors[i]), log, by_size))
    return found


def _classes(s: Suspect, count: int, error: float) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of the shifts in `count` classes of sizes: neighbours stay together, and keep their sign."""
    parts = np.array_split(s.shifts, count) if len(s.shifts) % count == 0 else [s.shifts[i : i + 1] for i in
                                                                               range(len(s.shifts))]  # fmt: skip
    means = np.array([part.mean(axis=0) for part in parts])
    spreads = np.array([_covariance(part) + _shape(part, error).mean(axis=0) for part in parts])
    return means, spreads


def _sum(a: FloatArray, spread_a: FloatArray, b: FloatArray, spread_b: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Every shift of one fault with every shift of the other."""
    k = a.shape[1]
    mean = (a[:, None] + b[None]).reshape(-1, k)
    return mean, (spread_a[:, None] + spread_b[None]).reshape(-1, k, k)


def _covariance(shifts: FloatArray) -> FloatArray:
    about = shifts - shifts.mean(axis=0)
    return np.asarray(about.T @ about / len(shifts))


def _account(
    scene: Scene, suspects: Sequence[Suspect], hypotheses: Sequence[_Hypothesis], p: FloatArray,
    log_evidence: FloatArray, at_scale: FloatArray, reduced: Sequence[Reduced], factors: FloatArray,
) -> Explanation:  # fmt: skip
    """Put the posterior into the engineer's words."""
    who: dict[str, float] = {"none": 0.0, "all": 0.0, "group": 0.0, "one": 0.0}
    stations: dict[str, float] = defaultdict(float)
    faults: dict[str, float] = defaultdict(float)
    for h, share in zip(hypotheses, p, strict=True):
        who[h.place.who] += float(share)
        for station in dict.fromkeys(s.station for s in h.suspects):
            stations[station] += float(share)
        for s in h.suspects:
            faults[s.name] += float(share)
    middle = reduced[int(np.argmin(np.abs(np.log(factors))))]
    order = [i for i in np.argsort(-p, kind="stable") if i > 0 and (p[i] >= SHOWN)]
    causes = tuple(
        _cause(scene, suspects, hypotheses[i], float(p[i]), float(log_evidence[i] - log_evidence[0]),
               at_scale[:, i], middle)
        for i in order
    )  # fmt: skip
    best = int(np.argmax(p))
    likely = int(np.argmax(at_scale[:, best]))
    fit = _fit(hypotheses[best], reduced[likely], likely)
    other = float(sum(share for h, share in zip(hypotheses, p, strict=True) if h.other))
    found = Explanation(
        float(p[0]),
        causes,
        who,
        _ranked(stations),
        _ranked(faults),
        other,
        float(factors @ at_scale @ p),
        fit,
        (),
        _unseen(scene, suspects, middle),
    )
    return replace(found, statements=_statements(found))


def _unseen(scene: Scene, suspects: Sequence[Suspect], middle: Reduced) -> tuple[str, ...]:
    """Faults whose largest shift is expected to move the log Bayes factor, s.M s / 2, by less than `TOLD_APART`."""
    places = _places(scene)
    by_who = {who: [middle.on(place.affected)[1] for place in of] for who, of in places.items()}

    def shows(s: Suspect) -> bool:
        seen = [0.5 * np.sum((s.shifts @ m) * s.shifts, axis=1).max() for who in s.who for m in by_who[who]]
        return max(seen, default=0.0) >= TOLD_APART

    return tuple(s.name for s in suspects if not shows(s))


def _ranked(shares: dict[str, float]) -> dict[str, float]:
    return dict(sorted(shares.items(), key=lambda item: -item[1]))


def _fit(h: _Hypothesis, r: Reduced, scale: int) -> float:
    """Chi-square probability of the readings under the most probable size; without a shift for what has no size."""
    misfit = r.misfit
    if len(h.suspects) == 1 and h.by_size is not None:
        s = h.suspects[0].shifts[int(np.argmax(h.by_size[scale]))]
        misfit -= 2.0 * float(evidence.gain(*r.on(h.place.affected), s)[0])
    elif h.suspects or h.other:
        return 1.0  # free enough to fit; said by its own probability
    return float(chi2.sf(max(misfit, 0.0), r.count))


def _cause(
    scene: Scene, suspects: Sequence[Suspect], h: _Hypothesis, p: float, bayes: float, at_scale: FloatArray,
    middle: Reduced,
) -> Cause:  # fmt: skip
    if not h.suspects:
        return Cause("something else", "something that no station declares", (), h.place.label, p, bayes)
    name = " + ".join(s.name for s in h.suspects)
    title = " and ".join(s.title for s in h.suspects)
    stations = tuple(dict.fromkeys(s.station for s in h.suspects))
    plain = Cause(name, title, stations, h.place.label, p, bayes)
    if h.by_size is None:
        return plain
    first = h.suspects[0]
    likely = np.exp(h.by_size - h.log_scales[:, None]).T @ at_scale
    likely /= likely.sum()
    size = float(likely @ first.sizes)
    low, high = (_quantile(first.sizes, likely, q) for q in (0.05, 0.95))
    if len(h.suspects) > 1:
        return replace(plain, size=size, low=low, high=high)
    s = likely @ first.shifts
    g, m = middle.on(h.place.affected)
    adds = s * g - 0.5 * s * (m @ s)
    order = np.argsort(-np.abs(adds))
    readings = tuple((scene.names[i], float(adds[i])) for i in order)
    alike = tuple(o.name for o in suspects if o.name != first.name and h.place.who in o.who and _alike(s, o, m))
    return replace(plain, size=size, low=low, high=high, readings=readings, alike=alike)


def _alike(s: FloatArray, other: Suspect, m: FloatArray) -> bool:
    """Whether some size of the other gives nearly this shift: the expected log Bayes factor is half of d.M d."""
    d = other.shifts - s
    return bool(0.5 * np.min(np.sum((d @ m) * d, axis=1)) < TOLD_APART)


def _quantile(sizes: FloatArray, weights: FloatArray, q: float) -> float:
    order = np.argsort(sizes)
    return float(sizes[order][min(int(np.searchsorted(np.cumsum(weights[order]), q)), len(sizes) - 1)])


def _statements(e: Explanation) -> tuple[str, ...]:
    said = []
    if e.none >= 0.5:
        said.append("these readings are what ordinary scatter gives: no station is accused")
    if e.other >= 0.5:
        said.append("no declared cause explains these readings: look for something that no station declares")
    if e.fit < MISFIT:
        said.append(f"even the best cause fits badly: a worse fit would come up in {e.fit:.1e} of such lots")
    if e.causes and e.causes[0].alike and e.none < 0.5:
        said.append(f"these readings do not tell {e.causes[0].name} from {', '.join(e.causes[0].alike)}")
    return tuple(said)
