"""Keep: a result that was computed before goes into the records, because somebody says so; and what was kept so far."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from firstoff.launch.job import Job
from firstoff.launch.recorded.authority import Author
from firstoff.launch.recorded.record import Recorded, Sources, add_result, add_sources, counts
from firstoff.plain import plain
from firstoff.records import Batch, Records, append, head
from firstoff.records.schema import entries, tables


@dataclass(frozen=True)
class Finding:
    """One result of a verb: kind as `firstoff record` names it, the lot it speaks of, what it says in a line."""

    kind: str
    content: Mapping[str, Any]
    summary: str
    lot: str = ""

    @property
    def digest(self) -> str:
        """Of the result as it is recorded."""
        return sha256(_words(self.content).encode()).hexdigest()


@dataclass(frozen=True)
class Kept:
    """A result in the records."""

    entry: int
    person: str
    time: str
    kind: str
    lot: str
    summary: str
    digest: str


def _words(content: Mapping[str, Any]) -> str:
    return json.dumps(plain(content), sort_keys=True, allow_nan=False)


def keep(
    job: Job, records: Records, author: Author, found: list[Finding], readings: Path | None = None,
    good: Path | None = None,
) -> Recorded:  # fmt: skip
    """Record results that rest on the files as they are now; what is recorded already is not recorded twice.

    readings, good: as far as the results rest on them. Raises InputFault when the author's key does not open.
    """
    signer = author.signer()
    batch = Batch("results", f"{job.name}: {', '.join(dict.fromkeys(one.kind for one in found))}")
    with records.reading() as connection:
        sources = add_sources(batch, connection, job, readings, good)
        known = [_entry(connection, one, job, sources) for one in found]
    for one, before in zip(found, known, strict=True):
        if before is None:
            add_result(batch, job, one.kind, one.content, one.summary, sources, one.lot)
    before = next((entry for entry in known if entry is not None), None)
    if before is not None and None not in known:
        return Recorded(head(records), before, False, {})
    made = append(records, batch, signer)
    return Recorded(made, made.number, True, counts(batch))


def _entry(connection: Connection, one: Finding, job: Job, sources: Sources) -> int | None:
    """The entry that holds this very result; None when there is none."""
    table = tables["results"]
    inputs = json.dumps({k: v for k, v in vars(sources).items() if v}, sort_keys=True)
    same = (table.c.kind == one.kind, table.c.model == job.name, table.c.revision == job.revision,
            table.c.lot == one.lot, table.c.inputs == inputs, table.c.content == _words(one.content))  # fmt: skip
    found = connection.execute(select(table.c.entry).where(*same).limit(1)).scalar()
    return None if found is None else int(found)


def kept_results(records: Records, model: str, kind: str, most: int = 10) -> list[Kept]:
    """The last results of a kind in the records, the newest first."""
    table = tables["results"]
    asked = (
        select(table.c.entry, entries.c.author, entries.c.time, table.c.kind, table.c.lot, table.c.summary,
               table.c.content)
        .join(entries, entries.c.number == table.c.entry)
        .where(table.c.model == model, table.c.kind == kind)
        .order_by(table.c.entry.desc(), table.c.position)
        .limit(most)
    )  # fmt: skip
    with records.reading() as connection:
        rows = connection.execute(asked).all()
    return [Kept(int(r[0]), r[1], r[2], r[3], r[4] or "", r[5] or "", sha256((r[6] or "").encode()).hexdigest())
            for r in rows]  # fmt: skip
