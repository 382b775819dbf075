"""Motions that drive a damper: travel and speed belong together, and each is what it says."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import cumulative_simpson

from firstoff.physics.damper import motion as mo
from firstoff.physics.vehicle.ride import quarter_car

CAR = (300.0, 35.0, 20e3, 1500.0, 180e3)


def every() -> list[mo.Motion]:
    t = np.linspace(0.0, 1.0, 201)
    return [
        mo.sine(0.05, np.array([0.1, 1.0]), 512),
        mo.triangle(0.05, np.array([0.1, 1.0]), 512, rounding=0.2),
        mo.programme(0.04, (0.1, 0.5), 2, 256),
        mo.recorded(t, 0.03 * np.sin(2 * np.pi * t) ** 3, 400),
        mo.road(64e-6, 20.0, CAR, 4.0, 4096, seed=3),
    ]


@pytest.mark.parametrize("motion", every(), ids=["sine", "triangle", "programme", "recorded", "road"])
def test_speed_is_the_slope_of_travel(motion: mo.Motion) -> None:
    h = np.diff(motion.time, axis=1)
    peak = np.abs(motion.speeds).max(axis=(1, 2), keepdims=True)[..., 0]
    # Simpson-like rule on the three points of a step, exact for a quadratic speed
    g = mo.GAMMA
    weights = np.array([0.5 - 1 / (6 * g), 1 / (6 * g * (1 - g)), 1 - (0.5 - 1 / (6 * g)) - 1 / (6 * g * (1 - g))])
    moved = (motion.speeds @ weights) * h
    assert np.all(np.abs(moved - np.diff(motion.travel, axis=1)) <= 3e-3 * peak * h)
    inner = motion.travel[:, :-1] + g * h * 0.5 * (motion.speeds[:, :, 0] + motion.speeds[:, :, 1])
    assert np.all(np.abs(inner - motion.between) <= 2e-2 * peak * h)
    assert motion.speed.shape == motion.travel.shape == (motion.runs, motion.steps + 1)
    assert motion.paths.shape == (motion.runs, 6, motion.steps + 1)


def test_sine_has_its_peak_speed_at_half_stroke() -> None:
    motion = mo.sine(np.array([0.05, 0.02]), 0.52, 64)
    np.testing.assert_allclose(motion.speed[:, 16], 0.52)
    np.testing.assert_allclose(motion.travel[:, 16], 0.0, atol=1e-15)
    np.testing.assert_allclose(motion.time[:, -1], 2 * np.pi * np.array([0.05, 0.02]) / 0.52)
    np.testing.assert_allclose(motion.travel[:, 32], [0.05, 0.02])


@pytest.mark.parametrize("rounding", [0.0, 0.1, 1.0])
def test_triangle_keeps_its_speed_and_stroke(rounding: float) -> None:
    motion = mo.triangle(0.05, 0.3, 400, rounding)
    assert motion.travel.min() == pytest.approx(-0.05)
    assert motion.travel.max() == pytest.approx(0.05)
    assert np.abs(motion.speeds).max() == pytest.approx(0.3)
    # kinematics: a stroke at full speed takes 2X/v, each rounded end adds half of its own time
    assert motion.time[0, -1] == pytest.approx(2 * 0.1 / 0.3 / (1 - 0.5 * rounding))
    steady = np.abs(np.abs(motion.speeds[0, :, 1]) - 0.3) < 1e-12
    assert steady.mean() == pytest.approx(1 - rounding, abs=0.02)


def test_programme_runs_each_speed_as_often_as_asked() -> None:
    motion = mo.programme(0.05, (0.1, 0.4), cycles=3, steps=64)
    assert motion.steps == 2 * 3 * 64
    assert motion.time[0, -1] == pytest.approx(3 * 2 * math.pi * 0.05 * (1 / 0.1 + 1 / 0.4))
    assert np.all(np.diff(motion.time[0]) > 0)
    np.testing.assert_allclose(motion.speed[0, 16::64], [0.1] * 3 + [0.4] * 3)


def test_record_of_a_sine_is_that_sine() -> None:
    t = np.linspace(0.0, 1.0, 101)
    motion = mo.recorded(t, -0.05 * np.cos(2 * np.pi * t), 200)
    fine = motion.time[0]
    np.testing.assert_allclose(motion.travel[0], -0.05 * np.cos(2 * np.pi * fine), atol=1e-7)
    np.testing.assert_allclose(motion.speed[0], 0.1 * np.pi * np.sin(2 * np.pi * fine), atol=2e-4)


def test_road_travel_has_the_closed_form_rms() -> None:
    """Rms of travel from the Lyapunov equation of the linear quarter car (vehicle.ride), a wide band, a long road."""
    motion = mo.road(64e-6, 20.0, CAR, 200.0, 60_000, seed=1, highest=60.0)
    expected = quarter_car(*CAR, 64e-6, 0.1, 20.0).suspension_travel
    assert motion.travel.std() == pytest.approx(expected, rel=0.01)
    assert motion.travel[0, 0] == pytest.approx(motion.travel[0, -1])
    assert not np.array_equal(motion.travel, mo.road(64e-6, 20.0, CAR, 200.0, 60_000, 2, highest=60.0).travel)


def test_road_speed_is_the_slope_of_travel() -> None:
    motion = mo.road(64e-6, 20.0, CAR, 10.0, 20_000, seed=1)
    gone = cumulative_simpson(motion.speed[0], x=motion.time[0], initial=0.0)
    np.testing.assert_allclose(gone, motion.travel[0] - motion.travel[0, 0], atol=1e-8)


def test_quarter_car_stands_still_on_a_slow_road_and_keeps_its_body_still_on_a_fast_one() -> None:
    slow, fast = np.abs(mo.travel_response(np.array([1e-3, 1e3]), *CAR))
    assert slow < 1e-5
    assert fast < 0.05


def test_what_is_no_motion_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        mo.sine(0.05, 0.0)
    with pytest.raises(ValueError, match="multiple of 4"):
        mo.sine(0.05, 0.1, 66)
    with pytest.raises(ValueError, match="rounding"):
        mo.triangle(0.05, 0.1, rounding=1.5)
    with pytest.raises(ValueError, match="cycle"):
        mo.programme(0.05, (0.1,), 0)
    with pytest.raises(ValueError, match="rising"):
        mo.recorded(np.array([0.0, 1.0, 1.0, 2.0]), np.zeros(4))
    with pytest.raises(ValueError, match="end where it began"):
        mo.recorded(np.arange(5.0), np.arange(5.0), periodic=True)
    with pytest.raises(ValueError, match="steps"):
        mo.road(64e-6, 20.0, CAR, 10.0, 100, seed=1)
