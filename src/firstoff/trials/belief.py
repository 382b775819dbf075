"""From an explanation to what is thought of the causes: sizes weighed anew, over every column that could be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from firstoff.methods import evidence
from firstoff.methods.evidence import Reduced
from firstoff.trials.explain import Explanation
from firstoff.trials.hypotheses import OTHER_SIZES, SHAPE_ERROR
from firstoff.trials.next_reading import Belief, Held
from firstoff.trials.scene import FloatArray, Scene, Suspect

NOT_MOVED = 0.5  # probability that something undeclared leaves a reading alone that was not taken yet: assumed
SURE = 0.9  # probability from which the first cause is to be confirmed rather than told from others
OTHER = "something else"  # the name under which an explanation lists it
FEW = 6  # sizes of the second fault of a pair


def belief(scene: Scene, suspects: Sequence[Suspect], found: Explanation, error: float = SHAPE_ERROR) -> Belief:
    """The hypotheses of an explanation over the columns of a wider scene.

    scene: the readings explained, and empty columns of what could be read; suspects: with shifts of all its columns.
    Sizes are weighed at the posterior mean of the scatter's scale.
    """
    n, k = len(scene.parts), len(scene.names)
    by_name = {s.name: s for s in suspects}
    reduced = scene.reduced(found.scale)
    nobody = np.zeros(n, dtype=np.bool_)
    still = np.zeros((1, k))
    held = [Held("none", "nothing is wrong", "", found.none, nobody, False, np.ones(1), still, still)]
    group = next((c.who for c in found.causes if c.who.startswith("group ")), "")
    for cause in found.causes:
        affected = _affected(scene, cause.who)
        elsewhere = cause.who in ("all parts", group)
        named = [by_name[name] for name in cause.name.split(" + ") if name in by_name]
        if named:
            shifts, variances = _shifts(named, error)
            weights = np.full(len(shifts), 1.0 / len(shifts))
        else:
            shifts, variances, weights = _undeclared(scene, suspects)
        weights = _weighed(reduced, affected, shifts, variances, weights)
        held.append(Held(cause.name, cause.title, cause.who, cause.probability, affected, elsewhere, weights, shifts,
                         variances))  # fmt: skip
    total = sum(h.weight for h in held)
    return Belief(tuple(replace(h, weight=h.weight / total) for h in held if h.weight > 0.0), found.scale)


def doubt(scene: Scene, suspects: Sequence[Suspect], of: Belief) -> Belief | None:
    """The first cause against one that nobody declared, in the same parts and as likely, which leaves alone whatever
    was not read. None when no declared fault is as good as sure, be it alone or with another."""
    first = max(of.hypotheses, key=lambda h: h.weight)
    with_it = [h.weight for h in of.hypotheses if set(first.name.split(" + ")) <= set(h.name.split(" + "))]
    if first.name in ("none", OTHER) or sum(with_it) < SURE:
        return None
    shifts, variances, _ = _undeclared(scene, suspects)
    variances = variances * np.isfinite(scene.readings).any(axis=0)
    weights = np.full(len(shifts), 1.0 / len(shifts))
    weights = _weighed(scene.reduced(of.scale), first.affected, shifts, variances, weights)
    title = "something that no station declares"
    other = Held(OTHER, title, first.who, 0.5, first.affected, first.elsewhere, weights, shifts, variances)
    return Belief((replace(first, weight=0.5), other), of.scale)


def _affected(scene: Scene, who: str) -> npt.NDArray[np.bool_]:
    if who.startswith("part "):
        return np.array([f"part {p}" == who for p in scene.parts])
    if who.startswith("group "):
        return np.array([f"group {g}" == who for g in scene.groups])
    return np.ones(len(scene.parts), dtype=np.bool_)


def _shifts(named: Sequence[Suspect], error: float) -> tuple[FloatArray, FloatArray]:
    """Shifts of a fault at each size, or of two at every pair of sizes; each carries its own shape error."""
    shifts, variances = named[0].shifts, _own(named[0], error)
    for other in named[1:]:
        rows = np.unique(np.linspace(0, len(other.shifts) - 1, FEW).round().astype(int))
        shifts = (shifts[:, None] + other.shifts[rows][None]).reshape(-1, shifts.shape[1])
        variances = (variances[:, None] + _own(other, error)[rows][None]).reshape(-1, shifts.shape[1])
    return shifts, variances


def _own(s: Suspect, error: float) -> FloatArray:
    """Variance of each shift, (m, k): what is assumed of its shape, and what the suspect says itself."""
    own = 0.0 if s.spreads is None else np.diagonal(s.spreads, axis1=1, axis2=2)
    return np.asarray((error * s.shifts) ** 2 + own)


def _undeclared(scene: Scene, suspects: Sequence[Suspect]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """No shift, but a wide error of it; in columns not yet read there may as well be none."""
    usual = 3.0 * np.sqrt(np.diag(scene.lot + scene.part))
    if suspects:
        usual = np.maximum(usual, np.sqrt(np.mean([np.mean(s.shifts**2, axis=0) for s in suspects], axis=0)))
    read = np.isfinite(scene.readings).any(axis=0)
    variances = np.array([(size * usual * kept) ** 2 for size in OTHER_SIZES for kept in (np.ones_like(usual), read)])
    weights = np.array([share for _ in OTHER_SIZES for share in (1.0 - NOT_MOVED, NOT_MOVED)])
    return np.zeros_like(variances), variances, weights / weights.sum()


def _weighed(
    reduced: Reduced, affected: npt.NDArray[np.bool_], shifts: FloatArray, variances: FloatArray, weights: FloatArray
) -> FloatArray:
    """The weights of the sizes after the readings."""
    g, m = reduced.on(affected)
    seen = np.flatnonzero(np.diag(m) > 0.0)  # columns that were not read weigh nothing
    spread = np.zeros((len(shifts), len(seen), len(seen)))
    index = np.arange(len(seen))
    spread[:, index, index] = variances[:, seen]
    log = evidence.gain(g[seen], m[np.ix_(seen, seen)], shifts[:, seen], spread)
    return evidence.posterior(log, weights)
