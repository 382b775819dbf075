"""Free calibration of the chain against an optimiser of SciPy's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from blind import launch_with
from scipy.optimize import least_squares

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.launch.demo import copy_example
from firstoff.launch.explaining.calibrate import calibrate, mean_reading, prior_sds
from firstoff.launch.explaining.shifts import matrix, middle
from firstoff.launch.explaining.suspects import prepare
from firstoff.launch.plan import LaunchPlan


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> LaunchPlan:
    return launch.plan(launch.read_job(copy_example("light_truck_front", tmp_path_factory.mktemp("launch"))))


def test_free_calibration_reaches_what_least_squares_with_the_same_prior_reaches(plan: LaunchPlan) -> None:
    # oracle: scipy.optimize.least_squares on the same chain, residuals whitened by noise and by prior (textbook MAP).
    # With 1000 members its mean may differ from the optimum by some prior sd / sqrt(1000) in each parameter
    planted = launch_with(
        plan,
        next(f for f in plan.job.family.faults if f.name == "rebound_wrong_spring_soft"),
        5,
        size=0.7,
        parts=8,
        who="all",
    )
    prepared = prepare(plan, planted.trial)
    both = prepared.scene.lot + prepared.scene.part  # a doubt of the model as large as ordinary scatter
    scene = replace(prepared.scene, model=0.5 * both + np.diag(0.5 * np.diag(both) + 9.0))
    values = tuple(prepared.values.values())
    found = calibrate(plan, values, scene, prepared.units)
    sds = prior_sds(values)
    names, wide = list(sds), np.array(list(sds.values()))
    observed, noise = mean_reading(scene)
    root = np.linalg.inv(np.linalg.cholesky(noise))
    base = middle(values)
    at_rest = matrix(run(plan.stations, plan.plans, Ensemble(base, {})).columns, prepared.scene.names)[0]

    def residual(z: np.ndarray) -> np.ndarray:
        columns = dict(base) | {n: base[n] + w * z[i] for i, (n, w) in enumerate(zip(names, wide, strict=True))}
        y = matrix(run(plan.stations, plan.plans, Ensemble(columns, {})).columns, prepared.scene.names)[0]
        return np.concatenate([root @ (y - at_rest + scene.expected.mean(axis=0) - observed), z])

    best = least_squares(residual, np.zeros(len(names)), diff_step=1e-3, max_nfev=12)
    mine = {m.name: m.shift / m.prior_sd for m in found.moved}
    both = np.array([[mine[n], best.x[i]] for i, n in enumerate(names) if abs(best.x[i]) > 0.7])
    assert len(both) >= 1
    assert np.abs(both[:, 0] - both[:, 1]).max() < 0.5
    assert found.misfit < 0.5 * found.before
    cost = np.sum(residual(np.array([mine[n] for n in names])) ** 2)
    assert cost < 1.25 * 2 * best.cost  # the posterior's mean is not its mode where the chain bends
