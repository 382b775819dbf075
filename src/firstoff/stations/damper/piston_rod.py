"""Piston rod: ground and hard-chromed to diameter."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.stations.settle import Settings, limited, setting_lines, settle


class PistonRod:
    """The rod's diameter decides the oil that the base valve must pass and the gas force."""

    name = "piston_rod"
    title = "Piston rod: grind and chrome"
    needs: tuple[str, ...] = ()
    gives = ("rod_diameter",)
    parameters = (
        Parameter("diameter", "mm", "setting", "diameter of the finished rod", low="5 mm", high="40 mm",
                  lot_share=0.5, change=Change("0.001 mm", 30, "offset of the grinder; measure after chrome", 10, 50)),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        return Plan(
            self.name,
            values,
            limited((Characteristic("rod_diameter", "mm", "diameter of the finished rod"),), settings),
            setup=setting_lines(self, values),
            cautions=(
                "Chromium plating baths: hexavalent chromium is carcinogenic and sensitising; extraction, "
                "protective equipment and waste treatment as the supplier's safety data and local codes demand.",
                "Grinding: wheel burst and mist; guards closed, wheel ring-tested.",
            ),
        )

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        diameter = columns[f"{self.name}.diameter"]
        return {"rod_diameter": diameter.copy()}, np.zeros(len(diameter), np.uint8)
