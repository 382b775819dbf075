"""Modes of a beam against the closed forms of Euler and Bernoulli, a shaken oscillator against Miles, damage of the
spectrum against FLife and against cycles counted by rainflow in a history of it."""

from __future__ import annotations

import numpy as np
import pytest
import rainflow
from FLife import SpectralData
from FLife.freq_domain import Dirlik

from firstoff.physics.durability.beam_modes import deflection_response, modes
from firstoff.physics.durability.random_profile import PROFILES, density_at, profile, sampled_moments
from firstoff.physics.durability.spectra import break_point_moments
from firstoff.physics.durability.spectral_damage import dirlik

EI, MU, LENGTH = 4.2e4, 6.1, 1.64
NODES = np.linspace(0.0, LENGTH, 13)
STIFF = 1e14


def closed(*roots: float) -> list[float]:
    """f = (beta L)^2/(2 pi L^2) sqrt(E I/mu)."""
    return [b**2 / (2.0 * np.pi * LENGTH**2) * (EI / MU) ** 0.5 for b in roots]


def test_free_free_clamped_and_simply_supported_beams() -> None:
    """Roots of cos cosh = 1, cos cosh = -1 and sin = 0, as any vibration textbook prints them."""
    free = modes(NODES, EI, MU, many=5).frequency[0]
    assert free[:2] == pytest.approx([0.0, 0.0], abs=0.05)  # rigid motions
    assert free[2:] == pytest.approx(closed(4.730041, 7.853205, 10.995608), rel=1e-3)
    held = modes(NODES, EI, MU, [(0, STIFF)], [(0, STIFF)], many=3).frequency[0]
    assert held == pytest.approx(closed(1.875104, 4.694091, 7.854757), rel=1e-3)
    both = modes(NODES, EI, MU, [(0, STIFF), (12, STIFF)], many=3).frequency[0]
    assert both == pytest.approx(closed(np.pi, 2.0 * np.pi, 3.0 * np.pi), rel=1e-3)


def test_a_rigid_bar_on_two_springs_is_a_mass_on_a_spring() -> None:
    # f = 1/(2 pi) sqrt(2 k/m), and in tilt sqrt(2 k a^2/J), J = m L^2/12 (textbook)
    k, a = 3e5, 3.0 * LENGTH / 12.0
    found = modes(NODES, 1e9, MU, [(3, k), (9, k)], many=2).frequency[0]
    mass = MU * LENGTH
    wanted = [np.sqrt(2.0 * k / mass), np.sqrt(2.0 * k * a**2 / (mass * LENGTH**2 / 12.0))]
    assert found == pytest.approx(np.sort(wanted) / (2.0 * np.pi), rel=1e-3)


def test_a_rider_is_an_absorber() -> None:
    # two masses on two springs: roots of the quadratic (textbook)
    heavy, k1, light, k2 = MU * LENGTH, 6e5, 1.5, 1.2e5
    found = modes(NODES, 1e10, MU, [(6, k1)], [(6, 1e9)], [(6, light, k2)], 2).frequency[0]
    m, k = np.diag([heavy, light]), np.array([[k1 + k2, -k2], [-k2, k2]])
    wanted = np.sqrt(np.sort(np.linalg.eigvals(np.linalg.solve(m, k)).real)) / (2.0 * np.pi)
    assert found == pytest.approx(wanted, rel=1e-4)


def test_a_shaken_oscillator_moves_as_miles_says() -> None:
    # Miles 1954: absolute acceleration sqrt(pi/2 f Q G), over w^2 the deflection; Q = 1/(2 zeta)
    zeta, k, light, density = 0.03, 2e5, 0.6, 4.0
    found = modes(NODES, 1e10, 1e6, [(6, 1e16)], [(6, 1e16)], [(6, light, k)], 3)
    own = np.sqrt(k / light) / (2.0 * np.pi)
    f = np.geomspace(1.0, 4000.0, 4000)
    square = deflection_response(found, len(NODES) * 2, zeta, f)
    rms = sampled_moments(f, square * density)[0].rms
    assert rms == pytest.approx(
        np.sqrt(0.5 * np.pi * own / (2.0 * zeta) * density) / (2.0 * np.pi * own) ** 2, rel=0.01
    )


@pytest.mark.parametrize("name", PROFILES)
def test_profiles_have_the_rms_that_their_standard_prints(name: str) -> None:
    of = profile(name)
    assert "from memory" in of.source
    assert break_point_moments(of.frequency, of.density).rms == pytest.approx(of.rms, rel=2e-3)
    assert density_at(of, np.array([1.0, 1e4])) == pytest.approx([0.0, 0.0])


def test_damage_of_a_shaken_bar_by_flife_and_by_counted_cycles() -> None:
    found = modes(NODES, EI, MU, [(3, 3e6), (9, 3e6)], riders=[(0, 0.6, 4e5), (12, 0.6, 4e5)])
    f = np.arange(1.0, 1000.0, 0.5)
    stress = 1e24 * deflection_response(found, 6, 0.03, f) * density_at(profile("car_body"), f)
    k, constant = 5.0, 2e6 * 1.8e8**5
    ours = dirlik(sampled_moments(f, stress)[0], k, constant).damage
    data = SpectralData(input={"PSD": stress[0], "f": f})
    assert ours == pytest.approx(1.0 / Dirlik(data).get_life(C=constant, k=k), rel=5e-3)  # FLife 2.3
    rng, count, step = np.random.default_rng(1), 2**18, 1.0 / 8000.0
    lines = np.fft.rfftfreq(count, step)
    size = np.sqrt(0.5 * np.interp(lines, f, stress[0], 0.0, 0.0) * lines[1]) * count
    history = np.fft.irfft(size * np.exp(2j * np.pi * rng.random(len(lines))), count)
    counted = sum(n * (0.5 * span) ** k for span, _, n, _, _ in rainflow.extract_cycles(history))
    assert ours == pytest.approx(counted / constant / (count * step), rel=0.2)  # Dirlik: some 10 % off
