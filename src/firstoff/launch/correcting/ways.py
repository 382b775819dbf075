"""The ways things may be after the readings: each probable cause with its sizes, and what is left beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np
import numpy.typing as npt

from firstoff.chain.budget import affordable, slow
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import Fault
from firstoff.chain.predict import values_of
from firstoff.chain.sample import dimensions, sample
from firstoff.chain.station import FloatArray
from firstoff.families import Family
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.launch.plan import with_checks
from firstoff.methods import evidence
from firstoff.trials.explain import Cause
from firstoff.trials.hypotheses import SHAPE_ERROR, spreads_of
from firstoff.trials.scene import Scene, Suspect

PROBABLE = 0.02  # causes less probable than this are left out of what a correction must stand
MOST_WAYS = 8
MOST_STATES = 24
FEW_STATES = 8  # where a station takes its time
UNKNOWN = 3.0  # standard deviations of the readings' scatter: size of a shift that nobody declared
BUILDS = 1024  # of the ensemble that ties what was not read to what was
FEWEST = 256  # of them where a station takes its time
SEED = 1

Kind = Literal["process", "rig", "part", "nothing", "unknown"]
Faults = tuple[tuple[Fault, float], ...]


@dataclass(frozen=True)
class State:
    """Faults at one size, with what the readings then leave over."""

    faults: Faults  # in the parts that are made next; none where a rig or a single part is to blame
    weight: float  # given the way; of all states one
    offset: FloatArray  # (c,) by which parts differ from the chain's


@dataclass(frozen=True)
class Way:
    """One cause, or none, with its sizes."""

    name: str
    title: str
    kind: Kind
    who: str  # `all parts`, `part FO-03`, `group A`
    stations: tuple[str, ...]
    stated: float  # probability that the explanation gives it
    probability: float  # among those ways that are looked at, together one
    states: tuple[State, ...]
    spread: FloatArray  # (c, c) covariance of the offset

    @property
    def typical(self) -> Faults:
        """The faults at their mean sizes; of several faults at once the most probable sizes."""
        likely = max(self.states, key=lambda s: s.weight)
        if len(likely.faults) != 1:
            return likely.faults
        mean = sum(s.weight * s.faults[0][1] for s in self.states)
        return ((likely.faults[0][0], mean),)

    @property
    def offset(self) -> FloatArray:
        return np.asarray(sum(s.weight * s.offset for s in self.states))


def kind_of(fault: Fault, who: str, family: Family) -> Kind:
    """A rig's error is no fault of the parts, nor is a temperature that was not noted."""
    if fault.acts != "parameters" or all(move.name == family.temperature for move in fault.moves):
        return "rig"
    return "part" if who.startswith("part ") else "process"


def ways(explanation: LaunchExplanation, names: Sequence[str]) -> tuple[Way, ...]:
    """The probable causes, most probable first; those of the rig before all others when together they are the likelier.

    names: characteristics (c,) that the offsets are wanted for.
    """
    found = explanation.found
    causes = [c for c in found.causes if c.probability >= PROBABLE][:MOST_WAYS]
    if found.none >= PROBABLE or not causes:
        causes.append(Cause("nothing", "nothing is wrong", (), "all parts", found.none, 0.0))
    bridge = Bridge.of(explanation, names)
    total = sum(c.probability for c in causes)
    made = [replace(_way(explanation, cause, bridge), probability=cause.probability / total) for cause in causes]
    rig = sum(w.probability for w in made if w.kind == "rig")
    return tuple(sorted(made, key=lambda w: (rig > 0.5 and w.kind != "rig", -w.probability)))


def named_way(
    explanation: LaunchExplanation, fault: Fault, cause: Cause, names: Sequence[str], size: float | None
) -> Way:
    """The one way of a cause that the engineer names; its sizes from the readings, unless the size is given too."""
    bridge = Bridge.of(explanation, names)
    suspect = {s.name: s for s in explanation.prepared.suspects}[fault.name]
    sizes = suspect.sizes if size is None else np.array([size])
    shifts = suspect.shifts if size is None else _between(suspect, size)
    spreads = suspect.spreads if size is None else None
    way = _way(explanation, cause, bridge, {fault.name: replace(suspect, sizes=sizes, shifts=shifts, spreads=spreads)})
    return replace(way, stated=1.0, probability=1.0)


def _between(suspect: Suspect, size: float) -> FloatArray:
    """The shift at a size between those that were computed, or the nearest."""
    order = np.argsort(suspect.sizes)
    return np.array([[np.interp(size, suspect.sizes[order], column[order]) for column in suspect.shifts.T]])


@dataclass(frozen=True)
class Bridge:
    """From the characteristics that were read (k) to those that are wanted (c)."""

    gain: FloatArray  # (c, k): the same where it was read, by the scatter of lots where not
    rest: FloatArray  # (c, c) covariance that the readings leave to what was not read
    anchor: FloatArray  # (k,) what a known-good lot says about model and rig

    @classmethod
    def of(cls, explanation: LaunchExplanation, names: Sequence[str]) -> Bridge:
        """What the lot's offset in the readings says about that in the others: conditional normal variables (textbook),
        the error of the model being of each characteristic's own."""
        plan, scene = with_checks(explanation.plan), explanation.scene
        read = list(scene.names)
        values = [replace(v, part=None) for v in values_of(plan.stations, plan.plans)]
        both = [*read, *(n for n in names if n not in read)]
        units = dict.fromkeys(both, 1.0) | {n: explanation.prepared.units[n] for n in read}
        covariance = np.zeros((len(both), len(both)))
        if dimensions(values):
            count = affordable(plan.stations, BUILDS, FEWEST)
            builds = run(plan.stations, plan.plans, Ensemble(sample(values, 0, count, SEED), {}))
            rows = np.stack([builds.columns[n] / units[n] for n in both])[:, builds.has_value]
            covariance = np.atleast_2d(np.cov(rows))
        k = len(read)
        at = [both.index(n) for n in names]
        seen = covariance[:k, :k] + scene.model
        seen += 1e-9 * np.diag(np.diag(seen)) + 1e-300 * np.eye(k)
        gain: FloatArray = np.asarray(np.linalg.solve(seen, covariance[:k]).T, dtype=np.float64)
        rest = covariance - gain @ covariance[:k]
        gain[:k], rest[:k], rest[:, :k] = np.eye(k), 0.0, 0.0
        anchor = (scene.expected - explanation.prepared.scene.expected).mean(axis=0)
        si = np.array([units[n] for n in names])
        return cls(gain[at] * si[:, None], rest[np.ix_(at, at)] * np.outer(si, si), anchor)


def _way(
    explanation: LaunchExplanation, cause: Cause, bridge: Bridge, given: Mapping[str, Suspect] | None = None
) -> Way:
    scene, family = explanation.scene, explanation.plan.job.family
    suspects = {s.name: s for s in explanation.prepared.suspects} | dict(given or {})
    faults = [explanation.faults[name] for name in cause.name.split(" + ") if name in explanation.faults]
    affected = _affected(scene, cause.who)
    posterior = _Left.of(scene, explanation.found.scale, affected, bridge, unknown=cause.name == "something else")
    kinds = [kind_of(f, cause.who, family) for f in faults]
    kind: Kind = "process" if "process" in kinds else kinds[0] if kinds else "nothing"
    if cause.name == "something else":
        kind = "unknown" if cause.who == "all parts" else "part"
    most = FEW_STATES if slow(explanation.plan.stations) else MOST_STATES
    if not faults:
        states: tuple[State, ...] = (State((), 1.0, posterior.offset(np.zeros(len(scene.names)))),)
    else:
        states = _states(faults, kinds, [suspects[f.name] for f in faults], posterior, most)
    return Way(
        cause.name, cause.title, kind, cause.who, cause.stations, cause.probability, cause.probability, states,
        posterior.spread,
    )  # fmt: skip


def _affected(scene: Scene, who: str) -> npt.NDArray[np.bool_]:
    if who == "all parts":
        return np.ones(len(scene.parts), dtype=np.bool_)
    kind, label = who.split(" ", 1)
    return np.array([label == x for x in (scene.parts if kind == "part" else scene.groups)])


def _states(
    faults: Sequence[Fault], kinds: Sequence[Kind], suspects: Sequence[Suspect], posterior: _Left, most: int
) -> tuple[State, ...]:
    """The sizes by their posterior weight; of two faults at once the most probable of their combinations."""
    index = list(product(*(range(len(s.sizes)) for s in suspects)))
    shifts = np.array([sum(s.shifts[i] for s, i in zip(suspects, at, strict=True)) for at in index])
    spreads = [spreads_of(s, SHAPE_ERROR) for s in suspects]
    weights = posterior.weights(shifts, np.array([sum(b[i] for b, i in zip(spreads, at, strict=True)) for at in index]))
    order = np.argsort(-weights, kind="stable")[:most]
    total = weights[order].sum()
    states = []
    for j in order:
        real = [(f, float(s.sizes[i])) for f, kind, s, i in zip(faults, kinds, suspects, index[j], strict=True)
                if kind == "process"]  # fmt: skip
        states.append(State(tuple(real), float(weights[j] / total), posterior.offset(shifts[j])))
    return tuple(states)


@dataclass(frozen=True)
class _Left:
    """What the readings leave over beside a shift: offset of the lot and error of the model, as normal variables.

    l | y, s ~ N(K (sum W r - A s), K), K and W of `methods.evidence`.
    """

    pull: FloatArray  # (k,)
    gradient: FloatArray  # (k,) of a shift on the affected parts
    curvature: FloatArray  # (k, k)
    some: FloatArray  # (k, k), A: weights of the affected parts
    common: FloatArray  # (k, k), K
    bridge: Bridge

    @classmethod
    def of(cls, scene: Scene, scale: float, affected: npt.NDArray[np.bool_], bridge: Bridge, unknown: bool) -> _Left:
        if unknown and affected.all():  # a shift in any direction, as a wide offset of the lot
            wide = np.diag((UNKNOWN**2) * np.diag(scene.lot + scene.part))
            scene = replace(scene, model=scene.model + wide)
        elif unknown:  # the affected parts say nothing about the others
            scene = replace(scene, readings=np.where(affected[:, None], np.nan, scene.readings))
        reduced = scene.reduced(scale)
        gradient, curvature = reduced.on(affected)
        some = reduced.weights[affected].sum(axis=0)
        return cls(reduced.pulls.sum(axis=0), gradient, curvature, some, reduced.common, bridge)

    def weights(self, shifts: FloatArray, spreads: FloatArray) -> FloatArray:
        """Posterior of sizes of equal prior weight, (m,), from their shifts (m, k) and covariances (m, k, k)."""
        log = evidence.gain(self.gradient, self.curvature, shifts, spreads)
        found = np.exp(log - log.max())
        return np.asarray(found / found.sum())

    def offset(self, shift: FloatArray) -> FloatArray:
        """By how much parts are off beside the shift (k,), in the wanted characteristics (c,)."""
        left = self.common @ (self.pull - self.some @ shift)
        return np.asarray(self.bridge.gain @ (left + self.bridge.anchor))

    @property
    def spread(self) -> FloatArray:
        return np.asarray(self.bridge.gain @ self.common @ self.bridge.gain.T + self.bridge.rest)
