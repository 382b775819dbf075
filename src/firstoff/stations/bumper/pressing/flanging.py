"""Flange and cam flange: lips along the long edges, wrapped ends."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.physics.forming import forces
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.pressing.common import (
    PRESS_CAUTIONS,
    Program,
    as_columns,
    degrees,
    drawing_of,
    names_of,
    strip_count,
    strips_of,
    walk,
    wrap_strip,
)
from firstoff.stations.bumper.pressing.die_line import compensation, die_setup
from firstoff.stations.settle import Settings, limited, setting_lines, settle

CAM = "Cam die: the cam returns by spring or cylinder, without the press: block it before reaching in."


class Flange:
    """Corners of the flange die, wiped over and let go."""

    name = "flange"
    title = "Flange: lips of the long edges"
    gives = (*names_of("flanged"), "force_flange")
    parameters = (
        Parameter("over_bend", "deg", "setting", "how far the lips are bent beyond the drawing",
                  "0 deg, part sd 0.05 deg", "assumed: steels cut to the drawing", low="-5 deg", high="15 deg",
                  change=Change("0.25 deg", 90, "shims behind the flange steels", 12, 80)),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        two = settings is not None and settings.drawing is not None and settings.drawing.form_hits == 2
        self.before = "reformed" if two else "drawn"
        self.needs = (*names_of(self.before), "sheet_thickness", "strip_law", "coil.tensile_strength")

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        bumper = drawing_of(settings)
        names = ", ".join(c.name for c in bumper.inner if c.die == "flange") or "no corner"
        over = compensation(settings, "flange.over_bend")
        return Plan(
            self.name, values, limited((), settings), self.data(settings),
            (*setting_lines(self, values), ("bends", names),
             ("over-bend that brings the lips to the drawing", degrees(over)), *die_setup(settings, self.name)),
            ("Wiped without tension; the lip's sheet has run over the die radius before, and remembers it.",),
            PRESS_CAUTIONS,
        )  # fmt: skip

    @staticmethod
    def data(settings: Settings) -> dict[str, Any]:
        return {"bumper": drawing_of(settings)}

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        bumper: Bumper = plan.data["bumper"]
        t, over = columns["sheet_thickness"], columns[f"{self.name}.over_bend"]
        program = Program(len(t), strip_count(bumper), 2)
        force = np.zeros_like(t)
        for i, corner in enumerate(bumper.inner):
            if corner.die == "flange":
                program.bend(i, 0, loaded(bumper, i, t, over))
                program.release(i, 1)
                opening = 2.0 * corner.radius + t
                force += forces.bend(columns["coil.tensile_strength"], t, bumper.length, opening, forces.WIPE_BEND)
        found, status = walk(strips_of(columns, self.before), program, t, columns["strip_law"])
        return as_columns(found, "flanged") | {"force_flange": force}, status


def loaded(bumper: Bumper, corner: int, t: FloatArray, over: FloatArray | float) -> FloatArray:
    """Curvature of a corner in its die: its arc keeps its length, its angle is the drawing's and the over-bend."""
    angle = bumper.angles[corner]
    return np.asarray((1.0 + over / angle) / (bumper.inner[corner].radius + 0.5 * t))


class CamFlange:
    """The ends of the bar, bent round from the side."""

    name = "cam_flange"
    title = "Cam flange: wrapped ends"
    needs = (*names_of("flanged"), "sheet_thickness", "strip_law", "coil.tensile_strength")
    gives = (*names_of("wrapped"), "wrap_angle", "force_cam_flange")
    parameters = (
        Parameter("over_bend", "deg", "setting", "how far the ends are bent beyond the drawing",
                  "0 deg, part sd 0.1 deg", "assumed: cams cut to the drawing", low="-5 deg", high="40 deg",
                  change=Change("0.5 deg", 60, "shims behind the cams", 12, 60)),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        bumper = drawing_of(settings)
        gives = (Characteristic("wrap_angle", "deg", "angle of the wrapped ends"),) if bumper.wrap else ()
        over = compensation(settings, "cam_flange.over_bend") if bumper.wrap else 0.0
        wrap = bumper.wrap
        what = (
            f"{format_value(wrap.angle, 'deg', 3)} at {1e3 * wrap.radius:g} mm"
            if wrap
            else "no wrapped end: this die is left out"
        )
        return Plan(
            self.name, values, limited(gives, settings), self.data(settings),
            (*setting_lines(self, values), ("wraps", what),
             ("over-bend that brings the ends to the drawing", degrees(over)), *die_setup(settings, self.name)),
            ("The face alone is wrapped: the walls are notched there.",), (*PRESS_CAUTIONS, CAM),
        )  # fmt: skip

    @staticmethod
    def data(settings: Settings) -> dict[str, Any]:
        return {"bumper": drawing_of(settings)}

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        bumper: Bumper = plan.data["bumper"]
        t, over = columns["sheet_thickness"], columns[f"{self.name}.over_bend"]
        program = Program(len(t), strip_count(bumper), 2)
        force, wrap, k = np.zeros_like(t), bumper.wrap, wrap_strip(bumper)
        if wrap is not None and k is not None:
            program.bend(k, 0, (1.0 + over / wrap.angle) / (wrap.radius + 0.5 * t))
            program.release(k, 1)
            height = float(np.hypot(*np.diff(bumper.xy[bumper.datum : bumper.datum + 2], axis=0)[0]))
            opening = 2.0 * wrap.radius + t
            force = 2.0 * forces.bend(columns["coil.tensile_strength"], t, height, opening, forces.WIPE_BEND)
        found, status = walk(strips_of(columns, "flanged"), program, t, columns["strip_law"])
        angle = np.zeros_like(t)
        if wrap is not None and k is not None:
            angle = found.curvature[:, k] * wrap.angle * (wrap.radius + 0.5 * t)
        return as_columns(found, "wrapped") | {"wrap_angle": angle, "force_cam_flange": np.asarray(force)}, status
