"""Tube and rod against integrated equations and laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from firstoff.physics.tube import drawing, pressure, rod, strip, welding

PASS = (21.5e-3, 18.5e-3, 2e-3, 420e6, 0.1, math.radians(12.0))


def test_sinking_draw_against_its_equation_integrated() -> None:
    # slab: d(sigma)/dr r = B sigma - Y (1 + B), from 0 at the entry inwards (equilibrium, SciPy's ODE solver)
    r0, r1, t, y, mu, alpha = PASS
    b = mu / math.tan(alpha)
    found = solve_ivp(lambda r, s: (b * s - y * (1.0 + b)) / r, (r0, r1), [0.0], rtol=1e-10, atol=1.0)
    stress, force = drawing.sinking_draw(*PASS)
    assert float(stress) == pytest.approx(found.y[0, -1], rel=1e-7)
    assert float(force) == pytest.approx(found.y[0, -1] * 2.0 * math.pi * r1 * t, rel=1e-7)


def test_sinking_without_friction_is_the_ideal_work() -> None:
    r0, r1, *rest = PASS
    ideal = 420e6 * math.log(r0 / r1)  # ideal work (textbook)
    assert float(drawing.sinking_draw(r0, r1, rest[0], rest[1], 0.0, rest[3])[0]) == pytest.approx(ideal, rel=1e-12)
    nearly = float(drawing.sinking_draw(r0, r1, rest[0], rest[1], 1e-9, rest[3])[0])
    assert nearly == pytest.approx(ideal, rel=1e-7)


def test_end_push_against_quadrature() -> None:
    r0, r1, _, y, mu, alpha = PASS
    force_per_round = quad(lambda r: y * (1.0 + mu / math.tan(alpha)), r1, r0)[0]
    assert float(drawing.end_push(*PASS)[0]) == pytest.approx(force_per_round / r0, rel=1e-12)


def test_a_reduction_that_tears_the_tube_is_refused() -> None:
    with pytest.raises(ValueError, match="more than one pass"):
        drawing.sinking_draw(21.5e-3, 8e-3, 2e-3, 420e6, 0.1, math.radians(12.0))
    with pytest.raises(ValueError, match="upset"):
        drawing.end_push(21.5e-3, 5e-3, 2e-3, 420e6, 0.1, math.radians(12.0))
    with pytest.raises(ValueError, match="below the radius before"):
        drawing.sinking_draw(18.5e-3, 21.5e-3, 2e-3, 420e6, 0.1, math.radians(12.0))


def test_hoop_stress_over_the_wall_balances_the_pressure() -> None:
    p, ri, ro = 12e6, 20.5e-3, 22.5e-3

    def lame(r: float) -> float:
        return p * ri**2 / (ro**2 - ri**2) * (1.0 + ro**2 / r**2)

    found = pressure.hoop_stress(p, ri, ro)
    assert quad(lame, ri, ro)[0] == pytest.approx(p * ri, rel=1e-10)  # statics of half a ring
    assert float(found.lame_inner) == pytest.approx(lame(ri), rel=1e-12)
    assert float(found.lame_outer) == pytest.approx(lame(ro), rel=1e-12)
    assert found.inner_diameter < found.lame_inner < found.barlow
    # at first yield, the bore's stress is the strength
    first = pressure.first_yield_pressure(320e6, ri, ro)
    assert float(pressure.hoop_stress(first, ri, ro).lame_inner) == pytest.approx(320e6, rel=1e-12)


def test_buckling_branches_meet_with_one_slope() -> None:
    d, e, s = 12.5e-3, 207e9, 400e6
    limit = math.sqrt(2.0 * math.pi**2 * e / s) * d / 4.0  # length where they meet
    lengths = limit * np.array([1.0 - 1e-6, 1.0, 1.0 + 1e-6])
    found = rod.buckling(d, lengths, e, s, 1.0)
    assert (found.johnson[0], found.johnson[2]) == (True, False)
    assert found.load[1] == pytest.approx(math.pi / 8.0 * d**2 * s, rel=1e-9)
    slopes = np.diff(found.load)
    assert slopes[0] == pytest.approx(slopes[1], rel=1e-4)


def test_euler_against_a_column_as_eigenvalue_problem() -> None:
    # finite differences of -E I w'' = F w, pinned ends: lowest eigenvalue (brute force)
    d, length, e, n = 12.5e-3, 0.6, 207e9, 400
    step, inertia = length / n, math.pi * d**4 / 64.0
    matrix = (np.diag(np.full(n - 1, 2.0)) - np.diag(np.ones(n - 2), 1) - np.diag(np.ones(n - 2), -1)) / step**2
    lowest = float(np.linalg.eigvalsh(matrix)[0]) * e * inertia
    assert float(rod.buckling(d, length, e, 400e6, 1.0).load) == pytest.approx(lowest, rel=1e-4)


def test_strip_width_keeps_to_its_table() -> None:
    middle, width = strip.strip_width(30e-3, 2e-3)  # D/t = 15: on a limit, lower class
    assert width - middle == pytest.approx((2.0 * 0.5 + 2.0 * 2.0 / 3.0 + 1.0) * 1e-3, rel=1e-9)
    for diameter, wall in ((18e-3, 2e-3), (100e-3, 3e-3), (130e-3, 2e-3), (60e-3, 0.9e-3)):
        with pytest.raises(ValueError, match="must lie between"):
            strip.strip_width(diameter, wall)


def test_a_nugget_larger_than_the_heat_is_refused() -> None:
    with pytest.raises(ValueError, match="more heat"):
        welding.resistance_weld_heat(4000.0, 1e-4, 0.1, 6e-3, 2.5e-3, 12e9)
