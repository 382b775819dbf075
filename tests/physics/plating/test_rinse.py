"""Rinses against balances solved by brute force, and metal against a bath followed load by load."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.physics.plating import faraday, rinse

NICKEL = faraday.metals()["Ni"]


def tanks_in_a_row(ratio: float, n: int, loads: int = 0) -> float:
    """Steady balances of n tanks, or the tanks followed in time: drag-out 1, water `ratio` against it."""
    a, b = np.zeros((n, n)), np.zeros(n)
    for i in range(n):
        a[i, i] = -(1.0 + ratio)
        if i > 0:
            a[i, i - 1] = 1.0
        if i < n - 1:
            a[i, i + 1] = ratio
    b[0] = 1.0  # from the bath
    if not loads:
        return float(np.linalg.solve(a, -b)[-1])
    c, step = np.zeros(n), 0.2 / (1.0 + ratio)
    for _ in range(loads):
        c = c + step * (a @ c + b)
    return float(c[-1])


@pytest.mark.parametrize("stages", [1, 2, 3, 5])
@pytest.mark.parametrize("ratio", [0.5, 1.0, 7.0, 60.0])
def test_counterflow_against_the_balances(stages: int, ratio: float) -> None:
    assert float(rinse.counterflow(ratio, stages)) == pytest.approx(tanks_in_a_row(ratio, stages), rel=1e-9)


def test_counterflow_against_tanks_in_time() -> None:
    assert float(rinse.counterflow(4.0, 3)) == pytest.approx(tanks_in_a_row(4.0, 3, 4000), rel=1e-6)


def test_flow_for_a_thousandth() -> None:
    # handbook figures for 1 : 1000 by r^n (from memory): 1000, 31.6 and 10 times the drag-out with 1, 2 and 3 stages
    for stages, handbook in ((1, 1000.0), (2, 31.6), (3, 10.0)):
        assert float(rinse.counterflow_textbook(handbook, stages)) == pytest.approx(1e-3, rel=2e-3)
        exact = rinse.flow_for(1e-3, stages, 2.0) / 2.0
        assert float(rinse.counterflow(exact, stages)) == pytest.approx(1e-3, rel=1e-9)
        # the finite sum needs a little less water: r + 1/n to first order
        assert handbook - 1.1 < exact < handbook
    # one stage: 1 + r = 1/c
    assert rinse.flow_for(0.01, 1, 1.0) == pytest.approx(99.0)


def test_more_stages_and_counterflow_save_water() -> None:
    assert np.all(np.diff([float(rinse.counterflow(5.0, n)) for n in range(1, 6)]) < 0.0)
    assert float(rinse.counterflow(5.0, 3)) < float(rinse.separate(5.0 / 3.0, 3))  # the same water in all
    with pytest.raises(ValueError, match="1 to 8 stages"):
        rinse.counterflow(1.0, 9)
    with pytest.raises(ValueError, match="dilution"):
        rinse.flow_for(1.0, 2, 1.0)


def test_still_rinse_load_by_load() -> None:
    c, volume, v = 0.0, 600.0, 1.5
    for _ in range(40):
        c = (volume * c + v) / (volume + v)  # mixed with what came in; as much goes out
    assert rinse.still_rinse(v, volume, 40) == pytest.approx(c, rel=1e-12)


def test_metal_of_a_bath_by_hand() -> None:
    found = rinse.metal_balance(25e-6, NICKEL, 0.95, 1.0, 1.5e-4, 75.0, 0.3)
    # Faraday by hand: 25 um of nickel is 222.7 g/m2, 732.4 kC/m2 at full efficiency
    assert found.deposit == pytest.approx(25e-6 * 8908.0)
    assert found.charge == pytest.approx(found.deposit / 58.6934e-3 * 2.0 * 96485.33212 / 0.95)
    # anodes at full efficiency bring 1/0.95 of what is plated: above the loss the bath grows richer
    assert found.dissolved == pytest.approx(found.deposit / 0.95)
    assert found.added == pytest.approx(found.deposit * (1.0 - 1.0 / 0.95) + 1.5e-4 * 75.0 * 0.7)


def test_energy_by_hand() -> None:
    # 2000 A at 9 V for 15 min through a rectifier of 85 %: 5.294 kWh
    assert float(rinse.energy(2000.0, 9.0, 900.0, 0.85)) / 3.6e6 == pytest.approx(5.294, abs=1e-3)
