"""The mesh of the station against one of 67 nodes with plain masses: every kind of hit on a formed bar."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.physics.impact import beam, moment_curve
from firstoff.physics.impact.mesh import fine_marks, mesh

CURVED, WRAP, ON = np.array([[0.52, 5.2], [0.30, 2.6]]), (0.061, math.pi / 3.0, 0.09), (-0.45, 0.45)
END = WRAP[0] * WRAP[1] + WRAP[2]


def channel() -> np.ndarray:
    """180 x 78 mm, 2 mm thick, of 320 MPa that hardens."""
    place = np.concatenate([[0.0], (np.arange(12) + 0.5) / 12 * 0.078, [0.078]])
    length = np.concatenate([[0.165], np.full(12, 2 * 0.078 / 12), [0.022]])
    pre = np.full((1, place.size), (320.0 / 700.0) ** (1.0 / 0.17))
    return moment_curve.bar_rows(
        place, 2e-3 * length[None, :], pre, np.array([[206e9, 700e6, 0.17]]), rate=(3200.0, 5.0)
    )


@pytest.mark.parametrize(
    ("kind", "place", "slack"),
    [("pendulum", 0.0, 0.03), ("pendulum", 0.2, 0.03), ("pendulum", 0.45, 0.03), ("corner", 0.82, 0.05),
     ("barrier", 0.0, 0.03), ("contoured", 0.0, 0.03)],
)  # fmt: skip
def test_force_and_intrusion_lie_within_three_per_cent_of_a_fine_mesh(kind: str, place: float, slack: float) -> None:
    """Filtered force and intrusion; 5 % at a corner."""
    fixed = kind in ("barrier", "contoured")
    pitch = 0.06 if fixed else 0.04
    marks = () if fixed else fine_marks(place, 0.82, ON)
    coarse = mesh(CURVED, 0.82, ON, [place], 0.08 if fixed else 0.13, marks, WRAP, pitch)
    fine = mesh(CURVED, 0.82, ON, [place], 0.026, () if kind == "corner" else (place,), WRAP, pitch)
    assert len(fine.nodes) >= 65
    aim, angle = ((0.86, 0.12), -math.pi / 6.0) if kind == "corner" else ((place, 0.0), 0.0)
    speed = 0.67056 if kind == "corner" else 1.1176
    radius = {"barrier": 0.0, "contoured": 3.4}.get(kind, 0.2)
    striker = beam.striker_row(beam.WALL if fixed else 2000.0, 0.0 if fixed else speed, aim, radius, angle,
                               1e3 if fixed else 0.3, pitch=pitch)  # fmt: skip
    car = beam.vehicle_row(2000.0, 3500.0, 2.2, -speed if fixed else 0.0)
    brackets = beam.bracket_rows(np.full((1, 2), 4e6), 28e3, 2e5, 3e6)
    ours, exact = (beam.hit(grid, channel(), brackets, car, striker, END, slowest=t)[0]
                   for grid, t in ((coarse, beam.INERTIA_STEP), (fine, 0.0)))  # fmt: skip
    assert ours.peak[0] == pytest.approx(exact.peak[0], rel=slack)
    assert ours.intrusion[0, 0] == pytest.approx(exact.intrusion[0, 0], rel=slack)
    assert abs(ours.residual[0]) < 1e-3
    assert ours.step[0] > 20.0 * exact.step[0]


def test_marks_leave_brackets_and_ends_alone() -> None:
    for place in (-0.8, -0.46, 0.0, 0.41, 0.7):
        grid = mesh(CURVED, 0.82, ON, [place], 0.13, fine_marks(place, 0.82, ON), WRAP)
        steps = np.hypot(*np.diff(grid.nodes, axis=0).T)
        assert steps.min() > 0.015
        np.testing.assert_allclose(np.abs(grid.nodes[grid.brackets, 0]), 0.449, atol=2e-3)
