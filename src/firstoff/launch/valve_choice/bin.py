"""Reads the plant's bin of valve parts. Everything that is wrong with it is said at once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.sheets.checker import Settled, check
from firstoff.sheets.quantity import Quantity
from firstoff.sheets.toml import Document, read
from firstoff.stations.damper.bin_parts import KINDS, SECTIONS, TITLES, UNSTATED, Bin, Part, fits, whole_range

COUNTS = ("rebound_discs", "check_discs", "compression_discs", "intake_discs", "shims", "crimp_steps", "notches",
          "rebound_port_count", "check_port_count", "compression_port_count", "intake_port_count")  # fmt: skip


def read_bin(file: Path) -> tuple[Bin, tuple[Message, ...]]:
    """The bin and the remarks about it. Raises InputFault with every fault of it."""
    document = read(file)
    settled, messages = check(document, SECTIONS)
    messages += _part_numbers(document, settled)
    messages += _counts(document, settled)
    errors = [m for m in messages if m.level == "error"]
    if errors:
        raise InputFault(sorted(errors, key=lambda m: m.line))
    parts = {kind: tuple(_part(document, kind, i, e) for i, e in enumerate(settled[kind])) for kind in KINDS}
    head = settled["bin"]
    made = Bin(head["name"], file.name, parts, float(head.get("new_part_cost", 0.0)))
    return made, (*(m for m in messages if m.level != "error"), *_idle(document, made))


def _part(document: Document, kind: str, index: int, entry: dict[str, Any]) -> Part:
    values = {key: value for key, value in entry.items() if isinstance(value, Quantity)}
    lines = {key: document.line((kind, index, key)) for key in values}
    return Part(
        kind, entry["part"], entry["stock"], float(entry["cost"]), entry["used_by"], values, lines,
        entry.get("source", UNSTATED),
    )  # fmt: skip


def _part_numbers(document: Document, settled: Settled) -> list[Message]:
    """A part number that stands twice: nobody could tell which was meant."""
    first: dict[str, int] = {}
    faults = []
    for kind in KINDS:
        for index, entry in enumerate(settled.get(kind, [])):
            number, line = entry.get("part"), document.line((kind, index, "part"))
            if number is not None and number in first:
                what = f"is the part number of another part, in line {first[number]}"
                faults.append(Message(what, document.file, line, f"{kind}.part", number))
            elif number is not None:
                first[number] = line
    return faults


def _counts(document: Document, settled: Settled) -> list[Message]:
    """Counts that are no whole numbers."""
    faults = []
    for kind in KINDS:
        for index, entry in enumerate(settled.get(kind, [])):
            for key in COUNTS:
                if key in entry and whole_range(entry[key])[1] < whole_range(entry[key])[0]:
                    line, found = document.line((kind, index, key)), entry[key].text
                    what, allowed = "is no count", 'a whole number, or a range of them: "2 to 5"'
                    faults.append(Message(what, document.file, line, f"{kind}.{key}", found, allowed))
    return faults


def _idle(document: Document, made: Bin) -> list[Message]:
    """Parts that fit nowhere: perhaps a slip of the pen."""
    bodies = (*made.parts["piston"], *made.parts["base"])
    places: dict[str, list[tuple[float, ...]]] = {
        "disc": [(b.nominal(k), b.nominal("post")) for b in bodies for k in b.values if k.endswith("_disc_diameter")],
        "spring": [(b.nominal("spring_diameter"),) for b in bodies],
    }
    places["bleed_disc"] = places["disc"]
    found = []
    for kind, where in places.items():
        for index, part in enumerate(made.parts[kind]):
            sizes = [part.nominal("diameter")] + ([part.nominal("hole")] if kind != "spring" else [])
            if not any(fits(place, sizes) for place in where):
                what, line = (
                    f"fits no piston and no base valve of this bin: {TITLES[kind]}",
                    document.line((kind, index)),
                )
                found.append(Message(what, document.file, line, f"{kind}.part", part.number, level="remark"))
    return found
