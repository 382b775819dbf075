"""How a rig writes its traces, as the plant sheet's gauge says it: names of columns, units, which way is positive."""

from __future__ import annotations

from firstoff.errors import InputFault, Message, nearest
from firstoff.launch.job import Job
from firstoff.sheets.units import lookup, same_dimension
from firstoff.trials.columns import plain
from firstoff.trials.trace_file import LABELS, POINTS, Layout

SIGNS = {"displacement_positive": ("out", "in"), "force_positive": ("tension", "compression")}


def layout_of(job: Job, gauge: str = "") -> Layout:
    """The layout of the traces of a gauge, or of the only one that says something of traces. Raises InputFault.

    `trace = { time = "ms", force = "kN", Weg = "displacement mm", displacement_positive = "in" }`: a known column
    and its unit, a column of another name with what it is and its unit, or a sign.
    """
    said = {g.name: g.trace for g in job.gauges.values() if g.trace and (not gauge or g.name == gauge)}
    if len({tuple(sorted(table.items())) for table in said.values()}) > 1:
        what = "several gauges say how their traces are written"
        raise InputFault([Message(what, str(job.file), key="gauge", found=", ".join(said),
                                  allowed="the gauge's name in the readings")])  # fmt: skip
    table = next(iter(said.values()), {})
    what_is, units, faults = {}, {}, []
    name = next(iter(said), "")
    for key, text in table.items():
        word, first, rest = plain(key), *_words(text)
        if word in SIGNS:
            if text not in SIGNS[word]:
                faults.append(_fault(job, name, key, text, " or ".join(SIGNS[word])))
        elif word in POINTS or word == "speed":
            units[word] = text
            if not _is_unit(text, POINTS.get(word, "m/s")):
                faults.append(_fault(job, name, key, text, f"a unit such as {POINTS.get(word, 'm/s')}"))
        elif first in (*POINTS, *LABELS) and (not rest or _is_unit(rest, POINTS.get(first, "m/s"))):
            what_is[word] = first
            if rest:
                units[word] = rest
        else:
            allowed = f"{', '.join(POINTS)} with a unit, or {', '.join(LABELS)}"
            faults.append(_fault(job, name, key, text, allowed))
    if faults:
        raise InputFault(faults)
    return Layout(
        what_is, units, table.get("displacement_positive") == "in", table.get("force_positive") == "compression"
    )


def _words(text: str) -> tuple[str, str]:
    first, _, rest = text.strip().partition(" ")
    return plain(first), rest.strip()


def _is_unit(text: str, expected: str) -> bool:
    try:
        lookup(text)
        return same_dimension(text, expected)
    except ValueError:
        return False


def _fault(job: Job, gauge: str, key: str, found: str, allowed: str) -> Message:
    near = nearest(found.split()[0] if found.split() else "", (*POINTS, *LABELS))
    return Message("does not say what this column of a trace is", str(job.file), key=f"gauge {gauge}: trace.{key}",
                   found=found, allowed=allowed, nearest=near)  # fmt: skip
