"""The demo's records: the example launch recorded, and held by an invented person with a key of the demo's own."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from firstoff.launch.dossier.record import record_sections
from firstoff.launch.job import Job
from firstoff.launch.recorded.authority import Author
from firstoff.launch.recorded.record import record
from firstoff.launch.recorded.sign import Decision, sign
from firstoff.launch.recorded.standing import standing
from firstoff.launch.release import LaunchRelease
from firstoff.records import open_records
from firstoff.report.pages import Section

FILE, KEYS, WHO = "demo.db", "demo-keys", "Anna Example"
DAYS = 30  # until the open actions are due


def decided(job: Job, found: LaunchRelease, folder: Path) -> list[Section]:
    """What the dossier says of the decision; made anew only when the demo was not decided on this very content."""
    readings = Path(found.proof.trial.file)
    who = Author(WHO, keys=folder / KEYS)
    with open_records(folder / FILE) as records:
        record(job, records, who, readings, quick=True)
        stands = standing(records, job, readings, found)
        if stands.decided is None or stands.changed:
            due = (date.today() + timedelta(days=DAYS)).isoformat()
            sign(found, records, who, Decision("hold", due=due))
            stands = standing(records, job, readings, found)
    return record_sections(stands)
