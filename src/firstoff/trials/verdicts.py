"""Verdicts on parts: does the true value conform, given the reading and its gauge?"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from firstoff.methods.conformity import RULES, Limits, Zones, decide, posterior, probability_of_one, zones
from firstoff.methods.ranges import real, share
from firstoff.trials.gauges import Gauge, find
from firstoff.trials.readings import Reading, Trial

__all__ = ["Judgement", "Limits", "LotVerdict", "PartVerdict", "Prior", "Word", "judge"]

Word = Literal["conforms", "does not conform", "not proven"]


@dataclass(frozen=True)
class Prior:
    """What is known of the parts before the reading: a normal process, SI."""

    mean: float
    sd: float

    def __post_init__(self) -> None:
        real("mean", self.mean)
        real("sd", self.sd, above=0.0)


@dataclass(frozen=True)
class PartVerdict:
    """One characteristic of one part, SI. `value` is the mean of its readings; None means not known or no limit."""

    characteristic: str
    part: str
    lot: str
    value: float
    readings: int
    low: float | None
    high: float | None
    gauge: str
    u: float | None  # standard uncertainty of `value`
    rule: str
    verdict: Word
    p_conform: float | None
    accept_low: float | None = None
    accept_high: float | None = None
    guard: float | None = None
    reason: str = ""
    repeats_agree: bool = True  # False: the readings of this part contradict each other


@dataclass(frozen=True)
class LotVerdict:
    """One characteristic of all parts of a lot, SI. None where a figure is not defined.

    Pp and Ppk are the performance indices of ISO 22514-2. The tolerance interval is that of the readings: the gauge's
    own scatter is left in it, which is conservative.
    `widened` is how far it must stay away from the limits for the gauge's error that all readings share.
    """

    characteristic: str
    lot: str
    n: int  # parts
    mean: float
    sd: float | None
    low: float | None
    high: float | None
    verdict: Word
    reason: str
    coverage: float
    confidence: float
    factor: float | None = None
    interval_low: float | None = None
    interval_high: float | None = None
    widened: float | None = None
    share_out: float | None = None
    share_out_low: float | None = None
    share_out_high: float | None = None
    ppk: float | None = None
    ppk_low: float | None = None
    ppk_high: float | None = None
    pp: float | None = None
    pp_low: float | None = None
    pp_high: float | None = None
    model: str = ""  # distribution that the figures rest on
    model_why: str = ""
    conforming: int = 0
    not_conforming: int = 0
    not_proven: int = 0


@dataclass(frozen=True)
class Judgement:
    """The verdicts of a trial, in the order in which the readings came."""

    parts: tuple[PartVerdict, ...]
    lots: tuple[LotVerdict, ...]


def judge(
    trial: Trial,
    limits: Mapping[str, Limits],
    gauges: Mapping[str, Gauge],
    rule: str,
    coverage: float = 0.95,
    confidence: float = 0.95,
    priors: Mapping[str, Prior] | None = None,
    distributions: Mapping[str, str] | None = None,
) -> Judgement:
    """Verdicts for each part and, per lot, for each characteristic.

    rule: `iso14253-1:2013` (guard band 2u) or `iso14253-1:2017` (conformance proven at 95 %). coverage, confidence:
    of the tolerance interval of a lot [1]. priors: by characteristic; they change p_C, and with it the verdict by the
    2017 rule. distributions: by characteristic, where they are known; else chosen by test. A characteristic without
    limits or without known gauge uncertainty is not proven. Raises ValueError.
    Source: ISO 14253-1, JCGM 106:2012, ISO 16269-6:2014.
    """
    from firstoff.trials.lots import judge_lot

    if rule not in RULES:
        raise ValueError(f"rule must be one of {', '.join(RULES)}, not {rule!r}")
    coverage, confidence = share("coverage", coverage), share("confidence", confidence)
    parts: list[PartVerdict] = []
    lots: list[LotVerdict] = []
    for name, by_part in _grouped(trial.readings).items():
        case = _Case(name, limits.get(name, Limits()), gauges, rule, (priors or {}).get(name))
        by_lot: dict[str, list[list[Reading]]] = {}
        for (lot, _), readings in by_part.items():
            by_lot.setdefault(lot, []).append(readings)
        for groups in by_lot.values():
            verdicts = [case.judge_part(readings) for readings in groups]
            common = case.common({reading.gauge for readings in groups for reading in readings})
            lots.append(judge_lot(verdicts, common, coverage, confidence, (distributions or {}).get(name, "")))
            parts += verdicts
    return Judgement(tuple(parts), tuple(lots))


def _grouped(readings: Iterable[Reading]) -> dict[str, dict[tuple[str, str], list[Reading]]]:
    """characteristic -> (lot, part) -> readings, in the order in which they came."""
    found: dict[str, dict[tuple[str, str], list[Reading]]] = {}
    for reading in readings:
        found.setdefault(reading.characteristic, {}).setdefault((reading.lot, reading.part), []).append(reading)
    return found


@dataclass(frozen=True)
class _Measured:
    """What the readings of one part share."""

    label: str
    u: float | None  # of their mean
    reason: str  # why nothing can be proven; empty when something can
    note: str
    single: float  # standard deviation of one reading against its repeats


@dataclass
class _Case:
    """One characteristic while it is judged; what depends on gauge and number of repeats is worked out once."""

    name: str
    limits: Limits
    gauges: Mapping[str, Gauge]
    rule: str
    prior: Prior | None
    _gauges: dict[str, tuple[Gauge | None, str]] = field(default_factory=dict)
    _measured: dict[tuple[tuple[str, ...], int], _Measured] = field(default_factory=dict)
    _zones: dict[float, Zones] = field(default_factory=dict)

    def gauge(self, named: str) -> tuple[Gauge | None, str]:
        if named not in self._gauges:
            self._gauges[named] = find(self.gauges, self.name, named)
        return self._gauges[named]

    def common(self, names: Iterable[str]) -> float | None:
        """Largest uncertainty that readings with these gauges share; None when one of the gauges is not known."""
        found = [self.gauge(name)[0] for name in names]
        shared = [gauge.common() if gauge else None for gauge in found]
        return None if None in shared else max(s for s in shared if s is not None)

    def measured(self, names: tuple[str, ...], count: int) -> _Measured:
        """What so many readings of one part with these gauges share: worked out once."""
        if (names, count) not in self._measured:
            found = [self.gauge(name) for name in names]
            reason = next((why for _, why in found if why), "")
            us = [gauge.of_mean(count if len(names) == 1 else 1) for gauge, why in found if gauge and not why]
            known = [u for u in us if u is not None]
            # several gauges on one part: the worst of them, nothing averaged
            u = max(known) if known and not reason else None
            label = ", ".join(
                dict.fromkeys(gauge.name if gauge else name for name, (gauge, _) in zip(names, found, strict=True))
            )
            note = "gauge uncertainty is assumed" if any(gauge and gauge.assumed for gauge, _ in found) else ""
            single = max((gauge.repeatability or gauge.u or 0.0 for gauge, _ in found if gauge), default=0.0)
            if self.limits.low is None and self.limits.high is None:
                reason = "no limits are given"
            self._measured[names, count] = _Measured(label, u, reason, note, single)
        return self._measured[names, count]

    def judge_part(self, readings: list[Reading]) -> PartVerdict:
        first, count = readings[0], len(readings)
        value = first.value if count == 1 else sum(r.value for r in readings) / count
        names = (first.gauge,) if count == 1 else tuple(dict.fromkeys(r.gauge for r in readings))
        how = self.measured(names, count)
        if how.reason or how.u is None:
            return self._verdict(first, value, count, how.label, how.u, "not proven", how.reason)
        u = math.hypot(how.u, *(r.u / count for r in readings))  # what the cycles of a trace leave open comes on top
        decided = self._decide(first, value, count, how.label, u, how.note)
        if count < 2 or self.agree([r.value for r in readings], how.single):
            return decided
        # a mean of readings that contradict each other proves nothing: a retest must not cure a failing part
        shown = "; ".join(filter(None, ("its readings differ by more than the gauge explains", how.note)))
        return replace(decided, verdict="not proven", reason=shown, repeats_agree=False)

    @staticmethod
    def agree(values: list[float], sd: float) -> bool:
        """Whether the range of repeats stays within the 95 % critical range f(n) sd of one gauge.

        f(n): 95 % point of the range of n standard normal readings, 2.77 for two. sd: of one reading, SI.
        Source: ISO 5725-6 (critical range; from memory).
        """
        from scipy.stats import studentized_range

        return len(values) < 2 or max(values) - min(values) <= studentized_range.ppf(0.95, len(values), np.inf) * sd

    def _decide(self, first: Reading, value: float, count: int, gauge: str, u: float, note: str) -> PartVerdict:
        best, u_best, weight = value, u, 1.0
        if self.prior is not None:
            best, u_best = posterior(value, u, self.prior.mean, self.prior.sd)
            weight = (u_best / u) ** 2
        p = probability_of_one(best, u_best, self.limits)
        by_prior = self.prior is not None and self.rule == RULES[1]
        of = u_best if by_prior else u
        if of not in self._zones:
            self._zones[of] = zones(self.limits, of, self.rule)
        found = self._zones[of]
        word = decide(best if by_prior else value, found)
        if found.empty:
            note = "; ".join(filter(None, ("the gauge is too coarse: no reading can prove conformity", note)))
        if by_prior and self.prior is not None:
            found = _back(found, weight, self.prior.mean)
        return self._verdict(first, value, count, gauge, u, word, note, p, found)

    def _verdict(
        self,
        first: Reading,
        value: float,
        count: int,
        gauge: str,
        u: float | None,
        word: Word,
        reason: str,
        p: float | None = None,
        found: Zones | None = None,
    ) -> PartVerdict:
        return PartVerdict(
            self.name,
            first.part,
            first.lot,
            value,
            count,
            self.limits.low,
            self.limits.high,
            gauge,
            u,
            self.rule,
            word,
            p,
            found.accept_low if found else None,
            found.accept_high if found else None,
            found.guard if found else None,
            reason,
        )


def _back(found: Zones, weight: float, mean: float) -> Zones:
    """Zones of the best estimate as zones of the reading: estimate = weight reading + (1-weight) mean."""

    def reading(estimate: float | None) -> float | None:
        return None if estimate is None else (estimate - (1.0 - weight) * mean) / weight

    return Zones(
        reading(found.accept_low),
        reading(found.accept_high),
        reading(found.reject_low),
        reading(found.reject_high),
        found.guard,
        found.empty,
    )
