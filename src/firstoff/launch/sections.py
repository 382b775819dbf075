"""The sections of a model sheet and of a plant sheet, beside those of the stations."""

from __future__ import annotations

from firstoff.families import NAMES
from firstoff.line import plant_sections
from firstoff.methods.conformity import RULES
from firstoff.sheets.schema import Key, Section


def text(name: str, what: str, required: bool = False, choices: tuple[str, ...] = ()) -> Key:
    return Key(name, None, what, required=required, type="text", choices=choices)


MODEL = (
    Section(
        "model",
        (
            text("name", "what is launched", required=True),
            text("family", "family of the product", required=True, choices=NAMES),
            text("revision", "revision of this sheet"),
            text("plant", "file of the plant sheet, beside this sheet"),
            Key("yearly_volume", None, "parts a year", type="integer"),
            Key("start", None, "start of production", type="date"),
        ),
        "What is launched",
        required=True,
    ),
    Section(
        "judging",
        (
            text("rule", "decision rule of the verdicts", choices=RULES),
            Key("coverage", "1", "share of the lot that must lie inside the limits", low="0.5", high="0.9999"),
            Key("confidence", "1", "confidence asked of a statement about the lot", low="0.5", high="0.9999"),
        ),
        "How readings are judged",
    ),
    Section(
        "damping",
        (
            Key("speed", "m/s", "peak speed of the rig", required=True, low="0.001 m/s", high="10 m/s"),
            text("rebound", 'limits of the force in rebound, tension positive: "450 ±60 N"'),
            text("compression", 'limits of the force in compression, negative: "-217 ±40 N"'),
            Key("safety", None, "whether only readings may release it", type="boolean"),
        ),
        "The customer's table of damping forces, one entry a speed",
        repeated=True,
    ),
    Section(
        "characteristics",
        (
            text("unit", "unit of the characteristic", required=True),
            text("limits", 'limits as on the drawing: "32 ±0.03 mm", "<= 0.2 mm", "-70 to -40 N"'),
            text("what", "what is measured"),
            Key("safety", None, "whether only readings may release it", type="boolean"),
        ),
        "Further characteristics with limits, computed or only measured",
        open=True,
    ),
)

PLANT = (
    Section("plant", (text("name", "name of the plant", required=True),), "The plant", required=True),
    Section(
        "gauge",
        (
            text("name", "name of the gauge or rig", required=True),
            text(
                "measures", "characteristics it measures, separated by spaces; * stands for any ending", required=True
            ),
            text("u", 'combined standard uncertainty of one reading: "6 N"', required=True),
            text("resolution", 'smallest step shown: "1 N"'),
            text("repeatability", "part of u that differs from reading to reading; averages out over repeats"),
            text("source", "where the uncertainty comes from", required=True),
        ),
        "Gauges and rigs with their uncertainty",
        repeated=True,
    ),
    Section(
        "capability",
        (
            text("parameter", "station.parameter whose scatter was measured", required=True),
            text("lot_sd", "standard deviation between lots"),
            text("part_sd", "standard deviation between parts of one lot"),
            text("source", "which data it comes from", required=True),
        ),
        "Measured scatter; outranks the tolerance of a drawing",
        repeated=True,
    ),
    *plant_sections.SECTIONS,
)
