"""The damper that makes the blind readings, held against closed forms, a library's integrator and the other code."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from firstoff.chain.ensemble import Ensemble, run
from firstoff.physics.damper.annular_plate import uniform_pressure
from tests.blind import damper, kernel
from tests.blind.law import Law, drawn_law, duct_factor, edge_deflection, viscosity
from tests.blind.lots import World, world

HOT = 313.15  # K, where every law of viscosity agrees: 40 degrees are given


@pytest.fixture(scope="module")
def w() -> World:
    return world(laws=2)


def forces(w: World, x: dict[str, np.ndarray], law: Law, **how: int) -> np.ndarray:
    found = damper.show(x, law, w.speeds, **how)
    assert found.good.all()
    return np.stack([found.columns[name] for name in w.forces], axis=1)


@pytest.mark.parametrize(("clamp", "inner"), [(0.5, 0.7), (0.5, 0.77), (0.45, 0.6), (0.3, 0.3)])
def test_least_energy_plate_agrees_with_the_handbook(clamp: float, inner: float) -> None:
    # Roark 7th ed., table 11.2, case 2l, as the other code has it
    handbook = abs(float(uniform_pressure(np.array([clamp]), np.array([inner]), 0.3)[0][0]))
    assert edge_deflection(clamp, inner, 0.0, 0.3) == pytest.approx(handbook, rel=2e-3)
    assert edge_deflection(clamp, inner, 0.08, 0.3) < edge_deflection(clamp, inner, 0.04, 0.3) < handbook


def test_small_laws_against_textbook_figures() -> None:
    # White, Viscous Fluid Flow: f Re of a duct 1:10 is 21.17 on the hydraulic diameter, 24 of parallel plates (from
    # memory); over the height: (24/dh^2 of the plates, dh = 2 h) against 21.17 on dh = 2 h w/(h + w)
    by_table = 21.17 / 24.0 * (1.0 + 0.1) ** 2
    assert float(duct_factor(np.array(0.1))) == pytest.approx(by_table, rel=0.01)
    known = np.array([12.5e-6]), np.array([3.1e-6])
    assert viscosity(np.array([313.15]), *known)[0] == pytest.approx(12.5e-6)
    assert viscosity(np.array([373.15]), *known)[0] == pytest.approx(3.1e-6)
    # the standard's own equation (ASTM D341) at 25 degrees, by hand: 21.9 mm2/s; the two laws differ by a few per cent
    assert viscosity(np.array([298.15]), *known)[0] == pytest.approx(21.9e-6, rel=0.04)


def test_slow_orifices_alone_make_the_square_of_the_speed(w: World) -> None:
    # closed form: incompressible oil, sharp notches only, drops k rho/2 (q/A)^2 (textbook)
    x = {name: column.copy() for name, column in w.nominal.items()}
    for key in ("rebound", "compression"):
        station = "piston_valve" if key == "rebound" else "base_valve"
        x[f"{station}.{key}_bleed_length"][:] = 1e-12
        x[f"{station}.{key}_land_height"][:] = 1.0  # shut
        x[f"{station}.{key}_relief_seat_diameter"][:] = 1e-9
    x["piston_valve.check_land_height"][:] = x["base_valve.intake_land_height"][:] = 1.0
    x["piston_valve.ring_leak_area"][:] = 0.0
    x["oil_fill.entrained_gas"][:] = 0.0
    x["damping_rig.friction"][:] = 0.0
    law, v = Law(), 0.03
    found = damper.show(x, law, (v,))
    build, valves = damper.build_rows(x, law)[0], damper.valve_rows(x, law)[0]
    piston, rod, rho, gas = (build[i] for i in (kernel.PISTON, kernel.ROD, kernel.RHO, kernel.P_GAS))

    def drop(q: float, row: int) -> float:
        return float(valves[row, kernel.NOTCH_K] * rho / 2.0 * (q / valves[row, kernel.NOTCH]) ** 2)

    ring, pushed = (piston - rod) * v, rod * v
    p_c = gas - drop(pushed, 2)
    rebound = (p_c + drop(ring, 0)) * (piston - rod) - p_c * piston + kernel.P_REF * rod
    p_c = gas + drop(pushed, 2)
    compression = (p_c - drop(ring, 0)) * (piston - rod) - p_c * piston + kernel.P_REF * rod
    gas_force = (gas - kernel.P_REF) * rod  # part of both: the rest is what the orifices make
    assert found.columns["rebound_0.03"][0] == pytest.approx(rebound, abs=3e-3 * (rebound + gas_force))
    assert found.columns["compression_0.03"][0] == pytest.approx(compression, abs=3e-3 * (gas_force - compression))


@pytest.mark.parametrize("speed", [0.05, 0.52, 1.5])
@pytest.mark.parametrize("gassy", [False, True])
def test_stepping_agrees_with_a_library_integrator(w: World, speed: float, gassy: bool) -> None:
    # scipy's Radau at a tight tolerance, in pressures and without conserved masses
    law, x = w.laws[1], {name: column.copy() for name, column in w.nominal.items()}
    if gassy:
        x["oil_fill.entrained_gas"][:] = 0.08
    build, valves, row = damper.build_rows(x, law)[0], damper.valve_rows(x, law)[0], damper.law_row(law)
    amplitude = float(x["damping_rig.stroke"][0]) / 2.0
    omega = speed / amplitude

    def rates(t: float, p: np.ndarray) -> list[float]:
        at, v = -amplitude * math.cos(omega * t), amplitude * omega * math.sin(omega * t)
        v_r, v_c = kernel.rooms(at, build)
        (rho_r, k_r), (rho_c, k_c) = (kernel.density(float(each), build, law.bubble_exponent) for each in p)
        p_s, _ = kernel.reserve(rho_r * v_r, rho_c * v_c, build, row)
        w_p, _, w_b, _ = kernel.flows(float(p[0]), float(p[1]), p_s, build, valves, row)
        ring = build[kernel.PISTON] - build[kernel.ROD]
        return [(-w_p + rho_r * ring * v) / (k_r * v_r), (w_p - w_b - rho_c * build[kernel.PISTON] * v) / (k_c * v_c)]

    steps = damper.STEPS
    force, pressure = np.empty(steps), np.empty((steps, 2))
    assert kernel.run_one(build, valves, row, amplitude, omega, 1, steps, force, pressure)
    v_r, v_c = kernel.rooms(-amplitude, build)
    p = float(build[kernel.P_GAS])
    for _ in range(50):
        rho = kernel.density(p, build, law.bubble_exponent)[0]
        p = kernel.reserve(rho * v_r, rho * v_c, build, row)[0]
    half = math.pi / omega
    found = solve_ivp(rates, (0.0, 1.5 * half), [p, p], "Radau", [0.5 * half, 1.5 * half], rtol=1e-7, atol=1.0)
    assert found.success
    ends = pressure[[steps // 4 - 1, 3 * steps // 4 - 1]]
    assert ends == pytest.approx(found.y.T, rel=3e-3)


def test_steps_converge_at_second_order(w: World) -> None:
    law = w.laws[0]
    fine = forces(w, w.nominal, law, cycles=1, steps=1280)
    off = [np.abs(forces(w, w.nominal, law, cycles=1, steps=n) - fine).max() for n in (40, 80, 160)]
    assert off[0] / off[2] > 8.0  # 16 by the method's order
    assert np.abs(forces(w, w.nominal, law) / fine - 1.0).max() < 1e-3


def test_with_the_textbook_physics_two_codes_agree(w: World) -> None:
    # the quasi-static chain at 40 degrees, without ring leak: what is left is oil that is squeezed
    x = {name: column.copy() for name, column in w.nominal.items()}
    x["damping_rig.oil_temperature"][:] = HOT
    x["piston_valve.ring_leak_area"][:] = 0.0
    for station in ("piston_valve", "base_valve"):  # the textbook law of the blind damper bends discs in proportion
        x[f"{station}.disc_stiffening"] = np.zeros_like(x["piston_valve.ring_leak_area"])
    built = run(w.plan.stations, w.plan.plans, Ensemble(x, {})).columns
    steady = np.stack([built[name] for name in w.forces], axis=1)
    assert forces(w, x, Law()) == pytest.approx(steady, rel=4e-3)


def test_other_physics_moves_forces_by_a_few_per_cent() -> None:
    w = world(seed=5, laws=4)
    stated = np.array([w.plan.nominal[name] for name in w.forces])
    off = np.array([forces(w, w.nominal, law)[0] / stated - 1.0 for law in w.laws])
    assert 0.005 < np.sqrt(np.mean(off**2)) < 0.06
    assert np.abs(off).max() < 0.18
    assert np.abs(np.log1p(off).mean(axis=1)).max() < 0.01  # the coefficient was fitted


def test_what_must_rise_rises(w: World) -> None:
    # physics, no source: each change pushes these forces in a known direction
    law = drawn_law(np.random.default_rng(3))
    base = {n: float(f) for n, f in zip(w.forces, np.abs(forces(w, w.nominal, law))[0], strict=True)}
    for name, factor, rising, falling in (
        ("piston_valve.rebound_relief_preload", 1.2, ["rebound_1.04"], []),
        ("piston_valve.rebound_disc_count", 0.75, [], ["rebound_0.52"]),
        ("piston_valve.rebound_bleed_count", 2.0, [], ["rebound_0.05", "compression_0.05"]),
        ("base_valve.compression_relief_rate", 0.7, [], ["compression_1.5"]),
        ("oil_fill.viscosity_40", 1.5, ["rebound_0.05", "compression_0.05"], []),
        ("gas_charge.pressure", 1.4, ["compression_0.05"], ["rebound_0.05"]),
        ("damping_rig.oil_temperature", 1.1, [], ["rebound_0.05"]),
    ):
        x = {**w.nominal, name: w.nominal[name] * factor}
        found = {n: float(f) for n, f in zip(w.forces, np.abs(forces(w, x, law))[0], strict=True)}
        assert all(found[n] > 1.003 * base[n] for n in rising), name
        assert all(found[n] < 0.997 * base[n] for n in falling), name
    assert (damper.show(w.nominal, law, w.speeds).force.mean(axis=2) > 0).all()  # more in rebound than in compression


def test_a_crooked_guide_pinches_more_further_out(w: World) -> None:
    straight, law = dict(w.nominal), replace(w.laws[0], running_friction=1.0)
    crooked = {**straight, "damping_rig.friction": straight["damping_rig.friction"] + 60.0,
               "twin.friction_excess": np.array([60.0])}  # fmt: skip
    gap = damper.show(crooked, law, (0.13,)).force - damper.show(straight, law, (0.13,)).force
    moving = gap[0, 0][np.abs(gap[0, 0]) > 10.0]
    assert np.abs(moving).min() < 60.0 * 0.6 and np.abs(moving).max() > 60.0 * 1.4
    middle = [damper.STEPS // 4 - 1, 3 * damper.STEPS // 4 - 1]
    assert gap[0, 0][middle] == pytest.approx([60.0, -60.0], abs=0.01)
