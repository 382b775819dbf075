"""Discs that stiffen as they bend: the energy method against the full von Karman equations, the law by its root."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from scipy.integrate import solve_bvp

from firstoff.physics import status
from firstoff.physics.damper.annular_plate import stiffening, uniform_pressure
from firstoff.physics.damper.valve import flow, pressure_drop, stiffened, valve_row

FloatArray = npt.NDArray[np.float64]
RHO, CD = 860.0, 0.7


def von_karman(b: float, r0: float, nu: float, linear: tuple[float, ...]) -> list[float]:
    """Edge deflection over thickness by the full equations, for loads that the linear theory bends by `linear`.

    a = E = t = 1. States w, w', w'', r^2 N_r, A(r) with d(r^2 N_r)/dr = r A, dA/dr = -w'^2/(2 r);
    D (w''' + w''/r - w'/r^2) = N_r w' - V, V the load outside r over its circumference. Source: Timoshenko &
    Woinowsky-Krieger, ch. 13, large deflection of circular plates (from memory); solved by SciPy's solve_bvp.
    """
    rigidity = 1.0 / (12.0 * (1.0 - nu**2))
    unit = float(uniform_pressure(b, r0, nu)[0])
    x, y = np.linspace(b, 1.0, 300), np.zeros((5, 300))
    found = []
    for lin in linear:
        q = lin / abs(unit)

        def slopes(r: FloatArray, s: FloatArray, q: float = q) -> FloatArray:
            shear = 0.5 * q * (1.0 - np.maximum(r, r0) ** 2) / r
            third = (s[3] / r**2 * s[1] - shear) / rigidity - s[2] / r + s[1] / r**2
            return np.vstack([s[1], s[2], third, r * s[4], -0.5 * s[1] ** 2 / r])

        def ends(at_b: FloatArray, at_1: FloatArray) -> FloatArray:
            held = at_b[4] - (1.0 + nu) * at_b[3] / b**2  # no radial displacement at the clamp
            return np.array([at_b[0], at_b[1], held, at_1[2] + nu * at_1[1], at_1[3]])

        solved = solve_bvp(slopes, ends, x, y, tol=1e-5, max_nodes=50_000)
        assert solved.success
        x, y = solved.x, solved.y
        found.append(abs(float(y[0, -1])))
    return found


@pytest.mark.parametrize(("b", "r0"), [(0.5, 0.5), (0.5, 0.77), (0.45, 0.6), (0.25, 0.3), (0.7, 0.75)])
def test_energy_method_against_the_full_equations(b: float, r0: float) -> None:
    linear = (0.1, 0.6, 1.5, 4.0, 11.0)
    k = float(stiffening(b, r0, 0.3))
    for lin, full in zip(linear, von_karman(b, r0, 0.3, linear), strict=True):
        y, _ = stiffened(lin, k)
        assert y >= full * (1 - 1e-4)  # a single shape can only be too stiff in bending, so k is found too low
        assert y == pytest.approx(full, rel=0.02 if full < 4.0 else 0.03)


def test_the_law_is_the_root_of_its_cubic() -> None:
    for s in (1e-3, 0.14, 5.0, 1e7):
        for linear in (1e-9, 1e-3, 0.5, 3.0, 40.0, -0.2):
            roots = np.roots([s, 0.0, 1.0, -linear])
            real = float(roots[np.argmin(np.abs(roots.imag))].real)
            y, gain = stiffened(linear, s)
            assert y == pytest.approx(real, rel=1e-9, abs=1e-15)
            assert gain == pytest.approx(1.0 / (1.0 + 3.0 * s * real**2), rel=1e-8)


def test_arrays_of_equal_and_of_different_discs_agree() -> None:
    b, r0 = np.array([0.4, 0.5, 0.5]), np.array([0.6, 0.7, 0.7])
    found = stiffening(b, r0, 0.3)
    assert found.shape == (3,)
    for i in range(3):
        assert found[i] == pytest.approx(float(stiffening(b[i], r0[i], 0.3)), rel=1e-12)
    assert stiffening(b[1:], r0[1:], 0.3) == pytest.approx(found[1:], rel=1e-12)
    with pytest.raises(ValueError, match="b_over_a"):
        stiffening(1.0, 1.0, 0.3)


def soft(**more: float) -> FloatArray:
    """A soft check: 0.2 mm disc, 13 mm radius, small preload, wide port."""
    fields = {"disc_perimeter": 0.082, "disc_compliance": 1.4e-9, "disc_preload": 6.6e3, "port_area": 4e-5}
    return valve_row(**{**fields, **more})


def test_nothing_changes_without_stiffening_and_stop() -> None:
    # a stop or a stiffening too small to matter meets the plain law from the other branch of the code
    for dp in (5e3, 1e4, 1e5, 1e6):
        plain = flow(dp, soft(), RHO, 0.01, CD)
        assert flow(dp, soft(disc_lift_stop=1.0), RHO, 0.01, CD) == pytest.approx(plain, rel=1e-13)
        assert flow(dp, soft(disc_stiffening=1e-3), RHO, 0.01, CD) == pytest.approx(plain, rel=1e-9)


def test_lift_is_that_of_the_cubic_on_top_of_the_dish() -> None:
    # by hand: the gap of a wide port alone gives Q = Cd perimeter lift sqrt(2 dp/rho)
    s = 0.14 / (2e-4) ** 2
    valve = soft(port_area=1e3, disc_stiffening=s)
    dp = 4e5
    dish, bent = (float(np.real(r[np.abs(r.imag) < 1e-12][0])) for r in
                  (np.roots([s, 0, 1, -1.4e-9 * p]) for p in (6.6e3, dp)))  # fmt: skip
    assert bent / 2e-4 > 1.0  # truly a large deflection
    found = flow(dp, valve, RHO, 0.0, CD)
    assert found == pytest.approx(CD * 0.082 * (bent - dish) * math.sqrt(2 * dp / RHO), rel=1e-6)
    assert found < 0.75 * flow(dp, soft(port_area=1e3), RHO, 0.0, CD)


def test_beyond_its_stop_a_disc_is_a_plain_hole() -> None:
    # orifice equation: gap and port in series
    valve = soft(disc_lift_stop=1e-4, disc_stiffening=3.5e6)
    gap, port, dp = 0.082 * 1e-4, 4e-5, 1e6
    area = gap * port / math.hypot(gap, port)
    assert flow(dp, valve, RHO, 0.0, CD) == pytest.approx(CD * area * math.sqrt(2 * dp / RHO), rel=1e-12)
    drop, state = pressure_drop(flow(dp, valve, RHO, 0.0, CD), valve, RHO, 0.0, CD)
    assert state == status.OK and drop == pytest.approx(dp, rel=1e-9)


def test_the_pocket_calculation_gives_both_deflections() -> None:
    from firstoff.launch.calculations import find
    from firstoff.launch.calculations.damper import PRESSURE_LOAD

    given = {"b_over_a": 0.5, "poisson": 0.3, "load": PRESSURE_LOAD, "r0_over_a": 0.77, "a_m": 0.013, "t_m": 2e-4,
             "n_discs": 1, "E_Pa": 206e9, "q_Pa": 3e5}  # fmt: skip
    found = find("annular-disc-deflection")(given)
    y = found["y_edge_large"] / 2e-4
    assert y + found["k_large"] * y**3 == pytest.approx(found["y_edge"] / 2e-4, rel=1e-9)
    assert find("annular-disc-deflection")({**given, "q_Pa": -3e5})["y_edge_large"] == -found["y_edge_large"]
