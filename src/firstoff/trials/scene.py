"""What an explanation starts from: readings, what was expected of them, and the suspects."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from firstoff.methods.evidence import Reduced, reduce_readings

FloatArray = npt.NDArray[np.float64]
Who = Literal["all", "one", "group"]


@dataclass(frozen=True)
class Suspect:
    """A cause as the readings would show it: the shift of every characteristic at each size of equal weight."""

    name: str
    station: str
    title: str
    who: tuple[Who, ...]
    prior: float  # probability in a launch
    sizes: FloatArray  # (m,)
    shifts: FloatArray  # (m, k), units of the readings
    touches: tuple[str, ...] = ()  # what it moves; two faults that move the same thing exclude each other
    spreads: FloatArray | None = None  # covariances (m, k, k) of what the shifts themselves may be off by
    declared: bool = True  # False: one way of being wrong that no station declares


@dataclass(frozen=True)
class Scene:
    """Readings of n parts of one lot in k characteristics, SI, and what a healthy launch was expected to show."""

    names: tuple[str, ...]
    parts: tuple[str, ...]
    groups: tuple[str, ...]  # of each part: head, cavity, rack position; empty when nobody noted it
    readings: FloatArray  # (n, k), NaN where nothing was read
    expected: FloatArray  # (n, k)
    lot: FloatArray  # covariance (k, k) between lots
    part: FloatArray  # covariance (k, k) between parts of a lot
    model: FloatArray  # covariance (k, k) of what the expectation itself may be off by
    noise: FloatArray  # variances (n, k) of the gauge
    shared: FloatArray | None = None  # (n, k, k) noise that readings of one part share, as those of one trace do

    def reduced(self, scale: float) -> Reduced:
        """The readings reduced, with the stated scatter of lot and part taken `scale` times."""
        lot = scale**2 * self.lot + self.model
        return reduce_readings(self.readings - self.expected, lot, scale**2 * self.part, self.noise, self.shared)


def anchored(scene: Scene, good: Scene) -> Scene:
    """The scene with its expectation carried by a known-good lot: the model is trusted for shifts only.

    expected += mean of (good readings - their expectation); the model's error becomes that of the anchor: the good
    lot's own offset and its parts and gauge, (L + (P + R) / n). A characteristic that the good lot does not have keeps
    the model's own error. Both scenes have the same characteristics. Source: error propagation (JCGM 100:2008, 5.1.2).
    """
    seen = np.isfinite(good.readings)
    count = seen.sum(axis=0)
    have = count > 0
    difference = np.where(seen, good.readings - good.expected, 0.0)
    offset = difference.sum(axis=0) / np.maximum(count, 1)
    weight = seen / np.maximum(count, 1)
    spread = (
        good.lot + good.part * (weight.T @ weight) + np.diag((weight**2 * np.where(seen, good.noise, 0)).sum(axis=0))
    )
    if good.shared is not None:
        spread += np.einsum("pi,pij,pj->ij", weight, good.shared, weight)
    model = np.where(np.outer(have, have), spread, np.where(np.outer(~have, ~have), scene.model, 0.0))
    return replace(scene, expected=scene.expected + np.where(have, offset, 0.0), model=model)
