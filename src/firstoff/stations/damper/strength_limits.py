"""Limits of rod, tube and bump stop that the curve hides: stress, buckling, bending, bottoming.

A check beside the route: computed where a sheet limits one of its characteristics or readings hold one.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.damper.limits_strength import (
    bottoming_speed,
    buckling_force,
    hoop_stress,
    rod_stress,
    stop_energy,
)
from firstoff.sheets.units import format_value
from firstoff.stations.damper.limits_curve import NEEDS, both_ways
from firstoff.stations.settle import Settings, limited, settle

ASSUMED = "assumed: common practice, no source"
CAUTIONS = (
    "Burst and overload tests: shielded, with liquid, never with gas; nobody beside the part.",
    "A drop or bottoming test throws parts: guard closed, lock out before touching.",
)


class StrengthLimits:
    """Rod, pressure tube and bump stop at a speed that abuse may reach."""

    name = "strength_limits"
    title = "Strength limits: rod, tube, bump stop"
    costly = True  # it asks for drawing data of its own, so only where somebody asks for it
    needs = (*NEEDS, "pressure_tube.yield_strength")
    characteristics = (
        Characteristic("peak_pressure", "bar", "largest pressure inside the pressure tube at the abuse speed, absolute",
                       pressure=True),
        Characteristic("tube_hoop_stress", "MPa", "hoop stress at the bore of the pressure tube at that pressure"),
        Characteristic("tube_safety", "1", "yield strength of the pressure tube over that stress"),
        Characteristic("rod_buckling_safety", "1", "force at which the rod, fully out, buckles over its load"),
        Characteristic("rod_stress", "MPa", "largest stress of the rod under axial and side load, fully out"),
        Characteristic("rod_safety", "1", "yield strength of the rod over that stress"),
        Characteristic("bottoming_speed", "m/s", "speed of the carried mass that uses the bump stop up"),
    )  # fmt: skip
    gives = tuple(c.name for c in characteristics)
    parameters = (
        Parameter("abuse_speed", "m/s", "given", "rod speed that abuse may reach, both ways", "3 m/s",
                  "assumed: a pothole at speed", low="0.1 m/s", high="10 m/s"),
        Parameter("tube_wall", "mm", "given", "wall of the pressure tube", "1.5 mm ±0.05 mm", ASSUMED, low="0.5 mm",
                  high="10 mm", lot_share=0.8),
        Parameter("rod_length", "mm", "given", "free rod from its guide to its mount, fully out", low="20 mm",
                  high="1500 mm"),
        Parameter("end_factor", "1", "given", "buckling length over free length: 1 both ends pinned, 0.7 one fixed",
                  "1", "assumed: pinned, the careful side", low="0.5", high="2.1"),
        Parameter("rod_strength", "MPa", "given", "yield strength of the rod's core", "400 MPa, sd 15 MPa",
                  "assumed: carbon steel, cold drawn, from memory", low="150 MPa", high="1500 MPa", lot_share=0.8),
        Parameter("rod_modulus", "GPa", "given", "elastic modulus of the rod", "207 GPa",
                  "assumed: carbon steel, handbook value from memory", low="150 GPa", high="230 GPa"),
        Parameter("rod_load", "N", "given", "further axial load on the rod, fully out", "0 N", "assumed: none",
                  low="0 N", high="100000 N"),
        Parameter("side_load", "N", "given", "side load on the rod's mount, fully out", "0 N",
                  "assumed: both ends pinned", low="0 N", high="20000 N"),
        Parameter("bump_stop_rate", "N/mm", "given", "rate of the bump stop where it begins", "40 N/mm", ASSUMED,
                  low="1 N/mm", high="5000 N/mm"),
        Parameter("bump_stop_travel", "mm", "given", "travel of the bump stop until it is used up; 0: it has none",
                  "0 mm", "assumed: none on the damper", low="0 mm", high="200 mm"),
        Parameter("bump_stop_progression", "1", "given", "q of its force k x (1 + q (x/s)²); 0: straight", "0",
                  "assumed: straight, the careful side", low="0", high="50"),
        Parameter("carried_mass", "kg", "given", "mass of the body on this damper", "400 kg", ASSUMED, low="10 kg",
                  high="20000 kg"),
    )  # fmt: skip

    def __init__(self, speeds: tuple[float, ...] = ()) -> None:
        """`speeds` of the customer's table do not matter: strength is judged at a speed of its own."""

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        return Plan(
            self.name,
            values,
            limited(self.characteristics, settings),
            setup=(("strength is judged at", format_value(at["abuse_speed"], "m/s")),),
            assumptions=(
                "Steady pressures at the abuse speed, gas and oil as in the test of function: no wave, no blow.",
                "Pressure tube: long, elastic, thick-walled; the gas presses on it from outside; seam, beads and "
                "ovality left out.",
                "Rod: straight, central load for buckling (Euler, or Johnson when stout); bending at the guide.",
                "Bottoming: the energy of the carried mass alone; spring, damper and gravity left out.",
            ),
            cautions=CAUTIONS,
        )

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        def at(name: str) -> FloatArray:
            return columns[f"{self.name}.{name}"]

        n = len(at("rod_length"))
        given: Columns = {name: np.full(n, np.nan) for name in self.gives}
        rod, bore, wall = columns["rod_diameter"], columns["bore"], at("tube_wall")
        peak, push = self._peaks(columns, at("abuse_speed"))
        ok = np.isfinite(peak) & (wall > 0.0) & (bore > 0.0) & (rod > 0.0) & (at("rod_strength") > 0.0)
        ok &= (at("rod_length") > 0.0) & (at("end_factor") > 0.0) & (at("rod_modulus") > 0.0) & (push > 0.0)
        given["peak_pressure"] = peak
        hoop = hoop_stress(peak[ok], columns["gas_pressure"][ok], bore[ok], wall[ok])
        given["tube_hoop_stress"][ok] = hoop
        given["tube_safety"][ok] = columns["pressure_tube.yield_strength"][ok] / np.maximum(hoop, 1.0)
        length, strength = at("rod_length")[ok], at("rod_strength")[ok]
        load = push[ok] + at("rod_load")[ok]
        buckles = buckling_force(rod[ok], length, at("rod_modulus")[ok], strength, at("end_factor")[ok])
        given["rod_buckling_safety"][ok] = buckles / load
        given["rod_stress"][ok] = rod_stress(rod[ok], load, at("side_load")[ok], length)
        given["rod_safety"][ok] = strength / given["rod_stress"][ok]
        stop, mass = [at(f"bump_stop_{name}") for name in ("rate", "travel", "progression")], at("carried_mass")
        can = (mass > 0.0) & np.all([s >= 0.0 for s in stop], axis=0)
        given["bottoming_speed"][can] = bottoming_speed(stop_energy(*(s[can] for s in stop)), mass[can])
        status = np.where(ok & can, Status.OK, Status.OUT_OF_RANGE | Status.NO_VALUE).astype(np.uint8)
        return given, status

    @staticmethod
    def _peaks(columns: Mapping[str, FloatArray], speed: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Largest pressure in the tube both ways, and the force with which compression pushes on the rod."""
        peak, push = np.full(len(speed), np.nan), np.full(len(speed), np.nan)
        for one in np.unique(speed[speed > 0.0]):  # one abuse speed: as a rule one group
            group = speed == one
            part = {name: columns[name][group] for name in NEEDS}
            found = both_ways(part, float(one), part["gas_pressure"])
            peak[group] = np.maximum(found.p_rebound, found.p_compression).max(axis=1)
            push[group] = -found.force[:, 0]
        return peak, push
