"""Events: who came in, whose account was changed, which token was made; in the records, under the board's own name."""

from __future__ import annotations

import json
from dataclasses import dataclass

from sqlalchemy import select

from firstoff.launch.recorded.authority import Author
from firstoff.records import Batch, Head, Records, append
from firstoff.records.schema import entries

KIND = "access"
MOST = 200  # entries that a page shows


@dataclass(frozen=True)
class Entry:
    """The head of one entry of the records."""

    number: int
    time: str
    author: str
    kind: str
    note: str


def happened(records: Records, author: Author, what: str, person: str = "", address: str = "") -> Head:
    """Record an event in one line of plain words. Raises InputFault or OSError when it cannot be recorded."""
    batch = Batch(KIND, what)
    content = json.dumps({"person": person, "address": address, "what": what}, sort_keys=True)
    batch.add("results", kind=KIND, model="", revision="", lot="", summary=what, inputs="{}", content=content)
    return append(records, batch, author.signer())


def last_entries(records: Records, most: int = MOST) -> list[Entry]:
    """The last entries of the records, the newest first."""
    asked = (
        select(entries.c.number, entries.c.time, entries.c.author, entries.c.kind, entries.c.note)
        .order_by(entries.c.number.desc())
        .limit(most)
    )
    with records.reading() as connection:
        return [Entry(int(r[0]), r[1], r[2], r[3], r[4]) for r in connection.execute(asked).all()]
