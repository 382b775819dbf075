"""The scene of an explanation, from a planned launch: what was expected, how it scatters, and what each fault does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import dimensions, sample
from firstoff.chain.station import FloatArray, Value
from firstoff.errors import InputFault, Message
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.shifts import bases, matrix, middle, shifts_of, touches
from firstoff.launch.undeclared import undeclared
from firstoff.sheets.spread import Spread
from firstoff.trials.gauges import find
from firstoff.trials.readings import Reading, Trial
from firstoff.trials.scene import Scene, Suspect

BUILDS = 1024  # of each ensemble that settles a covariance
SEED = 1
WORKERS = 2
SHELL = Spread(0.5, "assumed: shell thermometer against oil, common practice, no source")  # K
UNKNOWN_GAUGE = 0.02  # of the expected value: assumed uncertainty where no gauge is declared


@dataclass(frozen=True)
class Prepared:
    """A scene and its suspects, and what is to be said about them."""

    scene: Scene
    suspects: tuple[Suspect, ...]
    values: Mapping[str, Value]
    assumptions: tuple[str, ...]
    not_used: tuple[str, ...]  # characteristics that were read but no station computes
    not_computed: tuple[str, ...]  # faults for which the chain has no value at any size


def prepare(plan: LaunchPlan, trial: Trial, names: Sequence[str] = ()) -> Prepared:
    """Expected readings, covariances and the shift of every fault.

    names: the characteristics to look at; all that were read and that a station computes when empty. InputFault for no
    usable reading, or several lots.
    """
    table = _table(plan, trial, names)
    warm = _temperatures(plan, table)
    values = _known(values_of(plan.stations, plan.plans), plan.job.family.temperature, warm)
    at = bases(plan, values, table.names)
    k, n = len(table.names), len(table.parts)
    expected = np.repeat(at.at_rest[:1], n, axis=0)
    if warm is not None:
        columns = {name: np.repeat(column, n) for name, column in middle(values).items()}
        columns[plan.job.family.temperature] = warm
        expected = matrix(run(plan.stations, plan.plans, Ensemble(columns, {})).columns, table.names)
    lot, part = (_covariance(plan, values, level, table.names) for level in ("lot", "part"))
    noise, common, said = _gauges(plan, table, expected)
    both = lot + part
    model = 0.5 * both + np.diag(0.5 * np.diag(both)) + np.diag(common)
    scene = Scene(table.names, table.parts, table.groups, table.readings, expected, lot, part, model, noise)
    faults = [f for f in plan.job.family.faults if warm is None or all(m.name != plan.job.family.temperature
                                                                      for m in f.moves)]  # fmt: skip
    with ThreadPoolExecutor(WORKERS) as pool:  # the chain's kernels work without the interpreter lock
        found = list(zip(faults, pool.map(lambda f: shifts_of(plan, f, at, table.names), faults), strict=True))
    suspects = [
        Suspect(f.name, f.station, f.title, f.who, f.per_thousand / 1000.0, sizes, shifts, touches(f), spreads)
        for f, (sizes, shifts, spreads) in found
        if len(sizes) and k
    ]
    suspects += undeclared(plan, values, faults, at, table.names, np.nanmin(noise, axis=0))
    said += ["the model may be off by as much as ordinary scatter, half of it in any direction: assumed"]
    said.append(
        "each passage and plate of the drawing may be off by 3 % in what it does, and a fault's shape with it: assumed"
    )
    empty = tuple(f.name for f, (sizes, _, _) in found if not len(sizes))
    return Prepared(scene, tuple(suspects), {v.name: v for v in values}, tuple(said), table.not_used, empty)


@dataclass(frozen=True)
class _Table:
    names: tuple[str, ...]
    parts: tuple[str, ...]
    groups: tuple[str, ...]
    readings: FloatArray
    counts: FloatArray
    gauges: Mapping[str, str]  # characteristic -> gauge of its readings
    by_part: Mapping[str, list[Reading]]
    not_used: tuple[str, ...]


def _table(plan: LaunchPlan, trial: Trial, wanted: Sequence[str]) -> _Table:
    lots = list(dict.fromkeys(r.lot for r in trial.readings))
    if len(lots) > 1:
        what = "has readings of several lots: explain one lot at a time"
        raise InputFault([Message(what, file=trial.file, key="lot", found=", ".join(lots))])
    read = dict.fromkeys(r.characteristic for r in trial.readings)
    names = tuple(wanted) or tuple(name for name in read if name in plan.nominal)
    if not set(names) & set(read):
        what = "has no reading that a station of this launch computes"
        raise InputFault([Message(what, file=trial.file, allowed=", ".join(plan.characteristics))])
    parts = tuple(dict.fromkeys(r.part for r in trial.readings))
    total, counts = np.zeros((len(parts), len(names))), np.zeros((len(parts), len(names)))
    by_part: dict[str, list[Reading]] = {p: [] for p in parts}
    for r in trial.readings:
        by_part[r.part].append(r)
        if r.characteristic in names:
            at = parts.index(r.part), names.index(r.characteristic)
            total[at] += r.value
            counts[at] += 1
    with np.errstate(invalid="ignore"):
        readings = total / counts
    groups = tuple(next((r.group for r in of if r.group), "") for of in by_part.values())
    gauges = {r.characteristic: r.gauge for r in trial.readings}
    return _Table(names, parts, groups, readings, counts, gauges, by_part, tuple(r for r in read if r not in names))


def _temperatures(plan: LaunchPlan, table: _Table) -> FloatArray | None:
    """Temperature of each part's test [K], or None when one of them was not recorded."""
    if not plan.job.family.temperature:
        return None
    found = []
    for readings in table.by_part.values():
        noted = [r.temperature for r in readings if r.temperature is not None]
        if not noted:
            return None
        found.append(sum(noted) / len(noted))
    return np.array(found)


def _known(values: Sequence[Value], name: str, warm: FloatArray | None) -> tuple[Value, ...]:
    """The values, with a recorded temperature in place of the one of the sheet."""
    if warm is None:
        return tuple(values)
    mean = float(warm.mean())
    return tuple(replace(v, nominal=mean, lot=None, part=SHELL) if v.name == name else v for v in values)


def _covariance(plan: LaunchPlan, values: Sequence[Value], level: str, names: Sequence[str]) -> FloatArray:
    """Covariance of the characteristics over builds that scatter at one level only."""
    still = [replace(v, part=None) if level == "lot" else replace(v, lot=None) for v in values]
    if not dimensions(still):
        return np.zeros((len(names), len(names)))
    builds = run(plan.stations, plan.plans, Ensemble(sample(still, 0, BUILDS, SEED), {}))
    found = matrix(builds.columns, names)[builds.has_value]
    return np.atleast_2d(np.cov(found.T))


def _gauges(plan: LaunchPlan, table: _Table, expected: FloatArray) -> tuple[FloatArray, FloatArray, list[str]]:
    """Variance of each part's mean reading, and of what all readings of a characteristic share.

    A gauge that does not say how much of its u repeats is taken at its worst in both places.
    """
    noise, common = np.ones_like(expected), np.zeros(len(table.names))
    said: list[str] = []
    silent: dict[str, list[str]] = {}
    for i, name in enumerate(table.names):
        gauge, _ = find(plan.job.gauges, name, table.gauges.get(name, ""))
        repeats = np.maximum(table.counts[:, i], 1.0)
        if gauge is None or gauge.u is None:
            u = UNKNOWN_GAUGE * float(np.abs(expected[:, i]).mean())
            noise[:, i], common[i] = max(u, 1e-12) ** 2 / repeats, u**2
            said.append(f"{name}: gauge uncertainty unknown, {UNKNOWN_GAUGE:.0%} of the expected value assumed")
            continue
        random = gauge.repeatability or gauge.u
        noise[:, i] = random**2 / repeats
        common[i] = (gauge.common() or 0.0) ** 2
        if not gauge.repeatability:
            silent.setdefault(gauge.name, []).append(name)
    said += [
        f"{gauge} states no repeatability for {', '.join(of)}: all of u is taken as random and as common to all parts"
        for gauge, of in silent.items()
    ]
    return noise, common, said
