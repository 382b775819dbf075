"""Cutting dies: trim of the ends, pierce after the draw, final pierce after the restrike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.physics.forming import forces
from firstoff.stations.bumper.pressing.common import PRESS_CAUTIONS, drawing_of
from firstoff.stations.bumper.pressing.die_line import die_setup, holes_of, sheet_thickness, shift_of
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"
SCRAP = "Scrap: chutes clear before the stroke; never reach for a slug under the slide."


class Trim:
    """The ends of the bar are cut to length."""

    name = "trim"
    title = "Trim: ends to length"
    needs = ("sheet_thickness", "coil.tensile_strength")
    gives = ("bar_length", "force_trim")
    parameters = (
        Parameter("length_offset", "mm", "setting", "length of the bar beyond the drawing's", "0 ±0.4 mm", ASSUMED,
                  low="-5 mm", high="5 mm", lot_share=0.5,
                  change=Change("0.1 mm", 60, "shims behind the trim steels", 10, 50)),
        Parameter("shear_ratio", "1", "scatter", "shear over tensile strength, wear of the edges in it",
                  "0.70, lot sd 0.02", "assumed: handbooks, from memory", low="0.4", high="1.5"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        gives = (Characteristic("bar_length", "mm", "length of the bar along its face"),)
        return Plan(
            self.name, values, limited(gives, settings), self.data(settings),
            (*setting_lines(self, values), ("cuts", "both ends; the long edges come from the blank"),
             *die_setup(settings, self.name)),
            ("No shear on the steels: force is that of a flat edge.",), (*PRESS_CAUTIONS, SCRAP),
        )  # fmt: skip

    @staticmethod
    def data(settings: Settings) -> dict[str, Any]:
        bumper = drawing_of(settings)
        return {"length": bumper.length, "edge": 2.0 * bumper.developed(sheet_thickness(settings))}

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        t, ratio = columns["sheet_thickness"], columns[f"{self.name}.shear_ratio"]
        given: Columns = {
            "bar_length": plan.data["length"] + columns[f"{self.name}.length_offset"],
            "force_trim": forces.shear(columns["coil.tensile_strength"], t, plan.data["edge"], ratio),
        }
        return given, np.zeros(len(t), np.uint8)


class Piercing:
    """Holes of one stage: where they come to lie across the bar, and what the hit takes."""

    needs: tuple[str, ...] = ("sheet_thickness", "coil.tensile_strength", "face_strain")
    parameters = (
        Parameter("offset", "mm", "setting", "where the die holds the part across the bar", "0 ±0.35 mm", ASSUMED,
                  low="-5 mm", high="5 mm", lot_share=0.6,
                  change=Change("0.1 mm", 45, "shims behind the locators", 10, 20)),
    )  # fmt: skip
    stage = ""
    what = ""
    name = ""
    title = ""

    def __init__(self, settings: Settings | None = None) -> None:
        drawn = settings.drawing if settings is not None else None
        self.holes = holes_of(settings, self.stage) if settings is not None and drawn is not None else ()
        limits = settings.limits if settings is not None else {}
        self.placed = tuple(a for a in self.holes if f"hole_{a.name}" in limits)
        self.gives = (*(f"hole_{a.name}" for a in self.placed), f"force_{self.name}")

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        gives = tuple(Characteristic(f"hole_{a.name}", "mm", f"place across the bar, {a.name}") for a in self.placed)
        names = ", ".join(f"{a.count} x {a.name}" if a.count > 1 else a.name for a in self.holes) or "nothing"
        return Plan(
            self.name, values, limited(gives, settings), self.data(settings),
            (*setting_lines(self, values), ("pierces", names), ("why here", self.what),
             *die_setup(settings, self.name)),
            ("The place of a hole errs by the locators, and by the stretch of what is formed after it.",),
            (*PRESS_CAUTIONS, SCRAP),
        )  # fmt: skip

    def data(self, settings: Settings) -> dict[str, Any]:
        return {"edge": sum(a.count * a.edge for a in self.holes)}

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        t = columns["sheet_thickness"]
        force = forces.shear(columns["coil.tensile_strength"], t, plan.data["edge"])
        given: Columns = {f"force_{self.name}": np.asarray(force, dtype=np.float64) * np.ones_like(t)}
        for a in self.placed:
            given[f"hole_{a.name}"] = columns[f"{self.name}.offset"] + shift_of(a, self.stage, columns["face_strain"])
        return given, np.zeros(len(t), np.uint8)


class Pierce(Piercing):
    """Holes that nothing formed later distorts."""

    name = "pierce"
    title = "Pierce: holes of the formed face"
    stage = "pierce"
    what = "after the draw, which would stretch them; before the flanges, while the face lies open"


class FinalPierce(Piercing):
    """Holes that must be true to the restruck part."""

    name = "final_pierce"
    title = "Final pierce: holes true to the part"
    stage = "final_pierce"
    what = "tight place or near a bend: the restrike would move them"
