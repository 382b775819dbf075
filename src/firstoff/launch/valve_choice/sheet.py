"""The lines of the model sheet that a chosen valve changes, and a new sheet with them; the old one is never touched."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from firstoff.chain.station import Value
from firstoff.errors import InputFault, Message
from firstoff.launch.job import Job, read_job
from firstoff.launch.plan import plan
from firstoff.launch.valve_choice.choose import LaunchChoice
from firstoff.launch.valve_choice.search import Choice
from firstoff.launch.valve_choice.trials import VALVES
from firstoff.launch.write import write_text
from firstoff.sheets.quantity import Quantity
from firstoff.stations.damper.bin_parts import Bin

PAIR = re.compile(r'^(\s*[\w."]+\s*=\s*)("[^"]*"|[^#"]*?)(\s*(?:#.*)?)$')


@dataclass(frozen=True)
class Line:
    """One line of the sheet as it is and as it will be."""

    parameter: str
    file: str  # the sheet that states it; empty: none does
    line: int
    before: str
    after: str
    part: str  # part number it comes from, or how it is set


def changed_lines(found: LaunchChoice, choice: Choice) -> list[Line]:
    """Every parameter that the choice states otherwise than the sheet, in the order of the stations."""
    job, lines = found.plan.job, []
    numbers = _Numbers(found.bin)
    now = {v.name: v for of in found.plan.plans.values() for v in of.values}
    for settled in choice.plans.values():
        for v in settled.values:
            if v.name not in choice.stated:
                continue
            quantity, where = choice.stated[v.name]
            after, before = written(quantity), job.settings.given.get(v.name)
            if (before is not None and written(before) == after) or (
                before is None and _the_default(quantity, now[v.name])
            ):
                continue
            file, _, line = job.settings.origin.get(v.name, "").rpartition(":")
            bin_line = int(where.rpartition(":")[2])
            lines.append(
                Line(v.name, file, int(line or 0), written(before) if before else "", after, numbers(bin_line))
            )
    return lines


def _the_default(quantity: Quantity, now: Value) -> bool:
    """Whether a sheet that is silent says the same."""
    return quantity.nominal == now.nominal and not (
        quantity.total or quantity.lot or quantity.part or now.lot or now.part
    )


class _Numbers:
    """The part number that a line of the bin's file belongs to."""

    def __init__(self, parts: Bin) -> None:
        self.lines = {line: p.number for of in parts.parts.values() for p in of for line in p.lines.values()}

    def __call__(self, line: int) -> str:
        return self.lines.get(line, "")


def written(quantity: Quantity) -> str:
    """A quantity as TOML."""
    text = quantity.text
    return text if re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?", text) else f'"{text}"'


def write_sheet(found: LaunchChoice, target: Path, choice: Choice | None = None) -> Path:
    """A model sheet with the lines that a choice (the first) changes, under a new name.

    It stands beside the old one, so that it finds its plant sheet. InputFault when nothing meets the table, the file is
    there already or lies elsewhere, or a line cannot be changed by itself.
    """
    job, choice = found.plan.job, choice or found.choices[0]
    if not found.meeting:
        what = "is not written: no valve of the bin meets the table"
        raise InputFault([Message(what, str(target), allowed="a bin with what would do, see the account")])
    _refuse(job, target)
    rows = job.file.read_text("utf-8").splitlines()
    added: dict[str, list[str]] = {}
    faults = []
    for line in changed_lines(found, choice):
        key = line.parameter.split(".", 1)[1]
        note = f"   # {line.part}" if line.part else ""
        if not line.file:
            added.setdefault(line.parameter.split(".", 1)[0], []).append(f"{key} = {line.after}{note}")
            continue
        match = PAIR.match(rows[line.line - 1]) if line.file == job.file.name else None
        if match is None or not match[1].strip().rstrip("= ").endswith(key):
            what = "is stated where the line cannot be changed by itself; change it by hand"
            faults.append(Message(what, line.file, line.line, line.parameter, line.before, line.after))
        else:
            rows[line.line - 1] = f"{match[1]}{line.after}{note}"
    if faults:
        raise InputFault(faults)
    rows = with_added(rows, added)
    write_text(target, "\n".join(rows) + "\n")
    _verify(target, choice)
    return target


def _refuse(job: Job, target: Path) -> None:
    if target.exists():
        what = "is there already; nothing was written over it"
        raise InputFault([Message(what, str(target), allowed="a name that is free, by --write")])
    if target.resolve().parent != job.file.resolve().parent:
        what = "would not find its plant sheet: a new model sheet stands beside the old one"
        raise InputFault([Message(what, str(target), allowed=str(job.file.parent / target.name))])


def with_added(rows: Sequence[str], added: dict[str, list[str]]) -> list[str]:
    """The rows with further keys right under the header of their section; a section of its own where there is none."""
    made: list[str] = []
    left = dict(added)
    for row in rows:
        made.append(row)
        header = re.match(r"^\s*\[\s*([\w]+)\s*\]", row)
        if header and header[1] in left:
            made += left.pop(header[1])
    for station, keys in left.items():
        made += ["", f"[{station}]", *keys]
    return made


def _verify(target: Path, choice: Choice) -> None:
    """The new sheet must settle the valves as they were computed; else it is taken away again."""
    try:
        settled = plan(read_job(target)).plans
    except InputFault:
        target.unlink()
        raise
    made, meant = ({v.name: _numbers(v) for s in VALVES for v in of[s].values} for of in (settled, choice.plans))
    wrong = [name for name, numbers in meant.items() if made[name] != numbers]
    if wrong:
        target.unlink()
        raise RuntimeError(f"the new sheet does not say what was chosen: {', '.join(wrong)}")


def _numbers(v: Value) -> tuple[float, ...]:
    levels = [(s.sd, s.offset) if s else (0.0, 0.0) for s in (v.lot, v.part)]
    return (v.nominal, *levels[0], *levels[1])
