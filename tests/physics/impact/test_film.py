"""A hit written down, against the energy it starts with, the plain run, and the law of momentum."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.physics.impact import beam
from firstoff.physics.impact.film import Film, film, outline
from firstoff.physics.impact.mesh import mesh
from firstoff.physics.impact.moment_curve import ideal_row

GRID = mesh(np.array([[1.0, 4.0]]), 0.7, [-0.45, 0.45], [0.0], 0.14, (0.0,))
BAR = ideal_row(31765.0, 1350.0, 1.1e8, 1.6e5, 4.2)
BRACKETS = beam.bracket_rows(np.full((1, 2), 4e6), 1e4, 2e5, 1e6)
CAR, STRIKER = beam.vehicle_row(1500.0, 2500.0, 2.0), beam.striker_row(1200.0, 0.9, (0.0, 0.0), 0.2)


@pytest.fixture(scope="module")
def shot() -> Film:
    return film(GRID, BAR[0], BRACKETS[0], CAR[0], STRIKER[0])


def test_energy_is_that_of_the_striker_at_every_sample(shot: Film) -> None:
    # m v2/2: energy of a mass point (textbook)
    assert shot.energy.sum(axis=1) == pytest.approx(np.full(len(shot.time), 0.5 * 1200.0 * 0.9**2), rel=1e-3)
    lost = shot.energy[:, 1:3].sum(axis=1)
    assert np.all(np.diff(lost) > -1e-3 * lost[-1]) and lost[-1] > 0.0


def test_the_force_takes_the_momentum_from_the_striker(shot: Film) -> None:
    # law of momentum: the mean force times time is m (v0 - v1); v1 of the plain run
    found, _ = beam.hit(GRID, BAR, BRACKETS, CAR, STRIKER)
    given = float(shot.force[1:].sum()) * float(shot.time[1])
    assert given == pytest.approx(1200.0 * (0.9 - float(found.striker_speed[0])), rel=2e-3)


def test_it_is_the_same_run_as_the_plain_one(shot: Film) -> None:
    found, _ = beam.hit(GRID, BAR, BRACKETS, CAR, STRIKER)
    assert shot.filtered.max() == pytest.approx(found.peak[0], rel=1e-3)
    assert shot.brackets.max(axis=0) == pytest.approx(found.pushed[0], rel=1e-3)
    middle = len(GRID.nodes) // 2
    moved = (shot.nodes[:, middle, 1] - GRID.nodes[middle, 1]).max()
    assert moved == pytest.approx(found.intrusion[0, 0], rel=1e-3)


def test_the_outline_goes_with_the_nodes(shot: Film) -> None:
    rest = outline(GRID, GRID.nodes)
    turn = np.array([[np.cos(0.3), np.sin(0.3)], [-np.sin(0.3), np.cos(0.3)]])
    assert outline(GRID, GRID.nodes @ turn + 0.5) == pytest.approx(rest @ turn + 0.5, abs=1e-12)  # a rigid motion


def test_a_striker_that_passes_by_is_told() -> None:
    far = beam.striker_row(1200.0, 0.9, (3.0, 0.0), 0.2)
    with pytest.raises(ValueError, match="passes by"):
        film(GRID, BAR[0], BRACKETS[0], CAR[0], far[0])
