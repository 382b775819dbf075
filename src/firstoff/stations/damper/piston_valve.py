"""Piston valve: powder-metal piston, bleed disc, rebound discs and relief spring, and the check of compression."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.stations.damper import valve_paths as paths
from firstoff.stations.settle import Settings, limited, setting_lines, settle

CAUTIONS = (
    "Powder press and sizing press: two-hand control, lock out before reaching into the die.",
    "Metal powder: dust is explosive and harmful to breathe; extraction and earthing.",
    "A checked spring is under load: eye protection, keep fingers out of the fixture.",
)


class PistonValve:
    """Gives the rows of the valve law for rebound and for the check that opens in compression."""

    name = "piston_valve"
    title = "Piston valve: assemble"
    needs: tuple[str, ...] = ()
    gives = ("piston_rebound_row", "piston_check_row", "piston_bleed_area", "rebound_cracking_pressure")
    parameters = (
        Parameter("discharge_coefficient", "1", "given", "discharge coefficient of all passages", "0.70, lot sd 0.005",
                  "assumed: between a sharp edge (0.61) and a rounded passage (0.8)", low="0.4", high="1.0"),
        *paths.throttle_parameters("rebound"),
        Parameter("rebound_relief_preload", "N", "setting", "force of the rebound relief spring as installed",
                  low="0 N", high="5000 N", lot_share=0.6,
                  change=Change("2 N", 20, "shims under the spring, in classes of 0.02 mm", 20, 20)),
        *paths.disc_parameters("check", "1"),
        Parameter("ring_leak_area", "mm2", "scatter", "leak past the piston ring, as an area",
                  "0.05 mm2, part sd 0.01 mm2", "assumed: nobody measured it", low="0 mm2", high="10 mm2"),
        *paths.COMMON,
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        gives = (
            Characteristic("piston_bleed_area", "mm2", "area of the piston's bleed notches"),
            Characteristic("rebound_cracking_pressure", "bar", "pressure difference at which the rebound relief opens"),
        )
        return Plan(
            self.name,
            values,
            limited(gives, settings),
            setup=setting_lines(self, values),
            assumptions=(
                *paths.ASSUMPTIONS,
                "Passages share one discharge coefficient, the same in both directions.",
            ),
            cautions=CAUTIONS,
        )

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        def at(name: str) -> FloatArray:
            return columns[f"{self.name}.{name}"]

        bleed = paths.bleed_area("rebound", at)
        n = len(bleed)
        # The notches stay open both ways; ring leak is added by the tube model, which knows both sides.
        open_both_ways = {"bleed_area": bleed, "bleed_a": paths.bleed_loss("rebound", at)}
        preload = at("rebound_relief_preload")
        relief = paths.relief_fields("rebound", at, preload)
        rebound = paths.valve_row({**open_both_ways, **paths.disc_fields("rebound", at), **relief}, n)
        check = paths.valve_row({**open_both_ways, **paths.disc_fields("check", at)}, n)
        sound = paths.discs_in_range("rebound", at) & paths.discs_in_range("check", at)
        given = {
            "piston_rebound_row": rebound,
            "piston_check_row": check,
            "piston_bleed_area": bleed,
            "rebound_cracking_pressure": preload / relief["relief_seat_area"],
        }
        return given, np.where(sound, Status.OK, Status.OUT_OF_RANGE).astype(np.uint8)
