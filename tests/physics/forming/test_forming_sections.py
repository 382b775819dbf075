"""Sections, profiles and plan curves: against a finite-element library, closed forms and brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.physics.forming import profile, section


def finely(points: list[tuple[float, float]], pieces: int = 20) -> section.Centreline:
    ends = [np.array(points[0], dtype=float)]
    for a, b in zip(points, points[1:], strict=False):
        ends += [np.array(a) + (np.array(b) - np.array(a)) * (k + 1) / pieces for k in range(pieces)]
    return section.Centreline(np.array(ends))


def test_channel_against_sums_over_rectangles() -> None:
    # web 160 x 2, two flanges 55 x 2 at the middle of the sheet: sums over rectangles, to be had by hand
    found = section.properties(finely([(0.055, -0.08), (0.0, -0.08), (0.0, 0.08), (0.055, 0.08)]), 2e-3)
    assert found.area == pytest.approx(540e-6, rel=1e-3)
    assert found.x == pytest.approx(11.2e-3, rel=1e-3)
    assert found.i_yy == pytest.approx(154202e-12, rel=1e-3)
    assert found.modulus_plan == pytest.approx(3520.6e-9, rel=1e-3)
    assert found.plastic_plan == pytest.approx(6138.0e-9, rel=2e-3)
    # shear centre of a thin channel, 3 b2 / (6 b + h) behind the web: textbook
    assert found.shear_centre[0] == pytest.approx(-3 * 0.055**2 / (6 * 0.055 + 0.16), rel=1e-3)
    assert found.shear_centre[1] == pytest.approx(0.0, abs=1e-9)


def test_lipped_section_against_finite_elements() -> None:
    from sectionproperties.analysis import Section
    from sectionproperties.pre import Geometry
    from shapely.geometry import LineString

    points = [(78.0, 78.0), (78.0, 100.0), (0.0, 100.0), (-6.0, 20.0), (0.0, -80.0), (62.0, -80.0)]
    sheet = LineString(points).buffer(1.0, cap_style="flat", join_style="mitre")
    mesh = Geometry(sheet).create_mesh(mesh_sizes=[4.0])
    oracle = Section(mesh)
    oracle.calculate_geometric_properties()
    oracle.calculate_warping_properties()
    xx, yy, xy = oracle.get_ic()
    x, y = oracle.get_c()
    found = section.properties(finely([(a * 1e-3, b * 1e-3) for a, b in points]), 2e-3)
    assert found.area * 1e6 == pytest.approx(oracle.get_area(), rel=5e-3)
    assert found.x * 1e3 == pytest.approx(x, abs=0.1)
    assert found.y * 1e3 == pytest.approx(y, abs=0.2)
    assert found.i_xx * 1e12 == pytest.approx(xx, rel=5e-3)
    assert found.i_yy * 1e12 == pytest.approx(yy, rel=5e-3)
    assert found.i_xy * 1e12 == pytest.approx(xy, rel=2e-2)
    assert found.torsion * 1e12 == pytest.approx(oracle.get_j(), rel=2e-2)
    x_s, y_s = oracle.get_sc()
    assert found.shear_centre[0] * 1e3 == pytest.approx(x_s, abs=1.0)
    assert found.shear_centre[1] * 1e3 == pytest.approx(y_s, abs=1.0)


def test_rounded_corner_is_an_arc() -> None:
    points = section.arc_points(np.zeros(2), np.array([1.0, 0.0]), np.array([0.0, 1.0]), 3.0, 8)
    centre = np.array([-3.0, 3.0])
    assert np.hypot(*(points - centre).T) == pytest.approx(np.full(9, 3.0))
    assert points[0] == pytest.approx([-3.0, 0.0]) and points[-1] == pytest.approx([0.0, 3.0])


def test_trace_against_integration_in_small_steps() -> None:
    lengths, turns = np.array([[0.05, 0.02, 0.08, 0.01]]), np.array([[0.0, 1.4, -0.2, 0.7]])
    ends, ways = profile.trace(lengths, turns, 0.3)
    at, way = np.zeros(2), 0.3
    for length, turn in zip(lengths[0], turns[0], strict=True):
        for _ in range(4000):
            way += 0.5 * turn / 4000
            at = at + length / 4000 * np.array([math.cos(way), math.sin(way)])
            way += 0.5 * turn / 4000
    assert ends[0, -1] == pytest.approx(at, abs=1e-8)
    assert ways[0, -1] == pytest.approx(way)


def test_bow_moves_the_end_as_two_integrations_of_curvature() -> None:
    lengths, change, at = np.array([0.5, 0.3]), np.array([0.02, -0.05]), 0.7
    u = (np.arange(70000) + 0.5) / 70000 * at
    bent = np.where(u < 0.5, change[0], change[1])
    assert profile.bow_weights(lengths, at) @ change == pytest.approx(float(np.mean(bent * (at - u)) * at), rel=1e-4)
    # a straight bar does not twist
    assert profile.twist_weights(lengths, np.zeros(2), at) == pytest.approx(0.0)


def test_twist_of_a_circular_bar_against_its_closed_form() -> None:
    # a bar of radius R bent out of its plane by kappa twists its end by kappa R (1 - cos(s / R)): rigid rotations
    radius, s = 2.0, 0.9
    found = profile.twist_weights(np.array([s]), np.array([1.0 / radius]), s)[0]
    assert found == pytest.approx(radius * (1.0 - math.cos(s / radius)), rel=1e-4)


def test_release_of_an_unsymmetric_bar_leaves_no_moment() -> None:
    rng = np.random.default_rng(3)
    x, y, area = rng.normal(size=30), rng.normal(size=30), rng.uniform(0.5, 1.0, 30)
    stress, modulus = rng.normal(size=(1, 30)) * 1e8, np.array([2e11])
    a, b = profile.unsymmetric_release(stress, area, x, y, modulus)
    dx, dy = (c - area @ c / area.sum() for c in (x, y))
    left = stress[0] - (stress[0] @ area) / area.sum() + modulus[0] * (a[0] * dx + b[0] * dy)
    assert abs(left @ (area * dx)) < 1e-3 and abs(left @ (area * dy)) < 1e-3
