"""Gas charge: nitrogen over the oil in the reserve tube."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.damper.limits_filling import gas_left, gas_pressure
from firstoff.sheets.units import format_value
from firstoff.stations.settle import Settings, limited, setting_lines, settle

CAUTIONS = (
    "Nitrogen displaces air without warning: ventilation and an oxygen alarm at the charging station.",
    "A charged damper is a pressure vessel: shield the charging head, never heat it in an oven or cut it open "
    "before it has been vented by an authorised person.",
)
EXPANSION = 0.00075  # 1/K, of the oil, when the sheet is silent: the default of its station
OVEN, HOT = 353.15, 393.15  # K, of a low-bake paint oven when the sheet is silent, and the hottest in use: assumed


class GasCharge:
    """Charge pressure and temperature, and the volume that the oil leaves to the gas."""

    name = "gas_charge"
    title = "Gas charge and close"
    needs = ("oil_volume_15", "oil_fill.expansion")
    gives = ("charge_pressure", "gas_volume")
    parameters = (
        Parameter("pressure", "bar", "setting", "charge pressure, rod out", low="0.1 bar gauge", high="40 bar gauge",
                  pressure=True, lot_share=0.3,
                  change=Change("0.5 bar", 10, "regulator of the charging station", 4, customer_approval=True)),
        Parameter("temperature", "degC", "scatter", "temperature of the gas when charged", "22 degC, lot sd 2 K",
                  "assumed: shop temperature", low="0 degC", high="60 degC"),
        Parameter("inner_volume", "cm3", "given", "room for oil and gas with the rod out", low="30 cm3",
                  high="8000 cm3", lot_share=0.5),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        gives = (
            Characteristic(
                "charge_pressure", "bar", "charge pressure, absolute, at the charging temperature", pressure=True
            ),
            Characteristic("gas_volume", "cm3", "gas volume with the rod out"),
        )
        return Plan(
            self.name,
            values,
            limited(gives, settings),
            setup=(
                *setting_lines(self, values),
                ("gas temperature that is counted on", format_value(at["temperature"], "degC")),
            ),
            assumptions=("Ideal gas in a rigid tube; no gas dissolves in the oil.",),
            cautions=(*CAUTIONS, *self._hot(at, settings)),
        )

    @staticmethod
    def _hot(at: Mapping[str, float], settings: Settings) -> tuple[str, ...]:
        """What the gas does in a paint oven and in the heat of use, from the drawing's nominals."""
        oil = settings.given.get("oil_fill.volume")
        if oil is None:
            return ()
        said = settings.given
        grow = said["oil_fill.expansion"].nominal if "oil_fill.expansion" in said else EXPANSION
        volume = oil.nominal * (1.0 + grow * (at["temperature"] - 288.15))
        gas = at["inner_volume"] - volume
        oven = said["filling_limits.oven_temperature"].nominal if "filling_limits.oven_temperature" in said else OVEN
        found = []
        for hot in (oven, HOT):
            left = gas_left(gas, volume, grow, hot - at["temperature"], 0.0, 0.0)
            p = float(gas_pressure(at["pressure"], at["temperature"], hot, gas, left))
            found.append(f"{format_value(p, 'bar', 3)} abs" if math.isfinite(p) else "no value, for the oil fills it")
        return (
            f"Charged, rod out, the gas stands at {found[0]} in a paint oven at {oven - 273.15:.3g} °C and at "
            f"{found[1]} at {HOT - 273.15:.3g} °C: a charged damper in an oven can burst. Paint before "
            "charging, or ask the damper's and the oven's makers; local codes for pressure equipment decide.",
        )

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        pressure = columns[f"{self.name}.pressure"]
        warmed = 1.0 + columns["oil_fill.expansion"] * (columns[f"{self.name}.temperature"] - 288.15)
        gas = columns[f"{self.name}.inner_volume"] - columns["oil_volume_15"] * warmed
        # More oil than room: nothing can be charged. Such a build has no value downstream.
        status = np.where(gas > 0.0, Status.OK, Status.NO_VALUE | Status.OUT_OF_RANGE).astype(np.uint8)
        return {"charge_pressure": pressure.copy(), "gas_volume": np.where(gas > 0.0, gas, np.nan)}, status
