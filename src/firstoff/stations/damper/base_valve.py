"""Base valve: the crimp that closes it sets the length of its relief spring, and so the preload."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.sheets.units import format_value
from firstoff.stations.damper import valve_paths as paths
from firstoff.stations.settle import Settings, limited, setting_lines, settle

CAUTIONS = (
    "Crimping press: two-hand control or closed guard; lock out before adjusting the stop.",
    "Powder press and metal dust as for the piston valve.",
)


class BaseValve:
    """Gives the rows of the valve law for compression and for the intake that opens in rebound."""

    name = "base_valve"
    title = "Base valve: assemble and crimp"
    needs: tuple[str, ...] = ()
    gives = ("base_compression_row", "base_intake_row", "base_relief_preload", "base_bleed_area")
    parameters = (
        *paths.throttle_parameters("compression"),
        Parameter("relief_free_length", "mm", "given", "free length of the compression relief spring",
                  low="1 mm", high="100 mm", lot_share=0.8),
        Parameter("crimp_length", "mm", "setting", "length of the relief spring after crimping",
                  low="1 mm", high="100 mm", lot_share=0.3,
                  change=Change("0.02 mm", 10, "stop of the crimping press", 15)),
        Parameter("relief_solid_length", "mm", "given", "length of the relief spring, coils touching; 0: not known",
                  "0 mm", "assumed: not known; a crushed spring goes unseen", low="0 mm", high="100 mm"),
        *paths.disc_parameters("intake", "1"),
        Parameter("intake_leak_area", "mm2", "scatter", "leak past the closed intake valve, as an area", "0 mm2",
                  "assumed: it seals", low="0 mm2", high="10 mm2"),
        *paths.COMMON,
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        preload = at["compression_relief_rate"] * (at["relief_free_length"] - at["crimp_length"])
        gives = (
            Characteristic("base_relief_preload", "N", "preload of the compression relief spring after crimping"),
            Characteristic("base_bleed_area", "mm2", "area of the base valve's bleed notches"),
        )
        return Plan(
            self.name,
            values,
            limited(gives, settings),
            setup=(
                *setting_lines(self, values),
                ("preload of the relief spring that this gives", format_value(preload, "N")),
                ("preload per 0.02 mm of crimp", format_value(at["compression_relief_rate"] * 2e-5, "N")),
            ),
            assumptions=(*paths.ASSUMPTIONS, "The crimp moves the spring's seat only; the discs keep their clamp."),
            cautions=CAUTIONS,
        )

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        def at(name: str) -> FloatArray:
            return columns[f"{self.name}.{name}"]

        bleed = paths.bleed_area("compression", at)
        n = len(bleed)
        # A spring longer than its free length is loose: no preload, and the build is flagged.
        squeeze = at("relief_free_length") - at("crimp_length")
        preload = at("compression_relief_rate") * np.maximum(squeeze, 0.0)
        leak = np.maximum(at("intake_leak_area"), 0.0)  # beside the notches, and with their laminar loss
        open_both_ways = {"bleed_area": bleed + leak, "bleed_a": paths.bleed_loss("compression", at)}
        relief = paths.relief_fields("compression", at, preload)
        sound = paths.discs_in_range("compression", at) & paths.discs_in_range("intake", at) & (squeeze > 0.0)
        given = {
            "base_compression_row": paths.valve_row(
                {**open_both_ways, **paths.disc_fields("compression", at), **relief}, n
            ),
            "base_intake_row": paths.valve_row({**open_both_ways, **paths.disc_fields("intake", at)}, n),
            "base_relief_preload": preload,
            "base_bleed_area": bleed,
        }
        return given, np.where(sound, Status.OK, Status.OUT_OF_RANGE).astype(np.uint8)
