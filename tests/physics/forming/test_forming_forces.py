"""Flow curve, forming limit, press forces and blank: against conditions they must meet and hand formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.physics.forming import blank, flow_curve, forces


@given(st.floats(180e6, 420e6), st.floats(1.15, 1.5), st.floats(0.1, 0.25))
@settings(max_examples=40)
def test_swift_gives_proof_and_tensile_strength_back(proof: float, ratio: float, n: float) -> None:
    strength, pre = flow_curve.swift(np.array([proof]), np.array([ratio * proof]), np.array([n]))
    strain = np.linspace(0.0, 0.6, 60001)
    engineering = strength * (pre + strain) ** n * np.exp(-strain)
    # the highest engineering stress is the tensile strength: brute force over the curve
    assert engineering.max() == pytest.approx(ratio * proof, rel=1e-5)
    if pre[0] > 1.01 * flow_curve.LEAST_PRE_STRAIN and pre[0] < 0.89 * n:
        assert strength[0] * (pre[0] + 0.002) ** n == pytest.approx(proof, rel=1e-6)


def test_plane_strain_factor_of_an_isotropic_sheet() -> None:
    assert flow_curve.plane_strain_factor(1.0) == pytest.approx(2.0 / math.sqrt(3.0))  # von Mises, textbook


def test_left_branch_keeps_its_thinning() -> None:
    # thinning strain -(eps1 + eps2) is the same along the left branch: volume is constant
    minor = np.array([0.0, -0.05, -0.1])
    thinning = flow_curve.forming_limit(minor, 2e-3, 0.18) + minor
    assert thinning == pytest.approx(np.full(3, thinning[0]))
    with pytest.raises(ValueError, match="zero or below"):
        flow_curve.forming_limit(0.1, 2e-3, 0.18)


def test_wall_tension_without_friction_is_bending_and_straightening() -> None:
    # Y' t2 / 4 rho each: work of the plastic moment over the arc
    flow, t, r = 400e6, 2e-3, 8e-3
    first, wall = forces.drawn_wall(1e5, 0.0, math.pi / 2, flow, t, r)
    each = 0.25 * flow * t**2 / (r + t / 2)
    assert first == pytest.approx(0.0)
    assert wall == pytest.approx(2.0 * each, rel=0.02)
    # rope friction multiplies, by hand
    first, wall = forces.drawn_wall(3e5, 0.1, math.pi / 2, 0.0 + 1e-3, t, r)
    assert wall == pytest.approx(2 * 0.1 * 3e5 * math.exp(0.1 * math.pi / 2), rel=1e-6)


def test_beads_balance_the_press() -> None:
    k, q, flow, length, radius = 8e9, 1.3e-3, 600e6, 3.3, 4e-3
    force, depth, width = forces.bead_hit(q, k, flow, length, radius)
    assert force == pytest.approx(k * (q - depth))
    assert force == pytest.approx((1 + math.pi / 2) * flow * width * length)
    assert width**2 == pytest.approx(8.0 * radius * depth)  # chord of a shallow segment
    assert forces.bead_hit(-1e-3, k, flow, length, radius)[0] == 0.0


def test_spread_of_a_bead_keeps_the_volume() -> None:
    depth, width, arc, t = 1e-4, 1.6e-3, 16e-3, 2e-3
    x = (np.arange(200000) + 0.5) / 200000 * width - width / 2
    segment = float(np.mean(depth * (1 - (2 * x / width) ** 2)) * width)
    assert forces.spread_strain(depth, width, arc, t) * arc * t == pytest.approx(segment, rel=1e-6)


def test_crank_press_by_its_torque() -> None:
    # at mid-stroke the arm is the crank itself: F = F_r sin a_r, textbook
    stroke, rated = 0.9, 13e-3
    angle = math.acos(1 - 2 * rated / stroke)
    assert forces.crank_force(1e7, rated, stroke, stroke / 2) == pytest.approx(1e7 * math.sin(angle))
    assert forces.crank_force(1e7, rated, stroke, 0.5 * rated) == pytest.approx(1e7)
    falling = forces.crank_force(1e7, rated, stroke, np.linspace(rated, stroke / 2, 20))
    assert (np.diff(falling) < 0).all()


def test_nesting_by_hand() -> None:
    found = blank.nest(0.5, 0.2, 0.09, 0.004, 0.006, 1.25, along=True)
    # six strips of 200 and five bridges of 4 between two margins of 6 make 1232 mm; a seventh does not fit
    assert found.across == 6
    assert found.coil_width == pytest.approx(6 * 0.2 + 5 * 0.004 + 0.012)
    assert found.share == pytest.approx(6 * 0.09 / (found.coil_width * 0.504))
    with pytest.raises(ValueError, match="does not fit"):
        blank.nest(2.0, 0.3, 0.5, 0.004, 0.006, 1.25, along=False)
