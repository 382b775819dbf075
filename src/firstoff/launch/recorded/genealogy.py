"""What came of what: lots to parts from the readings, and everything before them from a file of the shop."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from firstoff.errors import InputFault, Message, nearest
from firstoff.records import Batch, item, part_item
from firstoff.trials.table import load, raise_if, refuse

NEEDED = ("parent kind", "parent", "child kind", "child")
OTHERS = ("how", "time")


@dataclass
class Edges:
    """Edges, each once, and the items they join."""

    rows: dict[tuple[str, str, str, str], None] = field(default_factory=dict)  # parent, child, how, time

    def add(self, parent: str, child: str, how: str = "", time: str = "") -> None:
        self.rows[parent, child, how, time] = None

    def of_readings(self, read: Iterable[tuple[str, str, str, str | None]], person: str) -> None:
        """From (lot, part, gauge, who read it) of readings; `person` recorded them."""
        for lot, part, gauge, reader in dict.fromkeys(read):
            child = part_item(lot, part)
            if lot:
                self.add(item("lot", lot), child, "is of")
            if gauge:
                self.add(item("gauge", gauge), child, "read with")
            if reader:
                self.add(item("person", reader), child, "read by")
            self.add(item("person", person), child, "recorded by")

    def into(self, batch: Batch) -> None:
        """The items, then the edges."""
        ends = dict.fromkeys(end for parent, child, *_ in self.rows for end in (parent, child))
        batch.add_rows("items", [(end, *end.split(":", 1), None) for end in ends])
        batch.add_rows("edges", [tuple(row) for row in self.rows])


def read_genealogy(file: Path) -> Edges:
    """Edges from a CSV file: parent kind, parent, child kind, child, and as there are how and time.

    A part of a lot is called `LOT/PART`, as the readings call it. Raises InputFault with every fault found.
    """
    name = str(file)
    try:
        text = load(file).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refuse(name, "is not a text file in UTF-8") from None
    first = text.split("\n", 1)[0]
    table = csv.DictReader(io.StringIO(text, newline=""), delimiter=";" if first.count(";") > first.count(",") else ",")
    heads = [(head or "").strip().lower() for head in table.fieldnames or ()]
    table.fieldnames = heads
    faults = [
        Message("has no such column", name, 1, key=n, nearest=nearest(n, heads)) for n in NEEDED if n not in heads
    ]
    faults += [Message("is no column of a genealogy", name, 1, key=h, nearest=nearest(h, (*NEEDED, *OTHERS)))
               for h in heads if h not in (*NEEDED, *OTHERS)]  # fmt: skip
    raise_if(faults, name)
    edges = Edges()
    for row in table:
        cells = {key: " ".join((row.get(key) or "").split()) for key in (*NEEDED, *OTHERS)}
        if not any(cells.values()):
            continue
        faults += _faults(cells, name, table.line_num)
        ends = [item(cells[f"{end} kind"], cells[end]) for end in ("parent", "child")]
        edges.add(ends[0], ends[1], cells["how"], cells["time"])
    raise_if(faults, name)
    if not edges.rows:
        raise InputFault([Message("has no rows", file=name)])
    return edges


def _faults(cells: dict[str, str], file: str, line: int) -> list[Message]:
    found = [Message("is empty", file, line, key) for key in NEEDED if not cells[key]]
    found += [
        Message("has a colon in it", file, line, key, cells[key])
        for key in ("parent kind", "child kind")
        if ":" in cells[key]
    ]
    if not found and (cells["parent kind"], cells["parent"]) == (cells["child kind"], cells["child"]):
        found.append(Message("comes of itself", file, line, "child", cells["child"]))
    return found
