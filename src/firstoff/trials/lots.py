"""Verdict on a lot: do enough of its parts conform, as far as a sample can tell?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from firstoff.errors import counted
from firstoff.methods.conformity import RULES, Limits, zones
from firstoff.methods.distribution_fit import STATED_WHY, Fit
from firstoff.methods.performance import Index, performance
from firstoff.methods.ranges import share
from firstoff.methods.sampling_plans import demonstration_size
from firstoff.methods.tolerance_intervals import one_sided_exact, two_sided_exact
from firstoff.trials.verdicts import LotVerdict, PartVerdict, Word

NO_INDEX = Index(math.nan)


def judge_lot(
    parts: Sequence[PartVerdict],
    common: float | None,
    coverage: float = 0.95,
    confidence: float = 0.95,
    distribution: str = "",
) -> LotVerdict:
    """One characteristic of one lot, from the verdicts on its parts.

    Conforms: mean -/+ k s (exact normal tolerance factor; one-sided for one limit), widened by the guard band of the
    gauge's common error, lies within the limits, and no part fails. Parts that are not normal: the interval of their
    logarithms, or so many parts that all conform (success run). Does not conform: a part does not, or the
    confidence bound mean -/+ t s/sqrt(n) of the mean, narrowed by that guard band, lies outside. Otherwise not proven.
    The readings' own scatter s holds the gauge's repeatability: conservative.
    common: standard uncertainty shared by the readings, SI; None when unknown; distribution: where it is known.
    Raises ValueError.
    Source: ISO 16269-6:2014; ISO 14253-1 for the guard band.
    """
    share("coverage", coverage)
    values = [part.value for part in parts]
    n, mean = len(values), math.fsum(values) / len(values)
    first = parts[0]
    words = [part.verdict for part in parts]
    verdict = LotVerdict(
        first.characteristic,
        first.lot,
        n,
        mean,
        None,
        first.low,
        first.high,
        "not proven",
        "",
        coverage,
        confidence,
        conforming=words.count("conforms"),
        not_conforming=words.count("does not conform"),
        not_proven=words.count("not proven"),
    )
    limits = Limits(first.low, first.high)
    widened = _guard(common, limits, first.rule)
    if n >= 2:
        verdict = _with_figures(verdict, values, limits, widened or 0.0, distribution)
    word, reason = _decide(verdict, parts, limits, common)
    return replace(verdict, verdict=word, reason=reason, widened=widened)


def _guard(common: float | None, limits: Limits, rule: str) -> float | None:
    """Guard band of the error that all readings share."""
    if common is None or (limits.low is None and limits.high is None):
        return None
    return 0.0 if common == 0.0 else zones(limits, common, rule if rule in RULES else RULES[0]).guard


def _with_figures(
    verdict: LotVerdict, values: Sequence[float], limits: Limits, guard: float, distribution: str
) -> LotVerdict:
    """Standard deviation, tolerance interval, share outside, Pp and Ppk, as far as they are defined.

    The intervals of share and Ppk hold wherever the gauge's common error may have put the mean, up to its guard band.
    """
    n, mean = verdict.n, verdict.mean
    sd = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (n - 1))
    verdict = replace(verdict, sd=sd)
    if sd <= 1e-13 * max(map(abs, values)):
        return verdict
    unlimited = limits.low is None and limits.high is None
    found = None if unlimited else performance(values, limits, verdict.confidence, guard, distribution)
    verdict = _with_interval(verdict, limits, found.fit if found else None)
    if found is None:
        return verdict
    pp, ppk = found.whole or NO_INDEX, found.nearest or NO_INDEX
    return replace(
        verdict,
        share_out=found.share_out[0],
        share_out_low=found.share_out[1],
        share_out_high=found.share_out[2],
        ppk=found.nearest.value if found.nearest else None,
        ppk_low=ppk.low,
        ppk_high=ppk.high,
        pp=found.whole.value if found.whole else None,
        pp_low=pp.low,
        pp_high=pp.high,
        model=found.fit.model,
        model_why=found.fit.why,
    )


def _with_interval(verdict: LotVerdict, limits: Limits, found: Fit | None) -> LotVerdict:
    """The tolerance interval: normal, or of the logarithms; none where the parts follow neither."""
    model = found.model if found else "normal"
    if model not in ("normal", "lognormal") or verdict.sd is None:
        return verdict
    both = (limits.low is None) == (limits.high is None)
    k = (two_sided_exact if both else one_sided_exact)(verdict.n, verdict.coverage, verdict.confidence)
    middle, sd = (found.a, found.b) if found and model == "lognormal" else (verdict.mean, verdict.sd)
    ends = [middle - k * sd, middle + k * sd]
    low, high = (math.exp(x) for x in ends) if model == "lognormal" else ends
    return replace(
        verdict,
        factor=k,
        interval_low=None if limits.low is None and not both else low,
        interval_high=None if limits.high is None and not both else high,
    )


def _decide(
    verdict: LotVerdict, parts: Sequence[PartVerdict], limits: Limits, common: float | None
) -> tuple[Word, str]:
    if limits.low is None and limits.high is None:
        return "not proven", "no limits are given"
    if verdict.not_conforming:
        return "does not conform", not_conforming(verdict.not_conforming, verdict.n)
    if not all(part.repeats_agree for part in parts):
        torn = sum(not part.repeats_agree for part in parts)
        return "not proven", f"repeat readings of {torn} of {counted(verdict.n, 'part')} contradict each other"
    if common is None:
        return "not proven", next((part.reason for part in parts if part.u is None), "gauge uncertainty unknown")
    if verdict.n < 2:
        return "not proven", "a single part says nothing about the scatter of the lot"
    held = f"{100 * verdict.coverage:g} % of the lot, with {100 * verdict.confidence:g} % confidence"
    if verdict.model not in ("", "normal", "lognormal"):
        return _by_counting(verdict, parts, limits, common, held)
    if verdict.factor is None or verdict.sd is None:
        return "not proven", "the readings do not differ at all: the gauge is too coarse to show the scatter"
    guard = _guard(common, limits, parts[0].rule) or 0.0
    if _mean_outside(verdict, limits, guard):
        return "does not conform", "the mean of the lot lies outside the limits"
    low_fits = limits.low is None or (verdict.interval_low is not None and verdict.interval_low - guard >= limits.low)
    high_fits = limits.high is None or (
        verdict.interval_high is not None and verdict.interval_high + guard <= limits.high
    )
    assumed = "; gauge uncertainty is assumed" if any("assumed" in part.reason for part in parts) else ""
    which = "the tolerance interval" + (" of lognormal parts," if verdict.model == "lognormal" else "")
    if low_fits and high_fits:
        return "conforms", f"{which} of {held}, fits the limits{assumed}"
    return "not proven", f"{which} of {held}, does not fit the limits{assumed}"


def _by_counting(
    verdict: LotVerdict, parts: Sequence[PartVerdict], limits: Limits, common: float, held: str
) -> tuple[Word, str]:
    """The word on a lot whose parts are not normal: by its stated distribution, or by counting (success run)."""
    guard = _guard(common, limits, parts[0].rule) or 0.0
    if _mean_outside(verdict, limits, guard):
        return "does not conform", "the mean of the lot lies outside the limits"
    assumed = "; gauge uncertainty is assumed" if any("assumed" in part.reason for part in parts) else ""
    if verdict.model_why == STATED_WHY and verdict.share_out_high is not None:
        # at half the risk: the bound is one end of a two-sided interval
        fits = verdict.share_out_high <= 1.0 - verdict.coverage
        say = f"{verdict.model} parts, as the sheet states: the upper bound of the share outside is"
        word: Word = "conforms" if fits else "not proven"
        return word, f"{say} {100 * verdict.share_out_high:.2g} %{assumed}"
    needed = demonstration_size(verdict.coverage, verdict.confidence)
    say = f"the parts do not follow a normal distribution, so that {held}, takes {counted(needed, 'part')}"
    if verdict.n >= needed and verdict.conforming == verdict.n:
        return "conforms", f"{say} that all conform: {verdict.n} do{assumed}"
    return "not proven", f"{say} that all conform; {verdict.conforming} of {verdict.n} do{assumed}"


def not_conforming(some: int, of: int) -> str:
    """`2 of 8 parts do not conform`."""
    return f"{some} of {counted(of, 'part')} {'does' if some == 1 else 'do'} not conform"


def _mean_outside(verdict: LotVerdict, limits: Limits, guard: float) -> bool:
    """Whether the one-sided confidence bound of the mean, less the gauge's common error, is beyond a limit."""
    from scipy.special import stdtrit

    reach = float(stdtrit(verdict.n - 1, verdict.confidence)) * (verdict.sd or 0.0) / math.sqrt(verdict.n) + guard
    above = limits.high is not None and verdict.mean - reach > limits.high
    below = limits.low is not None and verdict.mean + reach < limits.low
    return above or below
