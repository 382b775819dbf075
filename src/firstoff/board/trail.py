"""The audit trail: what a person saves on the board goes into the records of its folder, under that person's name."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Engine

from firstoff.board.launches import Launch, find, known
from firstoff.board.texts import text
from firstoff.errors import InputFault
from firstoff.launch.recorded.authority import Author, records_place
from firstoff.launch.recorded.record import record
from firstoff.records import open_records


def recorded(root: Path, engine: Engine, launch: Launch, person: str, readings: bool) -> str:
    """Record the launch as it stands now; says what became of it. readings: with these and their verdicts."""
    launch = find(root, engine, launch.key) or launch
    job = known(launch).job
    if job is None:
        return text("saved")
    try:
        with open_records(records_place(None, launch.folder)) as records:
            record(job, records, Author(person), launch.readings if readings else None, quick=True)
    except InputFault as fault:
        return text("saved.no_trail", why=fault.messages[0].what)
    except OSError as fault:
        return text("saved.no_trail", why=str(fault.strerror or fault))
    return text("saved.trail")
