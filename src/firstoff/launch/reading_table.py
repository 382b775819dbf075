"""The readings of one lot as a table of parts and characteristics."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.chain.order import after
from firstoff.chain.station import FloatArray
from firstoff.errors import InputFault, Message
from firstoff.launch.plan import LaunchPlan
from firstoff.trials.readings import Reading, Trial


@dataclass(frozen=True)
class ReadingTable:
    """n parts, k characteristics; the mean of what was read of each, SI."""

    names: tuple[str, ...]
    parts: tuple[str, ...]
    groups: tuple[str, ...]
    readings: FloatArray  # (n, k), NaN where nothing was read
    counts: FloatArray  # (n, k)
    gauges: Mapping[str, str]  # characteristic -> gauge of its readings
    by_part: Mapping[str, list[Reading]]
    not_used: tuple[str, ...]
    own: FloatArray  # (n, k) variance of those reduced from a trace: the scatter between its cycles
    shared: FloatArray | None  # (n, k, k) what they share of it; None without traces


def tabulate(plan: LaunchPlan, trial: Trial, known: Mapping[str, float], wanted: Sequence[str] = ()) -> ReadingTable:
    """The readings of a trial, of the characteristics `wanted` or, without any, of all that are `known`.

    Readings of the rig itself stand with the first part. InputFault for several lots, or no usable reading.
    """
    lots = list(dict.fromkeys(r.lot for r in trial.readings))
    if len(lots) > 1:
        what = "has readings of several lots: explain one lot at a time"
        raise InputFault([Message(what, file=trial.file, key="lot", found=", ".join(lots))])
    read = dict.fromkeys(r.characteristic for r in trial.readings)
    names = tuple(wanted) or tuple(name for name in read if name in known)
    if not set(names) & set(read):
        what = "has no reading that a station of this launch computes"
        raise InputFault([Message(what, file=trial.file, allowed=", ".join(plan.characteristics))])
    by_part = _by_part(trial.readings, rig_names(plan))
    parts = tuple(by_part)
    total, counts = np.zeros((len(parts), len(names))), np.zeros((len(parts), len(names)))
    for row, of in enumerate(by_part.values()):
        for r in of:
            if r.characteristic in names:
                total[row, names.index(r.characteristic)] += r.value
                counts[row, names.index(r.characteristic)] += 1
    with np.errstate(invalid="ignore"):
        readings = total / counts
    groups = tuple(next((r.group for r in of if r.group), "") for of in by_part.values())
    gauges = {r.characteristic: r.gauge for r in trial.readings}
    not_used = tuple(r for r in read if r not in names)
    own, shared = _of_traces(trial, parts, names, counts)
    return ReadingTable(names, parts, groups, readings, counts, gauges, by_part, not_used, own, shared)


def _of_traces(
    trial: Trial, parts: tuple[str, ...], names: tuple[str, ...], counts: FloatArray
) -> tuple[FloatArray, FloatArray | None]:
    """Variances and covariances of the noise of readings that were reduced from traces, of their mean on each part."""
    own = np.zeros(counts.shape)
    if not trial.runs:
        return own, None
    shared = np.zeros((*counts.shape, len(names)))
    times = np.maximum(counts, 1.0)
    for of in trial.runs:
        row = parts.index(of.part) if of.part in parts else -1
        kept = [(i, names.index(name)) for i, name in enumerate(of.names) if name in names]
        if row < 0 or not kept:
            continue
        at, to = (list(x) for x in zip(*kept, strict=True))
        block = of.covariance[np.ix_(at, at)] / np.outer(times[row, to], times[row, to])
        own[row, to] += np.diag(block)
        shared[np.ix_([row], to, to)] += block - np.diag(np.diag(block))
    return own, shared


def rig_names(plan: LaunchPlan) -> set[str]:
    """What is read of the rig itself, whatever is clamped in it."""
    return {r.name for m in plan.job.family.measurements if m.on == "rig" for r in m.reads}


def _by_part(readings: Sequence[Reading], of_rig: set[str]) -> dict[str, list[Reading]]:
    """Readings by part; a `part` of which only the rig was read is no part."""
    found: dict[str, list[Reading]] = {}
    for r in readings:
        found.setdefault(r.part, []).append(r)
    real = [part for part, of in found.items() if any(r.characteristic not in of_rig for r in of)]
    if not real:
        return {"rig": list(readings)}
    for part in [p for p in found if p not in real]:
        found[real[0]] += found.pop(part)
    return found


def temperatures(plan: LaunchPlan, table: ReadingTable) -> FloatArray | None:
    """Temperature of each part's test [K], or None when one of them was not recorded.

    Only parts with a reading that depends on it need one; the others get the mean.
    """
    name = plan.job.family.temperature
    if not name:
        return None
    warm = {given for s in after(plan.stations, name) for given in s.gives} - rig_names(plan)
    found = np.full(len(table.parts), np.nan)
    for i, of in enumerate(table.by_part.values()):
        noted = [r.temperature for r in of if r.temperature is not None]
        if noted:
            found[i] = sum(noted) / len(noted)
        elif any(r.characteristic in warm for r in of):
            return None
    if np.isnan(found).all():
        return None
    return np.where(np.isnan(found), np.nanmean(found), found)
