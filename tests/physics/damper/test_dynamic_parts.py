"""What a real damper adds: late discs, mounts, friction, stops, gas where oil should be."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_dynamic import BENT, HOLES, NOMINAL, OIL, P_ATM, PISTON, ROD, WIDE, body, damper, half_of, run

from firstoff.physics.damper.chamber import harmonic_response
from firstoff.physics.damper.dynamic_flow import late_flow, lifted_flow
from firstoff.physics.damper.dynamic_loops import loops
from firstoff.physics.damper.dynamic_state import (
    friction_force,
    gas_share,
    oil_share,
    pressure_of_oil,
    sliding_friction,
    stop_force,
)
from firstoff.physics.damper.mixture import density_and_compressibility
from firstoff.physics.damper.motion import programme, sine, triangle
from firstoff.physics.damper.orifice import speed_and_slope
from firstoff.physics.damper.twin_tube import oil_rows
from firstoff.physics.damper.valve import flow_and_slope, valve_row

SHUT = np.stack([valve_row(bleed_area=1e-12)] * 4)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([0.0, 1e-4, 0.01, 0.2]), st.sampled_from([1.0, 1.3]), st.floats(3.0, 7.0))
def test_pressure_of_oil_turns_the_density_law_round(gas: float, n: float, log_p: float) -> None:
    oil, p, g = oil_rows(860.0, 0.0, 1 / 1.5e9, gas, n)[0], 10.0**log_p, gas / (1.0 - gas)
    s = oil_share(p, g, oil)
    rho, kappa = density_and_compressibility(p, oil)
    assert s * 860.0 == pytest.approx(rho, rel=1e-14)
    found, slope = pressure_of_oil(s, g, oil, 100.0)
    assert found == pytest.approx(p, rel=1e-8, abs=1e-5)
    assert slope == pytest.approx(1 / (s * kappa), rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 7), st.floats(2.0, 7.0), st.floats(0.0, 0.05))
def test_discs_without_lag_pass_what_the_valve_law_says(which: int, log_dp: float, mu: float) -> None:
    valve, dp = (NOMINAL, BENT)[which % 2][which // 2], 10.0**log_dp
    bleed, gain = (valve[0] * x for x in speed_and_slope(dp, valve[10], 860.0, mu, 0.7))
    q, by_dp, by_opening = lifted_flow(dp, dp, valve, 860.0, mu, 0.7)
    flow, slope = flow_and_slope(dp, valve, 860.0, mu, 0.7)
    assert bleed + q == pytest.approx(flow, rel=1e-12)
    assert gain + by_dp + by_opening == pytest.approx(slope, rel=1e-9)
    late, late_slope = late_flow(dp, valve, NOMINAL[0], 0.0, 1.0, 0.0, 860.0, mu, 0.7)
    assert (late, late_slope) == pytest.approx((flow, slope), rel=1e-9)


@pytest.mark.parametrize("rows", [NOMINAL, BENT], ids=["plain", "stiffening"])
@pytest.mark.parametrize(("opening", "dp"), [(3e6, 1e5), (4e5, 4e6), (1e6, 1e6)])
def test_slopes_of_a_late_disc_are_those_of_its_flow(opening: float, dp: float, rows: np.ndarray) -> None:
    valve = rows[0].copy()
    valve[11] = 2e4  # ports with a laminar loss too
    _, by_dp, by_opening = lifted_flow(dp, opening, valve, 860.0, 0.02, 0.7)

    def q(dp: float, opening: float) -> float:
        return float(lifted_flow(dp, opening, valve, 860.0, 0.02, 0.7)[0])

    h = 1e-4
    assert by_dp == pytest.approx((q(dp * (1 + h), opening) - q(dp * (1 - h), opening)) / (2 * h * dp), rel=1e-5)
    numeric = (q(dp, opening * (1 + h)) - q(dp, opening * (1 - h))) / (2 * h * opening)
    assert by_opening == pytest.approx(numeric, rel=1e-5)


def test_lag_that_vanishes_changes_nothing_and_a_lag_delays() -> None:
    motion = sine(0.05, 1.04, 512)
    plain, quick, slow = (run(motion, lag_rebound=lag, lag_intake=lag) for lag in (0.0, 1e-7, 3e-3))
    np.testing.assert_allclose(quick.force, plain.force, atol=2.0)
    # a rebound disc that opens late lets the pressure rise over what it holds when steady
    rising = slice(1, 128)
    assert np.max(slow.force[0, 0, rising] - plain.force[0, 0, rising]) > 20.0
    assert slow.unconverged.sum() == 0


def test_stiff_intake_tears_the_oil_and_leaves_dead_travel() -> None:
    """An intake that opens late or hard: void in rebound, so that compression first closes the void."""
    stiff = NOMINAL.copy()
    stiff[3, 3] = 8e5  # opens at more than the gas pressure
    valves = np.stack([NOMINAL, stiff])
    found = loops(sine(0.05, 0.52, 256), damper(), valves, OIL, body(gas_exponent=1.2))
    assert found.numbers["dead_compression"][1, 0] > found.numbers["dead_compression"][0, 0] + 5e-3
    assert found.lowest_pressure[1, 0] < 2e4 < found.lowest_pressure[0, 0]
    slow = loops(sine(0.05, 1.04, 256), damper(), NOMINAL[np.newaxis], OIL, body(gas_exponent=1.2, lag_intake=0.05))
    quick = loops(sine(0.05, 1.04, 256), damper(), NOMINAL[np.newaxis], OIL, body(gas_exponent=1.2))
    assert slow.numbers["dead_compression"][0, 0] > quick.numbers["dead_compression"][0, 0] + 1e-3


def test_mounts_give_by_the_force_over_their_rate() -> None:
    motion = sine(0.05, 0.52, 256)
    found = run(motion, mount_rate=5e5, tolerance=1.0)
    np.testing.assert_allclose(motion.travel[0] - found.travel[0, 0], found.force[0, 0] / 5e5, atol=1e-7)
    stiff, rigid = run(motion, mount_rate=1e10, mount_damping=10.0), run(motion)
    np.testing.assert_allclose(stiff.force, rigid.force, atol=1.0)
    assert found.unconverged.sum() == 0


def test_damped_mounts_obey_their_own_equation() -> None:
    """c d(sag)/dt + k sag = F, by central differences of the trace."""
    motion = sine(0.05, 0.52, 2048)
    found = run(motion, mount_rate=5e5, mount_damping=3e3, tolerance=0.1, gas_exponent=1.2)
    sag, t = motion.travel[0] - found.travel[0, 0], motion.time[0]
    rate = (sag[2:] - sag[:-2]) / (t[2:] - t[:-2])
    off = 3e3 * rate + 5e5 * sag[1:-1] - found.force[0, 0, 1:-1]
    assert np.quantile(np.abs(off), 0.98) < 0.5


def test_friction_follows_dahl_and_takes_four_times_force_times_amplitude() -> None:
    """Closed forms: F = F_c (1 - exp(-s x/F_c)) from rest; work 4 F_c X a cycle when it slides soon."""
    row = body(friction_stiffness=2e5)[0]
    assert friction_force(0.0, 0.0, 1e-4, 30.0, row)[0] == pytest.approx(30.0 * (1 - math.exp(-2e5 * 1e-4 / 30.0)))
    assert friction_force(30.0, 0.0, -1e-4, 30.0, row)[0] == pytest.approx(-30.0 + 60.0 * math.exp(-2e5 * 1e-4 / 30.0))
    by_steps = 0.0
    for i in range(10):
        by_steps = friction_force(by_steps, i * 1e-5, (i + 1) * 1e-5, 30.0, row)[0]
    assert by_steps == pytest.approx(friction_force(0.0, 0.0, 1e-4, 30.0, row)[0])
    found = loops(triangle(0.05, 0.005, 512), damper(friction=30.0), WIDE[np.newaxis], oil_rows(860.0, 0.0, 1e-11),
                  body(friction_stiffness=1e6, gas_volume=10.0))  # fmt: skip
    assert found.numbers["energy"][0, 0] == pytest.approx(4 * 30.0 * 0.05, rel=2e-3)
    assert found.numbers["mid_rebound"][0, 0] - found.numbers["mid_compression"][0, 0] == pytest.approx(60.0, rel=1e-3)


def test_side_force_and_crooked_guide_rub_as_lever_and_beam_say() -> None:
    """Worked by hand: Q = 100 N, mu 0.1, a = 50 mm, b = 150 mm: guide 133.3 N, piston 33.3 N, friction 16.67 N."""
    row = body(side_friction=0.1 * 100.0, overhang=0.05, span=0.15)[0]
    assert sliding_friction(0.0, 20.0, row) == pytest.approx(20.0 + 0.1 * (100 * 200 / 150 + 100 * 50 / 150))
    # 0.1 degrees on a rod of 12.5 mm: 3 E I alpha/b^2 at both ends
    inertia = math.pi / 64 * 0.0125**4
    tilt = 6 * 0.1 * 206e9 * inertia * math.radians(0.1)
    row = body(tilt_friction=tilt, span=0.15)[0]
    one = 3 * 206e9 * inertia * math.radians(0.1) / 0.1**2
    assert sliding_friction(0.05, 0.0, row) == pytest.approx(2 * 0.1 * one)
    # at crawling speed the loop shows the friction of each place
    found = loops(triangle(0.05, 0.002, 1024), damper(friction=20.0), WIDE[np.newaxis], oil_rows(860.0, 0.0, 1e-11),
                  body(tilt_friction=tilt, span=0.15, gas_volume=1e-4), (-0.03, 0.03))  # fmt: skip
    for name, x in (("in", -0.03), ("out", 0.03)):
        assert found.numbers[f"friction_{name}"][0, 0] == pytest.approx(sliding_friction(x, 20.0, row), rel=5e-3)
        gas = 6e5 / (1 + ROD * x / 1e-4)
        assert found.numbers[f"rest_{name}"][0, 0] == pytest.approx(-(gas - P_ATM) * ROD, rel=5e-3)


def test_stops_push_back_beyond_their_gap() -> None:
    row = body(bump_gap=0.03, bump_rate=2e4, bump_progress=100.0, rebound_gap=0.045, rebound_rate=1e5)[0]
    assert stop_force(0.0, row) == (0.0, 0.0)
    assert stop_force(-0.04, row) == pytest.approx((-2e4 * 0.01 * 2.0, 2e4 * 4.0))
    assert stop_force(0.047, row) == pytest.approx((200.0, 1e5))
    motion = sine(0.05, 0.26, 256)
    both = run(motion, bump_gap=0.03, bump_rate=2e4), run(motion)
    more = both[0].force - both[1].force
    assert more[0, 0, 0] == pytest.approx(-2e4 * 0.02)
    assert np.abs(more[0, 0, 60:196]).max() < 1e-9


def test_pocket_of_gas_is_compressed_before_anything_else() -> None:
    """Valves shut, isothermal: p = p0 V_g/(V_g - A x) of the pocket (textbook), oil next to stiff."""
    motion = half_of(sine(0.004, 0.05, 1024))
    back = type(motion)(motion.time, -motion.travel, -motion.between, -motion.speeds, False)  # from out to in
    found = run(back, SHUT, oil_rows(860.0, 0.0, 1e-12), gas_volume=1.0, pocket_compression=1e-5, tolerance=1.0)
    swept = PISTON * (0.004 - found.travel[0, 0])
    np.testing.assert_allclose(found.p_compression[0, 0], 6e5 * 1e-5 / (1e-5 - swept), rtol=2e-3)
    assert found.gas_compression[0, 0] == pytest.approx(1e-5 * 6e5 / P_ATM, rel=1e-5)


def test_after_standing_the_first_strokes_have_dead_travel_that_goes() -> None:
    motion = programme(0.05, (0.26,), 12, 256)
    settled = loops(sine(0.05, 0.26, 256), damper(), NOMINAL[np.newaxis], OIL, body(gas_exponent=1.2))
    found = run(motion, pocket_compression=8e-6, gas_exponent=1.2)
    dead = []
    for i in range(1, 12):
        force = found.force[0, 0, 256 * i + 128 : 256 * i + 256]
        level = 0.5 * settled.numbers["peak_compression"][0, 0]
        dead.append(0.05 - motion.travel[0, 256 * i + 128 + int(np.argmax(force < level))])
    assert dead[0] > dead[-1] + 1e-3
    assert np.all(np.diff(dead) <= 1e-9)
    whole = found.gas_compression + found.gas_rebound
    assert whole[0, 0, -1] < 0.5 * whole[0, 0, 0]


def test_low_oil_draws_gas_and_leaves_dead_travel() -> None:
    levels = np.array([6e-5, 2.2e-5, 1.8e-5])
    bodies = body(gas_exponent=1.2, reserve_oil=levels, feed_oil=2e-5, feed_span=5e-6)
    found = loops(sine(0.05, 0.26, 256), damper(), NOMINAL[np.newaxis], OIL, bodies)
    dead = found.numbers["dead_compression"][:, 0]
    assert np.all(np.diff(dead) > 0)
    assert dead[2] > dead[0] + 1.5e-3
    plain = loops(sine(0.05, 0.26, 256), damper(), NOMINAL[np.newaxis], OIL, body(gas_exponent=1.2))
    assert dead[0] == pytest.approx(plain.numbers["dead_compression"][0, 0], abs=1e-6)
    assert np.all(np.diff(found.numbers["energy"][:, 0]) < 0)
    assert np.all(np.diff(found.numbers["hysteresis_compression"][:, 0]) > 0)
    assert found.unconverged.sum() == 0


def test_gas_that_moves_is_kept() -> None:
    """What the chambers drew, the gas space has lost: p V^n says how much is left there."""
    found = run(programme(0.05, (0.5,), 6, 256), gas_exponent=1.2, reserve_oil=1.6e-5, feed_oil=2e-5, feed_span=5e-6)
    s0 = oil_share(6e5, 0.002 / 0.998, OIL[0])
    moved = found.oil_rebound[0, 0] + found.oil_compression[0, 0] - 16e-5 * s0
    left = (9e-5 + moved / s0) / 9e-5 * (found.p_gas[0, 0] / 6e5) ** (1 / 1.2)
    whole = 9e-5 * 6e5 / P_ATM
    gone = found.gas_rebound[0, 0] + found.gas_compression[0, 0]
    np.testing.assert_allclose(whole * left + gone, whole, rtol=1e-9)
    assert gone[-1] > 1e-6


def test_share_of_gas_rises_smoothly_as_the_feed_runs_dry() -> None:
    row = body(feed_oil=2e-5, feed_span=5e-6)[0]
    shares = [gas_share(oil, row) for oil in (3e-5, 2e-5, 1.75e-5, 1.5e-5, 0.0)]
    assert shares == pytest.approx([0.0, 0.0, 0.475, 0.95, 0.95])


def test_more_air_in_the_oil_makes_a_wider_loop() -> None:
    oils = oil_rows(860.0, 0.01, 1 / 1.5e9, np.array([0.0, 0.02, 0.08]))
    found = loops(sine(0.05, 0.52, 256), damper(), NOMINAL[np.newaxis], oils, body(gas_exponent=1.2))
    for name in ("hysteresis_rebound", "hysteresis_compression", "dead_compression", "dead_rebound"):
        assert np.all(np.diff(found.numbers[name][:, 0]) > 0), name
    assert np.all(np.diff(found.numbers["energy"][:, 0]) < 0)


def test_road_is_survived_by_holes_alone() -> None:
    from firstoff.physics.damper.motion import road

    motion = road(256e-6, 20.0, (300.0, 35.0, 20e3, 1500.0, 180e3), 5.0, 10_000, seed=2)
    found = run(motion, HOLES)
    assert found.unconverged.sum() == 0
    assert np.isfinite(found.force).all()


def test_one_laminar_chamber_answers_as_its_linear_equation_says() -> None:
    """V/K dp/dt + G p = A v in closed form (physics.chamber, its own reference case): amplitude, lag and work.

    The other chamber stands open to a reserve tube whose pressure stands still.
    """
    laminar, mu = 4e7, 0.5
    area = 2e-5
    valves = np.stack([valve_row(bleed_area=area, bleed_a=laminar)] * 2 + [valve_row(bleed_area=1e-5)] * 2)
    expected = harmonic_response(PISTON - ROD, 7e-5, 1.2e9, area / (laminar * mu), 5e-4, 0.005)
    motion = sine(5e-4, 0.005, 512)
    found = run(motion, valves, oil_rows(860.0, mu, 1 / 1.2e9), damper(8e6), gas_volume=1.0, tolerance=0.1)
    force = found.force[0, 0, :-1] - found.force[0, 0, :-1].mean()
    wave = np.fft.rfft(force)[1] / 256
    lag = np.angle(np.fft.rfft(motion.speed[0, :-1])[1]) - np.angle(wave)
    assert 0.2 < expected.lag < 1.4  # a case in which the storage counts
    assert abs(wave) == pytest.approx(expected.force, rel=0.01)
    assert lag == pytest.approx(expected.lag, abs=0.01)
    work = np.trapezoid(found.force[0, 0] * motion.speed[0], motion.time[0])
    assert work == pytest.approx(expected.energy, rel=0.01)
