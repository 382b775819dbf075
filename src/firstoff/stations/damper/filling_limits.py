"""Limits of the filling that the curve hides: oil level cold and tilted, gas in cold and heat, foaming, a paint oven.

A check beside the route: computed where a sheet limits one of its characteristics or readings hold one.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.errors import InputFault, Message
from firstoff.physics.damper.limits_filling import gas_left, gas_pressure, lowest_level, oil_level
from firstoff.physics.damper.limits_strength import hoop_stress
from firstoff.physics.damper.twin_tube import circle_area
from firstoff.sheets.units import format_value
from firstoff.stations.damper.damping_rig import AMBIENT
from firstoff.stations.damper.limits_curve import NEEDS, both_ways
from firstoff.stations.settle import Settings, limited, settle

ASSUMED = "assumed: common practice, no source"
FASTEST = 1.04  # m/s, when the sheet has no table of speeds
CAUTIONS = (
    "A charged damper in a paint oven or a fire can burst. The figures here are no permission: the damper's and the "
    "oven's makers, local codes for pressure equipment and an authorised person decide; paint before charging where "
    "that is possible.",
    "Never heat, weld, cut or crush a charged damper; an authorised person vents it first, by the procedure.",
)


class FillingLimits:
    """Oil and gas at the ends of temperature, stroke and tilt."""

    name = "filling_limits"
    title = "Filling limits: oil level, gas, foaming, oven"
    costly = True  # it asks for drawing data of its own, so only where somebody asks for it
    needs = NEEDS
    characteristics = (
        Characteristic("oil_level_cold", "mm", "oil in the reserve tube over the base valve, rod out, cold, upright"),
        Characteristic("oil_level_tilted", "mm", "the same on the raised side of the tilted damper"),
        Characteristic("gas_pressure_cold", "bar", "gas pressure, absolute, rod out, cold", pressure=True),
        Characteristic("gas_pressure_hot", "bar", "gas pressure, absolute, rod in, hot", pressure=True),
        Characteristic("foaming_margin", "bar", "lowest pressure of a chamber at the highest speed of the table, rod "
                       "out, over the pressure at which air comes out of the oil"),
        Characteristic("oven_pressure", "bar", "gas pressure, absolute, rod out, at the oven's temperature",
                       pressure=True),
        Characteristic("oven_safety", "1", "yield strength of the reserve tube, hot, over its hoop stress in the oven"),
    )  # fmt: skip
    gives = tuple(c.name for c in characteristics)
    parameters = (
        Parameter("tube_length", "mm", "given", "from base valve to rod guide inside the pressure tube", low="50 mm",
                  high="1500 mm"),
        Parameter("travel", "mm", "given", "whole stroke of the rod", low="20 mm", high="1000 mm"),
        Parameter("rod_inside", "mm", "given", "rod between piston and guide when it is fully out", "20 mm", ASSUMED,
                  low="0 mm", high="500 mm"),
        Parameter("reserve_bore", "mm", "given", "bore of the reserve tube", low="15 mm", high="150 mm"),
        Parameter("reserve_wall", "mm", "given", "wall of the reserve tube", "1.5 mm ±0.1 mm", ASSUMED, low="0.5 mm",
                  high="10 mm", lot_share=0.8),
        Parameter("reserve_strength", "MPa", "given", "yield strength of the reserve tube, cold",
                  "240 MPa, sd 10 MPa", "assumed: welded tube, soft grade", low="100 MPa", high="1200 MPa",
                  lot_share=0.8),
        Parameter("tube_wall", "mm", "given", "wall of the pressure tube", "1.5 mm ±0.05 mm", ASSUMED, low="0.5 mm",
                  high="10 mm", lot_share=0.8),
        Parameter("cold", "degC", "given", "coldest that is asked for", "-40 degC", ASSUMED, low="-60 degC",
                  high="20 degC"),
        Parameter("hot", "degC", "given", "hottest that is asked for, in use", "120 degC", ASSUMED, low="30 degC",
                  high="180 degC"),
        Parameter("tilt", "deg", "given", "most tilt of the damper from upright, in the vehicle and in transport",
                  "20 deg", ASSUMED, low="0 deg", high="80 deg"),
        Parameter("release_pressure", "bar", "given", "pressure below which air comes out of the oil", "0.2 bar abs",
                  "assumed: where the rig's curve is called cavitating", low="0.001 bar abs", high="5 bar abs",
                  pressure=True),
        Parameter("oven_temperature", "degC", "given", "of the part in the paint oven, if it goes in charged",
                  "80 degC", "assumed: low-bake oven", low="20 degC", high="220 degC"),
        Parameter("oven_strength", "1", "given", "share of the yield strength that is left at that temperature", "0.9",
                  "assumed: unalloyed steel up to some 200 °C, from memory", low="0.3", high="1"),
    )  # fmt: skip

    def __init__(self, speeds: tuple[float, ...] = ()) -> None:
        """`speeds` of the customer's table [m/s]: foaming is judged at the highest."""
        self.fastest = max(speeds, default=FASTEST)

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        if faults := self._contradictions(at, settings):
            raise InputFault(faults)
        return Plan(
            self.name,
            values,
            limited(self.characteristics, settings),
            setup=(
                ("oil level is judged at", f"{format_value(at['cold'], 'degC')}, rod out, upright and tilted by "
                 f"{format_value(at['tilt'], 'deg')}"),
                ("paint oven that is counted on", format_value(at["oven_temperature"], "degC")),
            ),
            assumptions=(
                "Ideal gas, none of it dissolves; rigid tubes; the oil grows in proportion to its warming.",
                f"Foaming: steady pressures at {self.fastest:g} m/s with oil as in the test of function, against one "
                "release pressure; air that is drawn in and time to release it are not in it.",
                "Tilted level: exact while the surface meets neither end of the reserve tube; no surge.",
                "Oven: elastic, hoop stress at the bore; weld, closing seam and seals are not in it.",
            ),
            cautions=CAUTIONS,
        )  # fmt: skip

    def _contradictions(self, at: Mapping[str, float], settings: Settings) -> list[Message]:
        """Tubes that do not go into each other, and a stroke that does not go into its tube."""
        found = []
        mandrel = settings.given.get("pressure_tube.sizing_mandrel")
        if mandrel is not None:
            outside = mandrel.nominal + 2.0 * at["tube_wall"]
            if at["reserve_bore"] <= outside:
                what = f"does not go over the pressure tube, {format_value(outside, 'mm')} outside"
                found.append(self._fault("reserve_bore", what, f"above {format_value(outside, 'mm')}", settings))
        most = at["tube_length"] - at["rod_inside"]
        if at["travel"] > most:
            what = "and the rod inside are longer than the pressure tube"
            found.append(self._fault("travel", what, f"up to {format_value(most, 'mm')}", settings))
        return found

    def _fault(self, key: str, what: str, allowed: str, settings: Settings) -> Message:
        name = f"{self.name}.{key}"
        file, _, line = settings.origin.get(name, "").rpartition(":")
        shown = settings.given[name].text if name in settings.given else "the default"
        return Message(what, file or settings.file, int(line or 0), name, shown, allowed)

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        def at(name: str) -> FloatArray:
            return columns[f"{self.name}.{name}"]

        given, sound = self._levels(columns)
        out, inside = np.zeros(len(at("travel"))), at("travel")
        given["gas_pressure_cold"] = self._gas(columns, at("cold"), out)
        given["gas_pressure_hot"] = self._gas(columns, at("hot"), inside)
        given["oven_pressure"] = self._gas(columns, at("oven_temperature"), out)
        lowest, cavitating = self._lowest(columns, out)
        given["foaming_margin"] = lowest - at("release_pressure")
        wall, bore = at("reserve_wall"), at("reserve_bore")
        ok = (wall > 0.0) & (bore > 0.0)
        stress = np.full(len(ok), np.nan)
        stress[ok] = hoop_stress(given["oven_pressure"][ok], AMBIENT, bore[ok], wall[ok])
        # outside pressure is the air's: Lame with both, from absolute zero
        given["oven_safety"] = np.where(
            stress > 0.0, at("reserve_strength") * at("oven_strength") / np.where(stress > 0.0, stress, 1.0), np.nan
        )
        status = np.where(sound & ok, Status.OK, Status.OUT_OF_RANGE).astype(np.uint8) | cavitating
        for name in self.gives:
            status |= np.where(np.isfinite(given[name]), Status.OK, Status.OUT_OF_RANGE | Status.NO_VALUE).astype(
                np.uint8
            )
        return given, status

    def _levels(self, columns: Mapping[str, FloatArray]) -> tuple[Columns, npt.NDArray[np.bool_]]:
        """Oil over the base valve, and which builds keep the pressure tube full."""

        def at(name: str) -> FloatArray:
            return columns[f"{self.name}.{name}"]

        piston, rod = circle_area(columns["bore"]), circle_area(columns["rod_diameter"])
        in_tube = piston * at("tube_length") - rod * at("rod_inside")
        oil = columns["oil_volume_15"] * (1.0 + columns["oil_fill.expansion"] * (at("cold") - 288.15))
        outside = columns["bore"] + 2.0 * at("tube_wall")
        ok = (at("reserve_bore") > outside) & (outside > 0.0)
        level = np.full(len(ok), np.nan)
        level[ok] = oil_level(oil[ok], in_tube[ok], at("reserve_bore")[ok], outside[ok])
        tilted = lowest_level(level, at("reserve_bore"), np.clip(at("tilt"), 0.0, 1.55))
        return {"oil_level_cold": level, "oil_level_tilted": tilted}, np.asarray(level > 0.0)

    @staticmethod
    def _gas(columns: Mapping[str, FloatArray], at: FloatArray, rod_in: FloatArray) -> FloatArray:
        """Gas pressure at a temperature with the rod in by so much."""
        charged = columns["gas_charge.temperature"]
        gas, oil, grow = columns["gas_volume"], columns["oil_volume_15"], columns["oil_fill.expansion"]
        left = gas_left(gas, oil, grow, at - charged, circle_area(columns["rod_diameter"]), rod_in)
        return gas_pressure(columns["charge_pressure"], charged, at, gas, left)

    def _lowest(self, columns: Mapping[str, FloatArray], out: FloatArray) -> tuple[FloatArray, StatusArray]:
        """Lowest pressure of both chambers in both directions, rod out, and what the curve says about the build."""
        gas = self._gas(columns, columns["damping_rig.oil_temperature"], out)
        found = both_ways(columns, self.fastest, gas)
        low = np.minimum(found.p_rebound, found.p_compression).min(axis=1)
        return low, found.status & np.uint8(Status.CAVITATING | Status.NOT_CONVERGED)
