"""The valve law and its inverse. Values from outside are in tests/reference/damper; here are laws and limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.chain.status import Status
from firstoff.physics import status
from firstoff.physics.damper.orifice import laminar_coefficient, loss, speed_and_slope
from firstoff.physics.damper.valve import (
    VALVE_FIELDS,
    flow,
    flow_and_slope,
    opening_pressure,
    pressure_drop,
    stiffened,
    valve_row,
)

RHO, CD = 860.0, 0.7


def between(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers spread evenly over the decades."""
    return st.floats(math.log(low), math.log(high)).map(math.exp)


def or_zero(numbers: st.SearchStrategy[float]) -> st.SearchStrategy[float]:
    return st.one_of(st.just(0.0), numbers)


VALVES = st.builds(
    valve_row,
    bleed_area=or_zero(between(1e-8, 1e-5)),
    disc_perimeter=between(0.01, 0.1),
    disc_compliance=or_zero(between(1e-12, 1e-8)),
    disc_preload=or_zero(between(1e2, 3e6)),
    port_area=or_zero(between(1e-7, 1e-4)),
    relief_seat_area=or_zero(between(1e-6, 1e-4)),
    relief_preload=or_zero(between(1.0, 200.0)),
    relief_rate=between(1e3, 1e6),
    relief_perimeter=or_zero(between(1e-3, 0.05)),
    relief_max_lift=or_zero(between(1e-5, 1e-3)),
    bleed_a=or_zero(between(1e2, 1e7)),
    port_a=or_zero(between(1e2, 1e7)),
    relief_a=or_zero(between(1e2, 1e7)),
    disc_stiffening=or_zero(between(1e4, 1e9)),
    disc_lift_stop=or_zero(between(1e-5, 1e-3)),
)
VISCOSITY = or_zero(between(1e-3, 3.0))
DROP = between(1.0, 1e8)


def test_status_numbers_are_those_of_the_chain() -> None:
    assert {flag.name: int(flag) for flag in Status} == {
        name: value for name, value in vars(status).items() if name.isupper() and name != "OK"
    }
    assert int(Status.OK) == status.OK


@given(DROP, or_zero(between(1.0, 1e8)), VISCOSITY)
def test_path_law_holds_for_its_own_speed(dp: float, laminar: float, mu: float) -> None:
    """dp = rho/(2 Cd^2) u^2 + a mu u, orifice equation and Hagen-Poiseuille (textbook)."""
    speed, slope = speed_and_slope(dp, laminar, RHO, mu, CD)
    assert loss(speed, laminar, RHO, mu, CD) == pytest.approx(dp, rel=1e-12)
    assert slope == pytest.approx(1.0 / (RHO / CD**2 * speed + laminar * mu), rel=1e-12)


def test_laminar_limit_is_hagen_poiseuille() -> None:
    """Q = pi d^4 dp/(128 mu L) (textbook) when the turbulent loss vanishes."""
    d, length, mu, dp = 1e-4, 0.05, 0.5, 100.0
    area = math.pi / 4 * d**2
    found = area * speed_and_slope(dp, laminar_coefficient(length, d), RHO, mu, CD)[0]
    assert found == pytest.approx(math.pi * d**4 * dp / (128 * mu * length), rel=1e-6)


@given(VALVES, DROP, VISCOSITY)
def test_flow_rises_with_pressure_and_its_slope_is_the_derivative(valve: np.ndarray, dp: float, mu: float) -> None:
    low, high = dp * (1 - 1e-6), dp * (1 + 1e-6)
    q, slope = flow_and_slope(dp, valve, RHO, mu, CD)
    q_low, q_high = (flow(x, valve, RHO, mu, CD) for x in (low, high))
    assert q_low <= q <= q_high
    ends = sorted(flow_and_slope(x, valve, RHO, mu, CD)[1] for x in (low, high))
    measured = (q_high - q_low) / (high - low)
    kink = any(low <= k <= high for k in kinks(valve))
    # away from a kink the measured slope lies between the slopes at the ends, as far as rounding lets one see
    assert kink or ends[0] * 0.999 - 1e-9 * q / dp <= measured <= ends[1] * 1.001 + 1e-9 * q / dp
    assert slope >= 0.0


def kinks(valve: np.ndarray) -> list[float]:
    at = dict(zip(VALVE_FIELDS, valve, strict=True))
    seat = at["relief_seat_area"] or math.inf
    full = at["relief_preload"] + at["relief_rate"] * at["relief_max_lift"]
    compliance, stiff, stop = (at[f"disc_{name}"] for name in ("compliance", "stiffening", "lift_stop"))
    dish = stiffened(compliance * at["disc_preload"], stiff)[0] if stiff else compliance * at["disc_preload"]
    lifted = dish + stop
    met = (lifted + stiff * lifted**3) / compliance if compliance and stop else math.inf
    return [at["disc_preload"], at["relief_preload"] / seat, full / seat, met]


@settings(max_examples=300)
@given(VALVES, DROP, VISCOSITY)
def test_pressure_drop_is_the_inverse_of_flow(valve: np.ndarray, dp: float, mu: float) -> None:
    q = flow(dp, valve, RHO, mu, CD)
    if q == 0.0:
        return
    found, state = pressure_drop(q, valve, RHO, mu, CD)
    assert state == status.OK
    assert flow(found, valve, RHO, mu, CD) == pytest.approx(q, rel=1e-7)


@given(VALVES, VISCOSITY, between(1e-3, 1.0))
def test_closed_valve_is_solved_exactly(valve: np.ndarray, mu: float, share: float) -> None:
    opening = opening_pressure(valve)
    if valve[0] == 0.0 or not 0.0 < opening < math.inf:
        return
    q = flow(share * opening, valve, RHO, mu, CD)
    assert pressure_drop(q, valve, RHO, mu, CD)[0] == pytest.approx(share * opening, rel=1e-12)


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"disc_perimeter": 0.07, "port_area": 1e-5},  # a disc that cannot bend
        {"disc_perimeter": 0.07, "disc_compliance": 1e-10},  # no port behind it
        {"relief_seat_area": 1e-5, "relief_perimeter": 0.02, "relief_preload": 10.0},  # no lift
    ],
)
def test_a_valve_that_never_opens_says_so(fields: dict[str, float]) -> None:
    found, state = pressure_drop(1e-5, valve_row(**fields), RHO, 0.01, CD)
    assert found == math.inf
    assert state == status.NOT_CONVERGED | status.NO_VALUE


def test_no_flow_and_no_number() -> None:
    valve = valve_row(bleed_area=1e-6)
    assert pressure_drop(0.0, valve, RHO, 0.01, CD) == (0.0, status.OK)
    for q in (-1e-6, math.nan):
        assert pressure_drop(q, valve, RHO, 0.01, CD)[1] & status.NO_VALUE


def test_relief_at_its_stop_is_a_plain_hole() -> None:
    """Beyond full lift Q = Cd A sqrt(2 dp/rho) with A = perimeter x lift (orifice equation)."""
    valve = valve_row(relief_seat_area=1e-4, relief_rate=1e4, relief_perimeter=0.02, relief_max_lift=1e-4)
    dp = 1e6
    area = 0.02 * 1e-4
    assert flow(dp, valve, RHO, 0.0, CD) == pytest.approx(CD * area * math.sqrt(2 * dp / RHO), rel=1e-12)
    assert pressure_drop(flow(dp, valve, RHO, 0.0, CD), valve, RHO, 0.0, CD)[0] == pytest.approx(dp, rel=1e-9)


def test_unknown_field_is_named() -> None:
    with pytest.raises(ValueError, match="bleed_aera"):
        valve_row(bleed_aera=1.0)
