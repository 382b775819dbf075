"""Thickness at named points: by coulometry, microscope or magnetic gauge."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.physics.plating.deposit import Coating, double_nickel, short_of
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish.plating_common import plating_of, settled_field
from firstoff.stations.bumper.finish.plating_drawing import PlatingDrawing, PlatingPoint
from firstoff.stations.settle import Settings, limited, settle

CAUTIONS = (
    "Coulometer: stripping electrolyte is acid and holds nickel or chromium afterwards; gloves, goggles, waste "
    "collected.",
    "A section under the microscope destroys the part; the saw and the etchant have their own instructions.",
)


class Thickness:
    """The layers of every place in, what is read at the plating points out."""

    name = "thickness"
    title = "Inspection: thickness at named points"
    parameters: tuple[Parameter, ...] = ()

    def __init__(self, settings: Settings | None = None) -> None:
        drawn: Bumper | None = settings.drawing if settings is not None else None
        plating: PlatingDrawing | None = drawn.plating if drawn is not None else None
        self.points: tuple[PlatingPoint, ...] = plating.points if plating is not None else ()
        self.chrome = plating is not None and plating.with_chrome
        self.needs: tuple[str, ...] = ("semi_map", "bright_map", *(("chrome_map",) if self.chrome else ()))
        self.characteristics = tuple(c for p in self.points for c in self._of(p))
        short = Characteristic(
            "coating_short", "1", "largest lack at a point against what the class asks for, as a share"
        )
        if plating is not None and plating.coating is not None and self.chrome:
            self.characteristics = (*self.characteristics, short)
        self.gives = tuple(c.name for c in self.characteristics)

    def _of(self, p: PlatingPoint) -> tuple[Characteristic, ...]:
        at = p.name.replace("_", " ")
        found = [
            Characteristic(f"nickel_{p.name}", "um", f"nickel, {at}"),
            Characteristic(f"semi_share_{p.name}", "1", f"share of semi-bright nickel, {at}"),
        ]
        if self.chrome:
            found.append(Characteristic(f"chrome_{p.name}", "um", f"chromium, {at}"))
        return tuple(found)

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        _, drawn = plating_of(settings)
        field = settled_field(settings)
        where = [
            (p.name.replace("_", " "), f"{'back' if p.back else 'front'}, {format_value(p.along, 'mm', 4)} along, "
             f"{format_value(p.up, 'mm', 4)} up, {format_value(p.rear, 'mm', 4)} behind the face")
            for p in drawn.points
        ]  # fmt: skip
        methods = (
            ("coulometer", "nickel layers and chromium one by one, the layers told apart by their step in potential; "
             "strips a spot of the part"),
            ("microscope", "section across the point; the reference where readings are in doubt; destroys the part"),
            ("magnetic gauge", "total of nickel and chromium without harm, calibrated on the same steel and nickel"),
        )  # fmt: skip
        return Plan(
            self.name, values, limited(self.characteristics, settings),
            {"start": 0 if field is None else field.first_point, "coating": drawn.coating},
            (*methods, *where),
            ("Readings are of a spot as small as the gauge's; the model's are of cells some centimetres wide, put "
             "together linearly.",),
            CAUTIONS,
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        start: int = plan.data["start"]
        coating: Coating | None = plan.data["coating"]
        nickel = double_nickel(columns["semi_map"][:, start:], columns["bright_map"][:, start:])
        given: Columns = {}
        for k, p in enumerate(self.points):
            given[f"nickel_{p.name}"] = nickel.total[:, k]
            given[f"semi_share_{p.name}"] = nickel.share[:, k]
            if self.chrome:
                given[f"chrome_{p.name}"] = columns["chrome_map"][:, start + k]
        if "coating_short" in self.gives and coating is not None:
            front = [k for k, p in enumerate(self.points) if not p.back]
            lack = short_of(coating, nickel, columns["chrome_map"][:, start:])
            given["coating_short"] = lack[:, front].max(axis=1) if front else np.zeros(len(lack))
        return given, np.zeros(len(nickel.total), np.uint8)
