"""The decision and the record it stands in, for the dossier."""

from __future__ import annotations

from pathlib import Path

from firstoff.launch.account import in_unit
from firstoff.launch.job import Job
from firstoff.launch.recorded.authority import are_there, records_place
from firstoff.launch.recorded.standing import Conceded, Standing, standing
from firstoff.launch.release import LaunchRelease
from firstoff.records import open_records
from firstoff.report.pages import Section, Table

TITLE = "Decision and record"
BOUND = (("sheet", "model sheet"), ("plant_sheet", "plant sheet"), ("readings", "readings"),
         ("recommendation", "recommendation"), ("version", "program"))  # fmt: skip


def of_records(
    place: str | None, folder: Path, job: Job, readings: Path | None, found: LaunchRelease | None
) -> list[Section]:
    """What the records say of a launch; nothing where there are none."""
    if not are_there(place, folder):
        return []
    with open_records(records_place(place, folder), create=False) as records:
        return record_sections(standing(records, job, readings, found))


def record_sections(found: Standing) -> list[Section]:
    """Who decided what on which content, what was conceded, what is open, and the head by which the record is held."""
    d = found.decided
    tables: list[Table] = []
    if d is None:
        said = ["Nothing is decided in these records yet."]
    else:
        said = [f"{d.word.upper()}, decided and signed by {d.person} on {d.time} ({d.authenticated}). {d.meaning}"]
        if d.word != d.recommended:
            said.append(f"Recommended was {d.recommended}. Reason given: {d.reason or 'none'}.")
        said.append(
            f"Decided on other content than this dossier's: {'; '.join(found.changed)}. It has to be decided anew."
            if found.changed
            else "Decided on what this dossier holds, unchanged."
        )
        rows = tuple((title, getattr(d, name) or "–") for name, title in BOUND)
        tables.append(Table(("bound to", "sha256, or version"), rows, f"Entry {d.entry}"))
    if found.concessions:
        tables.append(
            Table(("characteristic", "lot", "limits conceded", "until", "approved by"),
                  tuple(_conceded(c) for c in found.concessions), "Concessions")
        )  # fmt: skip
    if found.actions:
        open_ones = tuple((a.action, a.what, a.owner, a.due + (" late" if a.late else "")) for a in found.actions)
        tables.append(Table(("", "open action", "owner", "by"), open_ones, "Open actions of the records"))
    number, digest = found.head.number, found.head.hash
    said.append(f"Head of the records when this was printed: {number}:{digest}")
    said.append(
        "firstoff records verify --head with this head shows whether anything recorded up to here was changed, "
        "removed or written anew. It shows that the holder of the key signed, not that what was read is true."
    )
    return [Section(TITLE, (), tuple(said), tables=tuple(tables))]


def _conceded(c: Conceded) -> tuple[str, ...]:
    low, high = ("–" if x is None else in_unit(x, c.unit, 5) for x in (c.low, c.high))
    until = f"{c.until} (ended)" if c.ended else c.until
    return c.characteristic, c.lot or "–", f"{low} to {high} {c.unit}", until, c.customer
