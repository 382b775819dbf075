"""Target: from a vehicle to a force table, when the customer gives none."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from firstoff.errors import InputFault, Message
from firstoff.launch.job import Job, read_job
from firstoff.launch.plan import plan
from firstoff.launch.vehicle_target.search import BAND, LEVELS, STRAIGHT, Driven, family, run, run_all, tracks
from firstoff.launch.vehicle_target.vehicle import Vehicle
from firstoff.physics.vehicle.curves import Shape, equivalent, force
from firstoff.physics.vehicle.linear import respond
from firstoff.stations.damper.damping_rig import force_name

FORCE_STEP, TOLERANCE_STEP = 5.0, 5.0  # N, to which a table is rounded


@dataclass(frozen=True)
class Row:
    """One speed of the recommended table: damper speed [m/s], forces [N], tension positive, and their tolerances."""

    speed: float
    rebound: float
    rebound_tolerance: float
    compression: float
    compression_tolerance: float


@dataclass(frozen=True)
class Linearised:
    """The curve on one road as an equivalent linear damper, beside what it did in time."""

    damping: float  # N s/m at the wheel
    comfort: float  # m/s2
    load_coefficient: float
    ride_height: float  # m


@dataclass(frozen=True)
class Target:
    """The family compared, the curve that is recommended, and the table made of it."""

    vehicle: Vehicle
    driven: tuple[Driven, ...]  # every curve that was tried
    best: Driven
    comfort_level: float  # of the linear damper: the level of the best comfort on the roads ...
    load_level: float  # ... and that which holds the road best
    table: tuple[Row, ...]
    linearised: tuple[Linearised, ...]  # road by road
    against: Driven | None  # the curve of a model sheet
    against_name: str
    seed: int
    warnings: tuple[Message, ...]

    @property
    def shape(self) -> Shape:
        assert self.best.shape is not None  # a member of the family
        return self.best.shape

    def linear(self) -> list[Driven]:
        """The linear dampers by level: straight, the same in rebound and compression."""
        return [d for d in self.driven if d.shape and d.shape.bend == STRAIGHT and d.shape.ratio == 1.0]

    @property
    def equivalent_level(self) -> float:
        """Damping ratio of the linear damper that damps as much as the recommended curve, mean over the roads."""
        car, shares = self.vehicle.car, (d.share for d in self.vehicle.drives)
        mean = sum(s * found.damping for s, found in zip(shares, self.linearised, strict=True))
        return mean / (2.0 * math.sqrt(car.spring * car.sprung))

    def index(self, driven: Driven) -> float:
        """What is to be least: comfort and road holding, each against the best linear damper, weighed by the sheet."""
        return _index(self.vehicle, self.linear(), driven)

    def beside(self, **other: float) -> Driven | None:
        """The curve that differs from the recommended one in this alone, if it was tried."""
        wanted = replace(self.shape, **other)
        return next((d for d in self.driven if d.shape == wanted), None)

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        return {
            "vehicle": self.vehicle.name,
            "table": [asdict(row) for row in self.table],
            "shape": asdict(self.shape),
            "motion_ratio": self.vehicle.motion_ratio,
            "sensible_levels": sorted((self.comfort_level, self.load_level)),
            "roads": [d.name for d in self.vehicle.drives],
            "bumps": [b.name for b in self.vehicle.bumps],
            "recommended": _as_dict(self.best),
            "equivalent_level": self.equivalent_level,
            "linearised": [asdict(found) for found in self.linearised],
            "against": _as_dict(self.against) if self.against else None,
            "family": [
                {"shape": asdict(d.shape), "comfort": d.comfort, "load_coefficient": d.load, "drop": d.drop,
                 "bump_comfort": d.bump_comfort, "bump_load_coefficient": d.bump_load, "index": self.index(d)}
                for d in self.driven if d.shape
            ],
            "assumed": list(self.vehicle.assumed),
        }  # fmt: skip


def _as_dict(driven: Driven) -> dict[str, Any]:
    return {
        "speeds_at_wheel": driven.speeds.tolist(),
        "forces_at_wheel": driven.forces.tolist(),
        "roads": [asdict(r) for r in driven.roads],
        "bumps": [asdict(b) for b in driven.bumps],
    }


def target(
    vehicle: Vehicle,
    curve: Path | None = None,
    seed: int = 1,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Target:
    """Drive the family of curves over the sheet's roads and bumps, and recommend one.

    curve: a model sheet whose nominal force curve is driven as well. InputFault when that has none.
    """
    job = read_job(curve) if curve else None
    over = tracks(vehicle, seed)
    against = run(vehicle, over, *_curve_of(job, vehicle.motion_ratio)) if job else None
    driven = run_all(vehicle, over, family(vehicle), workers or min(2, os.cpu_count() or 1), progress)
    lines = [d for d in driven if d.shape and d.shape.bend == STRAIGHT and d.shape.ratio == 1.0]
    best, warnings = _best(vehicle, lines, driven)
    assert best.shape is not None
    return Target(
        vehicle,
        tuple(driven),
        best,
        LEVELS[int(np.argmin([d.comfort for d in lines]))],
        LEVELS[int(np.argmin([d.load for d in lines]))],
        _table(vehicle, best),
        tuple(_linearised(vehicle, best, i) for i in range(len(vehicle.drives))),
        against,
        job.name if job else "",
        seed,
        warnings,
    )


def _index(vehicle: Vehicle, lines: Sequence[Driven], d: Driven) -> float:
    b, s = vehicle.wish.bump_share, vehicle.wish.comfort_share

    def against(name: str) -> float:
        least = min(getattr(line, name) for line in lines)
        return float(getattr(d, name) / least) if least > 0.0 else 1.0

    felt = (1.0 - b) * against("comfort") + b * against("bump_comfort")
    held = (1.0 - b) * against("load") + b * against("bump_load")
    return s * felt + (1.0 - s) * held


def _best(vehicle: Vehicle, lines: Sequence[Driven], driven: Sequence[Driven]) -> tuple[Driven, tuple[Message, ...]]:
    """The curve of least index among those that neither bottom nor pull the body down too far."""
    wish, file = vehicle.wish, str(vehicle.file)
    sound = [
        d
        for d in driven
        if d.finite
        and d.shape
        and d.shape.level >= wish.least_level
        and wish.least_ratio <= d.shape.ratio <= wish.most_ratio
    ]
    if not sound:
        raise InputFault([Message("is so stiff or light that no curve could be driven", file, key="vehicle")])
    kept = [d for d in sound if not d.bottomed and d.drop <= wish.drop]
    warnings: list[Message] = []
    if not kept:
        if all(d.bottomed for d in sound):
            what = "is used up by these roads and bumps, whatever the damper: more travel, a stiffer stop or spring"
            key = "vehicle.bump_travel"
        else:
            what, key = "leaves no curve that is stiff enough not to bottom", "target.ride_height_drop"
        warnings.append(Message(what, file, key=key, level="remark"))
        least = min(d.deepest for d in sound)
        kept = [d for d in sound if d.deepest <= 1.02 * least]
    return min(kept, key=lambda d: _index(vehicle, lines, d)), tuple(warnings)


def _table(vehicle: Vehicle, best: Driven) -> tuple[Row, ...]:
    """The curve at the damper as the rig reads it, at the speeds asked for, rounded as on a drawing."""
    wish, ratio = vehicle.wish, vehicle.motion_ratio
    rows = []
    for v in wish.speeds:
        sides = []
        for sign, share in ((1.0, wish.rebound_tolerance), (-1.0, wish.compression_tolerance)):
            at_wheel = float(force(sign * v / ratio, best.speeds, best.forces))
            read = at_wheel / ratio + sign * wish.friction - wish.gas_force
            f = FORCE_STEP * round(read / FORCE_STEP)
            # a force that its tolerance would turn round is no limit
            most = max(TOLERANCE_STEP, TOLERANCE_STEP * (0.6 * abs(f) // TOLERANCE_STEP))
            wide = max(share * abs(f), wish.least_tolerance)
            sides += [f, min(most, TOLERANCE_STEP * round(wide / TOLERANCE_STEP))]
        rows.append(Row(v, *sides))
    return tuple(rows)


def _linearised(vehicle: Vehicle, best: Driven, i: int) -> Linearised:
    """Statistical linearisation on road i: equivalent damping and damper speed until they agree."""
    car, drive = vehicle.car, vehicle.drives[i]
    sd = best.roads[i].damper_speed
    for _ in range(50):
        c, mean = equivalent(best.speeds, best.forces, sd)
        found = respond(
            car.sprung, car.unsprung, car.spring, [c], car.tyre, drive.road, car.tyre_damping, BAND, lines=2000
        )
        before, sd = sd, float(found.damper_speed[0])
        if abs(sd - before) <= 1e-6 * sd:
            break
    return Linearised(c, float(found.comfort[0]), float(found.wheel_load[0]) / car.static_load, -mean / car.spring)


def _curve_of(job: Job, ratio: float) -> tuple[Any, Any]:
    """Nominal force curve of a model sheet as a table at the wheel. InputFault when the sheet has no plan or table."""
    speeds = job.settings.speeds
    nominal = plan(job).nominal
    gas, friction = (nominal.get(name, 0.0) for name in ("static_gas_force", "friction"))

    def damping(v: float) -> float:
        """What is left of the rig's reading: at rest the car stands on the gas, and friction is left out."""
        return nominal.get(force_name(v), math.nan) - gas - math.copysign(friction, v)

    both = [*(-v for v in reversed(speeds)), 0.0, *speeds]
    forces = [damping(v) if v else 0.0 for v in both]
    if not np.all(np.isfinite(forces)):
        raise InputFault([Message("has no force at some speed of its table", str(job.file), key="damping")])
    return np.array(both) / ratio, np.array(forces) * ratio
