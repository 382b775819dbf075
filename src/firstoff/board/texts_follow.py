"""What the board says of running lots."""

from __future__ import annotations

TEXTS: dict[str, str] = {
    "tab.follow": "Follow",
    "follow.title": "Follow the running lots",
    "follow.what": "Each part's reading in the order in which it came, against its limits and against what the process "
    "has done so far. Add the readings of a new lot to the first-offs, or let the rig post them.",
    "follow.none": "No readings yet that can be followed.",
    "follow.by_time": "In the order of the times at which they were read.",
    "follow.by_file": "In the order of the file: not every reading says when it was read.",
    "follow.good": "The known-good lot {lot} stands first.",
    "follow.slips": "Lots that slip",
    "follow.steady": "No lot shows a signal.",
    "follow.read_outside": "Parts read outside a limit ({n}): {parts}.",
    "follow.went_into": "Parts that carry it by the records ({n}):",
    "follow.made_from": "Made from {item}, which {n} parts carry",
    "follow.lots": "lots",
    "follow.others": "Also came of it",
    "follow.unrecorded": "The records do not say what this lot went into; its parts that were read ({n}): {parts}. "
    "Record the genealogy, or set the whole lot aside.",
    "follow.decide": "Set it on hold, or decide anew",
    "follow.charts": "Characteristics",
    "follow.centre": "centre",
    "follow.control": "control limits",
    "follow.ppk": "Ppk (interval)",
    "follow.cpk": "Cpk (interval)",
    "follow.signals": "signals",
    "follow.rules": "Signals: a reading outside its limits; beyond the control limits (centre ± 3 standard deviations "
    "by the mean moving range); a jump between neighbours beyond the moving range's limit; eight or more in a row on "
    "one side of the centre. Some come of chance alone: about one part in 370 beyond the control limits, and a first "
    "run of eight after some 255 parts. Look before anything is moved.",
    "follow.alt": "Individuals chart of {name}, {n} parts; the values stand in the list below it.",
    "follow.line.limit": "limit",
    "follow.line.control": "control",
    "follow.line.centre": "centre",
    "follow.base": "Control limits from the first {n} parts.",
    "follow.provisional": "Control limits from {n} parts: provisional, 20 are usual.",
    "follow.too_few": "Too few parts, or all alike: no control limits.",
    "follow.capability": "Capability: {words}.",
    "follow.points": "Parts",
    "follow.time": "read at",
    "follow.trace": "What went into what",
    "follow.trace_what": "A lot, heat, bath, gauge or part by its name, as the records call it: which parts carry it, "
    "and what it was made from.",
    "follow.item": "Item",
    "follow.trace_do": "Trace",
    "follow.no_records": "There are no records here yet.",
    "follow.slipping": "slipping: {lots}",
}
