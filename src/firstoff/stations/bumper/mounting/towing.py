"""Hitch and step: static load by rating class, fatigue of the hitch. Only a physical test releases them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.physics.durability.towing import CLASSES, DYNAMIC, GRAVITY, NOSE, d_value, life_used
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.mounting.mounted_sheet import Mounted
from firstoff.stations.settle import Settings, limited, settle

ASSUMED: Final = "assumed: common practice, no source"
CAUTIONS: Final = (
    "Strength rig: nobody beside or behind the hitch under load; a chain or a bar that lets go flies.",
    "No calculation releases a hitch or a step: a physical test of this very design does.",
)
GIVES: Final = (
    Characteristic("hitch_stress", "MPa", "stress of the hitch's arm under the rated pull and weight", safety=True),
    Characteristic("hitch_yield_reserve", "1", "yield strength over that stress", safety=True),
    Characteristic("hitch_damage", "1", "share of the arm's life used by 2 million cycles of 0.6 D", safety=True),
    Characteristic("step_share", "%", "stress of the brackets under the step's load over their yield", safety=True),
)


class Towing:
    """Rating, arm and scatter of its steel in; stress, reserve and damage out."""

    name = "towing"
    title = "Strength rig: hitch and step"
    costly = False
    needs: tuple[str, ...] = ()
    parameters = (
        Parameter("car_mass", "kg", "given", "gross mass of the towing car", "2600 kg", ASSUMED, low="400 kg",
                  high="8000 kg"),
        Parameter("ball_below", "mm", "given", "ball below the arm's weld", "90 mm", ASSUMED, low="0 mm",
                  high="600 mm"),
        Parameter("ball_behind", "mm", "given", "ball behind the arm's weld", "140 mm", ASSUMED, low="0 mm",
                  high="800 mm"),
        Parameter("arm_modulus", "cm^3", "given", "section modulus of the arm at its weld", "16 cm^3", ASSUMED,
                  low="0.5 cm^3", high="500 cm^3"),
        Parameter("arm_area", "cm^2", "given", "section of the arm", "12 cm^2", ASSUMED, low="1 cm^2", high="200 cm^2"),
        Parameter("arm_yield", "MPa", "scatter", "yield strength of the arm", "355 MPa, lot sd 12 MPa, part sd 4 MPa",
                  ASSUMED, low="150 MPa", high="1000 MPa"),
        Parameter("weld_strength", "MPa", "scatter", "stress amplitude at the weld toe that lasts 2 million cycles",
                  "40 MPa, lot sd 3 MPa, part sd 2 MPa", ASSUMED + "; half the range of a fillet weld", low="5 MPa",
                  high="300 MPa"),
        Parameter("weld_exponent", "1", "given", "exponent k of N = C S^-k", "3", "assumed: welded joints, from memory",
                  low="2", high="10"),
        Parameter("step_load", "kg", "given", "load on the step", "270 kg", ASSUMED + "; two persons with tools",
                  low="0 kg", high="1000 kg"),
        Parameter("step_lever", "mm", "given", "from the load to a bracket's notch", "180 mm", ASSUMED, low="0 mm",
                  high="800 mm"),
        Parameter("bracket_modulus", "cm^3", "given", "section modulus of one bracket upwards", "3.3 cm^3", ASSUMED,
                  low="0.1 cm^3", high="200 cm^3"),
        Parameter("bracket_yield", "MPa", "scatter", "yield strength of the bracket", "355 MPa, lot sd 12 MPa", ASSUMED,
                  low="150 MPa", high="1000 MPa"),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        drawn: Bumper | None = settings.drawing if settings is not None else None
        self.mounted: Mounted | None = drawn.mounted if drawn is not None else Mounted(0.5, rating="1")
        self.characteristics = GIVES if self.mounted is not None and self.mounted.rating else ()
        self.gives = tuple(c.name for c in self.characteristics)

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        lines: tuple[tuple[str, str], ...] = ()
        if self.mounted is not None and self.gives:
            trailer = CLASSES[self.mounted.rating]
            car = next(v.nominal for v in values if v.name == f"{self.name}.car_mass")
            force = float(d_value(car, trailer))
            lines = (
                ("rating", f"class {self.mounted.rating}: trailer of {format_value(trailer, 'kg', 4)} (SAE J684, from "
                           "memory)"),
                ("D-value", f"{format_value(force, 'kN', 3)} (UN R55, from memory)"),
                ("weight on the ball", format_value(NOSE * trailer * GRAVITY, "kN", 3)),
                ("cycles of the test", f"2 million of ±{format_value(DYNAMIC * force, 'kN', 3)} along the car"),
            )  # fmt: skip
        return Plan(
            self.name, values, self._limited(settings), {}, lines,
            (
                "The arm as a beam at its weld: rated pull times drop plus weight times overhang, and the pull itself; "
                "stress amplitude from 0.6 D, no mean stress, Basquin and Miner.",
                "Ratings and loads from memory: compare with the published text. Not seen: bolts, frame, corrosion, "
                "overload.",
            ),
            CAUTIONS if self.gives else (),
        )  # fmt: skip

    def _limited(self, settings: Settings) -> tuple[Characteristic, ...]:
        """Limits of the sheet; a safety characteristic it stays, whatever the sheet says."""
        from dataclasses import replace

        return tuple(replace(c, safety=True) for c in limited(self.characteristics, settings))

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        at = {p.name: np.maximum(columns[f"{self.name}.{p.name}"], 1e-12) for p in self.parameters}
        n = len(at["car_mass"])
        if not self.gives or self.mounted is None:
            return {}, np.zeros(n, np.uint8)
        trailer = CLASSES[self.mounted.rating]
        pull, weight = d_value(at["car_mass"], trailer), NOSE * trailer * GRAVITY
        per_pull = at["ball_below"] / at["arm_modulus"] + 1.0 / at["arm_area"]
        stress = pull * per_pull + weight * at["ball_behind"] / at["arm_modulus"]
        step = 0.5 * GRAVITY * at["step_load"] * at["step_lever"] / at["bracket_modulus"]
        given: Columns = {
            "hitch_stress": stress,
            "hitch_yield_reserve": at["arm_yield"] / stress,
            "hitch_damage": life_used(DYNAMIC * pull * per_pull, at["weld_strength"], at["weld_exponent"]),
            "step_share": step / at["bracket_yield"],
        }
        return given, np.zeros(n, np.uint8)
