"""Pocket calculations of a damper: disc, valve, gas, rig, force curve."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from firstoff.chain.status import Status, describe
from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.damper_inputs import (
    FloatArray,
    choice,
    number,
    numbers,
    plain,
    same_length,
    scalar,
)
from firstoff.launch.calculations.damper_words import CURVE_INPUTS, CURVE_OPTIONAL, DISC_OPTIONAL, VALVES
from firstoff.physics.damper import annular_plate, chamber, gas, rig_motion

PRESSURE_LOAD: Final = "uniform pressure from r0_over_a to 1"
RING_LOAD: Final = "ring line load at r_over_a"
_VALVE_KEYS: Final = (
    "bleed_area_m2", "disc_perimeter_m", "disc_compliance_m_per_Pa", "disc_preload_Pa", "port_area_m2",
    "relief_seat_area_m2", "relief_preload_N", "relief_rate_N_per_m", "relief_perimeter_m", "relief_max_lift_m",
)  # fmt: skip
# laminar coefficients, then stiffening and stop of the discs: 0, none, when left out
_EXTRA_KEYS: Final = (
    "bleed_a_per_m", "port_a_per_m", "relief_a_per_m", "disc_stiffening_per_m2", "disc_lift_stop_m",
)  # fmt: skip


def _disc(given: Mapping[str, Any]) -> dict[str, Any]:
    ring = choice(given, "load", (PRESSURE_LOAD, RING_LOAD)) == RING_LOAD
    place, load_key = ("r_over_a", "w_N_per_m") if ring else ("r0_over_a", "q_Pa")
    if place not in given:
        raise ValueError(f"{place} is missing for the load {given['load']!r}")
    for key in ("r0_over_a", "q_Pa") if ring else ("r_over_a", "w_N_per_m"):
        if key in given:
            raise ValueError(f"{key} does not belong to the load {given['load']!r}")
    b = scalar(given, "b_over_a", above=0.0)
    poisson = scalar(given, "poisson", least=0.0, most=0.5)
    solve = annular_plate.ring_load if ring else annular_plate.uniform_pressure
    coefficient, moment = solve(b, scalar(given, place, above=0.0, most=1.0), poisson)
    found = {"C_y": plain("C_y", coefficient), "K_Mrb": plain("K_Mrb", moment)}
    k = None if ring else annular_plate.stiffening(b, given[place], poisson)
    if k is not None:
        found["k_large"] = plain("k_large", k)
    sizes = ("a_m", "t_m", "n_discs", "E_Pa", load_key)
    if not any(key in given for key in sizes):
        return found
    if missing := [key for key in sizes if key not in given]:
        raise ValueError(f"a sized disc also needs {', '.join(missing)}")
    radius, thickness, modulus = (scalar(given, key, above=0.0) for key in ("a_m", "t_m", "E_Pa"))
    count, load = scalar(given, "n_discs", least=1.0, most=1000.0), scalar(given, load_key)
    if count != int(count):
        raise ValueError(f"n_discs must be a whole number, not {count:g}")
    rigidity = annular_plate.stack_rigidity(np.full(int(count), modulus), thickness)
    # a ring load w is per length: its coefficients stand to w/a as those of a pressure stand to q
    pressure = load / radius if ring else load
    lift = annular_plate.edge_compliance(coefficient, radius, rigidity) * pressure
    stress = annular_plate.clamp_stress(moment * pressure * radius**2, modulus, thickness, rigidity)
    found |= {"y_edge": plain("y_edge", lift), "sigma_rb_each_disc": plain("sigma_rb_each_disc", stress)}
    if k is not None:
        from firstoff.physics.damper.valve import stiffened

        # the sign of a deflection is that of its load
        bent, _ = stiffened(abs(float(lift)), float(k) / thickness**2)
        found["y_edge_large"] = plain("y_edge_large", math.copysign(bent, float(lift)))
    return found


def _crank(given: Mapping[str, Any]) -> dict[str, Any]:
    inputs = {key: numbers(given, key, least=0.0) for key in ("stroke_m", "speed_rpm")}
    same_length(inputs)
    return {"v_peak": plain("v_peak", rig_motion.crank_peak_speed(inputs["stroke_m"], inputs["speed_rpm"] / 60.0))}


def _gas_stroke(given: Mapping[str, Any]) -> dict[str, Any]:
    above = ("rod_m", "p0_abs_Pa", "Vgas0_m3")
    inputs = {key: numbers(given, key, above=0.0) for key in above}
    inputs["p_atm_Pa"] = numbers(given, "p_atm_Pa", least=0.0)
    inputs["polytropic_exponent"] = numbers(given, "polytropic_exponent", least=1.0, most=2.0)
    inputs["rod_in_m"] = numbers(given, "rod_in_m")
    same_length(inputs)
    area = math.pi / 4.0 * inputs["rod_m"] ** 2
    p = gas.pressure_at_stroke(
        inputs["p0_abs_Pa"], inputs["Vgas0_m3"], area, inputs["rod_in_m"], inputs["polytropic_exponent"]
    )
    return {"p_abs": plain("p_abs", p), "rod_force": plain("rod_force", gas.rod_force(p, inputs["p_atm_Pa"], area))}


def _gas_temperature(given: Mapping[str, Any]) -> dict[str, Any]:
    inputs = {key: numbers(given, key, above=0.0) for key in ("p0_abs_Pa", "T0_K", "T_K", "Vgas0_m3")}
    inputs |= {key: numbers(given, key, least=0.0) for key in ("Voil_m3", "oil_expansion_per_K")}
    same_length(inputs)
    return {"p_abs": plain("p_abs", gas.pressure_at_temperature(*inputs.values()))}


def _passage(given: Mapping[str, Any]) -> dict[str, Any]:
    # compiled kernels are imported only by the calculations that need them
    from firstoff.physics.damper import orifice

    rho, area, mu = (scalar(given, key, above=0.0) for key in ("rho_kg_per_m3", "area_m2", "viscosity_Pa_s"))
    cd = scalar(given, "Cd", above=0.0, most=1.0)
    laminar = orifice.laminar_coefficient(
        scalar(given, "laminar_length_m", least=0.0), scalar(given, "hydraulic_diameter_m", above=0.0)
    )
    drops = numbers(given, "dp_Pa", least=0.0)
    flows = [area * orifice.speed_and_slope(dp, laminar, rho, mu, cd)[0] for dp in drops.ravel()]
    return {"Q": plain("Q", np.reshape(flows, drops.shape))}


def _chamber(given: Mapping[str, Any]) -> dict[str, Any]:
    keys = (
        "area_m2", "volume_m3", "bulk_modulus_Pa", "conductance_m3_per_s_Pa", "amplitude_m", "peak_speed_m_per_s",
    )  # fmt: skip
    found = chamber.harmonic_response(*(scalar(given, key, above=0.0) for key in keys))
    names = ("F_amplitude", "phase_lag", "energy_per_cycle")
    return {name: plain(name, value) for name, value in zip(names, found, strict=True)}


def _valve(given: Mapping[str, Any], key: str) -> FloatArray:
    """A row of `physics.valve.VALVE_FIELDS` from the object under `key`."""
    valve = given[key]
    if not isinstance(valve, Mapping):
        raise ValueError(f"{key} must be a valve: an object with {', '.join(_VALVE_KEYS)}")
    if missing := [name for name in _VALVE_KEYS if name not in valve]:
        raise ValueError(f"{key}.{missing[0]} is missing")
    if unknown := [name for name in valve if name not in _VALVE_KEYS + _EXTRA_KEYS]:
        raise ValueError(f"{key}.{unknown[0]} is unknown; allowed: {', '.join(_VALVE_KEYS + _EXTRA_KEYS)}")
    row = [number(f"{key}.{name}", valve[name], least=0.0) for name in _VALVE_KEYS]
    number(f"{key}.relief_rate_N_per_m", valve["relief_rate_N_per_m"], above=0.0)
    return np.array(row + [number(f"{key}.{name}", valve.get(name, 0.0), least=0.0) for name in _EXTRA_KEYS])


def _valve_flow(given: Mapping[str, Any]) -> dict[str, Any]:
    from firstoff.physics.damper.valve import flow

    row, drops = _valve(given, "valve"), numbers(given, "dp_Pa", least=0.0)
    rho, cd = scalar(given, "rho_kg_per_m3", above=0.0), scalar(given, "Cd", above=0.0, most=1.0)
    mu = scalar(given, "viscosity_Pa_s", 0.0, least=0.0)
    return {"Q": plain("Q", np.reshape([flow(dp, row, rho, mu, cd) for dp in drops.ravel()], drops.shape))}


def _twin_tube(given: Mapping[str, Any]) -> dict[str, Any]:
    from firstoff.physics.damper import twin_tube

    bore = scalar(given, "bore_m", above=0.0)
    rod = scalar(given, "rod_m", above=0.0)
    if rod >= bore:
        raise ValueError(f"rod_m must be below bore_m, not {rod:g} in {bore:g}")
    vapour = scalar(given, "p_vapour_abs_Pa", twin_tube.VAPOUR_PRESSURE, least=0.0)
    builds = twin_tube.build_rows(
        bore,
        rod,
        scalar(given, "p_gas_abs_Pa", above=vapour),
        scalar(given, "Cd", above=0.0, most=1.0),
        scalar(given, "leak", 0.0, least=0.0),
        scalar(given, "friction_N", 0.0, least=0.0),
        scalar(given, "p_atm_Pa", least=0.0),
        vapour,
        scalar(given, "p_cavitation_abs_Pa", twin_tube.CAVITATION_PRESSURE, least=0.0),
    )
    modulus = scalar(given, "bulk_modulus_Pa", math.inf, above=1e7) if "bulk_modulus_Pa" in given else math.inf
    oils = twin_tube.oil_rows(
        scalar(given, "rho_kg_per_m3", above=0.0),
        scalar(given, "viscosity_Pa_s", 0.0, least=0.0),
        1.0 / modulus,
        scalar(given, "gas_fraction", 0.0, least=0.0, most=0.9),
        scalar(given, "gas_exponent", 1.0, least=1.0, most=1.67),
    )
    speeds = numbers(given, "v_m_per_s", least=-20.0, most=20.0)
    valves = np.stack([_valve(given, key) for key in VALVES])
    found = twin_tube.curve(speeds.ravel(), builds, valves[np.newaxis], oils)
    if found.status[0] & (Status.NO_VALUE | Status.NOT_CONVERGED):
        raise ValueError("a valve cannot pass the oil at one of the speeds: " + describe(int(found.status[0])))
    columns = {"F": found.force, "p_rebound": found.p_rebound, "p_compression": found.p_compression}
    results: dict[str, Any] = {name: plain(name, row[0].reshape(speeds.shape)) for name, row in columns.items()}
    return results | {"status": describe(int(found.status[0]))}


_DP = {"dp_Pa": "pressure difference or list of them"}
_OIL = {"Cd": "discharge coefficient of every passage", "rho_kg_per_m3": "density of the oil"}
_TEXT = "orifice equation (textbook)"
_GAS = {"p0_abs_Pa": "gas pressure at the start, absolute", "Vgas0_m3": "gas volume at the start"}

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        "annular-disc-deflection",
        "Deflection and clamp moment of a flat annular valve disc, inner edge clamped, outer edge free",
        "Young & Budynas, Roark's Formulas for Stress and Strain, 7th ed., table 11.2, cases 1l and 2l; under pressure "
        "also large deflection, y/t + k (y/t)^3, by the energy method of plate theory",
        {
            "b_over_a": "clamp radius over outer radius",
            "poisson": "Poisson's ratio",
            "load": f"{PRESSURE_LOAD!r} or {RING_LOAD!r}",
        },
        {"C_y": "1", "K_Mrb": "1", "k_large": "1", "y_edge": "m", "sigma_rb_each_disc": "Pa", "y_edge_large": "m"},
        _disc,
        DISC_OPTIONAL,
    ),
    Calculation(
        "crank-rig-peak-speed",
        "Peak speed of a crank-driven damping rig from stroke and crank turns per minute",
        "kinematics of a sinusoidal drive (textbook)",
        {
            "stroke_m": "full stroke, twice the amplitude",
            "speed_rpm": "crank turns per minute, each out and in",
        },
        {"v_peak": "m/s"},
        _crank,
    ),
    Calculation(
        "gas-spring-stroke",
        "Gas pressure and rod force over the stroke",
        "ideal-gas law (textbook)",
        _GAS
        | {
            "rod_m": "rod diameter",
            "p_atm_Pa": "ambient pressure, absolute",
            "polytropic_exponent": "1 isothermal, 1.4 adiabatic",
            "rod_in_m": "rod travel into the tube, negative out",
        },
        {"p_abs": "Pa", "rod_force": "N"},
        _gas_stroke,
    ),
    Calculation(
        "gas-pressure-temperature",
        "Gas charge pressure with temperature, oil expansion included",
        "ideal-gas law (textbook)",
        _GAS
        | {
            "T0_K": "temperature at the start",
            "Voil_m3": "oil volume at the start",
            "oil_expansion_per_K": "thermal expansion of the oil",
            "T_K": "temperature or list of them",
        },
        {"p_abs": "Pa"},
        _gas_temperature,
    ),
    Calculation(
        "laminar-turbulent-flow",
        "Flow through a passage with a laminar and a turbulent pressure loss",
        "orifice equation and laminar pipe loss (textbook)",
        _OIL
        | _DP
        | {
            "area_m2": "area of the passage",
            "viscosity_Pa_s": "dynamic viscosity",
            "laminar_length_m": "length of the passage",
            "hydraulic_diameter_m": "hydraulic diameter of the passage",
        },
        {"Q": "m3/s"},
        _passage,
    ),
    Calculation(
        "linear-compressible-chamber",
        "One linear compressible chamber: force amplitude, phase lag, energy per cycle",
        "first-order linear chamber equation (textbook)",
        {
            "area_m2": "piston area",
            "volume_m3": "oil volume",
            "bulk_modulus_Pa": "bulk modulus of the oil",
            "conductance_m3_per_s_Pa": "flow over pressure of the passage",
            "amplitude_m": "amplitude, half the stroke",
            "peak_speed_m_per_s": "peak speed",
        },
        {"F_amplitude": "N", "phase_lag": "rad", "energy_per_cycle": "J"},
        _chamber,
    ),
    Calculation(
        "valve-flow",
        "Flow through a damper valve: bleed, preloaded disc and relief in parallel",
        _TEXT,
        _OIL | _DP | {"valve": "an object with " + ", ".join(_VALVE_KEYS)},
        {"Q": "m3/s"},
        _valve_flow,
        {"viscosity_Pa_s": "dynamic viscosity, for valves with laminar coefficients; 0 when left out"},
    ),
    Calculation(
        "twin-tube-quasi-static-force",
        "Quasi-static twin-tube force curve",
        _TEXT + "; steady mass balance of the chambers; force balance on piston and rod",
        _OIL | CURVE_INPUTS,
        {"F": "N", "p_rebound": "Pa", "p_compression": "Pa", "status": ""},
        _twin_tube,
        CURVE_OPTIONAL,
    ),
)
