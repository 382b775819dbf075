"""Loops reduced to numbers: closed forms of simple dampers, and measured traces with noise."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.physics.damper.loop import loop_of, reduce

X, W, C, K, RUB = 0.05, 8.0, 900.0, 2000.0, 35.0


def viscous(steps: int = 400) -> tuple[np.ndarray, ...]:
    """A linear damper beside a spring and dry friction, F = c v + k x + R sign(v), one cycle from fully in."""
    turn = np.linspace(0.0, 2 * np.pi, steps + 1)
    x, v = -X * np.cos(turn), X * W * np.sin(turn)
    v[[0, steps // 2, -1]] = 0.0
    return turn / W, x, v, C * v + K * x + RUB * np.sign(v)


def test_linear_damper_beside_a_spring_in_closed_form() -> None:
    """Ellipse: work pi c w X^2 + 4 R X; the spring adds k dx to the hysteresis (textbook)."""
    t, x, v, f = viscous()
    found = loop_of(t, x, v, f, (-0.02, 0.03), 0.5)
    assert found["energy"] == pytest.approx(math.pi * C * W * X**2 + 4 * RUB * X, rel=1e-4)
    assert found["peak_rebound"] == pytest.approx(RUB + math.hypot(C * W * X, K * X), rel=1e-4)
    assert found["peak_compression"] == pytest.approx(-found["peak_rebound"])
    assert found["mid_rebound"] == pytest.approx(C * W * X + RUB)
    assert found["mid_compression"] == pytest.approx(-C * W * X - RUB)
    # half the peak speed is reached at x = -+ X cos 30 degrees
    assert found["hysteresis_rebound"] == pytest.approx(2 * K * X * math.cos(math.pi / 6), rel=1e-3)
    assert found["hysteresis_compression"] == pytest.approx(2 * K * X * math.cos(math.pi / 6), rel=1e-3)
    for name, place in (("in", -0.02), ("out", 0.03)):
        speed = W * math.sqrt(X**2 - place**2)
        assert found[f"friction_{name}"] == pytest.approx(C * speed + RUB, rel=1e-3)
        assert found[f"rest_{name}"] == pytest.approx(K * place, abs=0.2)


def test_dead_travel_ends_where_the_force_is_half_its_peak() -> None:
    """A force that waits over the first 7 mm of each stroke, then rises linearly to its peak over 20 mm."""
    t, x, v, _ = viscous(2000)
    gone = np.where(t * W < math.pi, x + X, X - x)
    f = 500.0 * np.clip((gone - 0.007) / 0.020, 0.0, 1.0) * np.where(t * W < math.pi, 1.0, -1.0)
    f[0] = f[1000] = f[-1] = 0.0
    found = loop_of(t, x, v, f, (0.0, 0.0))
    assert found["dead_rebound"] == pytest.approx(0.017, rel=1e-3)
    assert found["dead_compression"] == pytest.approx(0.017, rel=1e-3)


def test_loop_that_starts_elsewhere_gives_the_same_numbers() -> None:
    t, x, v, f = viscous()
    first = loop_of(t, x, v, f, (-0.02, 0.03))
    rolled = [np.append(np.roll(a[:-1], 137), np.roll(a[:-1], 137)[0]) for a in (x, v, f)]
    for name, value in loop_of(t, *rolled, (-0.02, 0.03)).items():
        assert value == pytest.approx(first[name], rel=1e-9), name


def test_place_beyond_the_stroke_has_no_value() -> None:
    assert math.isnan(loop_of(*viscous(), (-0.02, 0.06))["friction_out"])


@pytest.mark.parametrize("offset", [0.0, 0.123, 0.7])
def test_measured_trace_is_aligned_averaged_and_its_noise_found(offset: float) -> None:
    rng = np.random.default_rng(5)
    period, noise = 2 * math.pi / W, 4.0
    t = np.arange(0.0, 10.6 * period, period / 331.3)
    turn = W * (t + offset)
    x, v = -X * np.cos(turn), X * W * np.sin(turn)
    force = C * v + K * x + rng.normal(0.0, noise, t.size)
    found = reduce(t, x + rng.normal(0.0, 2e-5, t.size), force, (-0.02, 0.03), steps=256)
    assert found.period == pytest.approx(period, rel=1e-5)
    assert found.cycles in (10, 11)
    assert found.noise == pytest.approx(noise, rel=0.05)  # 3300 samples: 1.2 % of the planted noise (chi-squared)
    assert found.wander < 1e-3
    assert found.drift == pytest.approx(0.0, abs=6 * noise * math.sqrt(2 / 256))
    clean = loop_of(*viscous(256)[:3], C * viscous(256)[2] + K * viscous(256)[1], (-0.02, 0.03))
    for name in ("energy", "mid_rebound", "mid_compression", "hysteresis_rebound", "rest_out", "friction_in"):
        assert found.numbers[name] == pytest.approx(clean[name], abs=3.0 * noise / math.sqrt(9) + 0.01), name
    np.testing.assert_allclose(found.speed, viscous(256)[2], atol=2e-3)


def test_single_clean_cycle_has_no_noise() -> None:
    t, x, _, f = viscous()
    found = reduce(t, x, f, (-0.02, 0.03), steps=400)
    assert (found.cycles, found.noise) == (1, 0.0)
    for name, value in loop_of(*viscous(), (-0.02, 0.03)).items():
        assert found.numbers[name] == pytest.approx(value, rel=2e-3, abs=0.5), name


def test_what_is_no_trace_is_refused() -> None:
    t, x, _, f = viscous()
    with pytest.raises(ValueError, match="whole cycle"):
        reduce(t[:150], x[:150], f[:150], (0.0, 0.0))
    with pytest.raises(ValueError, match="finite"):
        reduce(t, x, np.where(t > 0.1, np.nan, f), (0.0, 0.0))
    with pytest.raises(ValueError, match="travel"):
        reduce(t, 0.0 * x, f, (0.0, 0.0))
    with pytest.raises(ValueError, match="length"):
        loop_of(t[:5], x[:5], x[:5], f[:5], (0.0, 0.0))
