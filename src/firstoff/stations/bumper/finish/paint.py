"""Paint: pretreatment as windows, film from flow and transfer, the earthed part, cure at metal temperature."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.errors import InputFault, Message
from firstoff.physics import curing
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.finish.treatment import of
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"
SUPPLIER = "assumed: from the paint's supplier when it is known"
CAUTIONS = (
    "Solvent vapour and powder clouds explode: ventilation proven and interlocked with guns, no spark, no phone, "
    "conductive shoes and floor, tools earthed.",
    "The paint is charged, the part and its hook are earthed: under 1 MΩ from part to earth, measured on a coated "
    "hook; an unearthed bar sparks. Gun voltage off and gun earthed before anybody cleans it.",
    "Two-pack paint: isocyanates; air-fed hood, no skin contact. The supplier's safety data decide.",
    "Oven: purged before it is lit, vapour kept under its share of the lower explosive limit; hot parts and hooks.",
)


class Paint:
    """Flow, speed, voltage and oven in; film, voltage of the part and cure out."""

    name = "paint"
    title = "Paint: pretreatment, film and cure"
    needs = ("sheet_thickness",)
    gives = ("paint_film", "wet_film", "part_voltage", "transfer", "metal_peak", "time_at_temperature", "cure")
    parameters = (
        Parameter("flow", "ml/min", "setting", "wet paint from all guns",
                  "420 ml/min, lot sd 4 ml/min, part sd 8 ml/min", ASSUMED, low="5 ml/min", high="5000 ml/min",
                  change=Change("5 ml/min", 5, "paint pressure or bell supply", 12)),
        Parameter("solids", "1", "given", "solids by volume, from the paint's supplier", "32 %", SUPPLIER, low="5 %",
                  high="100 %"),
        Parameter("line_speed", "m/min", "setting", "speed of the conveyor", "3 m/min, part sd 0.02 m/min", ASSUMED,
                  low="0.1 m/min", high="30 m/min",
                  change=Change("0.1 m/min", 5, "conveyor drive; the oven's time goes with it", 8)),
        Parameter("width", "mm", "given", "width that the guns cover, across the travel", "450 mm", ASSUMED,
                  low="50 mm", high="4000 mm"),
        Parameter("charged_transfer", "1", "scatter", "share of the solids that stays on a well-earthed part",
                  "70 %, lot sd 1.5 %, part sd 1 %", ASSUMED, low="5 %", high="99 %"),
        Parameter("plain_transfer", "1", "given", "the same without charge", "35 %", ASSUMED, low="1 %", high="90 %"),
        Parameter("gun_voltage", "kV", "setting", "voltage at the guns", "70 kV, lot sd 1 kV", ASSUMED, low="10 kV",
                  high="120 kV", change=Change("5 kV", 5, "gun control", 6)),
        Parameter("gun_current", "uA", "scatter", "current that charges the part", "60 uA, lot sd 4 uA", ASSUMED,
                  low="0.1 uA", high="1000 uA"),
        Parameter("earth_resistance", "Mohm", "scatter", "resistance from part to earth, over hook and conveyor",
                  "0.2 Mohm, lot sd 0.03 Mohm", ASSUMED, low="0 Mohm", high="100000 Mohm"),
        Parameter("oven_temperature", "degC", "setting", "air of the oven", "165 degC, lot sd 1.5 K, part sd 1 K",
                  ASSUMED, low="40 degC", high="300 degC", change=Change("2 K", 45, "oven control, settled", 10)),
        Parameter("oven_time", "min", "setting", "time in the oven", "24 min, part sd 0.3 min", ASSUMED, low="1 min",
                  high="240 min", change=Change("1 min", 20, "conveyor or holding zone", 10)),
        Parameter("heat_transfer", "W/(m^2*K)", "scatter", "convection and radiation on each side",
                  "28 W/(m^2*K), lot sd 1.5 W/(m^2*K)", ASSUMED, low="2 W/(m^2*K)", high="300 W/(m^2*K)"),
        Parameter("start_temperature", "degC", "scatter", "bar as it enters", "28 degC, lot sd 2 K", ASSUMED,
                  low="-10 degC", high="120 degC"),
        Parameter("cure_temperature", "degC", "given", "metal temperature that cures, from the paint's supplier",
                  "140 degC", SUPPLIER, low="30 degC", high="260 degC"),
        Parameter("cure_time", "min", "given", "least time at it", "15 min", SUPPLIER, low="0.5 min", high="180 min"),
        Parameter("activation", "kJ/mol", "given", "activation energy of the cure", "85 kJ/mol", SUPPLIER,
                  low="20 kJ/mol", high="250 kJ/mol"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.partition(".")[2]: v.nominal for v in values}
        if at["cure_temperature"] >= at["oven_temperature"]:
            coolest = format_value(at["cure_temperature"], "degC", 4)
            what = "is no warmer than the metal must become"
            raise InputFault([Message(what, settings.file, key="paint.oven_temperature", allowed=f"above {coolest}")])
        gives = (
            Characteristic("paint_film", "um", "dry film"),
            Characteristic("wet_film", "um", "wet film on the part"),
            Characteristic("part_voltage", "V", "voltage of the part while it is sprayed"),
            Characteristic("transfer", "1", "share of the sprayed solids that stays on the part"),
            Characteristic("metal_peak", "degC", "metal at the end of the oven"),
            Characteristic("time_at_temperature", "min", "time of the metal at its cure temperature, in the oven"),
            Characteristic("cure", "1", "cure over that of the least time at cure temperature"),
        )
        stages = [
            (s.name, "; ".join(t for t in (s.time, s.temperature, s.why) if t))
            for s in of(settings.drawing).pretreatment
        ]  # fmt: skip
        return Plan(
            self.name, values, limited(gives, settings), {},
            (
                *[(f"pretreatment: {name}", text) for name, text in stages],
                *setting_lines(self, values),
                ("cure", f"metal at {format_value(at['cure_temperature'], 'degC', 4)} for at least "
                 f"{format_value(at['cure_time'], 'min', 4)}; logger on the thickest bar"),
                ("earth", "part to earth under 1 MΩ (trade texts citing NFPA 33), each shift, on a coated hook"),
            ),
            (
                "Film by balance of volume over the width that the guns cover; edges and the back get their share of "
                "it.",
                "Transfer falls in a straight line from charged to plain as the part's own voltage nears the guns'.",
                "The bar warms as one lump of its sheet's thickness; hook, brackets and what it keeps after the oven "
                "are "
                "left out.",
                "Pretreatment is the chemical supplier's: windows stand here, no recipe.",
            ),
            CAUTIONS,
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        read = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        at = {name: np.maximum(value, 1e-12) for name, value in read.items()}
        volts = at["gun_current"] * np.maximum(read["earth_resistance"], 0.0)
        charge = np.clip(1.0 - volts / at["gun_voltage"], 0.0, 1.0)
        share = at["plain_transfer"] + (at["charged_transfer"] - at["plain_transfer"]) * charge
        wet = at["flow"] * np.clip(share, 0.0, 1.0) / (at["line_speed"] * at["width"])
        sheet = np.maximum(columns["sheet_thickness"], 1e-5)
        tau = curing.time_constant(sheet, at["heat_transfer"])
        oven, start, time = at["oven_temperature"], at["start_temperature"], at["oven_time"]
        reference = float(read["cure_temperature"][0]) if len(sheet) else 400.0
        given: Columns = {
            "paint_film": wet * at["solids"],
            "wet_film": wet,
            "part_voltage": np.minimum(volts, at["gun_voltage"]),
            "transfer": share,
            "metal_peak": curing.temperature(time, oven, start, tau),
            "time_at_temperature": curing.time_above(at["cure_temperature"], time, oven, start, tau),
            "cure": curing.equivalent_time(time, oven, start, tau, reference, at["activation"]) / at["cure_time"],
        }
        keep = ("earth_resistance", "start_temperature")
        odd = np.any([read[name] <= 0.0 for name in read if name not in keep], axis=0)
        odd |= (curing.biot(sheet, at["heat_transfer"]) > 0.1) | (read["charged_transfer"] < read["plain_transfer"])
        return given, np.where(odd, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
