"""The family of damper curves on the sheet's roads and bumps: every one driven, then compared."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from firstoff.launch.vehicle_target.vehicle import Vehicle
from firstoff.physics.vehicle.curves import Shape, table
from firstoff.physics.vehicle.figures import Ride, reduce
from firstoff.physics.vehicle.road import bump, profile
from firstoff.physics.vehicle.two_mass import drive

FloatArray = npt.NDArray[np.float64]
STEP, STEPS, LEAD = 1e-3, 2**15, 8000  # s; 33 s of road that repeats itself, 8 s before it
BAND = (0.2, 100.0)  # Hz, of the road: what a body feels and a wheel follows
BUMP_TIME, BUMP_BEFORE = 4.0, 0.1  # s of a drive over a bump, and of level road before it
LEVELS = (0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.8)
RATIOS = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0)
KNEES = (0.1, 0.2, 0.4)  # m/s at the damper
BENDS = (0.3, 0.5)
STRAIGHT = 1.0  # bend of a curve without a knee


@dataclass(frozen=True)
class Driven:
    """One curve and what it did: on each road, over each bump, and all of it in four figures."""

    shape: Shape | None  # None: a measured or computed curve, no member of the family
    speeds: FloatArray  # m/s at the wheel
    forces: FloatArray  # N at the wheel
    roads: tuple[Ride, ...]
    bumps: tuple[Ride, ...]
    shares: tuple[float, ...]

    def _over_roads(self, name: str) -> float:
        return math.sqrt(sum(s * getattr(r, name) ** 2 for s, r in zip(self.shares, self.roads, strict=True)))

    @property
    def comfort(self) -> float:
        """Weighted acceleration over all roads [m/s2]."""
        return self._over_roads("comfort")

    @property
    def load(self) -> float:
        """Dynamic load coefficient over all roads."""
        return self._over_roads("load_coefficient")

    @property
    def bump_comfort(self) -> float:
        """Weighted acceleration over the worst second of a bump [m/s2], mean over the bumps."""
        return float(np.mean([b.comfort for b in self.bumps])) if self.bumps else 0.0

    @property
    def bump_load(self) -> float:
        return float(np.mean([b.load_coefficient for b in self.bumps])) if self.bumps else 0.0

    @property
    def drop(self) -> float:
        """How far the damper pulls the body down [m], on the worst road."""
        return max(-r.ride_height for r in self.roads)

    @property
    def deepest(self) -> float:
        return max(r.compressed for r in (*self.roads, *self.bumps))

    @property
    def bottomed(self) -> bool:
        return any(r.bottomed > 0.0 for r in (*self.roads, *self.bumps))

    @property
    def finite(self) -> bool:
        return all(r.finite for r in (*self.roads, *self.bumps))


@dataclass(frozen=True)
class Tracks:
    """Roads and bumps as profiles at every half step."""

    roads: tuple[tuple[FloatArray, FloatArray], ...]
    bumps: tuple[tuple[FloatArray, FloatArray], ...]


def tracks(vehicle: Vehicle, seed: int) -> Tracks:
    """The profiles of a sheet's roads and bumps; each road has phases of its own."""
    roads = [
        profile(2 * STEPS, 0.5 * STEP, d.road.speed, d.road.roughness, d.road.waviness, d.road.contact_length,
                seed + i, BAND)
        for i, d in enumerate(vehicle.drives)
    ]  # fmt: skip
    times = 0.5 * STEP * np.arange(2 * round(BUMP_TIME / STEP) + 1) - BUMP_BEFORE
    return Tracks(tuple(roads), tuple(bump(times, b.height, b.length, b.speed) for b in vehicle.bumps))


def run(vehicle: Vehicle, over: Tracks, speeds: FloatArray, forces: FloatArray, shape: Shape | None = None) -> Driven:
    """One curve, given at the wheel, over all of them."""
    car = vehicle.car

    def ride(road: tuple[FloatArray, FloatArray], lead: int) -> Ride:
        history = drive(*road, STEP, car, speeds, forces, lead)
        return reduce(history, STEP, car, speeds, forces, single=lead == 0)

    return Driven(
        shape,
        speeds,
        forces,
        tuple(ride(road, LEAD) for road in over.roads),
        tuple(ride(road, 0) for road in over.bumps),
        tuple(d.share for d in vehicle.drives),
    )


def family(vehicle: Vehicle) -> list[Shape]:
    """Every curve that is tried: levels, ratios, straight and with a knee."""
    low, high = vehicle.wish.least_ratio, vehicle.wish.most_ratio
    # one to one is driven even where the sheet asks for more in rebound: it tells what that costs
    ratios = sorted({r for r in RATIOS if low < r < high} | {1.0, low, high})
    bent = [(knee / vehicle.motion_ratio, bend) for knee in KNEES for bend in BENDS]
    straight = [(KNEES[-1] / vehicle.motion_ratio, STRAIGHT)]
    levels = sorted({*LEVELS, vehicle.wish.least_level})
    return [Shape(level, ratio, *knee) for knee in straight + bent for ratio in ratios for level in levels]


def run_all(
    vehicle: Vehicle,
    over: Tracks,
    shapes: Sequence[Shape],
    workers: int,
    progress: Callable[[int, int], None] | None = None,
) -> list[Driven]:
    """Every curve of the family, in its order; the kernel lets go of the interpreter, so threads share them out."""

    def one(shape: Shape) -> Driven:
        return run(vehicle, over, *table(shape, vehicle.car.sprung, vehicle.car.spring), shape)

    found: list[Driven] = []
    with ThreadPoolExecutor(workers) as pool:
        for driven in pool.map(one, shapes):
            found.append(driven)
            if progress:
                progress(len(found), len(shapes))
    return found
