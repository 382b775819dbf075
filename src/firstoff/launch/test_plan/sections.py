"""The sections of a model sheet about its first-offs: how many, how sure, life tests, checks by sampling plan."""

from __future__ import annotations

from firstoff.sheets.schema import Key, Section


def text(name: str, what: str, required: bool = False, choices: tuple[str, ...] = ()) -> Key:
    return Key(name, None, what, required=required, type="text", choices=choices)


SECTIONS = (
    Section(
        "first_offs",
        (
            Key("confidence", "1", "confidence asked of the first-offs", low="0.5", high="0.9999"),
            Key("inside", "1", "share of the lot to be proven inside the limits", low="0.5", high="0.9999"),
            Key("chance", "1", "chance that a lot as predicted is proven", low="0.5", high="0.999"),
            Key("parts", None, "parts of a lot that can be had", type="integer", low="1", high="10000"),
            Key("lots", None, "lots that are tried", type="integer", low="1", high="50"),
        ),
        "How many first parts, and how sure",
    ),
    Section(
        "life_test",
        (
            text("name", "name of the test", required=True),
            text("what", "what counts as a failure"),
            text("life", 'life to be proven: "300000 cycles", "500 h"', required=True),
            text("run", "how long each part is run", required=True),
            Key("reliability", "1", "share that must survive the life", required=True, low="0.5", high="0.9999"),
            Key("confidence", "1", "confidence asked", low="0.5", high="0.9999"),
            Key("shape", None, "Weibull shape, known beforehand", type="number", required=True, low="0.1", high="20"),
            Key("destructive", None, "whether the part is lost; true unless stated", type="boolean"),
        ),
        "Life tests without failure, after Weibull",
        repeated=True,
    ),
    Section(
        "attribute_check",
        (
            text("name", "name of the check", required=True),
            text("what", "what is looked for"),
            Key("lot", None, "parts in the lot", type="integer", required=True, low="2", high="1000000000"),
            text("level", "inspection level of ISO 2859-1", choices=("S-1", "S-2", "S-3", "S-4", "I", "II", "III")),
            Key("aql", None, "acceptance quality limit, nonconforming per cent", type="number", required=True),
        ),
        "Checks that only say good or bad, by sampling plan",
        repeated=True,
    ),
)
