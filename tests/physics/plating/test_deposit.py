"""Deposits against Faraday's law by hand and against what standards print."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.physics.plating import deposit, faraday

NICKEL = deposit.Bath(faraday.metals()["Ni"], 0.97, 10.0, 900.0)
CHROME = deposit.Bath(faraday.metals()["Cr(VI)"], 0.25, 500.0, 4000.0)


def test_thickness_is_the_charge_that_is_left_for_metal() -> None:
    # by hand: 0.25 (1500 - 500) A/m2 for 180 s through M/(6 F rho)
    wanted = 0.25 * 1000.0 * 180.0 * 51.9961e-3 / (6.0 * 96485.33212 * 7190.0)
    assert float(deposit.thickness(1500.0, 180.0, CHROME)) == pytest.approx(wanted, rel=1e-12)
    assert float(deposit.efficiency(1500.0, CHROME)) == pytest.approx(0.25 * 2.0 / 3.0)


def test_efficiency_keeps_its_bounds_and_rises() -> None:
    i = np.concatenate([[0.0], np.logspace(-3, 5, 200)])
    for bath in (NICKEL, CHROME):
        eta = deposit.efficiency(i, bath)
        assert np.all(np.diff(eta) >= 0.0) and eta[0] == 0.0 and eta[-1] < float(bath.efficiency)


def test_current_for_a_thickness_gives_it_back() -> None:
    i = deposit.current_for(np.array([10e-6, 20e-6]), 2400.0, NICKEL)
    assert deposit.thickness(i, 2400.0, NICKEL) == pytest.approx([10e-6, 20e-6], rel=1e-12)
    with pytest.raises(ValueError, match="burn"):
        deposit.current_for(40e-6, 600.0, NICKEL)


def test_chromium_leaves_recesses_bare_and_burns_edges() -> None:
    found = deposit.state(np.array([300.0, 1500.0, 5000.0]), CHROME)
    assert found.tolist() == [deposit.BARE, deposit.COVERED, deposit.BURNT]
    assert deposit.thickness(300.0, 180.0, CHROME) == 0.0


def test_what_a_service_condition_asks_for() -> None:
    # ASTM B456 as reprinted in a finishing guidebook: SC 4 is Fe/Ni40d Cr r or Fe/Ni30d Cr mc, mp; SC 5 Fe/Ni35d
    four = deposit.coatings_for(4)
    assert {(c.nickel_type, round(c.nickel * 1e6), c.chromium_type) for c in four} == {
        ("d", 40, "r"), ("d", 30, "mc"), ("d", 30, "mp"),
    }  # fmt: skip
    least = [min(c.nickel for c in deposit.coatings_for(n)) for n in (1, 2, 3, 4, 5)]
    assert least == sorted(least)
    with pytest.raises(ValueError, match="1 to 5"):
        deposit.coatings_for(6)


def test_what_is_missing_is_the_worst_of_three() -> None:
    asked = deposit.coatings_for(4)[1]  # 30 um double, 0.25 um chromium
    nickel = deposit.double_nickel(np.array([20e-6, 18e-6, 10e-6, 20e-6]), np.array([12e-6, 9e-6, 20e-6, 12e-6]))
    lack = deposit.short_of(asked, nickel, np.array([0.3e-6, 0.3e-6, 0.3e-6, 0.2e-6]))
    assert lack == pytest.approx([0.0, 0.1, 1.0 - (1.0 / 3.0) / 0.6, 0.2])


def test_hydrogen_relief_by_strength() -> None:
    assert deposit.hydrogen_relief(600e6) is None
    soft, hard = deposit.hydrogen_relief(1050e6), deposit.hydrogen_relief(1450e6)
    assert soft is not None and hard is not None
    assert (soft.time, hard.time) == (8 * 3600.0, 16 * 3600.0)
    with pytest.raises(ValueError, match="agree"):
        deposit.hydrogen_relief(1900e6)
