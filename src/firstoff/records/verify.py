"""Verifies the records: every altered, removed, reordered or replayed entry and row is named."""

from __future__ import annotations

import re

from sqlalchemy import Connection, text

from firstoff.errors import InputFault, Message
from firstoff.records.append import START, Head
from firstoff.records.findings import Finding, Verification
from firstoff.records.guard import unguarded
from firstoff.records.schema import CONTENT
from firstoff.records.store import Records
from firstoff.records.verify_chain import check_chain, check_people, clock_remarks, read_entries
from firstoff.records.verify_rows import RowCheck


def read_head(words: str) -> Head:
    """A head as it is printed, `12:9f86d0...`. InputFault when it is none."""
    together = re.sub(r"[\s\u200b]+", "", words.lower())  # on paper it is broken into lines
    match = re.fullmatch(r"(\d+):([0-9a-f]{64})", together)
    if not match:
        allowed = "number:hash as printed by `firstoff records verify`"
        raise InputFault([Message("is no head of records", key="--head", found=words[:80], allowed=allowed)])
    return Head(int(match[1]), match[2])


def verify(records: Records, known: Head | None = None) -> Verification:
    """Check everything that is recorded. known: a head noted elsewhere; without it a cut tail does not show."""
    try:
        return _checked(records, known)
    except InputFault as fault:  # the file is so damaged that it cannot be read to its end
        wrong = tuple(Finding("damaged", f"{m.what}; found {m.found}") for m in fault.messages)
        return Verification(0, 0, Head(0, START), wrong)


def _checked(records: Records, known: Head | None) -> Verification:
    with records.reading() as connection:
        wrong = _file_faults(connection) if not records.on_server else []
        found = read_entries(connection)
        wrong += check_chain(found, known)
        check = RowCheck(connection, found)
        wrong += check.findings()
        wrong += check_people(connection, found)
        remarks = clock_remarks(found)
        bare = unguarded(connection, ["entries", "leaves", *CONTENT])
        if bare:
            remarks.append(f"the database no longer refuses to change rows of {', '.join(bare)}")
    last = Head(found[-1].number, found[-1].hash) if found else Head(0, START)
    return Verification(len(found), check.rows, last, tuple(wrong), tuple(remarks))


def _file_faults(connection: Connection) -> list[Finding]:
    """What SQLite itself finds damaged in its file."""
    rows = connection.execute(text("PRAGMA quick_check(20)")).scalars().all()
    return [Finding("damaged", str(row)) for row in rows if row != "ok"]
