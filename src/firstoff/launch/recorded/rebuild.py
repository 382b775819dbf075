"""Rebuild: sheets and readings out of the records, byte for byte, and the launch folder from them."""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath

from sqlalchemy import Connection, select

from firstoff.errors import InputFault, Message, nearest
from firstoff.launch.folder import write_plan, write_proof
from firstoff.launch.job import read_job
from firstoff.launch.plan import planned
from firstoff.launch.prove import limits_of, prove
from firstoff.launch.recorded.named_files import role_of
from firstoff.launch.report import report, write_report
from firstoff.launch.write import write_bytes
from firstoff.methods.conformity import Limits
from firstoff.records import Records
from firstoff.records.schema import tables

EARLIER = "earlier"


@dataclass(frozen=True)
class Rebuilt:
    """What was written."""

    sheet: Path
    readings: Path | None  # the last that were recorded
    files: tuple[Path, ...]  # as they were recorded, byte for byte
    pages: tuple[Path, ...]  # computed anew


def rebuild(records: Records, folder: Path, model: str = "", revision: str = "", papers: bool = False) -> Rebuilt:
    """The last recorded sheets and all readings of a model into an empty folder, and its launch folder beside them.

    papers: with all that `report` prints. Raises InputFault when several models are recorded and none is named, when
    the folder holds something, or when a text is no longer what was recorded.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputFault([Message("is not empty; nothing was written", file=str(folder), allowed="a new folder")])
    with records.reading() as connection:
        entry, sheet, plant_sheet = _model(connection, model, revision)
        wanted = _texts(connection, entry, sheet, plant_sheet)
    written = [(write_bytes(folder / name, data), role) for name, role, data in wanted]
    by_role = {role: path for path, role in written}  # the last of each
    file, readings = by_role["model sheet"], by_role.get("readings")
    pages = _pages(file, readings, by_role.get("good readings"), papers)
    return Rebuilt(file, readings, tuple(path for path, _ in written), tuple(pages))


def _model(connection: Connection, model: str, revision: str) -> tuple[int, str, str]:
    """Entry and digests of the last sheets of the model asked for."""
    m = tables["models"]
    rows = connection.execute(
        select(m.c.entry, m.c.model, m.c.revision, m.c.sheet, m.c.plant_sheet).order_by(m.c.entry, m.c.position)
    ).all()
    names = list(dict.fromkeys(row[1] for row in rows))
    if not names:
        raise InputFault([Message("no launch is recorded here", key="--model")])
    if not model and len(names) > 1:
        raise InputFault([Message("several models are recorded: name one", key="--model", allowed=", ".join(names))])
    fitting = [r for r in rows if r[1] == (model or names[0]) and (not revision or r[2] == revision)]
    if not fitting:
        known = [r[2] for r in rows if r[1] == model] if model in names else names
        key = "--revision" if model in names or not model else "--model"
        found = revision if key == "--revision" else model
        raise InputFault([Message("is not recorded", key=key, found=found, nearest=nearest(found, known))])
    return int(fitting[-1][0]), str(fitting[-1][3]), str(fitting[-1][4])


def _texts(connection: Connection, entry: int, sheet: str, plant_sheet: str) -> list[tuple[str, str, bytes]]:
    """Place in the folder, role and content: the sheets, then every readings file recorded with them."""
    trials = tables["trials"]
    rows = connection.execute(
        select(trials.c.readings, trials.c.good)
        .where(trials.c.sheet == sheet, trials.c.plant_sheet == plant_sheet)
        .order_by(trials.c.entry)
    ).all()
    decisions = tables["decisions"]
    decided = connection.execute(
        select(decisions.c.readings)
        .where(decisions.c.sheet == sheet, decisions.c.plant_sheet == plant_sheet)
        .order_by(decisions.c.entry)
    ).scalars()
    asked = [(sheet, "model sheet"), (plant_sheet, "plant sheet")]
    asked += [(digest, role) for row in rows for digest, role in zip(row, ("readings", "good readings"), strict=True)]
    taken = {digest for digest, _ in asked}
    asked += [(digest, "readings") for digest in decided if digest not in taken]
    found: dict[tuple[str, str], tuple[str, bytes]] = {}
    for digest, role in asked:
        if digest:
            found.pop((digest, role), None)  # the last recorded stands last
            found[digest, role] = _text(connection, digest, role)
    found |= _named(connection, [plant_sheet, *(digest for digest, role in found if "readings" in role)])
    plant = next((name for (_, role), (name, _) in found.items() if role == "plant sheet"), "")
    base = PurePosixPath(*["launch"] * plant.split("/").count(".."))  # deep enough for a plant sheet above it
    last = {(name, role): digest for (digest, role), (name, _) in found.items()}
    made: list[tuple[str, str, bytes]] = []
    for (digest, role), (name, data) in found.items():
        place = _inside(base, name)
        if last[name, role] != digest or any(p == str(place) for p, *_ in made):
            place = place.parent / EARLIER / digest[:12] / place.name
        made.append((str(place), role, data))
    return made


def _named(connection: Connection, naming: Sequence[str]) -> dict[tuple[str, str], tuple[str, bytes]]:
    """The files that these texts name, the last recorded of each; by digest and role: name and content."""
    texts = tables["texts"]
    found: dict[tuple[str, str], tuple[str, bytes]] = {}
    for role in (role_of(digest) for digest in naming if digest):
        rows = connection.execute(
            select(texts.c.name, texts.c.sha256).where(texts.c.role == role).order_by(texts.c.entry, texts.c.position)
        ).all()
        for digest in dict(tuple(row) for row in rows).values():
            found[str(digest), role] = _text(connection, str(digest), role)
    return found


def _inside(base: PurePosixPath, name: str) -> PurePosixPath:
    """A place under the folder. InputFault for a name that leads out of it, as only a forged record has."""
    place = PurePosixPath(posixpath.normpath(base / name))
    if place.is_absolute() or ".." in place.parts or "\\" in name or ":" in name or str(place) == ".":
        what = "has a name that leads out of the folder; nothing was written"
        raise InputFault([Message(what, found=name[:80])])
    return place


def _text(connection: Connection, digest: str, role: str) -> tuple[str, bytes]:
    texts = tables["texts"]
    row = connection.execute(
        select(texts.c.name, texts.c.content)
        .where(texts.c.sha256 == digest, texts.c.role == role)
        .order_by(texts.c.entry.desc())
        .limit(1)
    ).first()
    if row is None or sha256(bytes(row[1])).hexdigest() != digest:
        what = "is missing in the records" if row is None else "is no longer what was recorded"
        raise InputFault([Message(f"the {role} {what}; nothing was written", found=digest)])
    return str(row[0]), bytes(row[1])


def _pages(sheet: Path, readings: Path | None, good: Path | None, papers: bool) -> list[Path]:
    """The launch folder, as far as the sheet plans and the readings are judged."""
    job = read_job(sheet)
    folder = sheet.parent / f"{sheet.stem}-launch"
    settled, _ = planned(job)
    pages = write_plan(settled, folder) if settled is not None else []
    if readings is None or readings.suffix.lower() == ".parquet":
        return pages
    if any(limits_of(c) != Limits() for c in job.characteristics.values()):
        pages += write_proof(prove(job, readings), folder)
    if papers:
        pages += write_report(report(job, readings, good), folder)
    return pages
