"""The sections of a model sheet and of a plant sheet, beside those of the stations."""

from __future__ import annotations

from collections.abc import Iterable

from firstoff.chain.fault import Fault
from firstoff.families import NAMES, Family
from firstoff.launch.test_plan import sections as first_off_sections
from firstoff.line import plant_sections
from firstoff.methods.conformity import RULES
from firstoff.methods.distribution_fit import STATED
from firstoff.sheets.schema import Key, Section
from firstoff.stations.settle import section_of


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
        "characteristics",
        (
            text("unit", "unit of the characteristic", required=True),
            text("limits", 'limits as on the drawing: "32 ±0.03 mm", "<= 0.2 mm", "-70 to -40 N"'),
            text("what", "what is measured"),
            Key("safety", None, "whether only readings may release it", type="boolean"),
            text("distribution", "of the parts, where it is known; else it is chosen by test", choices=STATED),
            text("expected", 'what no station computes but is known: "0.02 mm, sd 0.006 mm"; sizes the first-offs'),
            Key("destructive", None, "whether a part is lost by measuring it", type="boolean"),
            text("spoils", "characteristics that can no longer be read on a part after this one"),
        ),
        "Further characteristics with limits, computed or only measured",
        open=True,
    ),
    *first_off_sections.SECTIONS,
)

PLANT = (
    Section(
        "plant",
        (
            text("name", "name of the plant", required=True),
            text("parts", "file of the bin of valve parts, beside this sheet"),
        ),
        "The plant",
        required=True,
    ),
    Section(
        "gauge",
        (
            text("name", "name of the gauge or rig", required=True),
            text(
                "measures", "characteristics it measures, separated by spaces; * stands for any ending", required=True
            ),
            text("u", 'combined standard uncertainty of one reading: "6 N"; needed without a study'),
            text("resolution", 'smallest step shown: "1 N"'),
            text("repeatability", "part of u that differs from reading to reading; averages out over repeats"),
            text("source", "where the uncertainty comes from; needed without a study"),
            text("study", "files of its study beside this sheet, separated by commas; u is computed from them"),
            text("study_sha256", "digest of each file, separated by commas: a changed study is refused"),
            Key("study_until", None, "day after which the study no longer counts", type="date"),
            text("reference_u", "standard uncertainty of the references of the study"),
            Key("destructive", None, "whether a part is lost by measuring it", type="boolean"),
            Key("trace", None, "columns of its traces: units, names of its own, which way is positive", type="table"),
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
    Section(
        "change",
        (
            text("parameter", "station.parameter of the setting that is moved", required=True),
            text("step", 'least real step, a difference: "0.02 mm"'),
            text("low", "lower end of where it may be set"),
            text("high", "upper end of where it may be set"),
            Key(
                "most_steps",
                None,
                "most steps each way; further it is another design",
                type="integer",
                low="1",
                high="40",
            ),
            Key("minutes", None, "minutes that one change takes, whatever its size", type="number", low="0"),
            Key("cost", None, "what one change costs, in the plant's own money", type="number", low="0"),
            Key("customer_approval", None, "whether the customer must approve", type="boolean"),
            text("how", "where and with what it is moved"),
            Key("fixed", None, "whether it may not be moved at all", type="boolean"),
        ),
        "What moving a setting takes; outranks what the station declares",
        repeated=True,
    ),
    Section(
        "cure",
        (
            text("fault", "name of the fault, as explain --json names it", required=True),
            Key("minutes", None, "minutes until the cause is gone", type="number", low="0"),
            Key("cost", None, "what the cure costs, in the plant's own money", type="number", low="0"),
            Key("customer_approval", None, "whether the customer must approve", type="boolean"),
            text("parts", "what is done with an affected part that does not conform", choices=("rework", "scrap")),
            text("note", "how, or what it waits for"),
        ),
        "What undoing a cause takes; outranks what its station declares",
        repeated=True,
    ),
    *plant_sections.SECTIONS,
)


def of_faults(faults: Iterable[Fault]) -> Section:
    """`[faults]`: how often each declared fault happens at this plant."""
    keys = tuple(Key(f.name, None, f"how often: {f.title}", type="rate") for f in faults)
    return Section("faults", keys, 'How often a fault happens: "15 per 1000" launches, or 0 where it cannot')


MEASUREMENTS = Section(
    "measurements",
    (
        Key("available", None, "false where the plant cannot make it: it is then never proposed", type="boolean"),
        Key("minutes", None, "minutes of work, set-up included", type="number", low="0.1"),
        Key("destructive", None, "whether the parts measured are lost", type="boolean"),
        Key("cost", None, "of parts and help besides the minutes, in the plant's own money", type="number", low="0"),
    ),
    "What a measurement takes at this plant; its uncertainty stands with the gauge",
    open=True,
)


def of_stations(family: Family) -> tuple[Section, ...]:
    """The sections of the route's stations and of the check stations."""
    return tuple(section_of(s) for s in (*family.stations, *family.checks))
