"""Checks the rows of every entry against its Merkle root, and names each that is not as it was recorded."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from hashlib import sha256
from itertools import islice
from typing import Any

from sqlalchemy import Connection, func, select

from firstoff.records.canonical import BLOCK, leaf, leaves_of
from firstoff.records.findings import Finding
from firstoff.records.merkle import root_of, split
from firstoff.records.scan import stream
from firstoff.records.schema import CONTENT, columns_of, leaves, tables
from firstoff.records.verify_chain import Entry

TOGETHER = 50_000  # rows of small entries that are read in one go

Found = dict[int, list[tuple[str, bytes]]]  # position -> table and leaf of every row there


class RowCheck:
    """One pass over the rows of all entries, in one view of the database."""

    def __init__(self, connection: Connection, found: Sequence[Entry]) -> None:
        self.connection = connection
        self.entries = [e for e in found if e.number > 0]
        self.rows = 0
        self.most = sum(
            int(connection.execute(select(func.count()).select_from(t)).scalar_one()) for t in tables.values()
        )

    def findings(self) -> list[Finding]:
        wrong: list[Finding] = []
        for group in _grouped(self.entries):
            wrong += self._group(group)
        return wrong + self._strays()

    def _group(self, group: Sequence[Entry]) -> list[Finding]:
        """Entries with numbers side by side; only what does not fit is read a second time."""
        slots: dict[int, list[bytes | None]] = {e.number: [None] * min(max(e.count, 0), self.most) for e in group}
        odd: set[int] = set()
        for table in CONTENT:
            for entry, position, found in self._leaves(table, group[0].number, group[-1].number):
                places = slots.get(entry)
                if places is None:
                    continue  # of an entry that is missing: a stray
                self.rows += 1
                if not 0 <= position < len(places) or places[position] is not None:
                    odd.add(entry)
                    continue
                places[position] = found
        wrong: list[Finding] = []
        for e in group:
            there = [h for h in slots[e.number] if h is not None]
            whole = len(there) == e.count and e.number not in odd and root_of(there).hex() == e.root
            noted = self._noted(e.number)
            if whole and there != noted:
                wrong.append(Finding("altered", "its list of row hashes is not what was recorded", e.number))
            if not whole:
                wrong += self._named(e, noted)
        return wrong

    def _leaves(self, table: str, first: int, last: int) -> Iterator[tuple[int, int, bytes]]:
        """Entry, position and leaf of every row of a table in some entries."""
        rows = stream(self.connection, table, columns_of(table), "entry BETWEEN ? AND ?", (first, last))
        while block := list(islice(rows, BLOCK)):
            contents = [row[2:] for row in block]
            try:
                found = leaves_of(table, contents)
            except (TypeError, ValueError):  # a value of a kind that is never recorded
                found = [_leaf(table, row) for row in contents]
            yield from ((row[0], row[1], h) for row, h in zip(block, found, strict=True))

    def _noted(self, number: int) -> list[bytes]:
        """The leaf hashes as they were noted when the entry was written."""
        rows = self.connection.execute(
            select(leaves.c.hashes).where(leaves.c.entry == number).order_by(leaves.c.chunk)
        ).scalars()
        return [h for chunk in rows for h in split(bytes(chunk))]

    def _named(self, e: Entry, noted: list[bytes]) -> list[Finding]:
        """Which rows of an entry do not fit. The noted leaves say what each was, as far as they fit the root."""
        wrong: list[Finding] = []
        if len(noted) != e.count or root_of(noted).hex() != e.root:
            wrong.append(Finding("altered", "its list of row hashes is not what was recorded", e.number))
        found: Found = defaultdict(list)
        for table in CONTENT:
            for _, position, own in self._leaves(table, e.number, e.number):
                found[position].append((table, own))
        place_of = {h: i for i, h in enumerate(noted)}
        for position in sorted({*found, *range(len(noted))}):
            expected = noted[position] if 0 <= position < len(noted) else None
            there = list(found.get(position, []))
            for i, (_, h) in enumerate(there):
                if h == expected:
                    del there[i]  # as recorded; what else stands here is too much
                    expected = None
                    break
            wrong += self._odd(e.number, position, there, expected, place_of)
        if not wrong:
            wrong.append(Finding("altered", "its rows do not give the root that was signed", e.number))
        return wrong

    def _odd(
        self,
        entry: int,
        position: int,
        there: list[tuple[str, bytes]],
        expected: bytes | None,
        places: dict[bytes, int],
    ) -> list[Finding]:
        if not there:
            return [Finding("removed", "is missing", entry, position)] if expected is not None else []
        wrong = []
        for table, h in there:
            place = places.get(h)
            if place is not None and place != position:
                wrong.append(Finding("reordered", f"holds what was recorded as row {place}", entry, position, table))
            elif h in self.everywhere:
                k, row = self.everywhere[h]
                wrong.append(Finding("replayed", f"is a copy of entry {k}, row {row}", entry, position, table))
            elif expected is not None:
                wrong.append(Finding("altered", "is not what was recorded", entry, position, table))
            else:
                wrong.append(Finding("added", "was never recorded", entry, position, table))
        return wrong

    @cached_property
    def everywhere(self) -> dict[bytes, tuple[int, int]]:
        """Where each noted leaf stands; made only once something is wrong."""
        return {h: (e.number, i) for e in reversed(self.entries) for i, h in enumerate(self._noted(e.number))}

    def _strays(self) -> list[Finding]:
        """Rows of entries that are not there."""
        missing = "entry NOT IN (SELECT number FROM entries WHERE number > 0)"
        wrong = []
        for table in CONTENT:
            for entry, position, *_ in stream(self.connection, table, columns_of(table), missing):
                wrong.append(Finding("added", "belongs to an entry that is not there", entry, position, table))
        for entry, chunk in stream(self.connection, "leaves", ("entry", "chunk"), missing):
            wrong.append(Finding("added", f"its list of row hashes (part {chunk}) is there, but not the entry", entry))
        return wrong


def _leaf(table: str, row: Sequence[Any]) -> bytes:
    try:
        return leaf(table, row)
    except (TypeError, ValueError):
        return sha256(repr(row).encode()).digest()


def _grouped(entries: Iterable[Entry]) -> Iterator[list[Entry]]:
    group: list[Entry] = []
    rows = 0
    for e in entries:
        if group and rows + e.count > TOGETHER:
            yield group
            group, rows = [], 0
        group.append(e)
        rows += e.count
    if group:
        yield group
