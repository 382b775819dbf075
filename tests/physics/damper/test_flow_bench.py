"""The flow bench against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.physics.damper.flow_bench import bench_flow
from firstoff.physics.damper.valve import flow, valve_row


def test_narrow_notch_at_low_pressure_is_flow_between_parallel_plates() -> None:
    # textbook (Hagen-Poiseuille between plates): Q = w h^3 dp / (12 mu L)
    w, h, length, mu, dp = 1.8e-3, 0.05e-3, 1e-3, 13e-3, 100.0
    row = valve_row(bleed_area=w * h, bleed_a=12.0 * length / h**2)
    found = bench_flow(dp, row[None], 0.0, 850.0, mu, 0.7)
    assert found[0] == pytest.approx(w * h**3 * dp / (12.0 * mu * length), rel=1e-3)


def test_sharp_hole_is_an_orifice_and_a_leak_adds_its_area() -> None:
    # textbook: Q = Cd A sqrt(2 dp / rho)
    dp = np.array([1e4, 1e5, 1e6])
    rows = np.tile(valve_row(bleed_area=1e-6), (3, 1))
    want = 0.7 * 1.5e-6 * np.sqrt(2.0 * dp / 850.0)
    assert bench_flow(dp, rows, 0.5e-6, 850.0, 0.013, 0.7) == pytest.approx(want, rel=1e-12)


def test_each_valve_is_the_valve_law_of_its_own_row() -> None:
    # the scalar kernel is checked in test_valve.py; here that rows, leaks and oils are not mixed up
    rng = np.random.default_rng(3)
    rows = np.array([
        valve_row(bleed_area=a, bleed_a=2e5, disc_perimeter=0.06, disc_compliance=1e-11, disc_preload=2e5,
                  port_area=1e-5, port_a=1e4)
        for a in rng.uniform(1e-7, 1e-6, 5)
    ])  # fmt: skip
    dp, rho, mu, cd = (rng.uniform(*ends, 5) for ends in ((1e4, 1e6), (800, 900), (0.005, 0.02), (0.6, 0.8)))
    want = [flow(dp[i], rows[i], rho[i], mu[i], cd[i]) for i in range(5)]
    before = rows.copy()
    assert bench_flow(dp, rows, 0.0, rho, mu, cd) == pytest.approx(want)
    assert np.array_equal(rows, before)


def test_nothing_passes_without_pressure_and_wrong_shapes_are_refused() -> None:
    assert bench_flow(0.0, valve_row(bleed_area=1e-6)[None], 0.0, 850.0, 0.013, 0.7)[0] == 0.0
    with pytest.raises(ValueError, match="shape"):
        bench_flow(1e5, np.zeros((2, 3)), 0.0, 850.0, 0.013, 0.7)
