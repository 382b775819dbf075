"""Correct: which setting to move, by how much, and what else that moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from firstoff.chain.budget import affordable
from firstoff.chain.station import Characteristic, FloatArray
from firstoff.errors import InputFault, Message
from firstoff.launch.correcting.changes import Movement
from firstoff.launch.correcting.fate import PartFate, fates, judgement_of
from firstoff.launch.correcting.named_cause import named_cause
from firstoff.launch.correcting.search import ENOUGH, Found, Problem, find
from firstoff.launch.correcting.trial_moves import CURE, Moves, TrialMoves, limits
from firstoff.launch.correcting.ways import Faults, Way, named_way, ways
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.trials.verdicts import Judgement

BUILDS = 2048  # trial builds by which each shown correction is checked
FEWEST = 256  # of them where a station takes its time
GAIN = 0.5  # of the share outside: less of a gain is not worth a move where nothing has to be moved
DOUBT = 0.02  # probability below which the readings do not speak for a cause that is named
WORSE = 0.001  # share outside that a correction may add to a characteristic without a word
SURE = 0.8  # probability of the first cause from which on nobody needs to be told to confirm it first
NOTICED = 0.10  # probability from which on another cause is named beside it


@dataclass(frozen=True)
class Place:
    """Where a characteristic lies over many trial builds, SI."""

    mean: float | None
    sd: float | None
    outside: float | None  # share; builds without a value count. None without limits


@dataclass(frozen=True)
class Line:
    """One characteristic before and after a correction."""

    name: str
    before: Place
    after: Place
    worse: bool


@dataclass(frozen=True)
class Move:
    """One setting of a correction."""

    parameter: str  # `station.parameter`, or the fault that is cured
    cure: bool
    steps: int
    step: float  # SI
    before: float  # SI
    after: float
    unit: str
    how: str


@dataclass(frozen=True)
class Correction:
    """One proposal, checked by trial builds."""

    moves: tuple[Move, ...]
    where: str  # `all parts`, or the group to which it is confined
    probability: float  # that all characteristics come back, over everything that may be wrong
    if_confirmed: float  # the same, if the first cause is the one
    by_way: tuple[float, ...]  # the same, for each of the ways
    minutes: float
    cost: float
    customer_approval: bool
    lines: tuple[Line, ...]
    outside: float  # share of trial builds with any characteristic outside
    odd: float  # share of trial builds in which some station's model leaves its range, beyond those before

    @property
    def back(self) -> bool:
        """Whether all characteristics more likely than not come back, if the first cause is the one."""
        return self.if_confirmed >= 0.5

    @property
    def worse(self) -> tuple[str, ...]:
        return tuple(line.name for line in self.lines if line.worse)


@dataclass(frozen=True)
class LaunchCorrection:
    """What to do about the cause of a trial's readings, and about the parts."""

    explanation: LaunchExplanation
    judgement: Judgement
    ways: tuple[Way, ...]
    verdict: str  # `move`, `leave`, `rig`, `part`, `nothing works`
    by_user: bool  # the cause was named, not explained
    size_given: bool
    before: tuple[Line, ...]
    outside: float  # share of trial builds with any characteristic outside, when nothing is moved
    stays: float  # probability that all characteristics are inside when nothing is moved
    corrections: tuple[Correction, ...]
    would: tuple[str, ...]  # when nothing brings all back: what would
    fates: tuple[PartFate, ...]
    trial_builds: int = BUILDS  # by which each shown correction was checked

    @property
    def top(self) -> Way:
        return self.ways[0]

    @property
    def rig(self) -> float:
        """Probability that rig or gauge is to blame."""
        return sum(w.stated for w in self.ways if w.kind == "rig")

    @property
    def confirm(self) -> tuple[Way, ...]:
        """Other causes that must be ruled out before anything is moved."""
        others = [w for w in self.ways[1:] if w.stated >= NOTICED]
        return () if self.by_user else tuple(others)

    @property
    def doubted(self) -> Way | None:
        """What the readings rather point to, when they do not speak for the cause that was named."""
        faults = self.explanation.found.faults
        if not self.by_user or faults.get(self.top.name, 0.0) >= DOUBT:
            return None
        likely = ways(self.explanation, ())
        return likely[0] if likely[0].name != self.top.name else None

    @property
    def characteristics(self) -> dict[str, Characteristic]:
        return self.explanation.plan.characteristics

    @property
    def likely(self) -> tuple[int, ...]:
        """Which of the ways a correction must stand: the first, and others that are noticed, the rig's left out."""
        found = [i for i, w in enumerate(self.ways) if w.kind != "rig" and (i == 0 or w.stated >= NOTICED)]
        return tuple(found)

    @property
    def whichever(self) -> tuple[int, ...]:
        """Numbers of the corrections that are good whichever of the likely causes in the parts it is."""
        if len(self.likely) < 2:
            return ()
        return tuple(n for n, c in enumerate(self.corrections, 1) if min(c.by_way[i] for i in self.likely) >= SURE)

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What was taken without evidence."""
        changes = self.explanation.plan.job.changes
        said = [
            "what the readings show beside the cause stays as it is; lots and parts to come scatter about it as the "
            "sheets say",
            "the parts to come are tested at the sheet's temperature, on the same rig",
            *(f"{name}: step, time and cost of a change: {m.source}" for c in self.corrections for name, m in (
                (move.parameter, changes[move.parameter]) for move in c.moves if not move.cure)),
        ]  # fmt: skip
        return (*dict.fromkeys(said), *self.explanation.assumptions)

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        return {
            "readings_file": self.explanation.trial.file,
            "verdict": self.verdict,
            "cause_named_by_user": self.by_user,
            "readings_rather_point_to": self.doubted.name if self.doubted else None,
            "causes": [
                {"name": w.name, "title": w.title, "kind": w.kind, "who": w.who, "stations": list(w.stations),
                 "probability": w.stated, "size": _size(w)}
                for w in self.ways
            ],
            "before": [asdict(line) for line in self.before],
            "outside_before": self.outside,
            "stays_inside": self.stays,
            "corrections": [{**asdict(c), "worse": list(c.worse)} for c in self.corrections],
            "good_whichever_cause": list(self.whichever),
            "confirm_first": [w.name for w in self.confirm],
            "rig_probability": self.rig,
            "would": list(self.would),
            "parts": [asdict(f) for f in self.fates],
            "trial_builds": self.trial_builds,
            "assumptions": list(self.assumptions),
        }  # fmt: skip


def _size(way: Way) -> float | None:
    return way.typical[0][1] if len(way.typical) == 1 else None


def correct(explanation: LaunchExplanation, cause: str = "", size: str = "") -> LaunchCorrection:
    """Propose corrections of what the explanation found, or of the fault `cause` that the engineer names.

    size: of that fault, as a quantity: a change of what it moves (`-15 N`) or a factor (`82 %`); from the readings when
    empty. Raises InputFault when no computed characteristic has limits, or cause or size are not to be used.
    """
    plan = explanation.plan
    limited = [c for c in plan.characteristics.values() if (c.low, c.high) != (None, None) and c.name in plan.nominal]
    if not limited:
        what = "gives no limits on anything that a station computes: there is nothing to bring back"
        raise InputFault([Message(what, file=str(plan.job.file), allowed=", ".join(plan.characteristics))])
    names = [c.name for c in limited]
    if cause:
        fault, chosen, number = named_cause(explanation, cause, size)
        found_ways: tuple[Way, ...] = (named_way(explanation, fault, chosen, names, number),)
    elif size:
        raise InputFault([Message("needs a cause whose size it is", key="size", found=size, allowed="with a cause")])
    else:
        found_ways = ways(explanation, names)
    moves = TrialMoves.of(plan, names)
    low, high = limits(limited)
    problem = Problem(moves, found_ways, low, high, plan.job.judging.coverage, plan.job.cures)
    found = find(problem)
    return _composed(explanation, found_ways, moves, found, bool(cause), bool(size))


def _composed(
    explanation: LaunchExplanation, found_ways: tuple[Way, ...], moves: TrialMoves, found: Found, by_user: bool,
    size_given: bool,
) -> LaunchCorrection:  # fmt: skip
    job = explanation.plan.job
    top = found_ways[0]
    every = [c for c in explanation.plan.characteristics.values() if c.name in moves.plan.nominal]
    offset = dict(zip(moves.names, top.offset, strict=True))
    check = _Check(
        moves,
        every,
        np.array([offset.get(c.name, 0.0) for c in every]),
        top.typical,
        affordable(moves.plan.stations, BUILDS, FEWEST),
    )
    before = check.places(())
    corrections = tuple(
        _correction(check, before, c.moves, top, c.by_way, found_ways, (c.minutes, c.cost, c.customer_approval), job)
        for c in found.candidates
    )
    verdict = _verdict(top, found, corrections)
    if verdict == "leave":
        corrections = tuple(c for c in corrections if c.outside < GAIN * before.outside)
    judgement = judgement_of(explanation)
    rig = sum(w.stated for w in found_ways if w.kind == "rig")
    return LaunchCorrection(
        explanation, judgement, found_ways, verdict, by_user, size_given,
        tuple(Line(c.name, p, p, False) for c, p in zip(every, before.places, strict=True)), before.outside,
        found.stays, corrections, found.would, fates(explanation, judgement, top, rig, job.cures),
        check.count,
    )  # fmt: skip


def _verdict(top: Way, found: Found, corrections: Sequence[Correction]) -> str:
    if top.kind in ("rig", "part"):
        return top.kind
    if found.stays >= ENOUGH:
        return "leave"
    return "move" if any(c.back for c in corrections) else "nothing works"


@dataclass(frozen=True)
class _Places:
    places: tuple[Place, ...]
    outside: float
    odd: float


@dataclass(frozen=True)
class _Check:
    """Trial builds of the whole chain with the first cause in them."""

    moves: TrialMoves
    every: Sequence[Characteristic]
    offset: FloatArray
    faults: Faults
    count: int  # of the trial builds

    def places(self, moves: Moves) -> _Places:
        names = [c.name for c in self.every]
        builds, odd = self.moves.builds(moves, self.faults, self.count, names)
        builds = builds + self.offset
        low, high = limits(self.every)
        out = ~((builds >= low) & (builds <= high))
        valued = np.isfinite(builds).all(axis=1)
        good = builds[valued]
        means = good.mean(axis=0) if len(good) else np.full(len(self.every), np.nan)
        sds = good.std(axis=0, ddof=1) if len(good) > 1 else np.full(len(self.every), np.nan)
        found = []
        for c, mean, sd, share in zip(self.every, means, sds, out.mean(axis=0), strict=True):
            limited = (c.low, c.high) != (None, None)
            found.append(Place(_number(mean), _number(sd), float(share) if limited else None))
        has_limits = np.array([(c.low, c.high) != (None, None) for c in self.every])
        return _Places(tuple(found), float(out[:, has_limits].any(axis=1).mean()), odd)


def _number(x: float) -> float | None:
    return float(x) if np.isfinite(x) else None


def _correction(
    check: _Check, before: _Places, moves: Moves, top: Way, by_way: Sequence[float], found_ways: Sequence[Way],
    trouble: tuple[float, float, bool], job: Any,
) -> Correction:  # fmt: skip
    after = check.places(moves)
    lines = tuple(
        Line(c.name, b, a, b.outside is not None and a.outside is not None and a.outside - b.outside > WORSE)
        for c, b, a in zip(check.every, before.places, after.places, strict=True)
    )
    total = float(sum(w.probability * p for w, p in zip(found_ways, by_way, strict=True)))
    shown = tuple(_move(check.moves, job.changes, name, steps) for name, steps in moves)
    return Correction(shown, top.who, total, by_way[0], tuple(by_way), *trouble, lines, after.outside,
                      max(after.odd - before.odd, 0.0))  # fmt: skip


def _move(moves: TrialMoves, changes: Any, name: str, steps: int) -> Move:
    if name.startswith(CURE):
        return Move(name.removeprefix(CURE), True, 1, 0.0, 0.0, 0.0, "", "")
    m: Movement = changes[name]
    plans = moves.plan.plans
    nominal = next(v.nominal for v in plans[m.station].values if v.name == name)
    return Move(name, False, steps, m.step, nominal, nominal + steps * m.step, m.unit, m.how)
