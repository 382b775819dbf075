"""Pressure tube: a welded tube does not hold ±0.03 mm as welded, so a mandrel sizes its bore."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.tube.sizing import bore_after_mandrel, is_sized
from firstoff.sheets.units import format_value
from firstoff.stations.settle import Settings, limited, setting_lines, settle

CAUTIONS = (
    "Sizing press: keep hands out, use two-hand control, lock out before changing the mandrel.",
    "Tube mill and weld seam: arc light, hot edges, high-frequency current; guards stay closed.",
)


class PressureTube:
    """Welded bore, mandrel and yield strength in; sized bore out."""

    name = "pressure_tube"
    title = "Pressure tube: weld and size"
    needs: tuple[str, ...] = ()
    gives = ("bore",)
    parameters = (
        Parameter("sizing_mandrel", "mm", "setting", "diameter of the sizing mandrel", low="10 mm", high="80 mm",
                  change=Change("0.005 mm", 45, "change the mandrel for the next size", 6, 300)),
        Parameter("welded_bore", "mm", "scatter", "bore as welded, before sizing", low="10 mm", high="80 mm",
                  lot_share=0.5),
        Parameter("yield_strength", "MPa", "scatter", "yield strength of the tube in hoop direction",
                  low="100 MPa", high="1200 MPa", lot_share=0.8),
        Parameter("elastic_modulus", "GPa", "given", "elastic modulus of the tube", "206 GPa",
                  "assumed: carbon steel, handbook value from memory", low="50 GPa", high="250 GPa"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        bore = float(self._bore(*(np.array([at[p.name]]) for p in self.parameters))[0])
        return Plan(
            self.name,
            values,
            limited((Characteristic("bore", "mm", "bore of the pressure tube after sizing"),), settings),
            setup=(
                *setting_lines(self, values),
                ("bore expected after elastic recovery", format_value(bore, "mm", 6)),
                ("expansion by the mandrel", f"{(at['sizing_mandrel'] / at['welded_bore'] - 1) * 100:.2f} %"),
            ),
            assumptions=("The tube is a thin elastic-perfectly plastic ring; ovality and seam are not modelled.",),
            cautions=CAUTIONS,
        )

    @staticmethod
    def _bore(mandrel: FloatArray, welded: FloatArray, strength: FloatArray, modulus: FloatArray) -> FloatArray:
        return bore_after_mandrel(welded, mandrel, strength, modulus)

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        mandrel, welded, strength, modulus = (columns[f"{self.name}.{p.name}"] for p in self.parameters)
        sized = is_sized(welded, mandrel, strength, modulus)
        status = np.where(sized, Status.OK, Status.OUT_OF_RANGE).astype(np.uint8)
        return {"bore": self._bore(mandrel, welded, strength, modulus)}, status
