"""Low-speed impact against time integration and brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from firstoff.errors import InputFault
from firstoff.launch.calculations import find
from firstoff.physics.impact import bar, barrier, pendulum, protocol, section, strain_rate


def bilinear(x: float, p: float, k: float, h: float, fy: float) -> float:
    """Rate of plastic set over rate of travel of a bilinear spring: F = k (x - p), yields at fy + H' p."""
    return k * (x - p) - (fy + k * h / (k - h) * p)


def integrate_barrier(m: float, v: float, n: int, k: float, fy: float, h: float) -> tuple[float, float, float, float]:
    """Stroke, set, rebound speed, time to the stroke by plain central differences (brute force)."""
    x, speed, p, t, step = 0.0, v, 0.0, 0.0, 2e-6
    stroke = time = 0.0
    while x >= p and t < 0.5:
        force = n * k * (x - p)
        speed -= force / m * step
        x += speed * step
        t += step
        over = bilinear(x, p, k, h, fy)
        if over > 0.0:
            p += over / (k + k * h / (k - h))
        if x > stroke:
            stroke, time = x, t
    return stroke, p, -speed, time


@pytest.mark.parametrize("h", [0.0, 1.5e6])
@pytest.mark.parametrize("v", [1.1176, 0.2])
def test_barrier_against_time_steps(h: float, v: float) -> None:
    found = barrier.hit(1500.0, v, 2, 8e6, 40e3, h)
    stroke, left, rebound, time = integrate_barrier(1500.0, v, 2, 8e6, 40e3, h)
    assert found.stroke == pytest.approx(stroke, rel=1e-3)
    assert found.permanent_set == pytest.approx(left, rel=2e-3, abs=1e-9)
    assert found.rebound_speed == pytest.approx(rebound, rel=2e-3)
    assert found.time_to_stroke == pytest.approx(time, rel=2e-3)
    assert abs(found.energy_residual) < 1e-12


@pytest.mark.parametrize(("v1", "v2"), [(0.67, 0.0), (0.67, 0.2), (0.05, 0.0)])
def test_pendulum_against_two_masses_in_time(v1: float, v2: float) -> None:
    span, ei, mp, m1, m2 = 1.0, 31765.0, 1350.0, 1200.0, 1700.0
    found = pendulum.central_hinge(span, ei, mp, m1, m2, v1, v2)
    k, limit = 48.0 * ei / span**3, 4.0 * mp / span

    def rates(_: float, y: np.ndarray) -> list[float]:  # x1 - x2, v1, v2, plastic set, SciPy's ODE solver
        force = k * (y[0] - y[3])
        closing = y[1] - y[2]
        flows = closing if force >= limit and closing > 0.0 else 0.0
        return [closing, -force / m1, force / m2, flows]

    def parted(_: float, y: np.ndarray) -> float:
        return float(y[0] - y[3])

    parted.terminal, parted.direction = True, -1.0  # type: ignore[attr-defined]
    run = solve_ivp(rates, (0.0, 5.0), [0.0, v1, v2, 0.0], events=parted, max_step=1e-3, rtol=1e-9, atol=1e-12)
    assert found.striker_speed == pytest.approx(run.y[1, -1], rel=3e-3)
    assert found.vehicle_speed == pytest.approx(run.y[2, -1], rel=3e-3)
    assert found.permanent_set == pytest.approx(run.y[3, -1], rel=3e-3, abs=1e-6)
    assert found.intrusion == pytest.approx(float(run.y[0].max()), rel=3e-3)
    assert abs(found.momentum_residual) < 1e-12 and abs(found.energy_residual) < 1e-12


def test_a_heavy_bar_is_outside_the_closed_form() -> None:
    with pytest.raises(ValueError, match="must be light"):
        pendulum.central_hinge(1.0, 31765.0, 1350.0, 1500.0, 1500.0, 0.67, 0.0, math.inf, 60.0)
    with pytest.raises(ValueError, match="faster than the vehicle"):
        pendulum.central_hinge(1.0, 31765.0, 1350.0, 1500.0, 1500.0, 0.2, 0.3)


@pytest.mark.parametrize(("h", "d", "t"), [(160.0, 55.0, 2.0), (80.0, 60.0, 6.0), (60.0, 20.0, 3.0), (30.0, 60.0, 4.0)])
def test_channel_against_strips(h: float, d: float, t: float) -> None:
    # brute force: 40 000 strips along x
    n = 40_000
    edges = np.linspace(-t / 2.0, d, n + 1)
    x, dx = (edges[1:] + edges[:-1]) / 2.0, np.diff(edges)
    width = np.where(x < t / 2.0, h + t, 2.0 * t)
    area = float(np.sum(width * dx))
    centroid = float(np.sum(width * x * dx)) / area
    inertia = float(np.sum(width * (x - centroid) ** 2 * dx))
    axis = float(np.interp(area / 2.0, np.concatenate([[0.0], np.cumsum(width * dx)]), edges))
    plastic = float(np.sum(width * np.abs(x - axis) * dx))
    found = section.channel(h, d, t)
    wanted = (area, centroid, inertia, inertia / (d - centroid), inertia / (centroid + t / 2.0), plastic, axis)
    assert [float(v) for v in found] == pytest.approx(wanted, rel=2e-3)


def test_bar_against_an_integrated_deflection() -> None:
    # w = integral of M M1/(E I), unit-load theorem, trapezium rule
    span, ei = 1.0, 31765.0
    x = np.linspace(0.0, span / 2.0, 20001)
    deflection = 2.0 * np.trapezoid((x / 2.0) ** 2, x) / ei
    found = bar.central_load(span, ei, 774.532, 1350.36)
    assert 1.0 / float(found.stiffness) == pytest.approx(deflection, rel=1e-6)
    with pytest.raises(ValueError, match="plastic moment"):
        bar.central_load(span, ei, 1400.0, 1350.0)


def test_rate_factor_doubles_at_the_reference_rate() -> None:
    assert float(strain_rate.cowper_symonds(40.4, 40.4, 5.0)) == 2.0  # by definition of D
    assert float(strain_rate.cowper_symonds(0.0, 40.4, 5.0)) == 1.0


def test_facts_say_where_they_stand() -> None:
    facts = protocol.part_581()
    assert all(fact.where.startswith("581.") for fact in facts.values())
    assert facts["barrier_speed_mph"].si == pytest.approx(2.5 * 1609.344 / 3600.0, rel=1e-12)


def test_words_that_the_model_cannot_follow_are_refused() -> None:
    good = {
        "span_mm": 1000, "EI_Nmm2": 3.2e10, "Mp_Nmm": 1.35e6, "striker_mass_kg": 1500, "vehicle_mass_kg": 1500,
        "striker_speed_m_per_s": 0.67,
    }  # fmt: skip
    assert find("pendulum-central-hinge")(good)["restitution"] < 1.0
    for key, word in (("bar_plan", "curved"), ("striker", "foam block"), ("bracket_yield", "40 kN")):
        with pytest.raises(InputFault):
            find("pendulum-central-hinge")({**good, key: word})
