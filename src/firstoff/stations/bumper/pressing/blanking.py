"""Blanking: the sheet is cut from the coil; where it lies in the next die is its gauge's matter."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.physics.forming import blank, forces
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.pressing.common import PRESS_CAUTIONS, drawing_of
from firstoff.stations.bumper.pressing.die_line import blank_size, die_setup
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"
BRIDGE, MARGIN = 0.004, 0.006  # m, between blanks and at the coil's edge: common practice, no source
ALONG = "the bar lies along the coil: its bends lie along the grain, so radii are held half as large again"
ACROSS = "the bar lies across the coil: its bends lie across the grain"


class Blanking:
    """Width and place of the blank."""

    name = "blanking"
    title = "Blank: cut from the coil"
    needs = ("sheet_thickness", "coil.tensile_strength")
    gives = ("blank_growth", "blank_shift", "burr_height", "force_blank")
    parameters = (
        Parameter("width", "mm", "setting", "width of the blank across the bar", low="50 mm", high="1500 mm",
                  lot_share=0.8, change=Change("0.5 mm", 120, "regrind or shim the blanking die", 8, 400)),
        Parameter("offset", "mm", "setting", "how far the gauge holds the blank towards the upper edge", "0 ±0.6 mm",
                  ASSUMED, low="-10 mm", high="10 mm", lot_share=0.3,
                  change=Change("0.25 mm", 20, "gauge stops of the first forming die", 12)),
        Parameter("burr", "%", "scatter", "burr over the thickness, from clearance and wear of the cutting edge",
                  "6 %, lot sd 0.9 %", ASSUMED, low="0.5 %", high="60 %"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        bumper = drawing_of(settings)
        size = blank_size(settings)
        width = next(v.nominal for v in values if v.name == "blanking.width")
        n, along = _nested(bumper, size.length, width)
        gives = (
            Characteristic("burr_height", "um", "burr of the blank"),
            Characteristic("blank_growth", "mm", "width of the blank beyond the drawing's development", exact=True),
        )
        return Plan(
            self.name, values, limited(gives, settings),
            self.data(settings),
            setup=(
                *setting_lines(self, values),
                ("development", f"{format_value(size.width, 'mm', 5)} wide by {format_value(size.length, 'mm', 5)} "
                 f"long (neutral fibre at {bumper.neutral_rule}; stretch of the walls taken off)"),
                ("coil", f"{format_value(n.coil_width, 'mm', 5)} wide, {n.across} across, pitch "
                 f"{format_value(n.pitch, 'mm', 5)}; {100.0 * n.share:.1f} % of it becomes part"),
                ("grain", ALONG if along else ACROSS),
                ("burr side", "towards the inside of the bends and away from the face: a burr outside starts cracks "
                 "and shows through chrome"),
                *die_setup(settings, "blanking"),
            ),
            assumptions=("The burr goes with the thickness; none grows into a crack.",),
            cautions=PRESS_CAUTIONS,
        )  # fmt: skip

    @staticmethod
    def data(settings: Settings) -> dict[str, Any]:
        size = blank_size(settings)
        return {"width": size.width, "edge": 2.0 * (size.length + size.width)}

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        t = columns["sheet_thickness"]
        given: Columns = {
            "blank_growth": columns[f"{self.name}.width"] - plan.data["width"],
            "blank_shift": columns[f"{self.name}.offset"].copy(),
            "burr_height": t * columns[f"{self.name}.burr"],
            "force_blank": forces.shear(columns["coil.tensile_strength"], t, plan.data["edge"]),
        }
        return given, np.zeros(len(t), np.uint8)


def _nested(bumper: Bumper, length: float, width: float) -> tuple[blank.Nesting, bool]:
    """The nesting, and whether the bar lies along the coil: only where it does not fit across."""
    holes = sum(a.count * (np.pi / 4.0 * a.width**2 if a.round else a.width * a.height) for a in bumper.apertures)
    area = length * width - float(holes)
    along = length + 2.0 * MARGIN > bumper.coil_widest
    return blank.nest(length, width, area, BRIDGE, MARGIN, bumper.coil_widest, along), along
