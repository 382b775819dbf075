"""The two-mass model: frequency domain against closed form and Lyapunov, time against both, against solve_ivp."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import solve_continuous_lyapunov
from scipy.signal import lsim

from firstoff.physics.vehicle.curves import Shape, equivalent, force, slopes, table
from firstoff.physics.vehicle.figures import reduce, weighted_rms, worst_second
from firstoff.physics.vehicle.linear import Linear, Road, respond
from firstoff.physics.vehicle.ride import quarter_car, weighting_wk
from firstoff.physics.vehicle.road import bump, profile
from firstoff.physics.vehicle.two_mass import GRAVITY, HISTORY, Car, drive

CAR = Car(300.0, 40.0, 20e3, 200e3)
C, ROUGH, SPEED = 1500.0, 256e-6, 20.0  # of the reference case tests/reference/damper/quarter_car.json
WIDE = {"band": (1e-3, 1e4), "lines": 20_000}
STEP, STEPS = 1e-3, 2**15


def straight(c: float) -> tuple[np.ndarray, np.ndarray]:
    return np.array([-9.0, 9.0]), np.array([-9.0 * c, 9.0 * c])


def linear(car: Car, c: float, road: Road, **how: object) -> Linear:
    return respond(car.sprung, car.unsprung, car.spring, [c], car.tyre, road, car.tyre_damping, **how)  # type: ignore[arg-type]


def matrices(car: Car, c: float) -> tuple[np.ndarray, np.ndarray]:
    """States: travel, body velocity, tyre deflection, wheel velocity; input: road velocity."""
    ms, mu, k, kt = car.sprung, car.unsprung, car.spring, car.tyre
    a = np.array([
        [0.0, 1.0, 0.0, -1.0],
        [-k / ms, -c / ms, 0.0, c / ms],
        [0.0, 0.0, 0.0, 1.0],
        [k / mu, c / mu, -kt / mu, -c / mu],
    ])  # fmt: skip
    return a, np.array([0.0, 0.0, -1.0, 0.0])


@pytest.mark.parametrize("c", [800.0, 1500.0, 3500.0])
def test_frequency_domain_is_the_closed_form_and_lyapunov(c: float) -> None:
    """Closed form of the reference case; scipy.linalg.solve_continuous_lyapunov of the white-velocity road."""
    found = linear(CAR, c, Road(ROUGH, 2.0, SPEED), **WIDE)
    closed = quarter_car(300.0, 40.0, 20e3, c, 200e3, ROUGH, 0.1, SPEED)
    assert found.acceleration[0] == pytest.approx(closed.body_acceleration, rel=1e-3)
    assert found.travel[0] == pytest.approx(closed.suspension_travel, rel=1e-5)
    assert found.wheel_load[0] == pytest.approx(closed.wheel_load, rel=1e-3)
    a, b = matrices(CAR, c)
    covariance = solve_continuous_lyapunov(a, -0.5 * closed.road_velocity_psd * np.outer(b, b))
    between = np.array([0.0, 1.0, 0.0, -1.0])
    assert found.damper_speed[0] == pytest.approx(np.sqrt(between @ covariance @ between), rel=1e-3)
    assert found.travel[0] == pytest.approx(np.sqrt(covariance[0, 0]), rel=1e-5)
    assert found.wheel_load[0] == pytest.approx(200e3 * np.sqrt(covariance[2, 2]), rel=1e-3)


def test_time_is_the_frequency_domain_and_the_white_road() -> None:
    """Time on sines of random phases against the spectra of the same band (0.2 %), and against the white road (5 %)."""
    height, rate = profile(2 * STEPS, 0.5 * STEP, SPEED, ROUGH, seed=2)
    ride = reduce(drive(height, rate, STEP, CAR, *straight(C), lead=8000), STEP, CAR, *straight(C))
    same = linear(CAR, C, Road(ROUGH, 2.0, SPEED))
    assert ride.acceleration == pytest.approx(float(same.acceleration[0]), rel=2e-3)
    assert ride.comfort == pytest.approx(float(same.comfort[0]), rel=2e-3)
    assert ride.travel == pytest.approx(float(same.travel[0]), rel=2e-3)
    assert ride.damper_speed == pytest.approx(float(same.damper_speed[0]), rel=2e-3)
    assert ride.load_coefficient * CAR.static_load == pytest.approx(float(same.wheel_load[0]), rel=2e-3)
    closed = quarter_car(300.0, 40.0, 20e3, C, 200e3, ROUGH, 0.1, SPEED)
    assert ride.acceleration == pytest.approx(closed.body_acceleration, rel=0.05)
    assert ride.travel == pytest.approx(closed.suspension_travel, rel=0.05)
    assert ride.load_coefficient * CAR.static_load == pytest.approx(closed.wheel_load, rel=0.05)
    # energy: over a road that repeats itself the damper takes c v^2, no more and no less
    assert ride.damper_power == pytest.approx(C * ride.damper_speed**2, rel=1e-9)


@pytest.mark.parametrize("waviness", [1.6, 2.4])
def test_time_follows_any_waviness_tyre_damping_and_contact(waviness: float) -> None:
    car = Car(300.0, 40.0, 20e3, 200e3, tyre_damping=200.0)
    road = Road(ROUGH, waviness, SPEED, 0.1)
    height, rate = profile(2 * STEPS, 0.5 * STEP, SPEED, ROUGH, waviness, 0.1, 4)
    ride = reduce(drive(height, rate, STEP, car, *straight(C), lead=8000), STEP, car, *straight(C))
    same = linear(car, C, road)
    assert ride.comfort == pytest.approx(float(same.comfort[0]), rel=5e-3)
    assert ride.load_coefficient * car.static_load == pytest.approx(float(same.wheel_load[0]), rel=5e-3)


def test_linear_response_is_scipy_lsim() -> None:
    """scipy.signal.lsim of the state-space model, linear interpolation of the road's rate."""
    t = np.arange(4001) * 0.5 * STEP
    _, rate = bump(t - 0.05, 0.02, 2.0, 10.0)
    height = bump(t - 0.05, 0.02, 2.0, 10.0)[0]
    a, b = matrices(CAR, C)
    out = np.array([[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, -1.0]])
    _, y, _ = lsim((a, b[:, None], out, np.zeros((2, 1))), rate, t)
    history = drive(height, rate, STEP, CAR, *straight(C))
    np.testing.assert_allclose(history[:, HISTORY.index("travel")], y[:-1:2, 0], atol=1e-5)
    np.testing.assert_allclose(history[:, HISTORY.index("damper_speed")], y[:-1:2, 1], atol=2e-3)


def right_side(car: Car, speeds: np.ndarray, forces: np.ndarray, event: tuple[float, float, float]):  # type: ignore[no-untyped-def]
    """The same equations written anew: body and wheel, stops, tyre that lets go."""

    def f(t: float, y: np.ndarray) -> list[float]:
        zs, vs, zu, vu = y
        z, rate = (float(q) for q in bump(t, *event))
        x = zs - zu
        s = car.spring * x + car.rebound_rate * max(0.0, x - car.rebound_travel)
        s -= car.bump_rate * max(0.0, -x - car.bump_clearance) + car.metal_rate * max(0.0, -x - car.bump_travel)
        d = float(force(vs - vu, speeds, forces))
        load = max(0.0, (car.sprung + car.unsprung) * GRAVITY + car.tyre * (z - zu) + car.tyre_damping * (rate - vu))
        return [vs, -(s + d) / car.sprung, vu, (s + d + load - (car.sprung + car.unsprung) * GRAVITY) / car.unsprung]

    return f


@pytest.mark.parametrize("event", [(0.11, 1.2, 11.0), (-0.08, 1.0, 9.0), (0.15, 1.5, 8.0)])
def test_single_bump_is_scipy_solve_ivp(event: tuple[float, float, float]) -> None:
    """scipy.integrate.solve_ivp (RK45, 1e-9): kneed uneven damper, stops touched, tyre off the ground."""
    car = Car(400.0, 55.0, 32e3, 280e3, 50.0, 0.05, 110e3, 0.10, 0.06, 100e3)
    speeds, forces = table(Shape(0.3, 2.5, 0.3, 0.3), car.sprung, car.spring)
    t = 0.5 * STEP * np.arange(2 * 1500 + 1)
    history = drive(*bump(t, *event), STEP, car, speeds, forces)
    f = right_side(car, speeds, forces, event)
    slow = solve_ivp(f, (0.0, 1.5), np.zeros(4), t_eval=t[:-1:2], rtol=1e-9, atol=1e-10, max_step=2e-3)
    travel = slow.y[0] - slow.y[2]
    np.testing.assert_allclose(history[:, 1], travel, atol=2e-4)
    assert history[:, 1].min() == pytest.approx(travel.min(), abs=1e-4)
    assert history[:, 3].min() == 0.0  # the tyre did let go, or the test says nothing
    acceleration = np.array([f(x, y)[1] for x, y in zip(slow.t, slow.y.T, strict=True)])
    assert np.abs(history[:, 0] - acceleration).max() < 0.03 * np.abs(acceleration).max()


def test_steps_converge_in_the_fourth_order() -> None:
    event = (0.01, 4.0, 10.0)  # long and low: smooth, nothing touched

    def ends(step: float) -> float:
        n = round(0.36 / step)
        t = 0.5 * step * np.arange(2 * n + 3)
        return float(drive(*bump(t, *event), step, CAR, *straight(C))[n, 1])

    exact = ends(2.5e-4)
    coarse, fine = abs(ends(8e-3) - exact), abs(ends(4e-3) - exact)
    assert coarse / fine == pytest.approx(16.0, rel=0.35)


def test_tyre_cannot_pull_and_weight_is_kept() -> None:
    """Newton over a road that repeats itself: the mean load is the weight, however rough the road."""
    car = Car(300.0, 40.0, 20e3, 200e3, bump_travel=0.08, bump_clearance=0.05, bump_rate=60e3, rebound_travel=0.08,
              rebound_rate=100e3)  # fmt: skip
    height, rate = profile(2 * STEPS, 0.5 * STEP, 15.0, 4096e-6, contact_length=0.1, seed=1)
    history = drive(height, rate, STEP, car, *straight(1200.0), lead=8000)
    load = history[:, 3]
    assert load.min() == 0.0
    ride = reduce(history, STEP, car, *straight(1200.0))
    assert 0.01 < ride.off_ground < 0.5
    assert load.mean() == pytest.approx(car.static_load, rel=0.01)


def test_shapes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError):
        drive(np.zeros(10), np.zeros(10), STEP, CAR, *straight(C))
    with pytest.raises(ValueError):
        drive(np.zeros(11), np.zeros(11), STEP, CAR, np.array([1.0, 1.0]), np.array([0.0, 1.0]))
    with pytest.raises(ValueError):
        linear(CAR, -1.0, Road(ROUGH, 2.0, SPEED))


def test_linearisation_of_a_cubic_is_three_c_sigma_squared() -> None:
    """Closed form for F = c v^3 at normal v: c_eq = 3 c sd^2 (Roberts and Spanos); no mean force."""
    v = np.linspace(-8.0, 8.0, 4001)
    c, mean = equivalent(v, 500.0 * v**3, 0.4)
    assert c == pytest.approx(3.0 * 500.0 * 0.4**2, rel=1e-4)
    assert mean == pytest.approx(0.0, abs=1e-9)


def test_linearisation_of_two_slopes() -> None:
    """Closed form: c_eq = (c_r + c_c)/2, mean force (c_r - c_c) sd/sqrt(2 pi); against time simulation within 3 %."""
    shape = Shape(0.3, 3.0, 9.0, 1.0)
    rebound, compression = slopes(shape, 300.0, 20e3)
    assert rebound / compression == pytest.approx(3.0)
    assert 0.5 * (rebound + compression) == pytest.approx(0.3 * 2.0 * np.sqrt(300.0 * 20e3))
    curve = table(shape, 300.0, 20e3)
    c, mean = equivalent(*curve, 0.2)
    assert c == pytest.approx(0.5 * (rebound + compression), rel=1e-6)
    assert mean == pytest.approx((rebound - compression) * 0.2 / np.sqrt(2.0 * np.pi), rel=1e-5)
    height, rate = profile(2 * STEPS, 0.5 * STEP, SPEED, 64e-6, seed=6)
    ride = reduce(drive(height, rate, STEP, CAR, *curve, lead=8000), STEP, CAR, *curve)
    c, mean = equivalent(*curve, ride.damper_speed)
    assert ride.ride_height == pytest.approx(-mean / CAR.spring, rel=0.03)
    assert ride.comfort == pytest.approx(float(linear(CAR, c, Road(64e-6, 2.0, SPEED)).comfort[0]), rel=0.03)


def test_table_goes_on_beyond_its_ends() -> None:
    v, f = np.array([-1.0, 0.0, 1.0]), np.array([-100.0, 0.0, 300.0])
    np.testing.assert_allclose(force([-2.0, -0.5, 0.5, 3.0], v, f), [-200.0, -50.0, 150.0, 900.0])


def test_weighting_of_a_sine_is_the_printed_table() -> None:
    """Sines at nominal band frequencies against the band table of ISO 2631-1 (as in wk_weighting.json), 0.5 %."""
    t = np.arange(20_000) * STEP
    for f, wk in ((1.0, 0.482), (4.0, 0.967), (8.0, 1.036), (12.5, 0.902), (31.5, 0.405)):
        assert weighted_rms(np.sin(2.0 * np.pi * f * t), STEP) * np.sqrt(2.0) == pytest.approx(wk, rel=6e-3)
    assert worst_second(np.sin(2.0 * np.pi * 4.0 * t), STEP) == pytest.approx(0.967 / np.sqrt(2.0), rel=6e-3)


def test_weighting_falls_off_at_both_ends() -> None:
    assert weighting_wk(0.1) < 0.1
    assert weighting_wk(300.0) < 0.03
