"""Pocket calculations of ride: quarter car, road classes, frequency weighting."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.damper_inputs import numbers, plain, scalar
from firstoff.physics.vehicle import ride


def _road(given: Mapping[str, Any]) -> None:
    if scalar(given, "waviness", ride.ROAD_WAVINESS) != ride.ROAD_WAVINESS:
        raise ValueError("waviness must be 2: the formula and the road classes hold for no other")


def _quarter_car(given: Mapping[str, Any]) -> dict[str, Any]:
    _road(given)
    if scalar(given, "c_tyre_Ns_per_m", 0.0) != 0.0:
        raise ValueError("c_tyre_Ns_per_m must be 0: the closed form knows no tyre damping")
    keys = (
        "m_sprung_kg", "m_unsprung_kg", "k_suspension_N_per_m", "c_damper_Ns_per_m", "k_tyre_N_per_m", "Gd_n0_m3",
        "n0_per_m", "speed_m_per_s",
    )  # fmt: skip
    found = ride.quarter_car(*(scalar(given, key, above=0.0) for key in keys))
    return {name: plain(name, value) for name, value in zip(_CAR_GIVES, found, strict=True)}


def _road_classes(given: Mapping[str, Any]) -> dict[str, Any]:
    _road(given)
    if scalar(given, "n0_per_m", ride.ROAD_N0) != ride.ROAD_N0:
        raise ValueError("n0_per_m must be 0.1: the classes are given at that spatial frequency")
    asked = given["road_class"]
    names = asked if isinstance(asked, (list, tuple)) else [asked]
    if not names or not all(isinstance(name, str) for name in names):
        raise ValueError(f"road_class must be one or more of {', '.join(ride.ROAD_CLASSES)}")
    found = [ride.road_class_micro(name) for name in names]
    return {"Gd_n0": [float(value) for value in found] if isinstance(asked, (list, tuple)) else float(found[0])}


def _weighting(given: Mapping[str, Any]) -> dict[str, Any]:
    return {"Wk": plain("Wk", ride.weighting_wk(numbers(given, "frequency_Hz", above=0.0)))}


_CAR_GIVES = {
    "road_velocity_psd_one_sided": "(m/s)2/Hz",
    "rms_body_acceleration": "m/s2",
    "rms_suspension_travel": "m",
    "rms_tyre_deflection": "m",
    "rms_dynamic_wheel_load": "N",
    "c_min_body_acceleration": "N.s/m",
}
_ROAD_INPUTS = {
    "n0_per_m": "reference spatial frequency, cycles per metre; 0.1 when left out",
    "waviness": "exponent of the road's PSD, 2",
}

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        "quarter-car-road-response",
        "RMS response of a linear quarter car on an ISO 8608 road",
        "Lyapunov equation of the linear quarter car; road velocity is white noise",
        {
            "m_sprung_kg": "body mass on the corner",
            "m_unsprung_kg": "wheel mass",
            "k_suspension_N_per_m": "spring rate at the wheel",
            "c_damper_Ns_per_m": "damping at the wheel",
            "k_tyre_N_per_m": "tyre rate",
            "Gd_n0_m3": "one-sided displacement PSD of the road at n0",
            "n0_per_m": "reference spatial frequency, cycles per metre",
            "speed_m_per_s": "speed of the vehicle",
        },
        _CAR_GIVES,
        _quarter_car,
        {"c_tyre_Ns_per_m": "tyre damping, 0", "waviness": _ROAD_INPUTS["waviness"]},
    ),
    Calculation(
        "iso8608-road-classes",
        "ISO 8608 road classes A to H: geometric means of the displacement PSD",
        "ISO 8608 table C.1 (from memory)",
        {"road_class": "A to H, or a list of them"},
        {"Gd_n0": "1e-6 m3"},
        _road_classes,
        _ROAD_INPUTS,
    ),
    Calculation(
        "wk-frequency-weighting",
        "ISO 2631-1 frequency weighting Wk (vertical, seated)",
        "ISO 2631-1; filter parameters of ISO 8041",
        {"frequency_Hz": "frequency or list of frequencies"},
        {"Wk": "1"},
        _weighting,
    ),
)
