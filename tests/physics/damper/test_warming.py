"""A damper that heats itself: closed forms of the first-order heat balance, and SciPy's integrator."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from test_dynamic import NOMINAL, body

from firstoff.physics.damper.dynamic_loops import loops
from firstoff.physics.damper.motion import sine
from firstoff.physics.damper.oil import dynamic_viscosity, kinematic_viscosity, liquid_density
from firstoff.physics.damper.twin_tube import build_rows, oil_rows
from firstoff.physics.damper.warming import heat_capacity, over_time, warm_up

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


def test_damper_fades_as_its_oil_thins_and_its_heat_finds_its_way_out() -> None:
    """The whole way: loops at node temperatures, their power, the warm-up, the force over it."""
    nodes = np.array([283.15, 303.15, 333.15, 373.15, 413.15])
    rho = liquid_density(nodes, 865.0, 7.5e-4)
    mu = dynamic_viscosity(kinematic_viscosity(nodes, 313.15, 12.5e-6, 373.15, 3.1e-6), rho)
    gas = 6e5 * nodes / 298.15
    motion = sine(0.05, 0.52, 128)
    found = loops(motion, build_rows(0.032, 0.0125, gas, 0.7), NOMINAL[np.newaxis], oil_rows(rho, mu, 1 / 1.5e9, 0.002),
                  body(gas_exponent=1.2))  # fmt: skip
    power = found.numbers["energy"].T / motion.time[0, -1]
    times = np.linspace(0.0, 3600.0, 25)
    warm = warm_up(times, nodes, power, heat_capacity(260e-6, 865.0, 1.5), 2.5, 298.15, 298.15)
    assert np.all(np.diff(warm.temperature[0]) > 0) and warm.temperature[0, -1] < warm.steady[0]
    force = over_time(nodes, found.numbers["mid_rebound"].T, warm.temperature)[0]
    assert np.all(np.diff(force) < 0)  # thinner oil, and a gas that pushes harder
    # first order: heat in is what warms the lump and what the air takes
    heat = np.trapezoid(over_time(nodes, power, warm.temperature)[0], times)
    lost = 2.5 * np.trapezoid(warm.temperature[0] - 298.15, times)
    kept = float(heat_capacity(260e-6, 865.0, 1.5)) * (warm.temperature[0, -1] - 298.15)
    assert heat == pytest.approx(lost + kept, rel=2e-3)


def test_heat_capacity_of_oil_and_steel() -> None:
    # from memory: mineral oil 1.9 kJ/(kg K), steel 0.48 kJ/(kg K)
    assert heat_capacity(260e-6, 860.0, 1.2) == pytest.approx(0.2236 * 1900.0 + 1.2 * 480.0)


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="node"):
        warm_up(TIMES, NODES, np.ones((1, 4)), 1.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="times"):
        warm_up(TIMES[::-1], NODES, np.ones((1, 5)), 1.0, 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="column"):
        over_time(NODES, np.ones((1, 4)), np.ones((1, 3)))
    with pytest.raises(ValueError, match="capacity"):
        warm_up(TIMES, NODES, np.ones((1, 5)), 0.0, 1.0, 1.0, 1.0)
