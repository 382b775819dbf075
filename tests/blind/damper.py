"""From the parameters of the sheets to a dynamic damper on its crank, and to what a rig shows of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from tests.blind import kernel
from tests.blind.law import AMBIENT, Columns, FloatArray, Law, duct_factor, edge_deflection, viscosity

STEPS, CYCLES = 120, 2  # a cycle; the second is read. Checked against twice as many in the tests
TUBE_LENGTH, DEAD_LENGTH = 0.250, 0.012  # m: pressure tube, and what is left over the piston with the rod out
LEAST_BUBBLES = 2e-4  # no oil is free of gas
SIDES = (("piston_valve", "rebound"), ("piston_valve", "check"), ("base_valve", "compression"),
         ("base_valve", "intake"))  # fmt: skip
FRICTION_SLOPE = 0.6  # of the friction beyond the ordinary, over half a stroke: a crooked guide pinches further in


@dataclass(frozen=True)
class Shown:
    """True values of n dampers by name of characteristic, SI, and the force over the last cycle (n, speeds, steps)."""

    columns: dict[str, FloatArray]
    force: FloatArray
    good: np.ndarray  # (n,): every step converged and the cycle repeats


def bore(x: Columns, law: Law) -> FloatArray:
    """Mandrel less elastic recovery; a tube that never yields keeps its welded bore."""
    recovery = law.hoop * x["pressure_tube.yield_strength"] / x["pressure_tube.elastic_modulus"]
    return np.maximum(x["pressure_tube.welded_bore"], x["pressure_tube.sizing_mandrel"] * (1.0 - recovery))


def gas_at_middle(x: Columns) -> tuple[FloatArray, FloatArray]:
    """Gas pressure and gas volume with the rod at rest at mid-stroke, warm through."""
    warm, charge = x["damping_rig.oil_temperature"], x["gas_charge.temperature"]
    swell = x["oil_fill.expansion"]
    oil = x["oil_fill.volume"]
    room = x["gas_charge.inner_volume"] - oil * np.exp(swell * (charge - 288.15))
    rod = 0.25 * math.pi * x["piston_rod.diameter"] ** 2 * x["damping_rig.rod_travel"]
    left = x["gas_charge.inner_volume"] - oil * np.exp(swell * (warm - 288.15)) - rod
    return x["gas_charge.pressure"] * room / left * warm / charge, left


def oil(x: Columns) -> tuple[FloatArray, FloatArray]:
    """Density and dynamic viscosity at the temperature of the test."""
    t = x["damping_rig.oil_temperature"]
    rho = x["oil_fill.density_15"] * np.exp(-x["oil_fill.expansion"] * (t - 288.15))
    return rho, rho * viscosity(t, x["oil_fill.viscosity_40"], x["oil_fill.viscosity_100"])


def valve_rows(x: Columns, law: Law) -> FloatArray:
    """(n, 4, fields): piston ahead and back, base ahead and back. Notches stand in both rows of a valve."""
    n = len(x["piston_rod.diameter"])
    rows = np.zeros((n, 4, len(kernel.VALVE)))
    at = {name: i for i, name in enumerate(kernel.VALVE)}
    for i, (station, side) in enumerate(SIDES):
        throttle = "rebound" if station == "piston_valve" else "compression"

        def get(key: str, station: str = station) -> FloatArray:
            return x[f"{station}.{key}"]

        cd = law.edge * x["piston_valve.discharge_coefficient"] * x.get(f"twin.{side}_edge", np.ones(n))
        if station == "base_valve":
            cd = cd * law.base_edge
        height, width = get(f"{throttle}_bleed_depth"), get(f"{throttle}_bleed_width")
        walls = 1.0 + law.notch_walls * (duct_factor(height / width) - 1.0)
        port = get(f"{side}_port_diameter")
        thickness, count = get(f"{side}_disc_thickness"), np.maximum(get(f"{side}_disc_count"), 0.05)
        fields: dict[str, FloatArray | float] = {
            "notch": get(f"{throttle}_bleed_count") * height * width,
            "notch_a": 12.0 * get(f"{throttle}_bleed_length") / height**2 * walls,
            "notch_k": law.notch_loss / cd**2,
            "perimeter": math.pi * get(f"{side}_seat_diameter"),
            "compliance": _compliance(x, station, side, law) / (law.steel * get("disc_modulus") * count * thickness**3),
            "land": get(f"{side}_land_height"),
            "bend": law.stiffening / thickness**2,
            "port": get(f"{side}_port_count") * 0.25 * math.pi * port**2,
            "port_a": 32.0 * get("port_length") / port**2,
            "port_k": law.port_loss / cd**2,
            "gap_cd": cd,
            "rate": 1.0,
        }
        if side == throttle:
            fields |= _relief(x, station, side, cd)
        for name, column in fields.items():
            rows[:, i, at[name]] = column
    return rows


def _relief(x: Columns, station: str, side: str, cd: FloatArray) -> dict[str, FloatArray]:
    seat, rate = x[f"{station}.{side}_relief_seat_diameter"], x[f"{station}.{side}_relief_rate"]
    if station == "base_valve":
        preload = rate * np.maximum(x["base_valve.relief_free_length"] - x["base_valve.crimp_length"], 0.0)
    else:
        preload = x[f"{station}.{side}_relief_preload"]
    return {
        "seat": 0.25 * math.pi * seat**2, "preload": preload, "rate": rate, "relief_perimeter": math.pi * seat,
        "max_lift": x[f"{station}.{side}_relief_max_lift"], "relief_cd": cd,
    }  # fmt: skip


def _compliance(x: Columns, station: str, side: str, law: Law) -> FloatArray:
    """Lift of the disc's seat circle over pressure, times E n t^3 [m N m]."""
    keys = [f"{station}.{side}_{d}_diameter" for d in ("seat", "clamp", "pressure")] + [f"{station}.disc_poisson"]
    rows, back = np.unique(np.stack([x[k] for k in keys], axis=1), axis=0, return_inverse=True)
    found = [edge_deflection(c / s, p / s, 2.0 * law.rim / s, nu) * (s / 2.0) ** 4 for s, c, p, nu in rows]
    return np.asarray(found)[back.ravel()]


def build_rows(x: Columns, law: Law) -> FloatArray:
    """(n, fields) of kernel.BUILD."""
    d, rod = bore(x, law), x["piston_rod.diameter"]
    piston, rod_area = 0.25 * math.pi * d**2, 0.25 * math.pi * rod**2
    gas, left = gas_at_middle(x)
    rho, mu = oil(x)
    travel = x["damping_rig.rod_travel"]
    above = DEAD_LENGTH + travel
    friction = np.maximum(x["damping_rig.friction"], 0.0)
    pinched = x.get("twin.friction_excess", np.zeros(len(rod)))
    columns = (
        piston, rod_area, (piston - rod_area) * above, piston * (TUBE_LENGTH - above), left, gas, rho, mu,
        x["damping_rig.oil_compressibility"], np.maximum(x["oil_fill.entrained_gas"], LEAST_BUBBLES), friction,
        FRICTION_SLOPE * pinched / (x["damping_rig.stroke"] / 2.0), np.maximum(x["piston_valve.ring_leak_area"], 0.0),
    )  # fmt: skip
    return np.ascontiguousarray(np.stack(np.broadcast_arrays(*columns), axis=1))


def law_row(law: Law) -> FloatArray:
    return np.array([getattr(law, name) for name in kernel.LAW])


def calibrated(law: Law, x: Columns, speeds: tuple[float, ...], forces: Mapping[str, float]) -> Law:
    """The law with its edges such that the nominal damper x meets `forces` on average, in the logarithm.

    As in the trade: the coefficient in the sheet is the one that made the last damper's curve fit.
    """
    low, high = 0.8, 1.3
    for _ in range(12):
        edge = 0.5 * (low + high)
        found = show(x, replace(law, edge=edge), speeds, cycles=1, steps=40).columns
        off = np.mean([math.log(found[name][0] / force) for name, force in forces.items()])
        low, high = (edge, high) if off > 0.0 else (low, edge)
    return replace(law, edge=edge)


def force_name(speed: float) -> str:
    return f"{'rebound' if speed > 0 else 'compression'}_{abs(speed):g}"


def show(
    x: Columns, law: Law, speeds: tuple[float, ...], speed_factor: float = 1.0, cycles: int = CYCLES, steps: int = STEPS
) -> Shown:
    """What a perfect rig shows of the dampers x: peak force at mid-stroke both ways, gas force, friction, diameters.

    speed_factor: true speed over stated. Columns as the sheets name them, and `twin.*` of this code's own.
    """
    n = len(x["piston_rod.diameter"])
    true = np.array(speeds) * speed_factor
    force, good = np.empty((n, len(true), steps)), np.zeros((n, len(true)), dtype=np.bool_)
    kernel.run_many(
        build_rows(x, law), np.ascontiguousarray(valve_rows(x, law)), law_row(law), x["damping_rig.stroke"] / 2.0,
        true, cycles, steps, force, good,
    )  # fmt: skip
    columns = {}
    for j, v in enumerate(speeds):
        columns[force_name(v)] = force[:, j, steps // 4 - 1].copy()
        columns[force_name(-v)] = force[:, j, 3 * steps // 4 - 1].copy()
    gas, _ = gas_at_middle(x)
    columns["static_gas_force"] = -(gas - AMBIENT) * 0.25 * math.pi * x["piston_rod.diameter"] ** 2
    columns["friction"] = np.maximum(x["damping_rig.friction"], 0.0)
    columns["bore"] = bore(x, law)
    columns["rod_diameter"] = x["piston_rod.diameter"].copy()
    return Shown(columns, force, good.all(axis=1))
