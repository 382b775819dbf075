"""The quasi-static twin tube: laws, limits, and a slow second route by brentq."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from firstoff.physics import status
from firstoff.physics.damper.mixture import density_and_compressibility
from firstoff.physics.damper.oil import mixture_density
from firstoff.physics.damper.twin_tube import VALVES, build_rows, circle_area, curve, oil_rows
from firstoff.physics.damper.twin_tube_kernel import curve_kernel
from firstoff.physics.damper.valve import VALVE_FIELDS, flow, valve_row

P_ATM = 101325.0
SPEEDS = np.array([-1.5, -1.0, -0.52, -0.26, -0.13, -0.05, -0.01, 0.0, 0.01, 0.05, 0.13, 0.26, 0.52, 1.0, 1.5])
NOMINAL = np.stack(
    [
        valve_row(bleed_area=1.4e-6, disc_perimeter=0.069, disc_compliance=6e-11, disc_preload=3.5e5, port_area=1.5e-5,
                  relief_seat_area=4e-5, relief_preload=84.0, relief_rate=1.1e5, relief_perimeter=0.022,
                  relief_max_lift=6e-4, bleed_a=4e4),
        valve_row(bleed_area=1.4e-6, disc_perimeter=0.082, disc_compliance=5e-10, disc_preload=2e4, port_area=3.8e-5,
                  disc_stiffening=3.5e6),
        valve_row(bleed_area=5e-7, disc_perimeter=0.05, disc_compliance=2.5e-11, disc_preload=2.5e5, port_area=8e-6,
                  relief_seat_area=2e-5, relief_preload=55.0, relief_rate=1.5e5, relief_perimeter=0.0157,
                  relief_max_lift=5e-4, port_a=1e4),
        valve_row(bleed_area=5e-7, disc_perimeter=0.0628, disc_compliance=2e-9, disc_preload=5e3, port_area=6e-5,
                  disc_stiffening=7e6, disc_lift_stop=4e-4),
    ]
)  # fmt: skip
SCALES = st.lists(st.floats(-0.7, 0.7), min_size=60, max_size=60).map(lambda x: np.exp(np.array(x)).reshape(4, 15))
OILS = st.builds(
    oil_rows,
    st.floats(800.0, 900.0),
    st.floats(0.0, 0.3),
    st.sampled_from([0.0, 1 / 1.5e9]),
    st.sampled_from([0.0, 1e-9, 1e-4, 0.01, 0.05, 0.2]),
    st.sampled_from([1.0, 1.3]),
)
GAS = st.floats(1.1e5, 9e5)


def damper(gas: float = 6e5, **more: Any) -> np.ndarray:
    return build_rows(0.032, 0.0125, gas, 0.7, **more)


def slow_pressures(v: float, build: np.ndarray, valves: np.ndarray, oil: np.ndarray) -> tuple[float, float]:
    """Nested brentq over the two mass balances, density from the NumPy formula."""
    piston, rod, leak, cd, p_res = build[:5]
    valves = valves.copy()
    valves[:2, 0] += leak
    mu = oil[1]

    def rho(p: float) -> float:
        return float(mixture_density(p, oil[0], oil[2], oil[3], oil[4]))

    def solve(residual: Any, low: float, high: float) -> float:
        return float(brentq(residual, low, high, xtol=1e-9, rtol=1e-14, maxiter=500))

    def through(i: int, up: float, down: float) -> float:
        return rho(up) * flow(up - down, valves[i], rho(up), mu, cd)

    ring, swept, top = (piston - rod) * abs(v), piston * abs(v), 1e10
    if v > 0:

        def above(p_c: float) -> float:
            return solve(lambda p: through(0, p, p_c) - rho(p) * ring, p_c, top)

        def balance(p_c: float) -> float:
            fed = through(3, p_res, p_c) - through(2, p_c, p_res)
            return fed + rho(above(p_c)) * ring - rho(p_c) * swept

        p_c = solve(balance, 1e-5, 1e8)
        return above(p_c), p_c

    def behind(p_c: float) -> float:
        return solve(lambda p: through(1, p_c, p) - rho(p) * ring, 1e-7, p_c)

    p_c = solve(lambda p: through(2, p, p_res) + rho(behind(p)) * ring - rho(p) * swept, p_res, top)
    return behind(p_c), p_c


@settings(max_examples=25, deadline=None)
@given(SCALES, st.sampled_from([1e-4, 0.01, 0.05, 0.2]), st.sampled_from([1.0, 1.3]), GAS, st.floats(0.0, 0.05))
def test_kernel_agrees_with_nested_brentq(scale: np.ndarray, gas: float, n: float, p: float, mu: float) -> None:
    """Second route: SciPy's brentq on the same balances, with the NumPy density."""
    oil, build, valves = oil_rows(860.0, mu, 1 / 1.5e9, gas, n), damper(p, leak_area=2e-7), NOMINAL * scale
    speeds = np.array([-1.0, -0.1, 0.1, 1.0])
    found = curve(speeds, build, valves[np.newaxis], oil)
    for j, v in enumerate(speeds):
        p_r, p_c = slow_pressures(v, build[0], valves, oil[0])
        assert found.p_rebound[0, j] == pytest.approx(p_r, rel=1e-6, abs=0.1)
        assert found.p_compression[0, j] == pytest.approx(p_c, rel=1e-6, abs=0.1)


@settings(deadline=None)
@given(SCALES, OILS, GAS)
def test_force_rises_with_speed(scale: np.ndarray, oil: np.ndarray, gas: float) -> None:
    found = curve(SPEEDS, damper(gas), (NOMINAL * scale)[np.newaxis], oil)
    assert not found.status[0] & (status.NO_VALUE | status.NOT_CONVERGED)
    slack = 1e-7 * np.abs(found.force).max()
    # once a chamber holds only foam or void a faster rod adds next to nothing
    assert np.all(np.diff(found.force[0]) >= -slack)


@settings(deadline=None)
@given(SCALES, OILS.filter(lambda oil: oil[0, 3] > 0), GAS)
def test_pressure_stays_above_zero_in_oil_with_gas(scale: np.ndarray, oil: np.ndarray, gas: float) -> None:
    found = curve(np.array([-8.0, -3.0, 3.0, 8.0]), damper(gas), (NOMINAL * scale)[np.newaxis], oil)
    assert found.p_rebound.min() > 0.0
    assert found.p_compression.min() > 0.0


@settings(deadline=None)
@given(SCALES, OILS.filter(lambda oil: oil[0, 3] >= 1e-4), GAS)
def test_mass_is_balanced(scale: np.ndarray, oil: np.ndarray, gas: float) -> None:
    """Each chamber's own volume change, at its own density, equals what its valves carry."""
    build, valves = damper(gas), NOMINAL * scale
    found = curve(SPEEDS, build, valves[np.newaxis], oil)
    piston, rod, cd, mu = build[0, 0], build[0, 1], 0.7, oil[0, 1]

    def through(i: int, up: float, down: float) -> float:
        density = density_and_compressibility(up, oil[0])[0]
        return density * flow(up - down, valves[i], density, mu, cd)

    for v, p_r, p_c in zip(SPEEDS, found.p_rebound[0], found.p_compression[0], strict=True):
        rho_r, rho_c = (density_and_compressibility(p, oil[0])[0] for p in (p_r, p_c))
        piston_flow = through(0, p_r, p_c) - through(1, p_c, p_r)
        base_flow = through(3, gas, p_c) - through(2, p_c, gas)
        scale_of = rho_r * piston * abs(v) + 1e-30
        assert abs(piston_flow - rho_r * (piston - rod) * v) <= 1e-5 * scale_of
        assert abs(piston_flow + base_flow - rho_c * piston * v) <= 1e-5 * scale_of


@settings(deadline=None)
@given(SCALES, st.floats(1.0, 3.0))
def test_more_bleed_is_softer_at_low_speed(scale: np.ndarray, factor: float) -> None:
    valves = np.stack([NOMINAL * scale, NOMINAL * scale])
    valves[1, :, 0] *= factor
    found = curve(np.array([-0.05, -0.02, 0.02, 0.05]), damper(), valves, oil_rows(860.0, 0.01))
    gas_force = -(6e5 - P_ATM) * circle_area(0.0125)
    less, more = np.abs(found.force - gas_force)
    assert np.all(more <= less * (1 + 1e-8))


def test_holes_alone_give_an_exactly_quadratic_force() -> None:
    """Fixed turbulent holes: F - F_gas = c v^2, c in closed form from the orifice equation."""
    areas = np.array([2e-6, 9e-6, 1e-6, 4e-6])
    valves = np.stack([valve_row(bleed_area=area) for area in areas])
    v = np.array([-0.2, -0.1, 0.1, 0.2])
    found = curve(v, damper(), valves[np.newaxis], oil_rows(860.0))
    piston, rod = circle_area(0.032), circle_area(0.0125)
    k = 860.0 / (2 * 0.7**2)
    out = k * ((piston - rod) ** 3 / areas[0] ** 2 + rod**3 / areas[3] ** 2)
    into = k * ((piston - rod) ** 3 / areas[1] ** 2 + rod**3 / areas[2] ** 2)
    expected = np.where(v > 0, out, -into) * v**2 - (6e5 - P_ATM) * rod
    np.testing.assert_allclose(found.force[0], expected, rtol=1e-12)
    assert found.status[0] == status.OK


def test_at_rest_only_the_gas_pushes_and_friction_has_the_sign_of_speed() -> None:
    found = curve(np.array([-0.1, 0.0, 0.1]), damper(), NOMINAL[np.newaxis], oil_rows(860.0))
    rubbed = curve(np.array([-0.1, 0.0, 0.1]), damper(friction=35.0), NOMINAL[np.newaxis], oil_rows(860.0))
    assert found.force[0, 1] == pytest.approx(-(6e5 - P_ATM) * circle_area(0.0125), rel=1e-12)
    np.testing.assert_allclose(rubbed.force - found.force, [[-35.0, 0.0, 35.0]], atol=1e-9)


@settings(deadline=None)
@given(st.floats(5e5, 9e5), st.floats(0.0, 2e5))
def test_gas_pressure_shifts_the_whole_curve(gas: float, more: float) -> None:
    """Incompressible oil: every pressure rises by the gas pressure's own rise, the force by -dp Ar."""
    speeds = np.array([-0.5, 0.0, 0.5])
    a, b = (curve(speeds, damper(p), NOMINAL[np.newaxis], oil_rows(860.0)) for p in (gas, gas + more))
    np.testing.assert_allclose(b.force - a.force, np.full((1, 3), -more * circle_area(0.0125)), atol=1e-6)
    np.testing.assert_allclose(b.p_rebound - a.p_rebound, np.full((1, 3), more), atol=1e-2)


def test_little_gas_and_little_compression_approach_the_incompressible_curve() -> None:
    """First order: halving the gas halves the distance."""
    plain = curve(SPEEDS, damper(), NOMINAL[np.newaxis], oil_rows(860.0, 0.01)).force
    off = [
        np.abs(curve(SPEEDS, damper(), NOMINAL[np.newaxis], oil_rows(860.0, 0.01, 0.0, x)).force - plain).max()
        for x in (4e-4, 2e-4, 1e-4)
    ]
    assert off[0] / off[1] == pytest.approx(2.0, rel=0.02)
    assert off[1] / off[2] == pytest.approx(2.0, rel=0.02)


def test_starved_chamber_is_held_at_vapour_pressure_and_reported() -> None:
    """A blocked intake: the compression chamber voids in rebound, and the force follows from that pressure."""
    valves = NOMINAL.copy()
    valves[3] = valve_row(bleed_area=1e-9)
    build = damper(vapour_pressure=500.0)
    found = curve(np.array([0.5]), build, valves[np.newaxis], oil_rows(860.0))
    assert found.p_compression[0, 0] == 500.0
    assert found.status[0] == status.CAVITATING
    q = (circle_area(0.032) - circle_area(0.0125)) * 0.5
    assert flow(found.p_rebound[0, 0] - 500.0, valves[0], 860.0, 0.0, 0.7) == pytest.approx(q, rel=1e-9)


def test_void_above_the_piston_sends_the_rest_through_the_base_valve() -> None:
    """A blocked check valve in compression: Ap v = Q_base + Q_check(p_c - p_vapour)."""
    valves = NOMINAL.copy()
    valves[1] = valve_row(bleed_area=2e-7)
    found = curve(np.array([-0.5]), damper(vapour_pressure=500.0), valves[np.newaxis], oil_rows(860.0))
    p_c = found.p_compression[0, 0]
    assert found.p_rebound[0, 0] == 500.0
    assert found.status[0] & status.CAVITATING
    carried = flow(p_c - 6e5, valves[2], 860.0, 0.0, 0.7) + flow(p_c - 500.0, valves[1], 860.0, 0.0, 0.7)
    assert carried == pytest.approx(circle_area(0.032) * 0.5, rel=1e-9)


def test_locked_and_impossible_builds_have_no_value_and_spoil_no_neighbour() -> None:
    locked = NOMINAL.copy()
    locked[0] = valve_row()
    wrong = NOMINAL.copy()
    wrong[2, 0] = -1e-6
    unknown = NOMINAL.copy()
    unknown[1, 4] = math.nan
    found = curve(np.array([-0.1, 0.1]), damper(), np.stack([locked, wrong, unknown, NOMINAL]), oil_rows(860.0))
    assert np.all(found.status[:3] & status.NO_VALUE)
    assert found.status[3] == status.OK
    assert np.isnan(found.force[:3]).any(axis=1).all()
    assert np.isfinite(found.force[3]).all()


def test_oil_mostly_gas_without_charge_still_has_an_answer() -> None:
    """Foam at ambient pressure: the chamber is overfilled and the base valve lets oil out in rebound."""
    found = curve(SPEEDS, damper(P_ATM), NOMINAL[np.newaxis], oil_rows(860.0, 0.01, 1 / 1.5e9, 0.4))
    assert not found.status[0] & (status.NO_VALUE | status.NOT_CONVERGED)
    assert found.p_compression[0, -1] > P_ATM


def test_pressure_beside_the_reserve_is_found_too() -> None:
    """At this build both base valves stand next to closed, where flow over pressure has an endless slope."""
    valves = NOMINAL.copy()
    valves[0, 3] *= math.exp(0.5)
    valves[3, 0] *= math.exp(0.5)
    found = curve(np.array([0.05]), damper(1.1e5), valves[np.newaxis], oil_rows(800.0, 0.0, 0.0, 0.2))
    assert found.status[0] == status.OK
    p_r, p_c = slow_pressures(0.05, damper(1.1e5)[0], valves, oil_rows(800.0, 0.0, 0.0, 0.2)[0])
    assert found.p_rebound[0, 0] == pytest.approx(p_r, rel=1e-7)
    assert found.p_compression[0, 0] == pytest.approx(p_c, rel=1e-7)


def test_shapes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="valves"):
        curve(SPEEDS, damper(), NOMINAL, oil_rows(860.0))
    with pytest.raises(ValueError, match="number"):
        curve(SPEEDS, damper(), np.stack([NOMINAL] * 3), oil_rows(np.array([860.0, 850.0])))
    with pytest.raises(ValueError, match="speeds"):
        curve(np.array([math.nan]), damper(), NOMINAL[np.newaxis], oil_rows(860.0))


def test_results_do_not_depend_on_the_chunk() -> None:
    valves = NOMINAL * np.exp(0.1 * np.random.default_rng(3).standard_normal((9, *NOMINAL.shape)))
    whole = curve(SPEEDS, damper(), valves, oil_rows(860.0, 0.01, 0.0, 0.02))
    parts = [curve(SPEEDS, damper(), valves[i : i + 2], oil_rows(860.0, 0.01, 0.0, 0.02)) for i in range(0, 9, 2)]
    assert np.array_equal(whole.force, np.concatenate([part.force for part in parts]))


def test_kernel_fields_are_in_the_order_of_their_names() -> None:
    assert len(VALVE_FIELDS) == NOMINAL.shape[1]
    assert len(VALVES) == NOMINAL.shape[0]
    assert len(curve_kernel.signatures) == 1
