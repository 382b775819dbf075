"""The scene of an explanation, from a planned launch: what was expected, how it scatters, and what each fault does."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from firstoff.chain.budget import affordable
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import Fault
from firstoff.chain.predict import values_of
from firstoff.chain.sample import dimensions, sample
from firstoff.chain.station import FloatArray, Value
from firstoff.launch.explaining.shifts import Bases, bases, matrix, middle, shifts_of, touches, unlike
from firstoff.launch.explaining.undeclared import undeclared
from firstoff.launch.plan import LaunchPlan, with_checks
from firstoff.launch.reading_table import ReadingTable, tabulate, temperatures
from firstoff.sheets.spread import Spread
from firstoff.sheets.units import format_value
from firstoff.trials.gauges import find
from firstoff.trials.readings import Trial
from firstoff.trials.scene import Scene, Suspect

BUILDS = 1024  # of each ensemble that settles a covariance
FEWEST = 256  # of them where a station takes its time
SEED = 1
WORKERS = 2
DOUBT = 0.015  # relative, of the drawing's dimensions and of the model's own expectation: assumed
SHELL = Spread(0.5, "assumed: shell thermometer against oil, common practice, no source")  # K
UNKNOWN_GAUGE = 0.02  # of the expected value: assumed uncertainty where no gauge is declared
PLAIN = (1e-2, 1e3)  # standard deviations in SI that are left so; others become the unit, for the arithmetic's sake
SHAPE = "each passage and plate of the drawing may be off by 3 % in what it does, and a fault's shape with it: assumed"


@dataclass(frozen=True)
class Prepared:
    """A scene and its suspects, and what is to be said about them.

    The columns of a scene stand in `units`: 1 is SI. `wide` and `wide_suspects` have the same readings, and beside
    them empty columns of what could still be measured.
    """

    scene: Scene
    suspects: tuple[Suspect, ...]
    values: Mapping[str, Value]
    assumptions: tuple[str, ...]
    not_used: tuple[str, ...]  # characteristics that were read but no station computes
    not_computed: tuple[str, ...]  # faults for which the chain has no value at any size
    wide: Scene
    wide_suspects: tuple[Suspect, ...]
    units: Mapping[str, float]


@dataclass(frozen=True)
class _Stage:
    """A scene over every column, with what it was made from."""

    plan: LaunchPlan  # with the check stations
    read: ReadingTable
    scene: Scene
    units: FloatArray
    values: tuple[Value, ...]
    at: Bases
    warm: bool  # whether the tests' temperatures are known
    said: tuple[str, ...]


def prepare(plan: LaunchPlan, trial: Trial) -> Prepared:
    """Expected readings, covariances and the shift of every fault.

    InputFault for no usable reading, or several lots.
    """
    stage = _stage(plan, trial)
    wide = stage.scene
    narrow = [wide.names.index(name) for name in stage.read.names]
    suspects, empty = _suspects(stage, narrow)
    hidden = _undeclared(stage, narrow)
    return Prepared(
        columns_of(wide, narrow),
        (*(_in_columns(s, narrow) for s in suspects), *hidden),
        {v.name: v for v in stage.values},
        stage.said,
        stage.read.not_used,
        empty,
        wide,
        tuple(suspects),
        dict(zip(wide.names, stage.units.tolist(), strict=True)),
    )


def good_scene(plan: LaunchPlan, good: Trial, prepared: Prepared) -> Scene:
    """The wide scene of a known-good lot, in the columns and units of the lot to be explained. InputFault as above."""
    stage = _stage(plan, good, prepared.wide.names)
    return _in_units(stage.scene, np.array([prepared.units[name] for name in stage.scene.names]) / stage.units)


def _stage(plan: LaunchPlan, trial: Trial, names: Sequence[str] = ()) -> _Stage:
    """names: the columns; all that were read, and beside them all that can be measured, when empty."""
    plan = with_checks(plan)
    known = {**plan.nominal, **{v.name: v.nominal for v in values_of(plan.stations, plan.plans)}}
    read = tabulate(plan, trial, known, names)
    could = [r.name for m in plan.job.family.measurements for r in m.reads if r.name in known]
    table = tabulate(plan, trial, known, tuple(names) or tuple(dict.fromkeys((*read.names, *could))))
    warm = temperatures(plan, table)
    values = _known(values_of(plan.stations, plan.plans), plan.job.family.temperature, warm)
    at = bases(plan, values, table.names)
    expected = _expected(plan, table, at, values, warm)
    lot, part = (_covariance(plan, values, level, table.names) for level in ("lot", "part"))
    noise, common, said = _gauges(plan, table, expected)
    model = _model(plan, table.names, at.at_rest[0], values) + np.diag(common)
    said.append(
        f"without a known-good lot: every dimension of passages and plates off by {DOUBT:.0%}, each reading as well"
    )
    noise = noise + table.own
    units = _units(np.diag(lot + part + model) + noise.mean(axis=0))
    scene = Scene(
        table.names, table.parts, table.groups, table.readings, expected, lot, part, model, noise, table.shared
    )
    return _Stage(plan, read, _in_units(scene, units), units, values, at, warm is not None, (*said, SHAPE))


def columns_of(scene: Scene, which: Sequence[int]) -> Scene:
    """The scene with some of its columns only."""
    at, square = list(which), np.ix_(which, which)
    return replace(
        scene, names=tuple(scene.names[i] for i in at), readings=scene.readings[:, at], expected=scene.expected[:, at],
        lot=scene.lot[square], part=scene.part[square], model=scene.model[square], noise=scene.noise[:, at],
        shared=None if scene.shared is None else scene.shared[:, at][:, :, at],
    )  # fmt: skip


def _units(variance: FloatArray) -> FloatArray:
    """A unit for each column: 1 (SI) where its scatter has a plain size, its own scatter elsewhere."""
    sd = np.sqrt(variance)
    return np.where((sd >= PLAIN[0]) & (sd <= PLAIN[1]), 1.0, sd)


def _in_units(scene: Scene, units: FloatArray) -> Scene:
    """The scene with its columns in `units` (k,) of what they are now."""
    square = np.outer(units, units)
    return replace(
        scene, readings=scene.readings / units, expected=scene.expected / units, lot=scene.lot / square,
        part=scene.part / square, model=scene.model / square, noise=scene.noise / units**2,
        shared=None if scene.shared is None else scene.shared / square,
    )  # fmt: skip


def _known(values: Sequence[Value], name: str, warm: FloatArray | None) -> tuple[Value, ...]:
    """The values, with a recorded temperature in place of the one of the sheet."""
    if warm is None:
        return tuple(values)
    mean = float(warm.mean())
    return tuple(replace(v, nominal=mean, lot=None, part=SHELL) if v.name == name else v for v in values)


def _expected(
    plan: LaunchPlan, table: ReadingTable, at: Bases, values: Sequence[Value], warm: FloatArray | None
) -> FloatArray:
    n = len(table.parts)
    if warm is None:
        return np.repeat(at.at_rest[:1], n, axis=0)
    columns = {name: np.repeat(column, n) for name, column in middle(values).items()}
    columns[plan.job.family.temperature] = warm
    return matrix(run(plan.stations, plan.plans, Ensemble(columns, {})).columns, table.names)


def _covariance(plan: LaunchPlan, values: Sequence[Value], level: str, names: Sequence[str]) -> FloatArray:
    """Covariance of the characteristics over builds that scatter at one level only."""
    still = [replace(v, part=None) if level == "lot" else replace(v, lot=None) for v in values]
    if not dimensions(still):
        return np.zeros((len(names), len(names)))
    count = affordable(plan.stations, BUILDS, FEWEST)
    builds = run(plan.stations, plan.plans, Ensemble(sample(still, 0, count, SEED), {}))
    found = matrix(builds.columns, names)
    good = builds.has_value & np.isfinite(found).all(axis=1)
    return np.atleast_2d(np.cov(found[good].T))


def _model(plan: LaunchPlan, names: Sequence[str], expected: FloatArray, values: Sequence[Value]) -> FloatArray:
    """What the expectation may be off by: of dampers whose passages and plates do not quite do what the drawing says.

    Nothing for a parameter or a definition, which no model stands behind.
    """
    count = affordable(plan.stations, BUILDS, FEWEST)
    builds = run(plan.stations, plan.plans, Ensemble(sample(unlike(values, DOUBT), 0, count, SEED), {}))
    found = matrix(builds.columns, names)
    good = builds.has_value & np.isfinite(found).all(axis=1)
    own = {v.name for v in values}
    given = {c.name: c for p in plan.plans.values() for c in p.gives}
    doubt = np.array([0.0 if name in own or (name in given and given[name].exact) else 1.0 for name in names])
    each = np.diag((DOUBT * expected) ** 2)
    return np.asarray((np.atleast_2d(np.cov(found[good].T)) + each) * np.outer(doubt, doubt))


def _gauges(plan: LaunchPlan, table: ReadingTable, expected: FloatArray) -> tuple[FloatArray, FloatArray, list[str]]:
    """Variance of each part's mean reading, and of what all readings of a characteristic share.

    A gauge that does not say how much of its u repeats is taken at its worst in both places.
    """
    noise, common = np.ones_like(expected), np.zeros(len(table.names))
    usual = {r.name: r for m in plan.job.family.measurements for r in m.reads}
    said: list[str] = []
    silent: dict[str, list[str]] = {}
    for i, name in enumerate(table.names):
        gauge, _ = find(plan.job.gauges, name, table.gauges.get(name, ""))
        repeats = np.maximum(table.counts[:, i], 1.0)
        seen = bool(table.counts[:, i].any())
        if gauge is None or gauge.u is None:
            level, readout = float(np.abs(expected[:, i]).mean()), usual.get(name)
            u = math.hypot(readout.u, readout.relative * level) if readout else UNKNOWN_GAUGE * level
            noise[:, i], common[i] = max(u, 1e-12) ** 2 / repeats, u**2
            whence = readout.source if readout else f"{UNKNOWN_GAUGE:.0%} of the expected value assumed"
            said += [f"{name}: gauge uncertainty unknown, {_size(plan, name, u)} ({whence})"] if seen else []
            continue
        random = gauge.repeatability or gauge.u
        noise[:, i] = random**2 / repeats
        common[i] = (gauge.common() or 0.0) ** 2
        if not gauge.repeatability and seen:
            silent.setdefault(gauge.name, []).append(name)
    said += [
        f"{gauge} states no repeatability for {', '.join(of)}: all of u is taken as random and as common to all parts"
        for gauge, of in silent.items()
    ]
    return noise, common, said


def _size(plan: LaunchPlan, name: str, u: float) -> str:
    units = {c.name: c.unit for p in plan.plans.values() for c in p.gives}
    units |= {v.name: v.unit for p in plan.plans.values() for v in p.values}
    unit = "K" if units.get(name, "1") == "degC" else units.get(name, "1")
    return f"u = {format_value(u, unit, 2)}"


def _suspects(stage: _Stage, narrow: Sequence[int]) -> tuple[list[Suspect], tuple[str, ...]]:
    """Every fault that can be meant, with its shifts, and the names of those without a value at any size."""
    faults, names = _meant(stage), stage.scene.names
    with ThreadPoolExecutor(WORKERS) as pool:  # the chain's kernels work without the interpreter lock
        found = list(pool.map(lambda f: shifts_of(stage.plan, f, stage.at, names, needed=narrow), faults))
    suspects = [
        Suspect(
            f.name, f.station, f.title, f.who, f.per_thousand / 1000.0, sizes, shifts / stage.units, touches(f),
            spreads / np.outer(stage.units, stage.units),
        )
        for f, (sizes, shifts, spreads) in zip(faults, found, strict=True)
        if len(sizes)
    ]  # fmt: skip
    return suspects, tuple(f.name for f, (sizes, _, _) in zip(faults, found, strict=True) if not len(sizes))


def _meant(stage: _Stage) -> list[Fault]:
    """Faults that the plant counts, without a wrong temperature where it was recorded."""
    family = stage.plan.job.family
    warmth = {family.temperature} if stage.warm else set()
    return [f for f in family.faults if f.per_thousand and not warmth & {m.name for m in f.moves}]


def _undeclared(stage: _Stage, narrow: Sequence[int]) -> list[Suspect]:
    """What nobody declared, over the columns that were read."""
    names, units = [stage.scene.names[i] for i in narrow], stage.units[narrow]
    noise = np.nanmin(stage.scene.noise[:, narrow], axis=0) * units**2
    found = undeclared(stage.plan, stage.values, _meant(stage), stage.at.of(narrow), names, noise)
    return [
        replace(s, shifts=s.shifts / units, spreads=None if s.spreads is None else s.spreads / np.outer(units, units))
        for s in found
    ]


def _in_columns(s: Suspect, which: Sequence[int]) -> Suspect:
    at = list(which)
    spreads = None if s.spreads is None else s.spreads[:, at][:, :, at]
    return replace(s, shifts=s.shifts[:, at], spreads=spreads)
