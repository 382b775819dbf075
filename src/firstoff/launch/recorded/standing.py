"""How a decision stands today: on the same content, or on another; what is still open, which concession has ended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, select

from firstoff import __version__
from firstoff.errors import counted
from firstoff.launch.job import Job, sha256
from firstoff.launch.recorded.named_files import named_by_plant, plant_file, role_of, seen_from
from firstoff.launch.release import LaunchRelease
from firstoff.records import Head, Records, head
from firstoff.records.append import now
from firstoff.records.schema import tables

BOUND = {"sheet": "model sheet", "plant_sheet": "plant sheet", "readings": "readings"}


@dataclass(frozen=True)
class Decided:
    """A decision as it was recorded."""

    entry: int
    position: int
    model: str
    revision: str
    word: str
    meaning: str
    person: str
    time: str
    recommended: str
    reason: str
    sheet: str
    plant_sheet: str
    readings: str
    recommendation: str
    version: str
    authenticated: str
    sheet_file: str
    readings_file: str


@dataclass(frozen=True)
class Conceded:
    """A concession of a decision, SI."""

    entry: int
    position: int
    decision: int
    characteristic: str
    lot: str
    low: float | None
    high: float | None
    unit: str
    until: str
    customer: str

    @property
    def ended(self) -> bool:
        return self.until < now()[:10]


@dataclass(frozen=True)
class ActionState:
    """The last that is known of an action."""

    entry: int
    position: int
    action: str
    state: str
    what: str
    closes: str
    owner: str
    due: str
    model: str
    revision: str

    @property
    def late(self) -> bool:
        return self.state == "open" and self.due < now()[:10]


@dataclass(frozen=True)
class Standing:
    """The records' say on a model."""

    place: str
    head: Head
    decided: Decided | None
    changed: tuple[str, ...]  # since the decision; empty: it was made on this very content
    concessions: tuple[Conceded, ...]
    actions: tuple[ActionState, ...]

    def as_dict(self) -> dict[str, Any]:
        return {"head": str(self.head), "decided": asdict(self.decided) if self.decided else None,
                "changed": list(self.changed), "concessions": [asdict(c) for c in self.concessions],
                "actions": [asdict(a) for a in self.actions]}  # fmt: skip


def standing(records: Records, job: Job, readings: Path | None = None, found: LaunchRelease | None = None) -> Standing:
    """The last decision on a model, held against the sheets, the readings and the recommendation as they are now."""
    decided = next(iter(reversed([d for d in decisions_of(records) if d.model == job.name])), None)
    plant = plant_file(job.file)
    digests = {"sheet": sha256(job.file), "plant_sheet": sha256(plant) if plant else ""}
    if readings is not None:
        digests["readings"] = sha256(readings)
    changed = changes(decided, digests, found.found.word if found else "") if decided else ()
    if decided and plant and digests["plant_sheet"] == decided.plant_sheet:
        changed += _named_changed(records, decided, plant, job.file.parent)
    concessions = tuple(c for c in _rows(records, "concessions", Conceded) if decided and c.entry == decided.entry)
    actions = tuple(a for a in actions_of(records) if a.model == job.name and a.state == "open")
    return Standing(records.place, head(records), decided, changed, concessions, actions)


def changes(decided: Decided, digests: Mapping[str, str], recommended: str = "") -> tuple[str, ...]:
    """What is no longer as it was when the decision was made."""
    found = [
        f"{title} changed"
        for name, title in BOUND.items()
        if name in digests and digests[name] != getattr(decided, name)
    ]
    if decided.version != __version__:
        found.append(f"program changed ({decided.version}, now {__version__})")
    if recommended and recommended != decided.recommended:
        found.append(f"recommendation changed ({decided.recommended}, now {recommended})")
    return tuple(found)


def _named_changed(records: Records, decided: Decided, plant: Path, folder: Path) -> tuple[str, ...]:
    """Files that the plant sheet names and that are no longer what they were when the decision was made."""
    texts, found = tables["texts"], []
    with records.reading() as connection:
        for file in named_by_plant(plant):
            kept = connection.execute(
                select(texts.c.sha256)
                .where(texts.c.name == seen_from(file, folder), texts.c.role == role_of(decided.plant_sheet))
                .where(texts.c.entry <= decided.entry)
                .order_by(texts.c.entry.desc())
                .limit(1)
            ).scalar()
            if kept is not None and kept != sha256(file):
                found.append(f"{file.name} changed")
    return tuple(found)


def decisions_of(records: Records) -> list[Decided]:
    """Every decision in the order in which they were made."""
    return _rows(records, "decisions", Decided)


def actions_of(records: Records) -> list[ActionState]:
    """Every action with its last state, in the order in which they were opened."""
    found: dict[str, ActionState] = {}
    for row in _rows(records, "actions", ActionState):
        found[row.action] = row
    return list(found.values())


def _rows(records: Records, table: str, kind: Any) -> list[Any]:
    with records.reading() as connection:
        return [kind(*row) for row in connection.execute(_ordered(tables[table])).all()]


def _ordered(table: Table) -> Any:
    return select(table).order_by(table.c.entry, table.c.position)


def stale_decisions(records: Records) -> list[str]:
    """The last decision on each model against what was recorded since, and against the files it names, if they are
    there: one sentence for each that was made on other content."""
    last = {d.model: d for d in decisions_of(records)}
    said = []
    with records.reading() as connection:
        for d in last.values():
            changed = list(changes(d, _digests_now(records, d)))
            newer = _newer(connection, d)
            changed += [
                f"{title} changed in entry {entry}" for title, entry in newer if f"{title} changed" not in changed
            ]
            if changed:
                said.append(
                    f"the decision in entry {d.entry} ({d.word}, {d.model} {d.revision}".rstrip()
                    + f", by {d.person}) was made on other content: {'; '.join(changed)}"
                )
    for c in _rows(records, "concessions", Conceded):
        if c.ended:
            said.append(f"the concession on {c.characteristic} in entry {c.entry} ended on {c.until}")
    late = [a.action for a in actions_of(records) if a.late]
    if late:
        said.append(f"{counted(len(late), 'open action')} past the date: {', '.join(late)}")
    return said


def _digests_now(records: Records, d: Decided) -> dict[str, str]:
    base = records.file.resolve().parent if records.file else Path("/")
    found = {}
    sheet, readings = base / d.sheet_file, base / d.readings_file
    if sheet.is_file():
        found["sheet"] = sha256(sheet)
        try:
            plant = plant_file(sheet)
        except ValueError:  # no longer a sheet at all, which its own digest says
            plant = None
        if plant is not None and plant.is_file():
            found["plant_sheet"] = sha256(plant)
    if readings.is_file():
        found["readings"] = sha256(readings)
    return found


def _newer(connection: Connection, d: Decided) -> list[tuple[str, int]]:
    """Sheets of the same revision that were recorded after the decision and differ from it."""
    models = tables["models"]
    later = connection.execute(
        select(models.c.entry, models.c.sheet, models.c.plant_sheet)
        .where(models.c.model == d.model, models.c.entry > d.entry)
        .order_by(models.c.entry)
    ).all()
    found = []
    for entry, sheet, plant_sheet in later:
        found += [("model sheet", int(entry))] if sheet != d.sheet else []
        found += [("plant sheet", int(entry))] if plant_sheet != d.plant_sheet else []
    return found[:2]
