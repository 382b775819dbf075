"""The mirror: the flaw that nickel fills, and what the thin chrome shows of the rest."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics import polishing
from firstoff.sheets.units import format_value
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"


class Mirror:
    """Flaws and roughness of the buffed face as they stand under nickel, and as the eye sees them in chrome."""

    name = "mirror"
    title = "Mirror: what nickel levels and chrome shows"
    needs: tuple[str, ...] = ("scratch_depth", "roughness_buffed")
    gives = ("flaw_levelled", "flaw_shown", "roughness_mirror")
    parameters = (
        Parameter("bright_nickel", "um", "setting", "thickness of the levelling (bright) nickel on the face",
                  "12 um, lot sd 0.5 um, part sd 0.7 um", ASSUMED, low="0.5 um", high="100 um",
                  change=Change("1 um", 30, "current or time of the bright nickel, drawing and standard kept", 6)),
        Parameter("levelling_thickness", "um", "scatter", "thickness of it that leaves 1/e of a flaw, from the bath "
                  "supplier's levelling panel", "10 um, lot sd 0.8 um", ASSUMED, low="1 um", high="500 um"),
        Parameter("chrome_shows", "1", "given", "depth that a flaw seems to have in chrome, over its own", "1.3",
                  ASSUMED + "; chrome levels nothing and reflects more", low="1", high="5"),
        Parameter("own_roughness", "um", "scatter", "roughness Ra of the deposit itself",
                  "0.01 um, lot sd 0.001 um, part sd 0.001 um", ASSUMED, low="0 um", high="1 um"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.partition(".")[2]: v.nominal for v in values}
        share = float(polishing.levelling_share(at["bright_nickel"], at["levelling_thickness"]))
        gives = (
            Characteristic("flaw_levelled", "um", "deepest flaw left under nickel"),
            Characteristic("flaw_shown", "um", "deepest flaw as chrome shows it"),
            Characteristic("roughness_mirror", "um", "roughness Ra of the plated face"),
        )
        return Plan(
            self.name, values, limited(gives, settings),
            setup=(
                *setting_lines(self, values),
                ("nickel fills of a flaw", f"{100.0 * share:.0f} % at "
                 f"{format_value(at['bright_nickel'], 'um', 3)} of bright nickel"),
                ("chrome", "levels nothing: what nickel leaves is seen in it"),
            ),
            assumptions=(
                "A levelling bath fills a constant share of a flaw for each unit of thickness; semi-bright nickel and "
                "pits that grow in nickel are not in it.",
                "What an eye sees is a boundary sample's to say; the depth is only what it goes by.",
            ),
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        read = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        nickel, own = (np.maximum(read[name], 0.0) for name in ("bright_nickel", "own_roughness"))
        scale = np.maximum(read["levelling_thickness"], 1e-9)
        left = polishing.levelled(np.maximum(columns["scratch_depth"], 0.0), nickel, scale)
        rough = polishing.levelled(np.maximum(columns["roughness_buffed"], 0.0), nickel, scale)
        given: Columns = {
            "flaw_levelled": left,
            "flaw_shown": left * read["chrome_shows"],
            "roughness_mirror": np.hypot(rough, own),  # heights of two causes that know nothing of each other
        }
        odd = (nickel != read["bright_nickel"]) | (scale != read["levelling_thickness"])
        return given, np.where(odd, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
