"""A damper that heats itself: closed forms of the first-order heat balance, and SciPy's integrator."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from firstoff.physics.warming import heat_capacity, warm_up

NODES = np.array([273.0, 313.0, 353.0, 393.0, 433.0])
TIMES = np.array([0.0, 30.0, 120.0, 600.0, 3600.0])


def test_constant_power_is_an_exponential() -> None:
    """T = T_air + P/G (1 - exp(-G t/C)) (textbook)."""
    power, capacity, loss, air = 120.0, 900.0, 1.6, 295.0
    found = warm_up(TIMES, NODES, np.full((1, 5), power), capacity, loss, air, air)
    expected = air + power / loss * (1.0 - np.exp(-loss * TIMES / capacity))
    np.testing.assert_allclose(found.temperature[0], expected, rtol=1e-12)
    assert found.steady[0] == pytest.approx(air + power / loss)


def test_falling_power_follows_scipy() -> None:
    power = np.array([[160.0, 130.0, 118.0, 112.0, 110.0], [20.0, 15.0, 12.0, 11.0, 10.0]])
    loss, air, start = np.array([1.1, 0.9]), 296.0, np.array([290.0, 380.0])
    found = warm_up(TIMES, NODES, power, 850.0, loss, air, start)
    for i in range(2):
        slow = solve_ivp(
            lambda _, y, i=i: (np.interp(y, NODES, power[i]) - loss[i] * (y - air)) / 850.0, (0.0, 3600.0), [start[i]],
            t_eval=TIMES, rtol=1e-10, atol=1e-8, max_step=5.0,
        )  # fmt: skip
        np.testing.assert_allclose(found.temperature[i], slow.y[0], atol=1e-4)
        balance = np.interp(found.steady[i], NODES, power[i]) - loss[i] * (found.steady[i] - air)
        assert balance == pytest.approx(0.0, abs=1e-9)


def test_without_loss_heat_is_kept() -> None:
    found = warm_up(TIMES[:4], NODES, np.full((1, 5), 100.0), 1000.0, 0.0, 290.0, 290.0)
    np.testing.assert_allclose(found.temperature[0] - 290.0, 0.1 * TIMES[:4])
    assert np.isnan(found.steady[0])


def test_beyond_the_nodes_there_is_no_value() -> None:
    found = warm_up(TIMES, NODES, np.full((2, 5), 500.0), 500.0, 0.1, 290.0, np.array([290.0, 500.0]))
    assert np.isfinite(found.temperature[0, :3]).all()
    assert np.isnan(found.temperature[0, -1])
    assert np.isnan(found.temperature[1]).all()


def test_heat_capacity_of_oil_and_steel() -> None:
    # from memory: mineral oil 1.9 kJ/(kg K), steel 0.48 kJ/(kg K)
    assert heat_capacity(260e-6, 860.0, 1.2) == pytest.approx(0.2236 * 1900.0 + 1.2 * 480.0)


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="node"):
        warm_up(TIMES, NODES, np.ones((1, 4)), 1.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="times"):
        warm_up(TIMES[::-1], NODES, np.ones((1, 5)), 1.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="capacity"):
        warm_up(TIMES, NODES, np.ones((1, 5)), 0.0, 1.0, 1.0, 1.0)
