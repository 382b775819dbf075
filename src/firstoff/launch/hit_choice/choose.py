"""Scan each lever, refine the edge of what does, and run the chain once more with the answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import in_order, values_of
from firstoff.chain.sample import sample
from firstoff.chain.station import Characteristic, FloatArray
from firstoff.errors import InputFault, Message, nearest
from firstoff.launch.hit_choice.levers import Lever, levers, one_hit
from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan, plan, with_asked
from firstoff.launch.predict import SEED, Progress, workers_here
from firstoff.methods.rates import clopper_pearson
from firstoff.sheets.quantity import QuantityError, parse
from firstoff.sheets.units import from_si, size_from_si

SCANNED: Final = 7  # values of a lever, the present one besides
REFINED: Final = 4  # halvings between the last that does not and the first that does
SCAN_BUILDS: Final = 128  # Sobol points: a share to about 1 %
CONFIRMED: Final = 4  # values that are run through the chain at most
MOST_BUILDS: Final = 2048  # of the run that confirms
WORSE: Final = 0.01  # share of parts newly outside of another characteristic that is worth a word


@dataclass(frozen=True)
class Trial:
    """One value of a lever, SI, and the share of builds that keep every limit of the hit; None where the part cannot be
    planned, and why."""

    value: float
    share: float | None
    why: str = ""  # or the limit that most builds do not keep


@dataclass(frozen=True)
class Answer:
    """What one lever has to be, alone."""

    lever: str
    title: str
    unit: str
    present: float
    tried: tuple[Trial, ...]  # ascending
    value: float | None  # None: no value of the range does
    share: float | None  # of the run that confirms, with other draws
    low: float | None  # 95 % interval of it
    high: float | None
    builds: int
    confirmed: bool  # the confirming share is as large as asked
    worse: tuple[tuple[str, float], ...]  # other characteristics with limits, and the share of parts newly outside


@dataclass(frozen=True)
class HitChoice:
    """What a hit's limits need."""

    job: Job
    hit: str
    speed: float
    asked: float  # share of builds
    limits: tuple[Characteristic, ...]
    present: Trial
    answers: tuple[Answer, ...]
    seed: int

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        return {
            "hit": self.hit, "speed": self.speed, "share": self.asked,
            "limits": [asdict(c) for c in self.limits], "present": self.present.share,
            "answers": [asdict(a) for a in self.answers],
        }  # fmt: skip


def choose_for_hit(
    job: Job, hit: str, speed: str | None = None, percent: float | None = None, builds: int = MOST_BUILDS,
    seed: int = SEED, workers: int | None = None, progress: Progress | None = None,
) -> HitChoice:  # fmt: skip
    """For each lever alone: the value nearest to the present one with which enough builds keep the limits of a hit.

    hit: its name in the sheet; speed as a quantity, `5 km/h`: that of the sheet when left out; percent of builds: the
    sheet's `coverage` when left out; builds of the run that confirms, 2048 at most. Where the present part does, the
    least value that still does, with every tried value between. Nothing is taken for monotonic: a range is scanned,
    then its edge refined. The same seed gives the same numbers for any number of workers. InputFault for a hit that is
    not there or limits nothing.
    """
    _known(job, hit)
    asked = job.judging.coverage if percent is None else _share(percent)
    job_of = one_hit(job, hit, None if speed is None else _speed(speed))
    first = plan(job_of)
    limits = tuple(
        c for s in first.plans.values() if s.station == "impact" for c in s.gives if (c.low, c.high) != (None, None)
    )
    if not limits:
        what = "limits nothing of this hit: there is nothing to keep"
        allowed = f"[characteristics.room_..._{hit}] and the like"
        raise InputFault([Message(what, str(job.file), key=f"hit.{hit}", allowed=allowed)])
    search = _Search(job_of, limits, asked, seed, workers or workers_here(), progress or (lambda *_: None))
    ways = levers(first)
    present = search.trial(ways[0], 1.0)
    every = search.scan(ways)
    answers = tuple(search.answer(lever, found, min(builds, MOST_BUILDS)) for lever, found in every)
    blow = job_of.settings.drawing.impact.blows[0]
    return HitChoice(job, hit, blow.speed, asked, limits, present, answers, seed)


def _known(job: Job, hit: str) -> None:
    drawn = getattr(job.settings.drawing, "impact", None)
    names = [b.name for b in drawn.blows] if drawn is not None else []
    if not names:
        raise InputFault([Message("states no hits", str(job.file), key="hit", allowed="a bumper's sheet with [[hit]]")])
    if hit not in names:
        raise InputFault([Message("is no hit of the sheet", str(job.file), key="hit", found=hit,
                                  allowed=", ".join(names), nearest=nearest(hit, names))])  # fmt: skip


def _share(percent: float) -> float:
    if not 1.0 <= percent < 100.0:
        raise InputFault(
            [Message("is no share of builds", key="share", found=f"{percent:g}", allowed="1 to below 100")]
        )
    return 0.01 * percent


def _speed(text: str) -> float:
    try:
        found = parse(text, "km/h").nominal
    except QuantityError as error:
        raise InputFault([Message(error.what, key="speed", found=text, allowed=error.allowed or "5 km/h")]) from error
    if not 0.05 < found < 6.0:
        raise InputFault([Message("is out of range", key="speed", found=text, allowed="0.2 km/h to 20 km/h")])
    return found


class _Search:
    def __init__(
        self, job: Job, limits: Sequence[Characteristic], asked: float, seed: int, workers: int, progress: Progress
    ) -> None:
        self.job, self.limits, self.asked, self.seed = job, limits, asked, seed
        self.workers, self.progress = workers, progress
        self.names = [c.name for c in limits]

    def planned(self, lever: Lever, factor: float) -> LaunchPlan:
        return with_asked(plan(lever.apply(self.job, factor) if factor != 1.0 else self.job), self.names)

    def trial(self, lever: Lever, factor: float) -> Trial:
        """The share of the scan's builds that keep the limits."""
        value = lever.present * factor
        try:
            found = _built(self.planned(lever, factor), self.names, SCAN_BUILDS, self.seed)
        except InputFault as fault:
            return Trial(value, None, fault.messages[0].what)
        each = [float(_kept(found[:, [i]], [c]).mean()) for i, c in enumerate(self.limits)]
        least = int(np.argmin(each))
        return Trial(value, float(_kept(found, self.limits).mean()), self.names[least] if each[least] < 1.0 else "")

    def scan(self, ways: Sequence[Lever]) -> list[tuple[Lever, list[tuple[float, Trial]]]]:
        """Every lever over its range, in order of the factors."""
        grid = [(lever, float(f)) for lever in ways for f in _factors(lever)]
        done = 0

        def tried(of: tuple[Lever, float]) -> Trial:
            nonlocal done
            done += 1
            self.progress(done, len(grid), "trying values")
            return self.trial(*of)

        found = list(in_order(tried, grid, self.workers))
        every: list[tuple[Lever, list[tuple[float, Trial]]]] = []
        for lever in ways:
            every.append((lever, [(f, t) for (own, f), t in zip(grid, found, strict=True) if own is lever]))
        return every

    def does(self, trial: Trial) -> bool:
        return trial.share is not None and trial.share >= self.asked

    def answer(self, lever: Lever, found: list[tuple[float, Trial]], builds: int) -> Answer:
        self.progress(0, 1, f"refining: {lever.name}")
        inside, outside = _edge(found, self.does)
        tried = [t for _, t in found]
        if inside is not None and outside is not None:
            inside, more = self.refined(lever, inside, outside)
            tried += more
        listed = tuple(sorted(tried, key=lambda t: t.value))
        nothing = (lever.name, lever.title, lever.unit, lever.present, listed)
        if inside is None:
            return Answer(*nothing, None, None, None, None, 0, False, ())
        beyond = [t.value / lever.present for t in listed if self.does(t)]
        steps = [inside, *sorted((f for f in beyond if _further(f, inside, outside)), key=lambda f: abs(f - inside))]
        for step in steps[:CONFIRMED]:  # other draws may say less: then the next value further on
            factor = _rounded(lever, step, outside)
            made = self.planned(lever, factor)
            names = [c.name for c in _others(made, self.names)]
            values = _built(made, [*self.names, *names], builds, self.seed + 1)
            kept = _kept(values[:, : len(self.names)], self.limits)
            share = float(kept.mean())
            if share >= self.asked:
                break
        low, high = clopper_pearson(int(builds - kept.sum()), builds)
        return Answer(*nothing, lever.present * factor, share, 1.0 - high, 1.0 - low, builds, share >= self.asked,
                      self.worse(made, names, values[:, len(self.names) :]))  # fmt: skip

    def refined(self, lever: Lever, inside: float, outside: float) -> tuple[float, list[Trial]]:
        """Halve between what does and what does not."""
        more = []
        for _ in range(REFINED):
            middle = float(np.sqrt(inside * outside))
            more.append(self.trial(lever, middle))
            inside, outside = (middle, outside) if self.does(more[-1]) else (inside, middle)
        return inside, more

    def worse(self, made: LaunchPlan, names: list[str], after: FloatArray) -> tuple[tuple[str, float], ...]:
        """Other characteristics of which more parts fall outside than now."""
        now = with_asked(plan(self.job), self.names)
        known = [n for n in names if n in now.characteristics]
        before = _built(now, known, len(after), self.seed + 1)
        found = []
        for i, name in enumerate(known):
            c = made.characteristics[name]
            more = float(_kept(before[:, i : i + 1], [c]).mean() - _kept(after[:, [names.index(name)]], [c]).mean())
            if more > WORSE:
                found.append((name, more))
        return tuple(found)


def _factors(lever: Lever) -> FloatArray:
    return np.union1d(np.geomspace(lever.least, lever.most, SCANNED), [1.0])


def _edge(found: list[tuple[float, Trial]], does: Callable[[Trial], bool]) -> tuple[float | None, float | None]:
    """The factor to start from that does, and its neighbour that does not (None at the end of the range)."""
    factors, good = [f for f, _ in found], [does(t) for _, t in found]
    here = factors.index(1.0)
    if good[here]:
        at = here
        while at > 0 and good[at - 1]:
            at -= 1
        return factors[at], factors[at - 1] if at > 0 else None
    able = [i for i, x in enumerate(good) if x]
    if not able:
        return None, None
    best = min(able, key=lambda i: abs(np.log(factors[i])))
    return factors[best], factors[best + (1 if best < here else -1)]


def _further(factor: float, inside: float, outside: float | None) -> bool:
    """Whether a factor lies beyond the edge, away from what does not."""
    return outside is not None and (factor - inside) * (inside - outside) > 0.0


def _rounded(lever: Lever, inside: float, outside: float | None) -> float:
    """The factor with its value rounded to three figures, away from what does not."""
    if outside is None or inside == 1.0:
        return inside
    value = size_from_si(lever.present * inside, lever.unit)
    step = 10.0 ** (np.floor(np.log10(value)) - 2.0)
    up = inside > outside
    rounded = (np.ceil(value / step - 1e-9) if up else np.floor(value / step + 1e-9)) * step
    return float(rounded / from_si(lever.present, lever.unit))


def _others(made: LaunchPlan, names: list[str]) -> list[Characteristic]:
    known = made.characteristics.values()
    return [c for c in known if (c.low, c.high) != (None, None) and c.name in made.nominal and c.name not in names]


def _built(made: LaunchPlan, names: list[str], builds: int, seed: int) -> FloatArray:
    """Characteristics (builds, names) of trial builds, each from a lot of its own; NaN where there is no value."""
    columns = sample(values_of(made.stations, made.plans), 0, builds, seed)
    found = run(made.stations, made.plans, Ensemble(columns, {}))
    values = np.stack([found.columns[name] for name in names], axis=1) if names else np.zeros((builds, 0))
    return np.where(found.has_value[:, None], values, np.nan)


def _kept(values: FloatArray, limits: Sequence[Characteristic]) -> np.ndarray:
    """Builds (n,) that keep every limit; one without a value does not."""
    low = np.array([-np.inf if c.low is None else c.low for c in limits])
    high = np.array([np.inf if c.high is None else c.high for c in limits])
    return np.asarray(((values >= low) & (values <= high)).all(axis=1))
