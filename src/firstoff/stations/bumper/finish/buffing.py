"""Buffing: wheels one after the other, from the pressed face to one that nickel can level."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.errors import InputFault, Message
from firstoff.physics import polishing
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.finish.treatment import Wheel, of
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"
CAUTIONS = (
    "Buffing wheel: it drags in gloves, sleeves, hair and cloths. Tight sleeves, no gloves, nobody reaches over a "
    "wheel that turns.",
    "A wheel above its rated speed bursts. Read the label, look it over, guard closed, stand aside at run-up.",
    "An edge or an aperture catches in the wheel and the bar is thrown: work off edges, never against them.",
    "Dust of metal, cloth and compound: extraction on, mask and glasses; it burns, so no sparks in the duct, no mixing "
    "with aluminium dust.",
)
WORN = "A worn wheel is changed on the stopped spindle, locked out; dressing throws grit: glasses, extraction."


class Buffing:
    """Removal after Preston, roughness and deepest flaw wheel by wheel, steel left at the radii."""

    name = "buffing"
    title = "Buffing: wheel sequence to the face that is plated"
    needs = ("roughness_growth", "wall_thickness_upper", "wall_thickness_lower")
    gives = ("roughness_buffed", "buffing_removal", "scratch_depth", "steel_left", "cleaning_wait", "roughness_wheels")
    parameters = (
        Parameter("contact", "1", "setting", "pressure times contact time, over those of the wheels' list",
                  "1, lot sd 0.03, part sd 0.06", ASSUMED, low="0.05", high="8",
                  change=Change("0.05", 5, "pressure or feed of the wheels", 10)),
        Parameter("wheel", "1", "scatter", "diameter of the wheels over that of new ones", "0.95, lot sd 0.015", ASSUMED
                  + "; a wheel is changed before it is small", low="0.4", high="1.1"),
        Parameter("grain", "1", "scatter", "roughness that the wheels leave, over that of their list",
                  "1, lot sd 0.05, part sd 0.05", ASSUMED, low="0.3", high="10"),
        Parameter("sheet_roughness", "um", "scatter", "roughness Ra of the sheet before it is pressed",
                  "0.7 um, lot sd 0.05 um, part sd 0.03 um", ASSUMED, low="0.05 um", high="5 um"),
        Parameter("flaw", "um", "scatter", "deepest flaw of the pressed face: scratch, die mark, pit",
                  "12 um, lot sd 1 um, part sd 1.5 um", ASSUMED, low="0.1 um", high="300 um"),
        Parameter("scratch_ratio", "1", "given", "deepest scratch of a wheel over the Ra that it leaves", "8",
                  ASSUMED, low="2", high="30"),
        Parameter("radius_pressure", "1", "given", "pressure of the wheels at the radii over that on the flats", "2",
                  ASSUMED, low="1", high="10"),
        Parameter("wait", "min", "setting", "from the last wheel to the cleaning tank", "60 min, part sd 15 min",
                  ASSUMED, low="0 min", high="2000 min",
                  change=Change("15 min", 15, "bars kept between buffing and the line", 4)),
        Parameter("longest_wait", "min", "given", "longest wait before compound sets hard or the face rusts, from the "
                  "compound's supplier", "240 min", ASSUMED, low="5 min", high="5000 min"),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        self.wheels: tuple[Wheel, ...] = of(settings.drawing).wheels if settings is not None else ()

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name: np.array([v.nominal]) for v in values}
        if at["buffing.wait"][0] > at["buffing.longest_wait"][0]:
            what = "is longer than the compound allows before cleaning"
            longest = format_value(float(at["buffing.longest_wait"][0]), "min", 4)
            raise InputFault([Message(what, settings.file, key="buffing.wait", allowed=f"at most {longest}")])
        gives = (
            Characteristic("roughness_buffed", "um", "roughness Ra of the buffed face"),
            Characteristic("buffing_removal", "um", "steel taken off the flats by buffing"),
            Characteristic("scratch_depth", "um", "deepest flaw left in the buffed face"),
            Characteristic("steel_left", "mm", "steel left at the radii after buffing, at the thinner wall"),
            Characteristic("cleaning_wait", "min", "wait between buffing and cleaning", exact=True),
        )
        return Plan(
            self.name, values, limited(gives, settings), {"wheels": self.wheels},
            setup=(*setting_lines(self, values), *self._lines(at)),
            assumptions=(
                "Removal after Preston with each wheel's own coefficient; at the radii more by the higher pressure.",
                "Roughness falls towards what the wheel leaves as steel comes off; the constants need trials.",
                "The bottom of a flaw stays until the face is down to it; orange peel counts as roughness.",
            ),
            cautions=(*CAUTIONS, WORN),
        )  # fmt: skip

    def _lines(self, at: Mapping[str, FloatArray]) -> list[tuple[str, str]]:
        """One line a wheel, with what the face is like after it; the pressed face is taken without orange peel."""
        at = {key.partition(".")[2]: value for key, value in at.items()}
        steps = self._steps(at, at["sheet_roughness"])
        lines = []
        for wheel, (cut, rough, flaw) in zip(self.wheels, steps, strict=True):
            grain = ", ".join(t for t in (f"grit {wheel.grit}" if wheel.grit else "", wheel.compound) if t)
            turns = float(polishing.spindle(wheel.speed, wheel.diameter))
            text = (
                f"{grain + ', ' if grain else ''}{format_value(wheel.speed, 'm/s', 3)} new "
                f"({60.0 * turns:.0f} rpm on {format_value(wheel.diameter, 'mm', 4)}; label "
                f"{format_value(wheel.rated_speed, 'm/s', 3)}), {format_value(wheel.pressure, 'kPa', 3)}, "
                f"{format_value(wheel.time, 's', 3)} at a point; then Ra {format_value(float(rough[0]), 'um', 2)}, "
                f"{format_value(float(cut[0]), 'um', 2)} off, deepest flaw {format_value(float(flaw[0]), 'um', 2)}"
            )
            lines.append((wheel.name, text))
        longest = format_value(float(at["longest_wait"][0]), "min", 4)
        return [*lines, ("to the cleaning tank", f"within {longest} of the last wheel; wipe off thick compound first")]

    def _steps(
        self, at: Mapping[str, FloatArray], rough: FloatArray
    ) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
        """Of each wheel: what it takes off, roughness and deepest flaw after it."""
        flaw, found = at["flaw"], []
        for w in self.wheels:
            speed = polishing.worn_speed(w.speed, at["wheel"])
            cut = polishing.removed(w.coefficient, w.pressure, speed, w.time * at["contact"])
            rough = polishing.smoothed(rough, w.end_roughness * at["grain"], cut, w.smoothing_depth)
            flaw = polishing.deepest(flaw, at["scratch_ratio"] * w.end_roughness * at["grain"], cut)
            found.append((cut, rough, flaw))
        return found

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        read = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        at = {name: np.maximum(value, 1e-9) for name, value in read.items()}
        start = np.maximum(at["sheet_roughness"] + columns["roughness_growth"], 0.0)
        steps = self._steps(at, start)
        taken = np.sum([cut for cut, _, _ in steps], axis=0)
        wall = np.minimum(columns["wall_thickness_upper"], columns["wall_thickness_lower"])
        given: Columns = {
            "roughness_buffed": steps[-1][1],
            "buffing_removal": taken,
            "scratch_depth": steps[-1][2],
            "steel_left": wall - at["radius_pressure"] * taken,
            "cleaning_wait": read["wait"].copy(),
            "roughness_wheels": np.stack([rough for _, rough, _ in steps], axis=1),
        }
        lowest = {p.name for p in self.parameters if p.name != "wait"}
        odd = np.any([read[name] <= 0.0 for name in lowest], axis=0) | (given["steel_left"] <= 0.0)
        return given, np.where(odd, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
