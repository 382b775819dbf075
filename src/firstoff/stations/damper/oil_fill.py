"""Oil filling: how much oil, and which."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.sheets.units import format_value
from firstoff.stations.settle import Settings, limited, setting_lines, settle

TOGETHER = 0.9  # correlation of an oil's two viscosities from lot to lot: assumed


class OilFill:
    """The filled mass; the oil's own data go on to the rig, where its temperature is known."""

    name = "oil_fill"
    title = "Oil filling"
    needs: tuple[str, ...] = ()
    gives = ("oil_volume_15", "oil_mass")
    parameters = (
        Parameter("volume", "cm3", "setting", "oil filled, at 15 °C", low="20 cm3", high="5000 cm3", lot_share=0.2,
                  change=Change("1 cm3", 10, "dose of the filling station", 10)),
        Parameter("density_15", "kg/m3", "given", "density of the oil at 15 °C", low="700 kg/m3", high="1100 kg/m3",
                  lot_share=1.0),
        Parameter("viscosity_40", "mm2/s", "given", "kinematic viscosity at 40 °C", low="2 mm2/s", high="200 mm2/s",
                  lot_share=1.0),
        Parameter("viscosity_100", "mm2/s", "given", "kinematic viscosity at 100 °C", low="1 mm2/s", high="50 mm2/s",
                  lot_share=1.0, follows="viscosity_40", correlation=TOGETHER),
        Parameter("expansion", "1/K", "given", "thermal expansion of the oil by volume", "0.00075 1/K",
                  "assumed: mineral oil, common practice", low="0.0003 1/K", high="0.0015 1/K"),
        Parameter("entrained_gas", "1", "scatter", "gas entrained in the oil, by volume at atmospheric pressure",
                  "0.2 %, lot sd 0.05 %", "assumed: settled oil; nobody measured it", low="0 %", high="30 %"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        return Plan(
            self.name,
            values,
            limited((Characteristic("oil_mass", "g", "mass of the oil filled", exact=True),), settings),
            setup=(
                *setting_lines(self, values),
                ("fill weight", format_value(at["volume"] * at["density_15"], "g")),
                ("oil: viscosity at 40 °C and 100 °C", f"{format_value(at['viscosity_40'], 'mm2/s')} and "
                 f"{format_value(at['viscosity_100'], 'mm2/s')}"),
            ),
            assumptions=(
                f"The viscosities at 40 °C and 100 °C scatter together, with a correlation of {TOGETHER:g}: a lot is "
                "thicker or thinner as a whole, its viscosity index hardly moves (assumed: nobody compared lots).",
            ),
            cautions=(
                "Oil mist burns and irritates: extraction, no open flame, wipe spills (slipping).",
                "Never weld an oil-wet or closed tube.",
            ),
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        volume = columns[f"{self.name}.volume"]
        mass = volume * columns[f"{self.name}.density_15"]
        return {"oil_volume_15": volume.copy(), "oil_mass": mass}, np.zeros(len(volume), np.uint8)
