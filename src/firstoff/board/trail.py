"""The audit trail: what a person saves on the board goes into the records of its folder, under that person's name.

Who came in, and what became of accounts and tokens, goes there under the board's own name: a person's key may have a
passphrase that nobody typed yet.
"""

from __future__ import annotations

import sys
from pathlib import Path

from sqlalchemy import Engine

from firstoff.board import entry
from firstoff.board.launches import Launch, find, judged, known
from firstoff.board.texts import text
from firstoff.errors import InputFault
from firstoff.launch.recorded.authority import Author, are_there, records_place
from firstoff.launch.recorded.events import Entry, happened, last_entries
from firstoff.launch.recorded.record import record
from firstoff.records import open_records
from firstoff.report.tables import plain

BOARD = "launch board"  # whose key signs events


def event(root: Path, key: str, person: str, address: str, **values: str) -> None:
    """Record an event, in the words of a text; the board goes on when it cannot be, and its terminal says so."""
    what = plain(text(key, person=person, address=address, **values))[:300]
    try:
        with open_records(records_place(None, root / "any")) as records:
            happened(records, Author(BOARD), what, plain(person), plain(address))
    except InputFault as fault:
        print(f"not recorded: {what}: {fault.messages[0].what}", file=sys.stderr)
    except OSError as fault:
        print(f"not recorded: {what}: {fault.strerror or fault}", file=sys.stderr)


def entries(root: Path) -> list[Entry]:
    """The last entries of the records; none where there are no records."""
    if not are_there(None, root / "any"):
        return []
    with open_records(records_place(None, root / "any"), create=False) as records:
        return last_entries(records)


def recorded(root: Path, engine: Engine, launch: Launch, person: str, readings: bool) -> str:
    """Record the launch as it stands now; says what became of it. readings: with these and their verdicts."""
    launch = find(root, engine, launch.key) or launch
    judged(launch)  # takes longest, and is kept: nobody waits for it below
    try:
        with entry.WRITING, open_records(records_place(None, launch.folder)) as records:  # as judged, so recorded
            launch = find(root, engine, launch.key) or launch
            job = known(launch).job
            if job is None:
                return text("saved")
            proof = judged(launch).proof if readings else None
            record(job, records, Author(person), launch.readings if readings else None, quick=True, proof=proof)
    except InputFault as fault:
        return text("saved.no_trail", why=fault.messages[0].what)
    except OSError as fault:
        return text("saved.no_trail", why=str(fault.strerror or fault))
    return text("saved.trail")
