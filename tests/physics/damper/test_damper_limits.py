"""What rod, tubes, stop, oil and gas bear: against reference cases, closed forms, numerical integration and laws."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_bvp
from scipy.spatial import ConvexHull, HalfspaceIntersection

from firstoff.physics.damper import gas
from firstoff.physics.damper import limits_filling as filling
from firstoff.physics.damper import limits_strength as strength


@pytest.mark.parametrize(("length", "force"), [(0.300, 26944.0888), (0.400, 15302.4179)])
def test_buckling_is_the_reference_case(length: float, force: float) -> None:
    """Check case tube.rod_buckling (Shigley's form of Euler and Johnson, computed elsewhere): Johnson, then Euler."""
    assert strength.buckling_force(12.5e-3, length, 207e9, 400e6) == pytest.approx(force, rel=1e-6)
    assert strength.critical_slenderness(207e9, 400e6) == pytest.approx(101.069484, rel=1e-6)


def test_johnson_meets_euler_in_value_and_slope() -> None:
    """Tangent point (Shigley): both give Re/2 there, and the same slope."""
    e, re, d = 207e9, 400e6, 12.5e-3
    length = float(strength.critical_slenderness(e, re)) * d / 4.0
    area = 0.25 * math.pi * d**2
    below, at, above = (float(strength.buckling_force(d, length * k, e, re)) for k in (0.9999, 1.0, 1.0001))
    assert at == pytest.approx(0.5 * re * area, rel=1e-9)
    assert (above - at) / (at - below) == pytest.approx(1.0, rel=1e-3)
    assert strength.buckling_force(d, 1e-6, e, re) == pytest.approx(re * area, rel=1e-6)  # a stub crushes


def test_euler_is_the_eigenvalue_of_the_pinned_rod() -> None:
    """Finite differences of E I w'' + F w = 0, pinned ends, least eigenvalue by numpy, 400 points."""
    d, length, e = 12.5e-3, 0.6, 207e9
    n, h = 400, 0.6 / 401
    matrix = (np.diag(np.full(n, 2.0)) - np.diag(np.ones(n - 1), 1) - np.diag(np.ones(n - 1), -1)) / h**2
    least = np.linalg.eigvalsh(matrix)[0] * e * math.pi * d**4 / 64.0
    assert strength.buckling_force(d, length, e, 400e6) == pytest.approx(least, rel=1e-4)


def test_hoop_stress_and_first_yield_are_the_reference_cases() -> None:
    """Check cases tube.hoop_stress (12 MPa in 41/45 mm) and tube.first_yield_pressure (320 MPa), computed elsewhere."""
    bore, wall = 41e-3, 2e-3
    assert strength.hoop_stress(12e6, 0.0, bore, wall) == pytest.approx(129.27907e6, rel=1e-6)
    p = strength.first_yield_pressure(320e6, bore, wall)
    assert p == pytest.approx(29.703184e6, rel=1e-6)
    assert strength.hoop_stress(p, 0.0, bore, wall) == pytest.approx(320e6, rel=1e-12)


def test_hoop_stress_under_both_pressures_by_the_plane_ring() -> None:
    """scipy solve_bvp of the ring's radial equilibrium r^2 u'' + r u' - u = 0 with both pressures, plane stress."""
    ri, ro, p_i, p_o, e, nu = 18e-3, 19.5e-3, 9e6, 1.5e6, 206e9, 0.3
    k = e / (1.0 - nu**2)

    def radial(r: float, u: float, du: float) -> float:
        return k * (du + nu * u / r)

    found = solve_bvp(
        lambda r, y: np.vstack((y[1], y[0] / r**2 - y[1] / r)),
        lambda a, b: np.array([radial(ri, *a) + p_i, radial(ro, *b) + p_o]) / 1e6,
        np.linspace(ri, ro, 50), np.zeros((2, 50)), tol=1e-9,
    )  # fmt: skip
    u, du = found.y[:, 0]
    assert strength.hoop_stress(p_i, p_o, 2.0 * ri, ro - ri) == pytest.approx(k * (u / ri + nu * du), rel=1e-5)


def test_thin_tube_is_barlow() -> None:
    """Boiler formula p d/(2 t) in the limit of a thin wall."""
    assert strength.hoop_stress(1e6, 0.0, 0.1, 1e-5) == pytest.approx(1e6 * 0.1 / 2e-5, rel=2e-4)


def test_rod_stress_is_axial_and_bending() -> None:
    """Section modulus by numerical integration over the circle (scipy quad)."""
    d, axial, side, arm = 14e-3, 1500.0, 300.0, 0.17
    inertia = quad(lambda y: y**2 * 2.0 * math.sqrt((d / 2) ** 2 - y**2), -d / 2, d / 2, epsabs=0.0)[0]
    wanted = axial / (math.pi * d**2 / 4) + side * arm * d / 2 / inertia
    assert strength.rod_stress(d, -axial, side, arm) == pytest.approx(wanted, rel=1e-6)


def test_stop_energy_is_the_integral_of_its_force() -> None:
    """scipy quad of F = k x (1 + q (x/s)^2)."""
    k, s, q = 60e3, 0.03, 3.0
    wanted = quad(lambda x: k * x * (1.0 + q * (x / s) ** 2), 0.0, s)[0]
    energy = strength.stop_energy(k, s, q)
    assert energy == pytest.approx(wanted, rel=1e-10)
    assert 0.5 * 320.0 * strength.bottoming_speed(energy, 320.0) ** 2 == pytest.approx(wanted, rel=1e-12)


def test_oil_level_upright_is_volume_over_area() -> None:
    area = 0.25 * math.pi * (0.054**2 - 0.039**2)
    assert filling.oil_level(0.2e-3 + 0.05 * area, 0.2e-3, 0.054, 0.039) == pytest.approx(0.05, rel=1e-12)
    assert filling.oil_level(0.1e-3, 0.2e-3, 0.054, 0.039) < 0.0  # the pressure tube is not full


def test_tilted_level_by_a_polyhedron() -> None:
    """The tilted oil as a polyhedron of 720 sides (scipy halfspaces): same volume, and its least height is ours."""
    radius, level, tilt, sides = 0.027, 0.03, math.radians(20.0), 720
    angle = 2.0 * math.pi * np.arange(sides) / sides
    walls = np.column_stack((np.cos(angle), np.sin(angle), np.zeros(sides), np.full(sides, -radius)))
    bottom = np.array([[0.0, 0.0, -1.0, 0.0]])
    lean = math.tan(tilt)
    surface = np.array([[lean, 0.0, 1.0, -level]])
    found = HalfspaceIntersection(np.vstack((walls, bottom, surface)), np.array([0.0, 0.0, 0.5 * level]))
    hull = ConvexHull(found.intersections)
    assert hull.volume == pytest.approx(math.pi * radius**2 * level, rel=1e-3)
    top = found.intersections[np.abs(found.intersections[:, 2]) > 1e-6]
    assert filling.lowest_level(level, 2.0 * radius, tilt) == pytest.approx(top[:, 2].min(), rel=1e-3)


@given(st.floats(1e5, 2e6), st.floats(233.0, 393.0), st.floats(0.0, 0.1))
def test_gas_is_the_law_of_the_quasi_static_damper(p: float, t: float, rod_in: float) -> None:
    """Gas law of `physics.damper.gas`, itself held by tests/reference/damper/gas_*.json, in two steps; and p V/T."""
    v, oil, grow, area, t0 = 110e-6, 290e-6, 7.5e-4, 154e-6, 295.0
    left = filling.gas_left(v, oil, grow, t - t0, area, rod_in)
    found = filling.gas_pressure(p, t0, t, v, left)
    assert found * left / t == pytest.approx(p * v / t0, rel=1e-12)
    warm = gas.pressure_at_temperature(p, t0, t, v, oil, grow)
    room = v - oil * grow * (t - t0)
    assert found == pytest.approx(float(gas.pressure_at_stroke(warm, room, area, rod_in, 1.0)), rel=1e-9)


def test_no_room_is_no_value() -> None:
    assert np.isnan(filling.gas_pressure(6e5, 295.0, 393.0, 10e-6, -1e-6))
    assert np.isnan(filling.gas_pressure(6e5, 295.0, 0.0, 10e-6, 5e-6))


@pytest.mark.parametrize(
    "call",
    [
        lambda: strength.buckling_force(0.0, 0.3, 2e11, 4e8),
        lambda: strength.hoop_stress(1e6, 0.0, 0.04, 0.0),
        lambda: strength.first_yield_pressure(0.0, 0.04, 0.001),
        lambda: strength.rod_stress(0.0, 1.0, 1.0, 1.0),
        lambda: strength.stop_energy(-1.0, 0.1),
        lambda: strength.bottoming_speed(-1.0, 1.0),
        lambda: filling.oil_level(1e-4, 1e-4, 0.03, 0.04),
        lambda: filling.lowest_level(0.1, 0.05, 2.0),
    ],
)
def test_out_of_range_is_refused(call: Any) -> None:
    with pytest.raises(ValueError):
        call()
