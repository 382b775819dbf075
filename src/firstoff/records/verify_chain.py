"""Checks the heads of the entries: numbers, hashes, what each follows, signatures, and who signs with which key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, select

from firstoff.records.append import FIELDS, START, Head
from firstoff.records.canonical import head_bytes
from firstoff.records.findings import Finding
from firstoff.records.keys import is_signed
from firstoff.records.schema import entries, tables

NUMBER, KIND, AUTHOR, TIME, PREVIOUS, ROOT, COUNT, KEY = 0, 2, 3, 4, 7, 8, 9, 10  # places in FIELDS


@dataclass(frozen=True)
class Entry:
    """The head of an entry as it stands in the database."""

    values: tuple[Any, ...]  # in the order of FIELDS
    hash: str
    signature: str

    @property
    def number(self) -> int:
        return int(self.values[NUMBER])

    @property
    def count(self) -> int:
        return int(self.values[COUNT])

    @property
    def root(self) -> str:
        return str(self.values[ROOT])

    def digest(self, number: int | None = None) -> str:
        """The hash by what stands there; with another number, what it would be at that place."""
        values = self.values if number is None else (number, *self.values[1:])
        return sha256(head_bytes(values)).hexdigest()


def read_entries(connection: Connection) -> list[Entry]:
    """Every entry by number."""
    columns = [entries.c[name] for name in (*FIELDS, "hash", "signature")]
    rows = connection.execute(select(*columns).order_by(entries.c.number)).all()
    return [Entry(tuple(row[:-2]), str(row[-2]), str(row[-1])) for row in rows]


def check_chain(found: Sequence[Entry], known: Head | None) -> list[Finding]:
    """Everything wrong with the heads. known: a head noted elsewhere, e.g. on a dossier."""
    wrong = _gaps(found)
    bad = {e.number: finding for e in found for finding in [_own(e, found)] if finding}
    wrong += bad.values()
    by_number = {e.number: e for e in found}
    for e in found:
        before = by_number.get(e.number - 1)
        follows = START if e.number == 1 else before.hash if before else None
        if e.number in bad or e.number - 1 in bad or follows is None or e.values[PREVIOUS] == follows:
            continue
        what = f"does not follow entry {e.number - 1} as it stands: one of them was written anew"
        wrong.append(Finding("altered", what, e.number))
    return [*wrong, *_against(found, known)]


def _gaps(found: Sequence[Entry]) -> list[Finding]:
    there = {e.number for e in found}
    last = max(there, default=0)
    wrong = [Finding("removed", "is missing", n) for n in range(1, last + 1) if n not in there]
    return wrong + [Finding("added", "has a number below 1", n) for n in sorted(there) if n < 1]


def _own(e: Entry, found: Sequence[Entry]) -> Finding | None:
    """What is wrong with an entry by itself."""
    if e.digest() == e.hash:
        if is_signed(e.values[KEY], e.signature, head_bytes(e.values)):
            return None
        return Finding("unsigned", "its signature is not that of its author's key over what stands there", e.number)
    twin = next((x.number for x in found if x.hash == e.hash and x.number != e.number), None)
    if twin is not None:
        return Finding("replayed", f"is a copy of entry {twin}", e.number)
    for place in range(1, max(x.number for x in found) + 2):
        if e.digest(place) == e.hash:
            return Finding("reordered", f"was recorded as entry {place}", e.number)
    return Finding("altered", "its head (kind, author, time, note ...) is not what was hashed and signed", e.number)


def _against(found: Sequence[Entry], known: Head | None) -> list[Finding]:
    if known is None or known.number == 0:
        return []
    last = max((e.number for e in found), default=0)
    if last < known.number:
        missing = f"{last + 1} to {known.number}" if known.number > last + 1 else f"{known.number}"
        return [Finding("removed", f"the end was cut off: entry {missing} once was there", known.number)]
    same = next((e for e in found if e.number == known.number), None)
    if same is None or same.hash == known.hash:
        return []
    return [
        Finding(
            "other head", f"has the hash {same.hash}, not {known.hash}: the records were written anew", known.number
        )
    ]


def check_people(connection: Connection, found: Sequence[Entry]) -> list[Finding]:
    """Each author signs with the key under which the records first met that name."""
    people = tables["people"]
    rows = connection.execute(select(people.c.name, people.c.public_key, people.c.entry).order_by(people.c.entry)).all()
    first: dict[str, tuple[str, int]] = {}
    for name, key, entry in rows:
        first.setdefault(str(name), (str(key), int(entry)))
    wrong = []
    for e in found:
        author = str(e.values[AUTHOR])
        key, since = first.get(author, ("", 0))
        if key != e.values[KEY] or since > e.number:
            what = f"is signed as {author} with a key that these records do not know as theirs"
            wrong.append(Finding("unsigned", what, e.number))
    return wrong


def clock_remarks(found: Sequence[Entry]) -> list[str]:
    """Entries whose time lies before that of the entry they follow."""
    pairs = zip(found, found[1:], strict=False)
    return [
        f"entry {b.number} bears an earlier time ({b.values[TIME]}) than entry {a.number}: a clock was wrong"
        for a, b in pairs
        if str(b.values[TIME]) < str(a.values[TIME])
    ]
