"""Reform: the second forming hit, which brings the section to its radii where one hit would tear it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.physics.forming import forces
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.pressing.common import (
    PRESS_CAUTIONS,
    Program,
    as_columns,
    drawing_of,
    names_of,
    strip_count,
    strips_of,
    walk,
)
from firstoff.stations.bumper.pressing.die_line import die_setup
from firstoff.stations.settle import Settings, limited, settle


class Reform:
    """The bends of the draw, sharpened without tension."""

    name = "reform"
    title = "Reform: sharpen the section"
    needs = (*names_of("drawn"), "sheet_thickness", "strip_law", "coil.tensile_strength")
    gives = (*names_of("reformed"), "force_reform")
    parameters: tuple[Parameter, ...] = ()

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        return Plan(
            self.name, values, limited((), settings), self.data(settings), die_setup(settings, self.name),
            ("Bent from the first hit's radius to the drawing's without tension.",), PRESS_CAUTIONS,
        )  # fmt: skip

    @staticmethod
    def data(settings: Settings) -> dict[str, Any]:
        return {"bumper": drawing_of(settings)}

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        bumper: Bumper = plan.data["bumper"]
        t = columns["sheet_thickness"]
        program = Program(len(t), strip_count(bumper), 2)
        first, last = bumper.drawn
        for i in range(first, last + 1):
            program.bend(i, 0, 1.0 / (bumper.inner[i].radius + 0.5 * t))
            program.release(i, 1)
        found, status = walk(strips_of(columns, "drawn"), program, t, columns["strip_law"])
        radii = np.array([c.radius for c in bumper.inner[first : last + 1]])
        tensile = columns["coil.tensile_strength"]
        each = [forces.bend(tensile, t, bumper.length, 2.0 * r + t, forces.V_BEND) for r in radii]
        return as_columns(found, "reformed") | {"force_reform": np.sum(each, axis=0)}, status
