"""Verdicts on readings that were not taken at the test temperature: they must hold with and without its effect."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

from firstoff.trials.lots import not_conforming
from firstoff.trials.readings import Trial
from firstoff.trials.verdicts import Judgement, LotVerdict, PartVerdict

Place = tuple[str, str, str]  # characteristic, lot, part


def without_shift(trial: Trial, shifts: Mapping[Place, float]) -> Trial:
    """The trial with the shift [SI] of each part's readings taken out."""
    moved = (replace(r, value=r.value - shifts.get((r.characteristic, r.lot, r.part), 0.0)) for r in trial.readings)
    return replace(trial, readings=tuple(moved))


def both_ways(
    as_read: Judgement,
    at_test: Judgement,
    reasons: Mapping[Place, str],
    of_lot: str,
    lost: frozenset[Place] = frozenset(),
) -> Judgement:
    """The verdicts as read, each of them not proven where it would not stand without the shift.

    as_read, at_test: verdicts on the same readings, with their shift in and out. The values that prove conformity have
    no gap, nor have those beyond a limit, so a verdict that holds at both ends holds for every shift between. reasons:
    what to say of a part whose readings shifted; of_lot: of its lot; lost: parts of which nobody can say by how much
    they shifted, so that nothing is proven. Figures stay those of the readings.
    """
    pairs = zip(as_read.parts, at_test.parts, strict=True)
    parts = tuple(_part(read, test, reasons, lost) for read, test in pairs)
    counts: Counter[tuple[str, str, str]] = Counter((v.characteristic, v.lot, v.verdict) for v in parts)
    torn = {(name, lot) for name, lot, _ in lost}
    lots = tuple(_lot(read, test, counts, of_lot, torn) for read, test in zip(as_read.lots, at_test.lots, strict=True))
    return Judgement(parts, lots)


def _part(read: PartVerdict, test: PartVerdict, reasons: Mapping[Place, str], lost: frozenset[Place]) -> PartVerdict:
    place = (read.characteristic, read.lot, read.part)
    if read.verdict == test.verdict and place not in lost:
        return read
    return replace(read, verdict="not proven", reason=reasons.get(place, ""))


def _lot(
    read: LotVerdict,
    test: LotVerdict,
    counts: Counter[tuple[str, str, str]],
    reason: str,
    torn: set[tuple[str, str]],
) -> LotVerdict:
    place = (read.characteristic, read.lot)
    counted = replace(
        read,
        conforming=counts[*place, "conforms"],
        not_conforming=counts[*place, "does not conform"],
        not_proven=counts[*place, "not proven"],
    )
    if read.verdict == test.verdict and place not in torn:
        if read.not_conforming and counted.not_conforming < read.not_conforming:
            some = f"as read {not_conforming(read.not_conforming, read.n)}"
            both = f"{counted.not_conforming} of them with and without the effect of the temperature"
            return replace(counted, reason=f"{some}, {both}")
        return counted
    return replace(counted, verdict="not proven", reason=reason)
