"""Roads: the generated profile against ISO 8608's class by scipy's Welch estimate, and its laws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import welch

from firstoff.physics.vehicle.ride import road_class_micro
from firstoff.physics.vehicle.road import bump, contact_filter, displacement_psd, profile

STEP, STEPS = 1e-3, 2**17


@pytest.mark.parametrize(("road_class", "waviness", "speed"), [("A", 2.0, 40.0), ("C", 2.0, 20.0), ("E", 2.5, 10.0)])
def test_profile_has_the_spectrum_of_its_class(road_class: str, waviness: float, speed: float) -> None:
    """scipy.signal.welch of the profile against Gd(n) = Gd(n0) (n/n0)^-w of ISO 8608, in its octave bands."""
    rough = road_class_micro(road_class) * 1e-6
    height, _ = profile(STEPS, STEP, speed, rough, waviness, seed=3)
    f, psd = welch(height, 1.0 / STEP, nperseg=2**14)
    n, psd = f / speed, psd * speed
    for low in (0.05, 0.1, 0.2, 0.4, 0.8):
        band = (n >= low) & (n < 2.0 * low) & (f > 0.5) & (f < 90.0)
        if band.sum() < 20:
            continue
        wanted = displacement_psd(n[band], rough, waviness)
        assert np.mean(psd[band] / wanted) == pytest.approx(1.0, abs=0.12)


def test_classes_are_a_factor_of_four_apart_and_keep_their_phases() -> None:
    """ISO 8608: each class is four times the one before, so heights are twice as high at the same phases."""
    one, two = (profile(4096, STEP, 20.0, road_class_micro(c) * 1e-6, seed=5)[0] for c in "BC")
    np.testing.assert_allclose(two, 2.0 * one, rtol=1e-12, atol=1e-15)


def test_variance_is_that_of_the_spectrum_and_the_rate_is_the_derivative() -> None:
    """Parseval: variance = integral of the one-sided PSD over the band (closed form for w = 2); rate by differences."""
    height, rate = profile(STEPS, STEP, 25.0, 64e-6, seed=1, band=(0.5, 50.0))
    closed = 64e-6 * 0.1**2 * (25.0 / 0.5 - 25.0 / 50.0)  # integral of Gd(n0) (n0/n)^2 from 0.5/v to 50/v
    assert np.var(height) == pytest.approx(closed, rel=0.02)
    between = (height[2:] - height[:-2]) / (2.0 * STEP)
    assert np.std(between - rate[1:-1]) < 0.02 * np.std(rate)
    assert np.mean(height) == pytest.approx(0.0, abs=1e-12)


def test_seed_decides_and_speed_does_not_change_the_phases() -> None:
    a, b = (profile(4096, STEP, 20.0, 64e-6, seed=s)[0] for s in (1, 1))
    np.testing.assert_array_equal(a, b)
    assert not np.allclose(a, profile(4096, STEP, 20.0, 64e-6, seed=2)[0])


def test_contact_averages_the_road() -> None:
    """Moving mean of a sine by numpy, brute force, against the filter."""
    n, length = 3.0, 0.12
    x = np.linspace(0.0, 1.0, 200_001)
    moving = np.mean(np.cos(2.0 * np.pi * n * (x - 0.5) * length))
    assert contact_filter(n, length) == pytest.approx(abs(moving), rel=1e-5)
    assert contact_filter([0.0, 1.0], 0.0) == pytest.approx([1.0, 1.0])


def test_bump_begins_and_ends_level() -> None:
    t = np.linspace(-0.1, 0.3, 40_001)
    z, rate = bump(t, 0.05, 1.0, 10.0)
    assert z.max() == pytest.approx(0.05)
    assert t[np.argmax(z)] == pytest.approx(0.05, abs=1e-4)
    np.testing.assert_allclose(np.gradient(z, t), rate, atol=1e-3 * rate.max())
    assert z[t < 0.0].max() == 0.0
    assert z[t > 0.1 + 1e-9].max() == 0.0


@pytest.mark.parametrize("wrong", [{"roughness": 0.0}, {"speed": -1.0}, {"steps": 7}, {"contact_length": -1.0}])
def test_out_of_range_is_refused(wrong: dict[str, float]) -> None:
    given = {"steps": 64, "step": STEP, "speed": 20.0, "roughness": 64e-6} | wrong
    with pytest.raises(ValueError):
        profile(**given)  # type: ignore[arg-type]
    with pytest.raises(ValueError):
        displacement_psd(0.0, 1e-6)
    with pytest.raises(ValueError):
        bump(0.0, 0.1, 0.0, 1.0)
