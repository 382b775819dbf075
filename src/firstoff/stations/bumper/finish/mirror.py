"""The mirror: the flaw that nickel fills, and what the thin chrome shows of the rest."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics import polishing
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.finish import plating_common as common
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"


class Mirror:
    """Flaws and roughness of the buffed face as they stand under nickel, and as the eye sees them in chrome."""

    name = "mirror"
    title = "Mirror: what nickel levels and chrome shows"
    gives = ("flaw_levelled", "flaw_shown", "roughness_mirror")
    parameters: tuple[Parameter, ...] = (
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

    def __init__(self, settings: Settings | None = None) -> None:
        drawn = settings.drawing if settings is not None else None
        self.plated = drawn is not None and drawn.plating is not None
        self.needs: tuple[str, ...] = ("scratch_depth", "roughness_buffed")
        if self.plated:  # the nickel station says how thick it is
            self.needs = (*self.needs, "bright_map")
            self.parameters = Mirror.parameters[1:]

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.partition(".")[2]: v.nominal for v in values}
        filled = "nine tenths of the face get at least the bright nickel that is counted"
        if not self.plated:
            share = float(polishing.levelling_share(at["bright_nickel"], at["levelling_thickness"]))
            filled = f"{100.0 * share:.0f} % at {format_value(at['bright_nickel'], 'um', 3)} of bright nickel"
        gives = (
            Characteristic("flaw_levelled", "um", "deepest flaw left under nickel"),
            Characteristic("flaw_shown", "um", "deepest flaw as chrome shows it"),
            Characteristic("roughness_mirror", "um", "roughness Ra of the plated face"),
        )
        return Plan(
            self.name, values, limited(gives, settings), self._data(settings),
            setup=(
                *setting_lines(self, values),
                ("nickel fills of a flaw", filled),
                ("chrome", "levels nothing: what nickel leaves is seen in it"),
            ),
            assumptions=(
                "A levelling bath fills a constant share of a flaw for each unit of thickness; semi-bright nickel and "
                "pits that grow in nickel are not in it.",
                "What an eye sees is a boundary sample's to say; the depth is only what it goes by.",
            ),
        )  # fmt: skip

    def _data(self, settings: Settings) -> dict[str, Any]:
        """The face among the rows of the nickel's map, with their areas; without a field, the points of the front."""
        if not self.plated:
            return {}
        _, drawn = common.plating_of(settings)
        field = common.settled_field(settings)
        if field is None:
            rows = np.array([k for k, p in enumerate(drawn.points) if not p.back], dtype=np.int64)
            return {"rows": rows, "areas": np.ones(len(rows))}
        rows = np.flatnonzero(common.significant(field, drawn))
        return {"rows": rows, "areas": field.areas[rows]}

    def _nickel(self, plan: Plan, columns: Mapping[str, FloatArray]) -> FloatArray:
        """Bright nickel that all but a tenth of the face reaches."""
        if not self.plated:
            return columns["mirror.bright_nickel"]
        face = columns["bright_map"][:, plan.data["rows"]]
        if face.shape[1] < 2:
            return np.asarray(face.min(axis=1))
        return common.lowest(face, plan.data["areas"], common.TENTH)[0]

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        read = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        stated = self._nickel(plan, columns)
        nickel, own = np.maximum(stated, 0.0), np.maximum(read["own_roughness"], 0.0)
        scale = np.maximum(read["levelling_thickness"], 1e-9)
        left = polishing.levelled(np.maximum(columns["scratch_depth"], 0.0), nickel, scale)
        rough = polishing.levelled(np.maximum(columns["roughness_buffed"], 0.0), nickel, scale)
        given: Columns = {
            "flaw_levelled": left,
            "flaw_shown": left * read["chrome_shows"],
            "roughness_mirror": np.hypot(rough, own),  # heights of two causes that know nothing of each other
        }
        odd = (nickel != stated) | (scale != read["levelling_thickness"])
        return given, np.where(odd, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
