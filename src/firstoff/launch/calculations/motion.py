"""Pocket calculations of a damper in motion: its force loop, simulated or measured, and how it warms up."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from firstoff.chain.status import Status, describe
from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.damper import _valve as valve_of
from firstoff.launch.calculations.damper_inputs import FloatArray, numbers, plain, same_length, scalar
from firstoff.launch.calculations.damper_words import CURVE_INPUTS, CURVE_OPTIONAL, VALVES

LOOP_RESULTS: Final = {
    "peak_rebound": "N", "peak_compression": "N", "mid_rebound": "N", "mid_compression": "N", "energy": "J",
    "dead_rebound": "m", "dead_compression": "m", "hysteresis_rebound": "N", "hysteresis_compression": "N",
}  # fmt: skip
# of the body: name here -> (field, what it is)
BODY: Final = {
    "reserve_oil_m3": ("reserve_oil", "oil in the reserve tube at mid-stroke; 0 when left out"),
    "feed_oil_m3": ("feed_oil", "oil there below which its feed draws gas; never when left out"),
    "feed_span_m3": ("feed_span", "oil from the first gas drawn to next to nothing else"),
    "lag_rebound_s": ("lag_rebound", "time constant of the rebound discs; 0 when left out, as the next three"),
    "lag_check_s": ("lag_check", "of the piston's check"),
    "lag_base_s": ("lag_base", "of the base valve"),
    "lag_intake_s": ("lag_intake", "of the intake"),
    "friction_stiffness_N_per_m": ("friction_stiffness", "of seal and guide before they slide; a jump when left out"),
    "mount_rate_N_per_m": ("mount_rate", "both bushings in series; rigid when left out"),
    "mount_damping_Ns_per_m": ("mount_damping", "both bushings; 0 when left out"),
}


def _list(given: Mapping[str, Any], key: str) -> FloatArray:
    values = numbers(given, key)
    if not values.ndim:
        raise ValueError(f"{key} must be a list of numbers")
    return values


def _force_loop(given: Mapping[str, Any]) -> dict[str, Any]:
    from firstoff.physics.damper.loop import reduce

    trace = {key: _list(given, key) for key in ("time_s", "travel_m", "force_N")}
    same_length(trace)
    share = scalar(given, "speed_share", 0.5, above=0.0, most=0.99)
    found = reduce(trace["time_s"], trace["travel_m"], trace["force_N"], (0.0, 0.0), share)
    results = {name: plain(name, found.numbers[name]) for name in LOOP_RESULTS}
    results |= {name: plain(name, getattr(found, name)) for name in ("period", "noise", "drift")}
    return results | {"cycles": found.cycles}


def _twin_tube_loop(given: Mapping[str, Any]) -> dict[str, Any]:
    from firstoff.physics.damper import twin_tube
    from firstoff.physics.damper.dynamic import body_rows
    from firstoff.physics.damper.dynamic_loops import loops
    from firstoff.physics.damper.motion import sine

    bore, rod = scalar(given, "bore_m", above=0.0), scalar(given, "rod_m", above=0.0)
    if rod >= bore:
        raise ValueError(f"rod_m must be below bore_m, not {rod:g} in {bore:g}")
    vapour = scalar(given, "p_vapour_abs_Pa", twin_tube.VAPOUR_PRESSURE, least=0.0)
    builds = twin_tube.build_rows(
        bore, rod, scalar(given, "p_gas_abs_Pa", above=vapour), scalar(given, "Cd", above=0.0, most=1.0),
        scalar(given, "leak", 0.0, least=0.0), scalar(given, "friction_N", 0.0, least=0.0),
        scalar(given, "p_atm_Pa", least=0.0), vapour,
        scalar(given, "p_cavitation_abs_Pa", twin_tube.CAVITATION_PRESSURE, least=0.0),
    )  # fmt: skip
    oils = twin_tube.oil_rows(
        scalar(given, "rho_kg_per_m3", above=0.0), scalar(given, "viscosity_Pa_s", 0.0, least=0.0),
        1.0 / scalar(given, "bulk_modulus_Pa", above=1e7), scalar(given, "gas_fraction", 0.0, least=0.0, most=0.9),
        scalar(given, "gas_exponent", 1.0, least=1.0, most=1.67),
    )  # fmt: skip
    extra = {field: scalar(given, key, 0.0, least=0.0) for key, (field, _) in BODY.items()}
    volumes = [scalar(given, f"{name}_volume_m3", above=0.0) for name in ("rebound", "compression", "gas")]
    exponent = scalar(given, "reserve_gas_exponent", 1.2, least=1.0, most=1.67)
    bodies = body_rows(volumes[0], volumes[1], volumes[2], exponent, **extra)
    speeds = numbers(given, "peak_speed_m_per_s", above=0.0, most=20.0)
    motion = sine(scalar(given, "amplitude_m", above=0.0), speeds.ravel(), 256)
    valves = np.stack([valve_of(given, key) for key in VALVES])
    found = loops(motion, builds, valves[np.newaxis], oils, bodies)
    if found.status[0] & Status.NO_VALUE:
        raise ValueError("the motion does not fit the damper's volumes: " + describe(int(found.status[0])))
    results = {name: plain(name, found.numbers[name][0].reshape(speeds.shape)) for name in LOOP_RESULTS}
    results["lowest_pressure"] = plain("lowest_pressure", found.lowest_pressure[0].reshape(speeds.shape))
    return results | {"status": describe(int(found.status[0]))}


def _warm_up(given: Mapping[str, Any]) -> dict[str, Any]:
    from firstoff.physics.damper.warming import warm_up

    nodes, power = _list(given, "node_K"), _list(given, "power_W")
    same_length({"node_K": nodes, "power_W": power})
    times = numbers(given, "time_s", least=0.0)
    air = scalar(given, "air_K", above=0.0)
    found = warm_up(
        times.ravel(), nodes, power[np.newaxis], scalar(given, "heat_capacity_J_per_K", above=0.0),
        scalar(given, "loss_W_per_K", least=0.0), air, scalar(given, "start_K", air, above=0.0),
    )  # fmt: skip
    results = {"temperature": plain("temperature", found.temperature[0].reshape(times.shape))}
    steady = float(found.steady[0])
    return results | ({"steady_temperature": steady} if np.isfinite(steady) else {})


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        "force-loop",
        "Numbers of a measured force loop: cycles aligned, averaged, their noise",
        "least squares and Fourier series (textbook); definitions of the numbers in physics/damper/loop.py",
        {
            "time_s": "times of the samples, rising; at least one whole cycle from fully in to fully in",
            "travel_m": "travel of the rod at these times, positive out",
            "force_N": "force at these times, positive in tension",
        },
        {**LOOP_RESULTS, "period": "s", "noise": "N", "drift": "N", "cycles": "1"},
        _force_loop,
        {"speed_share": "share of the peak speed at which the hysteresis is taken; 0.5 when left out"},
    ),
    Calculation(
        "twin-tube-force-loop",
        "Force loop of a twin-tube damper driven by a sine, once it repeats itself",
        "mass balance of the chambers, orifice equation (textbook); gassy oil: Merritt, Hydraulic Control Systems",
        {
            "Cd": "discharge coefficient of every passage",
            "rho_kg_per_m3": "density of the oil",
            **{key: what for key, what in CURVE_INPUTS.items() if key != "v_m_per_s"},
            "bulk_modulus_Pa": "bulk modulus of the oil without gas",
            "amplitude_m": "amplitude, half the stroke",
            "peak_speed_m_per_s": "peak speed or list of them",
            "rebound_volume_m3": "oil between piston and guide at mid-stroke",
            "compression_volume_m3": "oil between piston and base valve at mid-stroke",
            "gas_volume_m3": "gas in the reserve tube at mid-stroke, where p_gas_abs_Pa stands",
        },
        {**LOOP_RESULTS, "lowest_pressure": "Pa", "status": ""},
        _twin_tube_loop,
        {
            **{key: what for key, what in CURVE_OPTIONAL.items() if key != "bulk_modulus_Pa"},
            "reserve_gas_exponent": "polytropic exponent of the gas in the reserve tube; 1.2 when left out (assumed)",
            **{key: what for key, (_, what) in BODY.items()},
        },
    ),
    Calculation(
        "damper-warm-up",
        "Temperature of a damper that turns work into heat",
        "first-order heat balance of one lump (textbook)",
        {
            "time_s": "time or list of them, ascending from 0 or later",
            "node_K": "temperatures at which the power is known, ascending",
            "power_W": "power at these temperatures: energy of a cycle times cycles a second",
            "heat_capacity_J_per_K": "of oil, gas and metal",
            "loss_W_per_K": "heat given to the air for each kelvin above it",
            "air_K": "temperature of the air",
        },
        {"temperature": "K", "steady_temperature": "K"},
        _warm_up,
        {"start_K": "temperature at the start; that of the air when left out"},
    ),
)
