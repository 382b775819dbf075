"""Correct: which settings, moved in whole steps, bring the characteristics back with the least trouble.

Pure arithmetic on what the chain has computed: means of the characteristics under each way things may be, and what each
number of steps of a setting adds to them. Effects of several settings are added; whoever composes checks the best ones
by running the chain.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, product

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

SAME = 1.02  # scores within this factor and SAME_SHARE count as equal: then the smaller move is taken
SAME_SHARE = 1e-6
LEAD = 1e-3  # a hundred standard deviations count as a tenth of a characteristic outside
BAND = 0.05  # probabilities within this of the best count as equal: then the lesser trouble is taken
IDLE = 0.05  # a setting that moves no mean by this many standard deviations is left out
TRIPLES = 40  # sets of three that are searched in full, of those which one-at-a-time search ranks first


@dataclass(frozen=True)
class Movable:
    """A setting in its real steps, or the cure of a cause (no step or one)."""

    name: str
    steps: IntArray  # (m,), ascending, with 0 among them
    shifts: FloatArray  # (m, c), what so many steps add to the means; NaN where the chain has no value
    minutes: float = 0.0  # of one change, whatever its size
    cost: float = 0.0
    customer_approval: bool = False


@dataclass(frozen=True)
class Aim:
    """Limits of c characteristics and h ways things may be, in the characteristics' units."""

    low: FloatArray  # (c,), -inf without a limit
    high: FloatArray  # (c,)
    sd: FloatArray  # (c,) scatter of parts, of many lots, about the mean
    start: FloatArray  # (h, c) means before anything is moved
    unsure: FloatArray  # (h, c) standard deviation by which the means are not known
    weights: FloatArray  # (h,), summing to one
    coverage: float = 0.95  # share of the parts that must lie inside each pair of limits

    @cached_property
    def room(self) -> tuple[FloatArray, FloatArray]:
        """Where the means may lie, (c,), (c,)."""
        return room(self.low, self.high, self.sd, self.coverage)


@dataclass(frozen=True)
class Candidate:
    """A correction: settings with the steps they are moved by, none of them zero."""

    moves: tuple[tuple[str, int], ...]
    score: float  # characteristics outside their limits, expected of one part
    probability: float  # that all come back
    minutes: float
    cost: float
    customer_approval: bool

    @property
    def names(self) -> frozenset[str]:
        return frozenset(name for name, _ in self.moves)


def score(aim: Aim, means: FloatArray) -> FloatArray:
    """Expected number of characteristics outside their limits for one part: sum_h w_h sum_c P(outside), (...).

    P(outside) = Phi((low - m)/s) + Phi((m - high)/s), s^2 = sd^2 + unsure^2; and LEAD times the standard deviations s
    by which a mean lies beyond a limit, so that the search finds its way where all parts are outside.
    means: (h, ..., c).
    Source: normal distribution (textbook).
    """
    total = np.zeros(means.shape[1:-1])
    for mean, unsure, weight in zip(means, aim.unsure, aim.weights, strict=True):
        s = np.maximum(np.hypot(aim.sd, unsure), 1e-300)
        under, over = (aim.low - mean) / s, (mean - aim.high) / s
        beyond = np.maximum(np.maximum(under, over), 0.0)
        total += weight * (ndtr(under) + ndtr(over) + LEAD * beyond).sum(axis=-1)
    return total


def room(low: FloatArray, high: FloatArray, sd: FloatArray, coverage: float) -> tuple[FloatArray, FloatArray]:
    """Where the mean of a characteristic may lie so that `coverage` of the parts are inside its limits, (c,), (c,).

    One limit: mean = limit -/+ z sd, Phi(z) = coverage. Two: middle -/+ d, d by bisection of
    Phi((h + d)/sd) - Phi((d - h)/sd) = coverage, h half the width; where not even the middle will do, the upper end
    lies under the lower one. coverage: above a half. Source: normal distribution (textbook).
    """
    s = np.maximum(sd, 1e-300)
    z = float(ndtri(coverage)) * s
    both = np.isfinite(low) & np.isfinite(high)
    lower, upper = np.where(both, low, 0.0), np.where(both, high, 0.0)
    middle, half = 0.5 * (lower + upper), 0.5 * (upper - lower)
    near, far = np.zeros(len(s)), half.copy()
    for _ in range(60):
        d = 0.5 * (near + far)
        fits = ndtr((half - d) / s) - ndtr((-half - d) / s) >= coverage
        near, far = np.where(fits, d, near), np.where(fits, far, d)
    narrow = both & (ndtr(half / s) - ndtr(-half / s) < coverage)
    lowest, highest = np.where(both, middle - near, low + z), np.where(both, middle + near, high - z)
    return np.where(narrow, np.inf, lowest), np.where(narrow, -np.inf, highest)


def probability(aim: Aim, means: FloatArray) -> FloatArray:
    """Probability that every characteristic is back, (...): at least 1 - sum_c P(mean outside its room), by Boole.

    means: (h, ..., c). Source: normal distribution, Boole's inequality (textbook).
    """
    low, high = aim.room
    total = np.zeros(means.shape[1:-1])
    for mean, unsure, weight in zip(means, aim.unsure, aim.weights, strict=True):
        s = np.maximum(unsure, 1e-300)
        missed = (ndtr((low - mean) / s) + ndtr((mean - high) / s)).sum(axis=-1)
        total += weight * np.clip(1.0 - missed, 0.0, 1.0)
    return total


def search(aim: Aim, movables: Sequence[Movable], most: int = 3) -> tuple[Candidate, ...]:
    """The best steps of every set of up to `most` settings, ranked; sets of three only when no pair brings all back.

    Singles and pairs are enumerated; sets of three are searched one setting at a time, and the best of them in pairs.
    """
    useful = [u for u in (_useful(aim, m) for m in movables) if u is not None]
    found = [c for m in useful if (c := _single(aim, m)) is not None]
    if most >= 2:
        found += [c for a, b in combinations(useful, 2) if (c := _pair(aim, a, b)) is not None]
    if most >= 3 and max((c.probability for c in found), default=0.0) < 1.0 - 2.0 * BAND:
        found += _threes(aim, useful, found)
    return rank(found)


def _useful(aim: Aim, m: Movable) -> Movable | None:
    """The steps for which there is a value; None when the setting moves nothing."""
    keep = np.isfinite(m.shifts).all(axis=1)
    shifts = m.shifts[keep]
    if not len(shifts) or np.abs(shifts / np.maximum(aim.sd, 1e-300)).max() < IDLE:
        return None
    return replace(m, steps=m.steps[keep], shifts=shifts)


def _effort(aim: Aim, m: Movable) -> FloatArray:
    """How far each number of steps moves the part, in standard deviations."""
    return np.asarray(np.abs(m.shifts / np.maximum(aim.sd, 1e-300)).sum(axis=1))


def _single(aim: Aim, m: Movable) -> Candidate | None:
    means = aim.start[:, None, :] + m.shifts
    scores = np.where(m.steps == 0, np.inf, score(aim, means))
    return _taken(aim, (m,), scores, _effort(aim, m), means)


def _pair(aim: Aim, a: Movable, b: Movable) -> Candidate | None:
    means = aim.start[:, None, None, :] + a.shifts[:, None, :] + b.shifts[None, :, :]
    idle = (a.steps == 0)[:, None] | (b.steps == 0)[None, :]
    scores = np.where(idle, np.inf, score(aim, means))
    return _taken(aim, (a, b), scores, _effort(aim, a)[:, None] + _effort(aim, b)[None, :], means)


def _taken(
    aim: Aim, movables: tuple[Movable, ...], scores: FloatArray, effort: FloatArray, means: FloatArray
) -> Candidate | None:
    """The least move whose score is as good as the best; None when there is nothing to move."""
    best = float(scores.min(initial=np.inf))
    if not np.isfinite(best):
        return None
    good = scores <= best * SAME + SAME_SHARE
    at = np.unravel_index(int(np.argmin(np.where(good, effort, np.inf))), scores.shape)
    index = tuple(int(i) for i in at)
    chosen = np.stack([of_one[index] for of_one in means])
    chance = float(probability(aim, chosen[:, None, :])[0])
    moves = [(m.name, int(m.steps[i])) for m, i in zip(movables, index, strict=True)]
    return candidate(moves, float(scores[index]), chance, {m.name: m for m in movables})


def candidate(
    moves: Iterable[tuple[str, int]], score: float, probability: float, movables: dict[str, Movable]
) -> Candidate:
    """A candidate with the trouble of its moves added up."""
    kept = tuple((name, steps) for name, steps in moves if steps)
    of = [movables[name] for name, _ in kept]
    return Candidate(
        kept, score, probability, sum(m.minutes for m in of), sum(m.cost for m in of),
        any(m.customer_approval for m in of),
    )  # fmt: skip


def _threes(aim: Aim, movables: Sequence[Movable], found: Sequence[Candidate]) -> list[Candidate]:
    by_name = {m.name: m for m in movables}
    starts = {c.names: dict(c.moves) for c in found}
    rough: list[tuple[float, tuple[Movable, ...], list[int]]] = []
    three: tuple[Movable, ...]
    for three in combinations(movables, 3):
        pairs = [starts.get(frozenset((a.name, b.name)), {}) for a, b in combinations(three, 2)]
        first = [[_index(m, steps.get(m.name, 0)) for m in three] for steps in pairs]
        ended = [_one_at_a_time(aim, three, index) for index in first]
        value, index = min(ended, key=lambda item: item[0])
        rough.append((value, three, index))
    rough.sort(key=lambda item: item[0])
    done = []
    for _, three, index in rough[:TRIPLES]:
        value, better = _two_at_a_time(aim, three, index)
        moves = [(m.name, int(m.steps[i])) for m, i in zip(three, better, strict=True)]
        if all(steps for _, steps in moves):
            means = _sum(aim, three, better)
            done.append(candidate(moves, value, float(probability(aim, means[:, None, :])[0]), by_name))
    return done


def _index(m: Movable, steps: int) -> int:
    return int(np.searchsorted(m.steps, steps))


def _sum(aim: Aim, movables: Sequence[Movable], index: Sequence[int], skip: Sequence[int] = ()) -> FloatArray:
    total = aim.start.copy()
    for j, (m, i) in enumerate(zip(movables, index, strict=True)):
        if j not in skip:
            total += m.shifts[i]
    return total


def _one_at_a_time(aim: Aim, movables: Sequence[Movable], index: list[int]) -> tuple[float, list[int]]:
    """Each setting in turn to its best, until none gets better."""
    at, best = list(index), np.inf
    for _ in range(10):
        before = best
        for j, m in enumerate(movables):
            scores = score(aim, _sum(aim, movables, at, (j,))[:, None, :] + m.shifts)
            at[j] = int(np.argmin(scores))
            best = float(scores[at[j]])
        if best >= before * (1.0 - 1e-9):
            break
    return best, at


def _two_at_a_time(aim: Aim, movables: Sequence[Movable], index: list[int]) -> tuple[float, list[int]]:
    """Every pair in turn to its best: finds ways along a valley that no single setting can go."""
    at, best = list(index), np.inf
    for _ in range(6):
        before = best
        for i, j in combinations(range(len(movables)), 2):
            rest = _sum(aim, movables, at, (i, j))[:, None, None, :]
            scores = score(aim, rest + movables[i].shifts[:, None, :] + movables[j].shifts[None, :, :])
            at[i], at[j] = (int(k) for k in np.unravel_index(int(np.argmin(scores)), scores.shape))
            best = float(scores[at[i], at[j]])
        if best >= before * (1.0 - 1e-9):
            break
    return best, at


def neighbours(c: Candidate, movables: dict[str, Movable], reach: int = 2) -> list[tuple[tuple[str, int], ...]]:
    """The candidate's moves and those up to `reach` steps beside them that the settings allow, none of them zero."""
    choices = []
    for name, steps in c.moves:
        allowed = {int(s) for s, row in zip(movables[name].steps, movables[name].shifts, strict=True)
                   if np.isfinite(row).all()}  # fmt: skip
        choices.append([(name, s) for s in range(steps - reach, steps + reach + 1) if s and s in allowed])
    return list(product(*choices))


def rank(found: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """By probability in bands below the best, then minutes, cost, approval, number of settings, score."""
    listed = list(found)
    best = max((c.probability for c in listed), default=0.0)

    def key(c: Candidate) -> tuple[float, ...]:
        band = int((best - c.probability) / BAND)
        # without any hope of bringing all back, the share outside is what counts
        near = c.score if best < BAND else 0.0
        return (band, near, c.minutes, c.cost, float(c.customer_approval), len(c.moves), c.score)

    return tuple(sorted(listed, key=key))


def different(ranked: Sequence[Candidate], count: int = 4, of_one: int = 2) -> tuple[Candidate, ...]:
    """The first few that are really different: none that only adds a setting to a better one, and at most `of_one`
    that share a setting with another, unless it does with fewer."""
    chosen: list[Candidate] = []
    for c in ranked:
        if any(c.names >= other.names for other in chosen):
            continue
        simpler = any(c.names < other.names for other in chosen)
        if not simpler and any(sum(name in other.names for other in chosen) >= of_one for name in c.names):
            continue
        chosen.append(c)
        if len(chosen) == count:
            break
    return tuple(chosen)
