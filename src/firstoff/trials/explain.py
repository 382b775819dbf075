"""Explain: which cause makes the readings of a lot what they are, and how sure that is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import chi2

from firstoff.methods import evidence
from firstoff.methods.evidence import Reduced
from firstoff.trials.hypotheses import (
    NAMED_SHARE,
    SHAPE_ERROR,
    Hypothesis,
    Place,
    others,
    pairs,
    places_of,
    singles,
    undeclared_priors,
)
from firstoff.trials.scene import FloatArray, Scene, Suspect

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
class Hint:
    """A parameter or gauge that nobody declared as a fault, and that would explain the readings."""

    name: str
    station: str
    title: str
    who: str
    probability: float
    size: float  # posterior mean, SI, added


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
    hints: tuple[Hint, ...] = ()  # within `something else`


def explain(scene: Scene, suspects: Sequence[Suspect], shape_error: float = SHAPE_ERROR) -> Explanation:
    """Compare every suspect, in all parts, one part or one group, pairs of suspects, something else, and nothing.

    P(h | readings) ~ P(h) sum_c w_c sum_size p(readings | h, size, c): sizes over their own prior, the factor c of the
    stated scatter over `evidence.scales`. Shifts of two faults are added. ValueError when nothing was read.
    """
    factors, weights = evidence.scales()
    reduced = [scene.reduced(float(c)) for c in factors]
    places = places_of(scene)
    declared = [s for s in suspects if s.declared]
    undeclared = undeclared_priors([s for s in suspects if not s.declared])
    nothing = Place("none", "", places["all"][0].affected, 1.0)
    hypotheses = [Hypothesis((), nothing, 0.0, np.zeros(len(factors)))]
    hypotheses += singles(reduced, [*declared, *undeclared], places, shape_error)
    hypotheses += others(scene, reduced, declared, NAMED_SHARE if undeclared else 0.0, places)
    hypotheses += pairs(reduced, [s for s in declared if "all" in s.who], places["all"][0], shape_error)
    hypotheses[0].prior = max(1.0 - sum(h.prior for h in hypotheses), 0.05)
    base = np.array([r.log_density for r in reduced])
    joint = np.array([h.log_scales + base for h in hypotheses]).T  # (scales, hypotheses)
    log_evidence = evidence.average(joint, weights)
    p = evidence.posterior(log_evidence, np.array([h.prior for h in hypotheses]))
    at_scale = np.exp(joint - joint.max(axis=0)) * weights[:, None]
    at_scale /= at_scale.sum(axis=0)
    return _account(scene, suspects, hypotheses, p, log_evidence, at_scale, reduced, factors)


def _account(
    scene: Scene, suspects: Sequence[Suspect], hypotheses: Sequence[Hypothesis], p: FloatArray,
    log_evidence: FloatArray, at_scale: FloatArray, reduced: Sequence[Reduced], factors: FloatArray,
) -> Explanation:  # fmt: skip
    """Put the posterior into the engineer's words."""
    who: dict[str, float] = {"none": 0.0, "all": 0.0, "group": 0.0, "one": 0.0}
    stations: dict[str, float] = defaultdict(float)
    faults: dict[str, float] = defaultdict(float)
    for h, share in zip(hypotheses, p, strict=True):
        who[h.place.who] += float(share)
        if h.other:
            continue
        for station in dict.fromkeys(s.station for s in h.suspects):
            stations[station] += float(share)
        for s in h.suspects:
            faults[s.name] += float(share)
    middle = reduced[int(np.argmin(np.abs(np.log(factors))))]
    bayes = log_evidence - log_evidence[0]
    order = [i for i in np.argsort(-p, kind="stable") if i > 0 and p[i] >= SHOWN and not hypotheses[i].other]
    declared = [s for s in suspects if s.declared]
    causes = [
        _cause(scene, declared, hypotheses[i], float(p[i]), float(bayes[i]), at_scale[:, i], middle) for i in order
    ]
    causes = sorted(causes + _something_else(hypotheses, p, bayes), key=lambda cause: -cause.probability)
    best = int(np.argmax(p))
    likely = int(np.argmax(at_scale[:, best]))
    fit = _fit(hypotheses[best], reduced[likely], likely)
    other = min(1.0, float(sum(share for h, share in zip(hypotheses, p, strict=True) if h.other)))
    found = Explanation(
        float(p[0]),
        tuple(causes),
        who,
        _ranked(stations),
        _ranked(faults),
        other,
        float(factors @ at_scale @ p),
        fit,
        (),
        _unseen(scene, declared, middle),
        _hints(hypotheses, p, at_scale),
    )
    return replace(found, statements=_statements(found))


def _something_else(hypotheses: Sequence[Hypothesis], p: FloatArray, bayes: FloatArray) -> list[Cause]:
    """All that nobody declared, one cause for each place."""
    found = []
    for label in dict.fromkeys(h.place.label for h in hypotheses if h.other):
        rows = [i for i, h in enumerate(hypotheses) if h.other and h.place.label == label]
        share = float(p[rows].sum())
        priors = np.array([hypotheses[i].prior for i in rows])
        if share >= SHOWN:
            log = float(evidence.average(bayes[rows], priors / priors.sum()))
            found.append(Cause("something else", "something that no station declares", (), label, share, log))
    return found


def _hints(hypotheses: Sequence[Hypothesis], p: FloatArray, at_scale: FloatArray) -> tuple[Hint, ...]:
    found = []
    for i in np.argsort(-p, kind="stable"):
        h = hypotheses[i]
        if h.other and h.by_size is not None and p[i] >= SHOWN:
            s = h.suspects[0]
            size = float(_sizes_of(h, at_scale[:, i]) @ s.sizes)
            found.append(Hint(s.name, s.station, s.title, h.place.label, float(p[i]), size))
    return tuple(found)


def _sizes_of(h: Hypothesis, at_scale: FloatArray) -> FloatArray:
    """Posterior of the sizes of the first suspect."""
    assert h.by_size is not None
    likely = np.exp(h.by_size - h.log_scales[:, None]).T @ at_scale
    return np.asarray(likely / likely.sum())


def _unseen(scene: Scene, suspects: Sequence[Suspect], middle: Reduced) -> tuple[str, ...]:
    """Faults whose largest shift is expected to move the log Bayes factor, s.M s / 2, by less than `TOLD_APART`."""
    places = places_of(scene)
    by_who = {who: [middle.on(place.affected)[1] for place in of] for who, of in places.items()}

    def shows(s: Suspect) -> bool:
        seen = [0.5 * np.sum((s.shifts @ m) * s.shifts, axis=1).max() for who in s.who for m in by_who[who]]
        return max(seen, default=0.0) >= TOLD_APART

    return tuple(s.name for s in suspects if not shows(s))


def _ranked(shares: dict[str, float]) -> dict[str, float]:
    # a sum of many shares may pass 1 by rounding
    return {name: min(share, 1.0) for name, share in sorted(shares.items(), key=lambda item: -item[1])}


def _fit(h: Hypothesis, r: Reduced, scale: int) -> float:
    """Chi-square probability of the readings under the most probable size; without a shift for what has no size."""
    misfit = r.misfit
    if len(h.suspects) == 1 and h.by_size is not None:
        s = h.suspects[0].shifts[int(np.argmax(h.by_size[scale]))]
        misfit -= 2.0 * float(evidence.gain(*r.on(h.place.affected), s)[0])
    elif h.suspects or h.other:
        return 1.0  # free enough to fit; said by its own probability
    return float(chi2.sf(max(misfit, 0.0), r.count))


def _cause(
    scene: Scene, suspects: Sequence[Suspect], h: Hypothesis, p: float, bayes: float, at_scale: FloatArray,
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
    likely = _sizes_of(h, at_scale)
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
    """Quantile of a size that is spread evenly over its class, which reaches halfway to its neighbours."""
    order = np.argsort(sizes)
    x = sizes[order]
    if len(x) == 1:
        return float(x[0])
    inner = 0.5 * (x[1:] + x[:-1])
    edges = np.concatenate([[1.5 * x[0] - 0.5 * x[1]], inner, [1.5 * x[-1] - 0.5 * x[-2]]])
    below = np.concatenate([[0.0], np.cumsum(weights[order])])
    return float(np.interp(q * below[-1], below, edges))


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
