"""Restrike: the section is struck again, over-bent, and its bends are squeezed: it corrects what springback is left."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.forming import forces, strip
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.pressing.common import (
    PRESS_CAUTIONS,
    Program,
    as_columns,
    degrees,
    drawing_of,
    is_upper,
    kilonewtons,
    names_of,
    strip_count,
    strips_of,
    walk,
    wall_strips,
)
from firstoff.stations.bumper.pressing.die_line import compensation, die_setup, restrike_cost, sheet_thickness
from firstoff.stations.bumper.pressing.flanging import loaded
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"
DEEPEST = 0.25  # of the thickness, that a bead may sink in before it marks the face: common practice, no source


class Restrike:
    """Over-bend of the walls and the squeeze of the bends, as shut height, press and coil decide it."""

    name = "restrike"
    title = "Restrike: set the bends"
    needs = (*names_of("wrapped"), "sheet_thickness", "strip_law")
    gives = (*names_of("final"), "bead_depth", "force_restrike")
    parameters = (
        Parameter("over_bend_upper", "deg", "setting", "how far the upper wall is bent beyond the drawing",
                  "0 deg, part sd 0.05 deg", "assumed: steels cut to the drawing", low="-5 deg", high="15 deg",
                  change=Change("0.25 deg", 90, "shims behind the upper wall steels", 12, 80)),
        Parameter("over_bend_lower", "deg", "setting", "how far the lower wall is bent beyond the drawing",
                  "0 deg, part sd 0.05 deg", "assumed: steels cut to the drawing", low="-5 deg", high="15 deg",
                  change=Change("0.25 deg", 90, "shims behind the lower wall steels", 12, 80)),
        Parameter("shut_depth", "mm", "setting", "how far the slide would go beyond contact with a sheet of the "
                  "drawing's thickness, were the press rigid", low="-3 mm", high="10 mm", lot_share=0.5,
                  change=Change("0.1 mm", 15, "shut height of the restrike press, or shims under its die", 12)),
        Parameter("press_stiffness", "kN/mm", "given", "stiffness of press and die", "8000 kN/mm", ASSUMED,
                  low="200 kN/mm", high="40000 kN/mm"),
        Parameter("bead_radius", "mm", "given", "radius of the bead that is driven into each bend", "4 mm", ASSUMED,
                  low="0.5 mm", high="40 mm"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        upper, lower = (compensation(settings, f"restrike.over_bend_{side}") for side in ("upper", "lower"))
        costs = [
            (
                f"struck at a shut depth of {format_value(depth, 'mm', 3)}",
                f"{kilonewtons(force)}; upper wall then off by {degrees(off)}",
            )
            for depth, force, off in restrike_cost(settings)
        ]
        gives = (
            Characteristic("bead_depth", "mm", "depth of the beads in the bends"),
            Characteristic("force_restrike", "kN", "force of the restrike, as load cells would show it"),
        )
        return Plan(
            self.name, values, limited(gives, settings),
            self.data(settings),
            (*setting_lines(self, values), ("over-bend that brings the walls to the drawing",
             f"{degrees(upper)} upper, {degrees(lower)} lower"), *costs, *die_setup(settings, self.name)),
            (
                "Bent without tension, then struck by a bead along each bend; what it displaces spreads over the bend.",
                "Press and die are one spring; the sheet does not harden under the bead.",
            ),
            PRESS_CAUTIONS,
        )  # fmt: skip

    @staticmethod
    def data(settings: Settings) -> dict[str, Any]:
        return {"bumper": drawing_of(settings), "thickness": sheet_thickness(settings)}

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        bumper: Bumper = plan.data["bumper"]
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        t, law, before = columns["sheet_thickness"], columns["strip_law"], strips_of(columns, "wrapped")
        struck = [i for i, c in enumerate(bumper.inner) if c.restrike]
        closed = at["shut_depth"] + t - plan.data["thickness"]
        plastic = before.state[..., strip.PLASTIC][:, struck].mean(axis=(1, 2)) if struck else np.zeros_like(t)
        reached = law[:, strip.PRE_STRAIN] + law[:, strip.FACTOR] * plastic
        flow = law[:, strip.STRENGTH] * reached ** law[:, strip.EXPONENT]
        length = bumper.length * max(len(struck), 1)
        force, depth, width = forces.bead_hit(closed, at["press_stiffness"], flow, length, at["bead_radius"])
        first, last = bumper.drawn
        program = Program(len(t), strip_count(bumper), 3)
        for i in struck:
            over = at["over_bend_upper" if is_upper(bumper, i) else "over_bend_lower"] if i in (first, last) else 0.0
            arc = bumper.angles[i] * (bumper.inner[i].radius + 0.5 * t)
            program.bend(i, 0, loaded(bumper, i, t, over))
            program.squeeze(i, 1, forces.spread_strain(depth, width, arc, t))
            program.release(i, 2)
        for i in wall_strips(bumper):
            program.bend(i, 0, 0.0)
            program.release(i, 2)
        found, status = walk(before, program, t, law)
        marked = np.where(depth > DEEPEST * t, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
        return as_columns(found, "final") | {"bead_depth": depth, "force_restrike": force}, status | marked
