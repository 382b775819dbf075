"""The thickness for a hit, against the plastic hinge turned round: E = F_c (w - F_c/(2 k)) at the collapse load F_c."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.physics.impact import beam
from firstoff.physics.impact.mesh import mesh
from firstoff.physics.impact.moment_curve import ideal_row
from firstoff.physics.impact.pendulum import central_hinge
from firstoff.physics.impact.thickness import thickness_for

GRID = mesh(np.array([[1.0, 1e9]]), 0.5, [-0.5, 0.5], [0.0], 0.125, (0.0,))
BRACKETS = beam.bracket_rows(np.full((1, 2), 2e8), beam.FREE, 0.0, 0.0)
CAR, STRIKER = beam.vehicle_row(1500.0, 2500.0, 2.0), beam.striker_row(1500.0, 0.67, (0.0, 0.0), 0.02)


def bars(t: np.ndarray) -> np.ndarray:
    """Rigidity and plastic moment grow with the thickness, as those of a thin channel do."""
    return np.concatenate([ideal_row(31765.0 * x / 2.5e-3, 1350.0 * x / 2.5e-3, 1.1e8, 1.6e5, 4.2) for x in t])


def test_the_thickness_turns_the_closed_form_round() -> None:
    """Source: momentum and energy balance of a plastic hinge; the case of a 2.5 mm bar leaves 32.9 mm."""
    allowed = central_hinge(1.0, 31765.0, 1350.0, 1500.0, 1500.0, 0.67, bracket_stiffness=2e8).intrusion
    found = thickness_for(allowed, bars, GRID, BRACKETS, CAR, STRIKER, 1e-3, 5e-3)
    assert found == pytest.approx(2.5e-3, rel=0.04)


def test_out_of_reach_is_told_and_the_thinnest_is_taken_where_it_does() -> None:
    assert thickness_for(1e-3, bars, GRID, BRACKETS, CAR, STRIKER, 1e-3, 2e-3) is None
    assert thickness_for(0.5, bars, GRID, BRACKETS, CAR, STRIKER, 1.5e-3, 2e-3) == 1.5e-3
    with pytest.raises(ValueError, match="below the most"):
        thickness_for(0.5, bars, GRID, BRACKETS, CAR, STRIKER, 2e-3, 2e-3)
