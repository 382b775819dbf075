"""What to move, by how much, and what else that moves, for the dossier."""

from __future__ import annotations

from firstoff.launch.correcting.account import END, row, title_of, why
from firstoff.launch.correcting.correct import LaunchCorrection
from firstoff.launch.correcting.write import HEADS
from firstoff.report.pages import Figure, Section, Table
from firstoff.report.tables import number, probability

VERDICTS = {
    "move": "A setting can bring the parts back.",
    "leave": "Nothing has to be moved: the parts keep to their limits.",
    "rig": "No setting is moved: the readings are off, not the parts.",
    "part": "No setting is moved: one part is affected, the process is not.",
    "nothing works": "Nothing that may be moved brings all characteristics back; the nearest misses follow.",
}


def correction_sections(found: LaunchCorrection, figure: Figure | None, lot: str = "") -> list[Section]:
    """The corrections by least trouble, every characteristic before and after the first, and the parts already made."""
    top = found.top
    faults = [found.explanation.faults[n] for n in top.name.split(" + ") if n in found.explanation.faults]
    paragraphs = [VERDICTS[found.verdict], f"Cause taken: {top.title}, {top.who} ({probability(top.stated)})."]
    paragraphs += [f"To confirm first: {f.confirm}." for f in faults]
    paragraphs += [f"Without any setting moved: {f.cure}." for f in faults]
    paragraphs += [f"It would come back with {text}." for text in found.would]
    tables = []
    if found.corrections:
        heads = ("", "correction", "works", "min", "cost", "customer", "why")
        rows = tuple(
            (str(i), title_of(c, found), probability(c.probability), number(c.minutes, 3), number(c.cost, 4),
             "must approve" if c.customer_approval else "no", why(c, found))
            for i, c in enumerate(found.corrections, 1)
        )  # fmt: skip
        tables.append(Table(heads, rows, "Corrections, least trouble first"))
        lines = found.corrections[0].lines
        title = "With correction 1: trial builds of the whole chain with the cause in them"
        tables.append(Table(HEADS, tuple(row(line, found) for line in lines), title))
    fates = tuple((f.part, f.do, ", ".join(f.out), f.why) for f in found.fates)
    if fates:
        tables.append(Table(("part", "do", "for the sake of", "why"), fates, "The parts already made"))
    if found.corrections:
        paragraphs.append(END)
    handling = found.explanation.plan.job.family.handling
    cautions = dict.fromkeys([*(f.beware for f in faults if f.beware), *([handling] if handling else [])])
    title = f"Correction{f', lot {lot}' if lot else ''}"
    figures = (figure,) if figure else ()
    return [Section(title, tuple(cautions), tuple(paragraphs), tables=tuple(tables), figures=figures)]
