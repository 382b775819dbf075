"""The steady curve again, at one speed in both directions, for the checks of what a curve hides."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import FloatArray
from firstoff.physics.damper.twin_tube import Curve, build_rows, curve, oil_rows
from firstoff.stations.damper.damping_rig import AMBIENT

NEEDS = (
    "bore", "rod_diameter", "piston_rebound_row", "piston_check_row", "base_compression_row", "base_intake_row",
    "gas_pressure", "gas_volume", "charge_pressure", "oil_volume_15", "oil_viscosity",
    "piston_valve.discharge_coefficient", "piston_valve.ring_leak_area", "oil_fill.density_15", "oil_fill.expansion",
    "oil_fill.entrained_gas", "gas_charge.temperature", "damping_rig.oil_temperature", "damping_rig.friction",
    "damping_rig.oil_compressibility",
)  # fmt: skip


def both_ways(columns: Mapping[str, FloatArray], speed: float, gas: FloatArray) -> Curve:
    """Compression and rebound at `speed` [m/s] with the gas at `gas` [Pa absolute], oil as in the test of function."""
    warm = columns["damping_rig.oil_temperature"]
    rho = columns["oil_fill.density_15"] * (1.0 - columns["oil_fill.expansion"] * (warm - 288.15))
    builds = build_rows(
        columns["bore"], columns["rod_diameter"], gas, columns["piston_valve.discharge_coefficient"],
        np.maximum(columns["piston_valve.ring_leak_area"], 0.0), np.maximum(columns["damping_rig.friction"], 0.0),
        AMBIENT,
    )  # fmt: skip
    rows = ("piston_rebound_row", "piston_check_row", "base_compression_row", "base_intake_row")
    oils = oil_rows(
        rho, columns["oil_viscosity"], columns["damping_rig.oil_compressibility"],
        np.maximum(columns["oil_fill.entrained_gas"], 0.0),
    )  # fmt: skip
    return curve(np.array([-speed, speed]), builds, np.stack([columns[name] for name in rows], axis=1), oils)
