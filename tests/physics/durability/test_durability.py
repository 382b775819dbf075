"""Durability against a rainflow library, a vibration-fatigue library and quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
import rainflow as library
from FLife import SpectralData
from FLife.freq_domain import Dirlik, Narrowband
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from firstoff.physics.durability import miner, rainflow, spectra, spectral_damage

BANDS = (np.array([10.0, 80.0]), np.array([20.0, 120.0]), np.array([40.0, 15.0]))
SLOPE, CONSTANT = 5.0, 1e15


def spectrum(f: np.ndarray) -> np.ndarray:
    g = np.zeros_like(f)
    for low, high, density in zip(*BANDS, strict=True):
        g[(f >= low) & (f < high)] = density
    return g


@given(st.lists(st.integers(-9, 9), min_size=3, max_size=60).filter(lambda s: len(set(s)) > 1))
def test_count_of_any_history_is_the_library_s(series: list[int]) -> None:
    # rainflow 3.2, an independent implementation of ASTM E1049 (it finds nothing in two points)
    found = rainflow.table(*rainflow.cycles(np.array(series, dtype=float)))
    wanted = library.count_cycles(series)
    assert found[0].tolist() == pytest.approx([r for r, _ in wanted])
    assert found[1].tolist() == pytest.approx([n for _, n in wanted])


def test_count_of_a_long_random_history() -> None:
    series = np.cumsum(np.random.default_rng(5).normal(size=20_000))
    ranges, counts = rainflow.cycles(series)
    wanted = [(r, n) for r, _, n, _, _ in library.extract_cycles(series)]
    k = 4.0
    damage = sum(n * (r / 2.0) ** k for r, n in wanted)
    assert miner.history_damage(ranges, counts, k, 1.0) == pytest.approx(damage, rel=1e-10)
    assert counts.sum() == pytest.approx(sum(n for _, n in wanted))


def test_a_sine_counts_as_its_range() -> None:
    ranges, counts = rainflow.table(*rainflow.cycles(np.tile([0.0, 2.0, 0.0, -2.0], 50)))
    assert ranges[-1] == 4.0 and counts[-1] == pytest.approx(49.0, abs=0.51)
    with pytest.raises(ValueError, match="never changes"):
        rainflow.cycles(np.ones(5))


def test_damage_rates_against_a_vibration_fatigue_library() -> None:
    # FLife 2.3; its grid ends the bands, hence the tolerance
    moments = spectra.band_moments(*BANDS)
    f = np.arange(0.0, 400.0, 0.02)
    data = SpectralData(input={"PSD": spectrum(f), "f": f})
    wanted = {law: 1.0 / law(data).get_life(C=CONSTANT, k=SLOPE) for law in (Dirlik, Narrowband)}
    assert spectral_damage.dirlik(moments, SLOPE, CONSTANT).damage == pytest.approx(wanted[Dirlik], rel=2e-3)
    narrow = spectral_damage.narrow_band_damage(moments, SLOPE, CONSTANT)
    assert narrow == pytest.approx(wanted[Narrowband], rel=2e-3)


def test_dirlik_s_damage_is_the_integral_of_its_density() -> None:
    m = spectra.band_moments(*BANDS)
    d = spectral_damage.dirlik(m, SLOPE, CONSTANT)

    def density(z: float) -> float:
        return (
            d.d1 / d.q * math.exp(-z / d.q)
            + d.d2 * z / d.r**2 * math.exp(-(z**2) / (2.0 * d.r**2))
            + d.d3 * z * math.exp(-(z**2) / 2.0)
        )

    assert quad(density, 0.0, 40.0, limit=200)[0] == pytest.approx(1.0, rel=1e-9)
    mean = quad(lambda z: (z * m.rms) ** SLOPE * density(z), 0.0, 40.0, limit=200)[0]
    assert d.damage == pytest.approx(m.peaks * mean / CONSTANT, rel=1e-9)


def test_one_narrow_band_is_near_the_narrow_band_form() -> None:
    moments = spectra.band_moments([49.5], [50.5], [100.0])
    narrow = spectral_damage.narrow_band_damage(moments, SLOPE, CONSTANT)
    # Dirlik is a fit: a few per cent in the limit
    assert spectral_damage.dirlik(moments, SLOPE, CONSTANT).damage == pytest.approx(narrow, rel=0.05)
    with pytest.raises(ValueError, match="too narrow"):
        spectral_damage.dirlik(spectra.band_moments([50.0], [50.0 + 1e-4], [1.0]), SLOPE, CONSTANT)


def test_break_points_against_quadrature() -> None:
    f, g = np.array([20.0, 50.0, 800.0, 2000.0]), np.array([0.026, 0.16, 0.16, 0.026])

    def density(x: float) -> float:
        return float(np.exp(np.interp(np.log(x), np.log(f), np.log(g))))

    found = spectra.break_point_moments(f, g)
    for n, value in ((0, found.m0), (1, found.m1), (2, found.m2), (4, found.m4)):
        wanted = sum(quad(lambda x, n=n: x**n * density(x), a, b)[0] for a, b in zip(f, f[1:], strict=False))
        assert value == pytest.approx(wanted, rel=1e-8)
    # a slope of exactly -1 (its integral is a logarithm)
    assert spectra.break_point_moments([1.0, 10.0], [1.0, 0.1]).m0 == pytest.approx(math.log(10.0), rel=1e-12)


def test_bad_spectra_are_refused() -> None:
    with pytest.raises(ValueError, match="not overlap"):
        spectra.band_moments([10, 15], [20, 30], [1, 1])
    with pytest.raises(ValueError, match="empty"):
        spectra.band_moments([10], [20], [0])
    with pytest.raises(ValueError, match="must rise"):
        spectra.break_point_moments([10, 5], [1, 1])
    with pytest.raises(ValueError, match="its cycles and its life"):
        miner.block_damage([1.0, 2.0], [1.0])
