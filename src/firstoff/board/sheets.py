"""The sheets of a launch as text: checked before they are saved, compared with what is there, one line or many."""

from __future__ import annotations

import difflib
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from firstoff.board.entry import WRITING, Changed, renamed
from firstoff.board.launches import Launch, digest
from firstoff.errors import InputFault, Message
from firstoff.launch.check import check
from firstoff.launch.job import Job
from firstoff.launch.line.plant import is_plant
from firstoff.launch.valve_choice.sheet import PAIR, with_added
from firstoff.launch.write import write_text

LARGEST = 1_000_000  # signs of a sheet


@dataclass(frozen=True)
class Row:
    """One line of a sheet as typed, or one that is gone."""

    number: int  # of the typed text; 0 for a line that is gone
    text: str
    change: str  # `added`, `gone` or nothing
    messages: tuple[Message, ...] = ()


def files(launch: Launch) -> list[str]:
    """The sheets of the folder that may be written here, the model sheet first."""
    rest = sorted(f.name for f in launch.folder.glob("*.toml") if f != launch.sheet)
    return [launch.sheet.name, *rest]


def tidy(text: str) -> str:
    """As a browser sends it back: line ends made plain, one at the end."""
    return text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n") + "\n"


def checked(launch: Launch, name: str, text: str) -> tuple[Message, ...]:
    """What the checker says of the launch with this text in the place of one of its sheets; nothing is written."""
    if len(text) > LARGEST:
        return (Message("is too long for a sheet", file=name, allowed=f"up to {LARGEST} signs"),)
    others = ((file.name, file.read_bytes()) for file in sorted(launch.folder.glob("*.toml")) if file.name != name)
    return _checked(launch.sheet.name, tuple(others), name, text)


@lru_cache(maxsize=32)
def _checked(model: str, others: tuple[tuple[str, bytes], ...], name: str, text: str) -> tuple[Message, ...]:
    """Once for each state of the sheets."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for other, data in others:
            (folder / other).write_bytes(data)
        (folder / name).write_text(text, "utf-8")
        sheets = [folder / model]
        found: list[Message] = []
        try:
            if name != model and is_plant(folder / name):
                sheets.append(folder / name)
        except InputFault as fault:
            found += fault.messages
        for sheet in sheets:
            try:
                found += check(sheet).messages
            except InputFault as fault:
                found += fault.messages
        return renamed(list(dict.fromkeys(found)), folder, "")


def is_refused(messages: tuple[Message, ...]) -> bool:
    return any(m.level == "error" for m in messages)


def rows(before: str, after: str, name: str, messages: tuple[Message, ...], around: int = 2) -> list[Row]:
    """Lines that were changed or of which something is said, with a few around each."""
    said: dict[int, list[Message]] = {}
    for m in messages:
        if m.file == name and m.line:
            said.setdefault(m.line, []).append(m)
    old, new = before.splitlines(), after.splitlines()
    found: list[Row] = []
    for how, a, b, c, d in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if how != "equal":
            found += [Row(0, line, "gone") for line in old[a:b]]
        change = "" if how == "equal" else "added"
        found += [Row(i + 1, new[i], change, tuple(said.get(i + 1, ()))) for i in range(c, d)]
    loud = [i for i, row in enumerate(found) if row.change or row.messages]
    kept = {j for i in loud for j in range(i - around, i + around + 1)}
    return [row for i, row in enumerate(found) if i in kept]


def store(launch: Launch, name: str, text: str, shown: str) -> None:
    """Write a sheet if it is still the one that was shown; raises Changed."""
    file = launch.folder / name
    with WRITING:
        if digest(file) != shown:
            raise Changed
        write_text(file, text)


def with_settings(job: Job, stated: Mapping[str, str]) -> tuple[Path, str]:
    """The sheet that states these settings, and its text with them. InputFault when a line cannot be changed by itself.

    What no sheet states yet goes into the model sheet. Settings of two sheets are two saves.
    """
    named = {job.settings.origin.get(name, "").rpartition(":")[0] or job.file.name for name in stated}
    if len(named) > 1:
        what = "stand in several sheets; save them one sheet at a time"
        raise InputFault([Message(what, key=", ".join(stated), found=", ".join(sorted(named)))])
    file = job.file.parent / named.pop()
    lines = file.read_text("utf-8-sig").splitlines()
    added: dict[str, list[str]] = {}
    faults = []
    for name, text in stated.items():
        station, key = name.split(".", 1)
        value = text if re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?", text) else _quoted(text)
        line = int(job.settings.origin.get(name, "").rpartition(":")[2] or 0)
        if not line:
            added.setdefault(station, []).append(f"{key} = {value}")
            continue
        match = PAIR.match(lines[line - 1])
        if match is None or match[1].strip().rstrip("= ") != key:
            what = "is stated where the line cannot be changed by itself; change it in the sheet"
            faults.append(Message(what, file.name, line, name))
        else:
            lines[line - 1] = f"{match[1]}{value}{match[3]}"
    if faults:
        raise InputFault(faults)
    return file, "\n".join(with_added(lines, added)) + "\n"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
