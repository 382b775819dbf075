"""Work done on a damper comes back as heat, or is held."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from test_dynamic import HARD, HOLES, NOMINAL, OIL, SCALES, STARVED, body, damper, half_of

from firstoff.physics.damper.dynamic import trace
from firstoff.physics.damper.dynamic_energy import energy, potential
from firstoff.physics.damper.motion import Motion, road, sine
from firstoff.physics.damper.oil import mixture_density
from firstoff.physics.damper.twin_tube import oil_rows


def gap(motion: Motion, valves: np.ndarray, oil: np.ndarray = OIL, build: Any = None, **more: Any) -> Any:
    build = damper() if build is None else build
    found = trace(motion, build, valves[np.newaxis], oil, body(**more), 1.0)
    return energy(found, build, oil, body(**more)), found


@pytest.mark.parametrize(
    "valves", [NOMINAL, HOLES, STARVED, HARD], ids=["ordinary", "holes", "starved", "stiff relief"]
)
@pytest.mark.parametrize("oil", [oil_rows(860.0, 0.01, 1 / 1.5e9), OIL, oil_rows(860.0, 0.01, 1 / 1.5e9, 0.1, 1.3)],
                         ids=["no gas", "gas", "much gas"])  # fmt: skip
def test_work_is_heat_over_a_settled_cycle(valves: np.ndarray, oil: np.ndarray) -> None:
    found, _ = gap(sine(0.05, np.array([0.13, 1.04]), 1024), valves, oil, damper(friction=30.0),
                   friction_stiffness=2e5, gas_exponent=1.3)  # fmt: skip
    assert np.abs(found.gap).max() < 1e-4
    assert np.abs(found.stored / found.work).max() < 1e-4
    assert np.all(found.valves > 0)
    assert found.friction == pytest.approx(4 * 30.0 * 0.05, rel=0.02)


@settings(max_examples=25, deadline=None)
@given(SCALES, st.sampled_from([0.0, 1e-3, 0.05]), st.floats(1.5e5, 9e5))
def test_balance_holds_for_any_damper(scale: np.ndarray, gas: float, p: float) -> None:
    oil = oil_rows(860.0, 0.01, 1 / 1.5e9, gas)
    found, _ = gap(sine(0.05, np.array([0.3, 1.5]), 1024), NOMINAL * scale, oil, damper(p), gas_exponent=1.2)
    assert np.abs(found.gap).max() < 1e-4


def test_from_rest_what_is_missing_is_held() -> None:
    """Half a cycle from rest ends fully out: the gas has given work, stops and mounts hold some."""
    held = {
        "mount_rate": 1e6,
        "mount_damping": 2e3,
        "rebound_gap": 0.04,
        "rebound_rate": 1e5,
        "rebound_progress": 100.0,
    }
    found, kept = gap(half_of(sine(0.05, 0.5, 2048)), NOMINAL, **held, gas_exponent=1.2)
    assert np.abs(found.gap).max() < 1e-4
    squeezed = kept.travel[0, 0, -1] - 0.04
    assert found.stored[0, 0] > 1e5 * squeezed**2 / 2 - 7.0  # less what the gas gave
    assert found.mounts[0, 0] > 0


def test_road_is_balanced_too() -> None:
    motion = road(64e-6, 20.0, (300.0, 35.0, 20e3, 1500.0, 180e3), 2.0, 8192, seed=4)
    found, _ = gap(motion, NOMINAL, gas_exponent=1.2)
    assert np.abs(found.gap).max() < 1e-4


@pytest.mark.parametrize(("gas", "n"), [(0.0, 1.0), (0.05, 1.0), (0.05, 1.3)])
def test_potential_is_the_integral_of_volume_over_pressure(gas: float, n: float) -> None:
    """dw = dp/s, by SciPy's quadrature on the NumPy density; bubbles of n > 1 leave out a square of compression."""
    oil = oil_rows(860.0, 0.0, 1 / 1.5e9, gas, n)
    expected = quad(lambda p: 1 / float(mixture_density(p, 1.0, 1 / 1.5e9, gas, n)), 2e4, 5e6, epsrel=1e-11)[0]
    w = potential(np.array([[2e4, 5e6]]), oil)
    assert w[0, 1] - w[0, 0] == pytest.approx(expected, rel=5e-8)
