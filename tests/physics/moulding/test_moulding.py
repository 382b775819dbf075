"""Moulding and powder against a finite-volume slab and laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import erfc

from firstoff.physics.moulding import cooling, force, grades, powder


def test_series_against_a_slab_of_cells() -> None:
    # method of lines, 100 cells over half the slab, SciPy's stiff solver: an independent solution of the heat equation
    n, fo = 100, 0.2
    step = 1.0 / n

    def rates(_: float, y: np.ndarray) -> np.ndarray:
        inner = (y[2:] - 2.0 * y[1:-1] + y[:-2]) / step**2
        cold = (y[1] - 3.0 * y[0]) / step**2  # the cold face is half a cell away
        return np.concatenate([[cold], inner, [(y[-2] - y[-1]) / step**2]])

    y = solve_ivp(rates, (0.0, fo), np.ones(n), method="BDF", rtol=1e-8, atol=1e-10).y[:, -1]
    assert float(cooling.mean_left(fo)) == pytest.approx(float(y.mean()), rel=2e-4)
    assert float(cooling.centre_left(fo)) == pytest.approx(float(y[-1]), rel=2e-4)


def test_series_at_short_times_is_the_half_space() -> None:
    fo = 0.01
    assert float(cooling.mean_left(fo)) == pytest.approx(1.0 - 2.0 * math.sqrt(fo / math.pi), rel=1e-6)
    assert float(cooling.centre_left(fo)) == pytest.approx(1.0 - 2.0 * erfc(0.5 / math.sqrt(fo)), rel=1e-9)


def test_times_and_temperatures_belong_together() -> None:
    for centre in (False, True):
        law = cooling.centre_left if centre else cooling.mean_left
        for eject in (60.0, 90.0, 150.0, 215.0):
            t = cooling.series_time(2.5e-3, 8.5e-8, 230.0, 50.0, eject, centre)
            left = float(law(8.5e-8 * t / (1.25e-3) ** 2))
            assert 50.0 + left * 180.0 == pytest.approx(eject, rel=1e-9)
    assert cooling.one_term_time(2.5e-3, 8.5e-8, 230.0, 50.0, 225.0) is None
    with pytest.raises(ValueError, match="between"):
        cooling.series_time(2.5e-3, 8.5e-8, 230.0, 50.0, 40.0)


def test_heckel_there_and_back() -> None:
    p = np.array([150e6, 400e6, 700e6])
    rho = powder.heckel_density(p, 2.7e-9, 0.72, 7860.0)
    assert powder.heckel_pressure(rho, 2.7e-9, 0.72, 7860.0) == pytest.approx(p, rel=1e-12)
    for target, words in ((7900.0, "full density"), (3000.0, "no pressure")):
        with pytest.raises(ValueError, match=words):
            powder.heckel_pressure(target, 2.7e-9, 0.72, 7860.0)


def test_sintering_keeps_the_mass() -> None:
    # a cylinder, weighed and measured before and after
    d, h, rho, loss, ed, eh = 24e-3, 10e-3, 6800.0, 0.0075, 0.001, 0.002
    volume = math.pi / 4.0 * d**2 * h
    after = math.pi / 4.0 * (d * (1 + ed)) ** 2 * h * (1 + eh)
    assert float(powder.sintered_density(rho, loss, ed, eh)) == pytest.approx(
        rho * volume * (1 - loss) / after, rel=1e-12
    )


def test_oil_of_a_known_part() -> None:
    # a part put together from metal, pores and oil
    volume, pores, metal = 2e-6, 0.13, 7800.0
    dry = volume * (1 - pores) * metal
    oiled = dry + volume * pores * 880.0
    rho, found = powder.oil_impregnated(dry, oiled, oiled - volume * 998.0, 998.0, 880.0)
    assert float(rho) == pytest.approx(metal * (1 - pores)) and float(found) == pytest.approx(pores)


def test_force_of_a_disc_and_a_ring() -> None:
    disc = float(force.ring_press_force(550e6, 24e-3, 0.0))
    hole = float(force.ring_press_force(550e6, 8e-3, 0.0))
    assert float(force.ring_press_force(550e6, 24e-3, 8e-3)) == pytest.approx(disc - hole)


@pytest.mark.parametrize(
    ("code", "alloy", "nominal", "carbon", "treated"),
    # ranges and codes read in a public material chart of MPIF 35
    [
        ("FC-0205-45", "copper", 2, 0.5, False),
        ("FN-0405-115HT", "nickel", 4, 0.5, True),
        ("F-0008-30", None, 0, 0.8, False),
    ],
)
def test_grade_codes(code: str, alloy: str | None, nominal: int, carbon: float, treated: bool) -> None:
    grade = grades.read_code(code)
    assert (grade.alloy, grade.alloy_nominal, grade.carbon_nominal, grade.heat_treated) == (
        alloy,
        nominal,
        carbon,
        treated,
    )
    assert grade.carbon_range is not None and grade.carbon_range[0] <= carbon <= grade.carbon_range[1]


@pytest.mark.parametrize("code", ["FL-4405-100HT", "SS-316N1-25", "FC208", "F-0208-50", ""])
def test_codes_it_cannot_read(code: str) -> None:
    with pytest.raises(ValueError, match="form|family|no alloy"):
        grades.read_code(code)
