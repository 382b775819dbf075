"""The noise of a trace's numbers against closed forms of a sine in white noise, and cycles of a drive that drifts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import chi2

from firstoff.physics.damper.loop import LOOP_FIELDS, Loop, reduce
from firstoff.physics.damper.loop_noise import number_covariance

X, W, C, K = 0.05, 8.0, 900.0, 2000.0
PLACES = (-0.04, 0.04)
SAMPLES = 400  # a cycle


def trace(cycles: float, noise: float, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A linear damper beside a spring on a crank, white noise on the force."""
    t = np.arange(0.0, cycles * 2 * math.pi / W, 2 * math.pi / W / SAMPLES)
    x, v = -X * np.cos(W * t + 1.0), X * W * np.sin(W * t + 1.0)
    return t, x, C * v + K * x + np.random.default_rng(seed).normal(0.0, noise, t.size)


def found(cycles: float, noise: float, seed: int) -> tuple[Loop, np.ndarray]:
    loop = reduce(*trace(cycles, noise, seed), PLACES)
    return loop, number_covariance(loop, PLACES)


def test_uncertainty_of_the_amplitude_of_a_sine_in_white_noise() -> None:
    """Least squares: u(A) = sigma sqrt(2/N) of N samples (textbook); the work of a cycle is pi X times the amplitude
    in phase with the speed. Mean over 40 traces of 11 cycles, and what the t factor of 10 cycles adds."""
    noise, runs, cycles = 20.0, 40, 10
    work, stated = [], []
    for seed in range(runs):
        loop, covariance = found(cycles + 1.3, noise, seed)
        assert loop.cycles == cycles + 1
        work.append(loop.numbers["energy"])
        stated.append(covariance[LOOP_FIELDS.index("energy"), LOOP_FIELDS.index("energy")])
    closed = math.pi * X * noise * math.sqrt(2.0 / (SAMPLES * (cycles + 1)))
    # what the traces really scatter by, against the closed form (chi-squared interval of 40 runs)
    ratio = np.var(work, ddof=1) / closed**2 * (runs - 1)
    assert chi2.ppf(0.001, runs - 1) < ratio < chi2.ppf(0.999, runs - 1)
    assert np.mean(work) == pytest.approx(math.pi * C * W * X**2, abs=4 * closed / math.sqrt(runs) + 2e-3)
    few = (2.228 / 1.96) ** 2  # Student's t of 10 degrees of freedom, 97.5 % (table)
    assert math.sqrt(np.mean(stated) / few) == pytest.approx(closed, rel=0.15)


def test_noise_shrinks_with_the_root_of_the_cycles() -> None:
    mid = LOOP_FIELDS.index("mid_rebound")
    few, many = (np.mean([found(n + 0.5, 20.0, s)[1][mid, mid] for s in range(30)]) for n in (8, 32))
    t_factor = (2.365 / 2.040) ** 2  # Student's t, 7 and 31 degrees of freedom (table)
    assert few / many == pytest.approx(4.0 * t_factor, rel=0.35)


def test_numbers_of_the_same_cycles_are_correlated_and_psd() -> None:
    """A zero of the cell that wanders from cycle to cycle moves both mid forces alike (arithmetic)."""
    t, x, f = trace(24.5, 0.5, 3)
    cycle = (W * t // (2 * math.pi)).astype(int)
    f = f + np.random.default_rng(1).normal(0.0, 15.0, cycle.max() + 1)[cycle]
    covariance = number_covariance(reduce(t, x, f, PLACES), PLACES)
    assert np.linalg.eigvalsh(covariance).min() > -1e-9
    i, j = (LOOP_FIELDS.index(name) for name in ("mid_rebound", "mid_compression"))
    assert covariance[i, j] / math.sqrt(covariance[i, i] * covariance[j, j]) > 0.85
    assert math.sqrt(covariance[i, i]) == pytest.approx(15.0 / math.sqrt(24), rel=0.45)


def test_a_drive_that_drifts_smears_nothing() -> None:
    """A chirp of 2 % over ten cycles: the ellipse of each cycle stays the ellipse (closed form of its work)."""
    t = np.linspace(0.0, 10.6 * 2 * math.pi / W, 8000)
    turn, speed = W * t * (1.0 + 0.0012 * t), W * (1.0 + 0.0024 * t)
    x, v = -X * np.cos(turn), X * speed * np.sin(turn)
    loop = reduce(t, x, C * v + K * x, PLACES)
    assert 0.005 < loop.wander < 0.03
    assert loop.numbers["energy"] == pytest.approx(math.pi * C * X**2 * 2 * math.pi / loop.period, rel=2e-3)
    assert loop.numbers["hysteresis_rebound"] == pytest.approx(2 * K * X * math.cos(math.pi / 6), rel=0.01)


def test_a_single_cycle_has_no_covariance() -> None:
    with pytest.raises(ValueError, match="single cycle"):
        number_covariance(reduce(*trace(1.3, 0.0, 1), PLACES), PLACES)
