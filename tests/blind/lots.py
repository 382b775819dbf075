"""Lots of first-offs with a planted fault: drawn from the sheets, built by the damper of this package, read by its rig.

Nothing of `firstoff.physics` and no station's `run` takes part: of firstoff only the sheets are used, and the list of
faults as data.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from functools import cached_property
from pathlib import Path
from typing import Literal

import numpy as np

from firstoff import launch as api
from firstoff.chain.fault import Fault, How
from firstoff.chain.station import Value
from firstoff.launch.plan import LaunchPlan
from firstoff.sheets.spread import Spread
from firstoff.sheets.units import from_si
from firstoff.trials.gauges import Gauge
from tests.blind import damper
from tests.blind.damper import Shown, calibrated, force_name
from tests.blind.law import FloatArray, Law, drawn_law
from tests.blind.undeclared import Undeclared

EXAMPLE = Path(api.__file__).parents[1] / "examples" / "light_truck_front" / "damper.toml"
REPEATS = 0.8  # of a gauge's u that is repeatability, where the sheet does not say: assumed
STANDING = 0.5  # share of the variance of a gauge's common error that stays from day to day: assumed
SHELL = 0.5  # K, shell thermometer against oil: assumed
BEYOND = 0.08  # of the declared range of sizes, at both ends
RIG = ("static_gas_force", "friction")
DIAMETERS = ("bore", "rod_diameter")
CELL_FULL = 2000.0  # N, where the bent cell reads its full error

Who = Literal["all", "one", "group"]


@dataclass(frozen=True)
class Planted:
    """One planted fault."""

    name: str
    station: str
    who: Who
    size: float
    affected: np.ndarray  # (n,)
    fault: Fault | Undeclared

    @property
    def declared(self) -> bool:
        return isinstance(self.fault, Fault)

    @property
    def inside(self) -> bool:
        """Whether the size lies in the declared range."""
        if isinstance(self.fault, Undeclared):
            return False
        low, high = self.fault.sizes.low, self.fault.sizes.high
        return low <= abs(self.size) * (1.0 if low > 0 or self.fault.sizes.both_signs else -1.0) <= high


@dataclass(frozen=True)
class Recorded:
    """What the shop wrote down."""

    good_lot: bool = True
    temperature: bool = True
    gas_and_friction: bool = True
    groups: bool = True
    diameters: bool = False
    repeats: int = 1


@dataclass(frozen=True)
class World:
    """The example's sheets, the dampers that may hide behind them, and the rig's gauges."""

    plan: LaunchPlan
    values: tuple[Value, ...]
    speeds: tuple[float, ...]
    laws: tuple[Law, ...]
    gauges: Mapping[str, Gauge]  # by characteristic

    @cached_property
    def nominal(self) -> dict[str, FloatArray]:
        """One damper with every value at its mean."""
        return {v.name: np.array([v.nominal + sum(s.offset for s in (v.lot, v.part) if s)]) for v in self.values}

    @cached_property
    def forces(self) -> tuple[str, ...]:
        return tuple(force_name(sign * v) for sign in (1, -1) for v in self.speeds)

    def names(self, noted: Recorded) -> tuple[str, ...]:
        """Characteristics that are read."""
        more = RIG if noted.gas_and_friction else ()
        return (*self.forces, *more, *(DIAMETERS if noted.diameters else ()))


@dataclass(frozen=True)
class Lot:
    """Parts of one lot as they truly are, and what the rig showed of them."""

    columns: dict[str, FloatArray]  # parameters (n,), faults included
    true: dict[str, FloatArray]  # what a perfect rig would read, rig errors included
    read: dict[str, FloatArray]  # (n, repeats)
    shell: FloatArray  # K, as noted


@dataclass(frozen=True)
class BlindLaunch:
    """One launch: who made it is known here, and hidden from whoever explains it."""

    number: int
    seed: int
    kind: str  # healthy, declared, double, undeclared
    scatter: float  # true over stated
    law: int
    noted: Recorded
    planted: tuple[Planted, ...]
    lot: Lot
    good: Lot | None
    names: tuple[str, ...]
    groups: tuple[str, ...]
    world: World = field(repr=False)

    @property
    def parts(self) -> int:
        return len(self.groups)

    def after(self, changes: Mapping[str, float]) -> dict[str, FloatArray]:
        """What the same parts would truly read, on a sound rig, had these settings been moved by so much (SI).

        For whoever judges a correction: the faults in the parts stay, those of the rig are mended.
        """
        columns = dict(self.lot.columns)
        for name, change in changes.items():
            columns[name] = columns[name] + change
        return damper.show(columns, self.world.laws[self.law], self.world.speeds).columns

    def write(self, folder: Path) -> tuple[Path, Path | None]:
        """The readings as CSV files: of the lot, and of the known-good lot if there is one."""
        readings = folder / f"launch_{self.number:03d}.csv"
        _write(readings, self.world, self.noted, self.names, self.lot, self.groups, "L2")
        if self.good is None:
            return readings, None
        good = folder / f"launch_{self.number:03d}_good.csv"
        _write(good, self.world, self.noted, self.names, self.good, ("",) * len(self.good.shell), "L1")
        return readings, good


def world(seed: int = 1, sheet: Path = EXAMPLE, laws: int = 8) -> World:
    """The example, and `laws` damper types that fit its nominal forces on average."""
    plan = api.plan(api.read_job(sheet))
    values = tuple(v for settled in plan.plans.values() for v in settled.values)
    speeds = plan.job.settings.speeds
    gauges = {name: g for g in plan.job.gauges.values() for name in g.characteristics}
    found = World(plan, values, speeds, (), gauges)
    wanted = {name: plan.nominal[name] for name in found.forces}
    rng = np.random.default_rng([seed, 77])
    drawn = [drawn_law(rng) for _ in range(laws)]
    return replace(found, laws=tuple(calibrated(law, found.nominal, speeds, wanted) for law in drawn))


def draw(values: Sequence[Value], n: int, rng: np.random.Generator, scatter: float = 1.0) -> dict[str, FloatArray]:
    """n parts of one lot: nominal + lot offset + part deviations, the spreads of the sheets times `scatter`."""
    found = {}
    for v in values:
        column = np.full(n, v.nominal)
        for spread, count in ((v.lot, 1), (v.part, n)):
            if spread is not None:
                column = column + spread.offset + scatter * spread.sd * _standard(spread, count, rng)
        found[v.name] = column
    return found


def _standard(spread: Spread, count: int, rng: np.random.Generator) -> FloatArray:
    if spread.shape == "uniform":
        return rng.uniform(-math.sqrt(3.0), math.sqrt(3.0), count)
    return rng.standard_normal(count)


def change(column: FloatArray, how: How, size: float) -> FloatArray:
    if how == "set":
        return np.full_like(column, size)
    return column + size if how == "add" else column * size


def plant(columns: Mapping[str, FloatArray], planted: Sequence[Planted]) -> dict[str, FloatArray]:
    """The parts with the faults in them that live in parts."""
    found = {name: column.copy() for name, column in columns.items()}
    n = len(next(iter(found.values())))
    for p in planted:
        if p.fault.acts != "parameters":
            continue
        for name, how in _moves(p.fault):
            # a factor is one without the fault, what only a damper in motion has is nothing
            before = found.get(name, np.zeros(n) if name.startswith("dynamic_rig.") else np.ones(n))
            found[name] = np.where(p.affected, change(before, how, p.size), before)
            if name == "damping_rig.friction" and how == "add":
                found["twin.friction_excess"] = np.where(p.affected, p.size, 0.0)
    return found


def _moves(fault: Fault | Undeclared) -> list[tuple[str, How]]:
    return [(m.name, m.how) for m in fault.moves] if isinstance(fault, Fault) else list(fault.moves)


def shown(
    columns: Mapping[str, FloatArray],
    law: Law,
    speeds: tuple[float, ...],
    planted: Sequence[Planted],
    quick: bool = False,
) -> tuple[dict[str, FloatArray], np.ndarray]:
    """What the rig would show without noise, its own faults included, and whether each build was computed well."""
    factor = math.prod(p.size for p in planted if p.fault.acts == "speed")
    steps = {"cycles": 1, "steps": 40} if quick else {}
    found = damper.show(columns, law, speeds, factor, **steps)
    true = dict(found.columns)
    for p in planted:
        if isinstance(p.fault, Undeclared):
            _bad_rig(true, found, p, columns, speeds)
        elif p.fault.acts == "readings":
            for move in p.fault.moves:
                for name in true:
                    if fnmatchcase(name, move.name):
                        true[name] = np.where(p.affected, change(true[name], move.how, p.size), true[name])
    return true, found.good


def _bad_rig(
    true: dict[str, FloatArray], found: Shown, p: Planted, columns: Mapping[str, FloatArray], speeds: tuple[float, ...]
) -> None:
    """Rig errors that no station declares; changes `true` in place."""
    forces = [name for name in true if name.startswith(("rebound_", "compression_"))]
    for name in forces:
        force = true[name]
        if p.fault.acts == "bend":
            true[name] = force * (1.0 + p.size * np.abs(force) / CELL_FULL)
        elif p.fault.acts == "hysteresis":  # a loaded cell has not yet caught up, a relieved one would read more
            true[name] = force - p.size * np.sign(force) * np.abs(force) / (np.abs(force) + p.size)
    if p.fault.acts == "lag":
        steps = found.force.shape[2]
        harmonic = np.fft.rfftfreq(steps, 1.0 / steps)
        for j, v in enumerate(speeds):
            omega = v / (columns["damping_rig.stroke"] / 2.0)
            late = 1.0 / (1.0 + 1j * harmonic * omega[:, None] * p.size)
            slow = np.fft.irfft(np.fft.rfft(found.force[:, j]) * late, steps)
            true[force_name(v)], true[force_name(-v)] = slow[:, steps // 4 - 1], slow[:, 3 * steps // 4 - 1]


def gauge_parts(gauge: Gauge) -> tuple[float, float]:
    """Repeatability and common error (sd) of a gauge; the display's step is apart."""
    step = gauge.resolution / math.sqrt(12.0)
    u = gauge.u or 0.0
    repeats = gauge.repeatability or REPEATS * u
    return repeats, math.sqrt(max(u**2 - repeats**2 - step**2, 0.0))


def read_lot(
    w: World, law: Law, names: Sequence[str], columns: dict[str, FloatArray], planted: Sequence[Planted],
    standing: Mapping[str, float], repeats: int, rng: np.random.Generator,
) -> Lot:  # fmt: skip
    """The parts on the rig: true values, the day's common error, repeatability, and the step of the display."""
    true, good = shown(columns, law, w.speeds, planted)
    if not good.all():
        raise RuntimeError("a planted damper was not computed well")
    read, n = {}, len(good)
    for name in names:
        gauge = w.gauges[name]
        repeat, common = gauge_parts(gauge)
        today = math.sqrt(1.0 - STANDING) * common * rng.standard_normal() + standing[name]
        value = true[name][:, None] + today + repeat * rng.standard_normal((n, repeats))
        read[name] = np.round(value / gauge.resolution) * gauge.resolution if gauge.resolution else value
    # planted heat is not on the thermometer: nobody looked
    shell = columns["damping_rig.oil_temperature"] + SHELL * rng.standard_normal(n)
    return Lot(columns, true, read, shell)


def _write(
    file: Path, w: World, noted: Recorded, names: Sequence[str], lot: Lot, groups: Sequence[str], label: str
) -> None:
    units = {name: w.plan.job.characteristics[name].unit for name in names}
    head = ["part", "lot"] + (["group"] if noted.groups and any(groups) else [])
    head += ["temperature [degC]"] if noted.temperature else []
    with file.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out)
        writer.writerow([*head, *(f"{name} [{units[name]}]" for name in names)])
        for i, group in enumerate(groups):
            for k in range(noted.repeats):
                row = [f"{label}-{i + 1:02d}", label] + ([group] if "group" in head else [])
                row += [f"{lot.shell[i] - 273.15:.1f}"] if noted.temperature else []
                writer.writerow([*row, *(f"{from_si(lot.read[name][i, k], units[name]):.7g}" for name in names)])
