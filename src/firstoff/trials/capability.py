"""A characteristic over all lots of a trial: performance, and capability where the lots make a stable process."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from firstoff.methods.conformity import Limits
from firstoff.methods.performance import Index, capability_within, performance, stability
from firstoff.trials.verdicts import Judgement, PartVerdict

UNSTABLE = 0.01  # p of the lots' means below which the process is not called stable


@dataclass(frozen=True)
class AcrossLots:
    """One characteristic of several lots, in the terms of ISO 22514-2. None where an index is not defined."""

    characteristic: str
    lots: int
    n: int
    pp: Index | None  # of all parts together
    ppk: Index | None
    model: str  # distribution that Pp and Ppk rest on
    cp: Index | None  # of the scatter within lots; None where the lots differ
    cpk: Index | None
    within: float | None  # standard deviation within lots, SI
    p_lots: float | None  # of means as far apart, were the lots alike
    words: str


def across_lots(
    judgement: Judgement, confidence: float, distributions: Mapping[str, str] | None = None
) -> tuple[AcrossLots, ...]:
    """Every characteristic with limits of which two lots or more were read.

    Cp and Cpk speak of a process in statistical control: they are left out where the lots' means differ (p < 0.01),
    or their parts are not normal. The gauge's common error is left in: conservative only for a bias that varies.
    Source: ISO 22514-2; the level is assumed (common practice, no source).
    """
    by_name: dict[str, dict[str, list[PartVerdict]]] = {}
    for v in judgement.parts:
        by_name.setdefault(v.characteristic, {}).setdefault(v.lot, []).append(v)
    found = []
    for name, of in by_name.items():
        first = next(iter(of.values()))[0]
        limits = Limits(first.low, first.high)
        if len(of) < 2 or limits == Limits():
            continue
        values = [[v.value for v in parts] for parts in of.values()]
        flat = [x for lot in values for x in lot]
        if max(flat) - min(flat) > 1e-13 * max(map(abs, flat)):
            found.append(_one(name, limits, values, flat, confidence, (distributions or {}).get(name, "")))
    return tuple(found)


def _one(
    name: str,
    limits: Limits,
    lots: Sequence[Sequence[float]],
    flat: Sequence[float],
    confidence: float,
    distribution: str,
) -> AcrossLots:
    whole, steady = performance(flat, limits, confidence, 0.0, distribution), stability(lots)
    model, cp, cpk = whole.fit.model, None, None
    if steady is None:
        words = "no lot has a scatter of its own: no Cp"
    elif steady.p < UNSTABLE:
        words = "the lots differ by more than their parts: the process is not stable, no Cp"
    elif model != "normal":
        words = "the parts are not normal: no Cp"
    else:
        words = "the lots do not speak against a stable process"
        cp, cpk = capability_within(limits, sum(flat) / len(flat), steady, confidence)
    return AcrossLots(
        name, len(lots), len(flat), whole.whole, whole.nearest, model, cp, cpk, steady.within if steady else None,
        steady.p if steady else None, words,
    )  # fmt: skip
