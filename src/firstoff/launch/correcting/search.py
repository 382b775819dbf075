"""The search of a correction: settings in steps through the chain, weighed against all that may be wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtri

from firstoff.chain.fault import Cure
from firstoff.chain.station import FloatArray
from firstoff.launch.correcting.changes import Movement
from firstoff.launch.correcting.trial_moves import CURE, Moves, TrialMoves
from firstoff.launch.correcting.ways import Faults, Way
from firstoff.methods import sobol
from firstoff.trials.correct import (
    Aim,
    Candidate,
    Movable,
    candidate,
    different,
    neighbours,
    probability,
    rank,
    room,
    score,
    search,
)

WIDER = 3  # times the steps, when it is asked what a wider range would do
LOOKED_AT = 16  # candidates that are checked by the chain
SHOWN = 4
ENOUGH = 0.95  # probability that all is inside from which on nothing has to be moved
WEAK = 0.5  # of the best probability: what is less likely to work is not shown
ALIKE = 0.05  # probability from which on another process cause has a say in the search
DRAWS = 256  # of the offset, common to all candidates
SEED = 1


@dataclass(frozen=True)
class Problem:
    """What is to be brought back, and by what."""

    moves: TrialMoves
    ways: tuple[Way, ...]
    low: FloatArray  # (c,)
    high: FloatArray
    coverage: float
    cures: Mapping[str, Cure]

    @property
    def top(self) -> Way:
        return self.ways[0]


@dataclass(frozen=True)
class Weighed:
    """A candidate with the probability that all come back, for each of the ways."""

    moves: Moves
    by_way: tuple[float, ...]
    minutes: float
    cost: float
    customer_approval: bool


@dataclass(frozen=True)
class Found:
    """The corrections to be shown, and what happens when nothing is moved."""

    candidates: tuple[Weighed, ...]
    stays: float  # probability that all characteristics are inside when nothing is moved
    would: tuple[str, ...]


def find(problem: Problem) -> Found:
    """Corrections of the first way; none when a rig or a single part is to blame."""
    weigh = _Weigh.of(problem)
    stays = float(np.dot(weigh.by_way([()])[0], [w.probability for w in problem.ways]))
    if problem.top.kind in ("rig", "part"):
        return Found((), stays, ())
    movables = _movables(problem, allowed(problem))
    ranked = _searched(problem, weigh, movables)
    best = max((c.probability for c in ranked), default=0.0)
    chosen = different([c for c in ranked if c.probability >= WEAK * best], SHOWN)
    by_way = weigh.by_way([c.moves for c in chosen])
    shown = tuple(
        Weighed(c.moves, tuple(float(p) for p in row), c.minutes, c.cost, c.customer_approval)
        for c, row in zip(chosen, by_way, strict=True)
    )
    works = max((w.by_way[0] for w in shown), default=0.0)
    if problem.top.kind == "nothing" and stays >= ENOUGH:
        shown = ()  # to follow ordinary scatter with a setting only adds to it
    return Found(shown, stays, () if works >= 0.5 or stays >= 0.5 else _would(problem, weigh, movables))


def allowed(problem: Problem) -> dict[str, Movement]:
    """The settings that may be moved: of one group of parts only those of the cause's own station."""
    found = {name: m for name, m in problem.moves.changes.items() if not m.fixed}
    if problem.top.who == "all parts":
        return found
    return {name: m for name, m in found.items() if m.station in problem.top.stations}


def steps_of(movement: Movement, nominal: float) -> np.ndarray:
    """Whole numbers of steps, with 0 among them, that stay between the ends."""
    slack = 1e-9 * max(abs(nominal), movement.step)
    least, greatest = -movement.most_steps, movement.most_steps
    if movement.low is not None:
        least = max(least, -int((nominal - movement.low + slack) // movement.step))
    if movement.high is not None:
        greatest = min(greatest, int((movement.high - nominal + slack) // movement.step))
    return np.arange(min(least, 0), max(greatest, 0) + 1)


def _movables(problem: Problem, changes: Mapping[str, Movement]) -> dict[str, Movable]:
    """What every number of steps of every setting does to the part that has the first cause; and the cures."""
    run, typical = problem.moves, problem.top.typical
    nominal = {v.name: v.nominal for plan in run.plan.plans.values() for v in plan.values}
    steps = {name: steps_of(m, nominal[name]) for name, m in changes.items()}
    steps |= {CURE + f.name: np.array([0, 1]) for f, _ in typical if not problem.cures[f.name].by_setting}
    cases: list[tuple[Moves, Faults]] = [(((name, int(s)),), typical) for name, of in steps.items() for s in of]
    means = run.means([*cases, ((), typical)])
    shifts = np.split(means[:-1] - means[-1], np.cumsum([len(of) for of in steps.values()])[:-1])
    found = {}
    for (name, of), moved in zip(steps.items(), shifts, strict=True):
        m: Movement | Cure = problem.cures[name.removeprefix(CURE)] if name.startswith(CURE) else changes[name]
        found[name] = Movable(name, of, moved, m.minutes, m.cost, m.customer_approval)
    return found


def _searched(problem: Problem, weigh: _Weigh, movables: Mapping[str, Movable]) -> tuple[Candidate, ...]:
    """Ranked candidates, checked by the chain: for the first cause, and for all process causes that have a say."""
    listed: dict[frozenset[str], Candidate] = {}
    for aim in weigh.aims():
        for c in different(search(aim, list(movables.values())), LOOKED_AT, LOOKED_AT // 3):
            listed.setdefault(c.names, c)
    refined = _refined(problem, weigh, list(listed.values()), movables)
    by_way = weigh.by_way([c.moves for c in refined])
    shares = np.array([w.probability for w in problem.ways])
    return rank(replace(c, probability=float(row @ shares)) for c, row in zip(refined, by_way, strict=True))


def _refined(
    problem: Problem, weigh: _Weigh, listed: Sequence[Candidate], movables: Mapping[str, Movable]
) -> list[Candidate]:
    """Each candidate at the best steps near its own, effects no longer added but computed together."""
    aim, typical = weigh.aim(problem.top), problem.top.typical
    near = [neighbours(c, dict(movables), 2 if len(c.moves) < 3 else 1) for c in listed]
    means = problem.moves.means([(moves, typical) for of in near for moves in of]) + problem.top.offset
    scores = np.where(np.isfinite(means).all(axis=1), score(aim, means[None]), np.inf)
    chances = np.where(np.isfinite(scores), probability(aim, np.nan_to_num(means)[None]), 0.0)
    found, at = [], 0
    for of in near:
        best = at + int(np.argmin(scores[at : at + len(of)]))
        if np.isfinite(scores[best]):
            found.append(candidate(of[best - at], float(scores[best]), float(chances[best]), dict(movables)))
        at += len(of)
    return found


def _would(problem: Problem, weigh: _Weigh, movables: Mapping[str, Movable]) -> tuple[str, ...]:
    """When nothing brings all back: whether a wider range, or what may not be moved today, would."""
    run = problem.moves
    said = []
    free = {name: replace(m, fixed=False) for name, m in run.changes.items()}
    far = {n: replace(m, most_steps=WIDER * m.most_steps) for n, m in free.items() if n in movables}
    wider, freed = _movables(problem, far), _movables(problem, free)
    for these, text in ((wider, "a wider range"), (freed, "settings that may not be moved today")):
        found = different(_searched(problem, weigh, these), 1)
        if found and weigh.by_way([found[0].moves])[0][0] >= 0.5:
            names = ", ".join(f"{name} by {steps:+d} steps" for name, steps in found[0].moves)
            said.append(f"{text}: {names}")
    return tuple(said)


@dataclass(frozen=True)
class _Weigh:
    """How likely a correction works, for each way things may be."""

    problem: Problem
    sd: FloatArray  # (c,) scatter of parts, of many lots
    deviates: FloatArray  # (draws, c) of the offset, standard normal
    starts: tuple[FloatArray, ...]  # of each way: means at its states (s, c), nothing moved

    @classmethod
    def of(cls, problem: Problem) -> _Weigh:
        run = problem.moves
        deviates = ndtri(sobol.points(len(run.names), 0, DRAWS, SEED))
        starts = tuple(
            run.means([((), s.faults) for s in w.states]) + np.array([s.offset for s in w.states]) for w in problem.ways
        )
        return cls(problem, run.scatter(), deviates, starts)

    def aim(self, way: Way, share: float = 1.0) -> Aim:
        p = self.problem
        states = self.starts[p.ways.index(way)]
        weights = np.array([s.weight for s in way.states])
        good = np.asarray(np.isfinite(states).all(axis=1))
        weights = np.where(good, weights, 0.0)
        weights /= max(weights.sum(), 1e-300)
        states = np.nan_to_num(states)
        about = states - weights @ states
        unsure = np.sqrt(np.maximum(np.diag(way.spread), 0.0) + weights @ about**2)
        start = p.moves.means([((), way.typical)])[0] + way.offset
        return Aim(p.low, p.high, self.sd, start[None], unsure[None], np.array([share]), p.coverage)

    def aims(self) -> list[Aim]:
        """The first cause by itself; and it together with the other process causes that have a say."""
        p = self.problem
        first = self.aim(p.top)
        others = [w for w in p.ways[1:] if w.kind == "process" and w.who == p.top.who and w.probability >= ALIKE]
        if not others:
            return [first]
        these = [p.top, *others]
        shares = np.array([w.probability for w in these])
        each = [self.aim(w) for w in these]
        mixed = replace(
            first, start=np.concatenate([a.start for a in each]), unsure=np.concatenate([a.unsure for a in each]),
            weights=shares / shares.sum(),
        )  # fmt: skip
        return [first, mixed]

    def by_way(self, listed: Sequence[Moves]) -> FloatArray:
        """Share of posterior draws in which all characteristics come back, (listed, ways).

        Back: `coverage` of the parts, of this lot and of lots to come, are inside each pair of limits.
        """
        p = self.problem
        low, high = room(p.low, p.high, self.sd, p.coverage)
        found = np.zeros((len(listed), len(p.ways)))
        for j, way in enumerate(p.ways):
            cases = [(self._on(way, moves), s.faults) for moves in listed for s in way.states]
            means = p.moves.means(cases).reshape(len(listed), len(way.states), -1) if cases else np.zeros((0, 0, 0))
            scatter = self.deviates @ _root(way.spread)
            offsets = np.array([s.offset for s in way.states])
            for i in range(len(listed)):
                drawn = (means[i] + offsets)[:, None, :] + scatter
                back = ((drawn >= low) & (drawn <= high)).all(axis=2).mean(axis=1)
                found[i, j] = float(np.dot([s.weight for s in way.states], back))
        return found

    def _on(self, way: Way, moves: Moves) -> Moves:
        """A correction confined to one group leaves the parts alone that another cause would affect."""
        confined = self.problem.top.who != "all parts" and way.who != self.problem.top.who
        return () if confined else moves


def _root(covariance: FloatArray) -> FloatArray:
    """A matrix R with R'R = covariance: draws are deviates @ R. Source: spectral theorem (textbook)."""
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))).T)
