"""Free calibration: all parameters of the chain at once, for readings that no declared cause explains.

It names no culprit: many settings together can give the same readings. It says where parameters would have to lie.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from firstoff.chain.budget import affordable
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.station import Columns, FloatArray, Value
from firstoff.launch.explaining.shifts import counted, matrix, middle
from firstoff.launch.plan import LaunchPlan, with_checks
from firstoff.methods.smoother import esmda
from firstoff.trials.scene import Scene

MEMBERS, FEWEST = 1000, 250  # fewest where a station takes its time
SEED = 3
WIDER = 4.0  # prior: times the stated scatter, for a parameter that may be wrong; assumed
DRAWN = 0.05  # of the nominal, where no scatter is stated; assumed


@dataclass(frozen=True)
class Moved:
    """One parameter as the readings would have it, SI."""

    name: str
    nominal: float
    shift: float  # posterior mean less nominal
    sd: float  # posterior
    prior_sd: float


@dataclass(frozen=True)
class Calibration:
    """Parameters by how far they would have to move, and how far off the readings then still are."""

    moved: tuple[Moved, ...]
    misfit: float  # root mean square of the remaining difference over its standard deviation
    before: float  # the same at nominal


def prior_sds(values: tuple[Value, ...]) -> dict[str, float]:
    """Prior standard deviation of each parameter that may move: `WIDER` times its scatter, or `DRAWN` of its size."""
    found = {}
    for v in values:
        sd = float(np.sqrt(sum(s.sd**2 for s in (v.lot, v.part) if s)))
        wide = WIDER * sd if sd else (0.0 if counted(v) or v.unit == "degC" else DRAWN * abs(v.nominal))
        if wide > 0.0:
            found[v.name] = wide
    return found


def calibrate(plan: LaunchPlan, values: tuple[Value, ...], scene: Scene, units: Mapping[str, float]) -> Calibration:
    """Calibrate every parameter to the mean readings of the lot by the ensemble smoother.

    Noise of a mean reading: part scatter and gauge over the number of parts, and the model's own doubt. Source of the
    method: see `smoother.esmda`. units: of the scene's columns, 1 is SI.
    """
    plan, unit = with_checks(plan), np.array([units[name] for name in scene.names])
    sds = prior_sds(values)
    names, wide = list(sds), np.array(list(sds.values()))
    base = middle(values)
    offset = scene.expected.mean(axis=0)  # carries the anchor of a known-good lot, if there is one

    def shift(z: FloatArray) -> FloatArray:
        columns: Columns = {name: np.repeat(column, len(z)) for name, column in base.items()}
        for i, name in enumerate(names):
            columns[name] = np.maximum(columns[name] + wide[i] * z[:, i], 1e-3 * abs(float(base[name][0])))
        return np.asarray(matrix(run(plan.stations, plan.plans, Ensemble(columns, {})).columns, scene.names) / unit)

    at_rest = shift(np.zeros((1, len(names))))[0]

    def forward(z: FloatArray) -> FloatArray:
        found = shift(z)
        # a member that cannot be computed counts as unmoved, so that it pulls nothing
        good = np.isfinite(found).all(axis=1, keepdims=True)
        return np.asarray(np.where(good, found, at_rest) - at_rest + offset)

    observed, noise = mean_reading(scene)
    rng = np.random.default_rng(SEED)
    members = np.clip(rng.standard_normal((affordable(plan.stations, MEMBERS, FEWEST), len(names))), -2.5, 2.5)
    z = esmda(forward, members, observed, noise, rng)
    mean, sd = z.mean(axis=0), z.std(axis=0, ddof=1)
    weight = np.sqrt(np.diag(noise))
    left = forward(mean[None])[0] - observed
    order = np.argsort(-np.abs(mean), kind="stable")
    moved = tuple(
        Moved(names[i], float(base[names[i]][0]), float(mean[i] * wide[i]), float(sd[i] * wide[i]), float(wide[i]))
        for i in order
    )
    rms = [float(np.sqrt(np.mean((d / weight) ** 2))) for d in (left, offset - observed)]
    return Calibration(moved, rms[0], rms[1])


def mean_reading(scene: Scene) -> tuple[FloatArray, FloatArray]:
    """Mean of each characteristic over the parts read, and its covariance about the lot's own mean."""
    seen = np.isfinite(scene.readings)
    count = np.maximum(seen.sum(axis=0), 1)
    mean = np.where(seen, scene.readings - scene.expected, 0.0).sum(axis=0) / count + scene.expected.mean(axis=0)
    gauge = np.where(seen, scene.noise, 0.0).sum(axis=0) / count**2
    found = scene.part / count.max() + np.diag(gauge) + scene.model
    if scene.shared is not None:
        share = seen / count
        found = found + np.einsum("pi,pij,pj->ij", share, scene.shared, share)
    return mean, found
