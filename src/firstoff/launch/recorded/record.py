"""Record: take a launch's sheets, plan, readings, explanation and correction into the records, as one batch."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from firstoff.launch.correcting.correct import correct
from firstoff.launch.explaining.explain import LaunchExplanation, read_trial
from firstoff.launch.job import Job, sha256
from firstoff.launch.plan import planned
from firstoff.launch.predict import Progress
from firstoff.launch.prove import Proof, prove
from firstoff.launch.readable import readable, units_of
from firstoff.launch.recorded.authority import Author
from firstoff.launch.recorded.genealogy import Edges, read_genealogy
from firstoff.launch.recorded.named_files import named_by_plant, plant_file, role_of, seen_from, traces_of
from firstoff.launch.release import explain_lots
from firstoff.plain import plain
from firstoff.records import Batch, Head, Records, append, head, read_parquet
from firstoff.records.canonical import Row
from firstoff.records.schema import tables

NOTHING = 0.5  # probability that nothing is wrong from which on no correction is looked for


@dataclass(frozen=True)
class Recorded:
    """What became of a batch."""

    head: Head
    entry: int
    new: bool  # False: it was recorded before, as `entry`, and nothing was added
    tables: Mapping[str, int]  # table -> rows

    def as_dict(self) -> dict[str, Any]:
        return {"head": str(self.head), "entry": self.entry, "new": self.new, "rows": dict(self.tables)}


@dataclass(frozen=True)
class Sources:
    """The digests by which a batch names the files that it rests on."""

    sheet: str
    plant_sheet: str
    readings: str = ""
    good: str = ""


def record(
    job: Job, records: Records, author: Author, readings: Path | None = None, good: Path | None = None,
    table: str | None = None, genealogy: Path | None = None, quick: bool = False, progress: Progress | None = None,
    proof: Proof | None = None,
) -> Recorded:  # fmt: skip
    """Record a launch as it stands. quick: neither explanation nor correction.
    proof: of these very readings, when they were judged already.

    What is recorded already is not recorded twice. Readings from a Parquet file are taken as they are, many at once,
    and not judged. Raises InputFault for faults of sheets or readings; then nothing is recorded.
    """
    signer = author.signer()
    batch = Batch("launch" if readings or not genealogy else "genealogy", job.name)
    edges = read_genealogy(genealogy) if genealogy else Edges()
    with records.reading() as connection:
        sources = add_sources(batch, connection, job, readings, good)
        before = None if genealogy else _known(connection, job, sources, readings is not None)
    if before is not None:
        return Recorded(head(records), before, False, {})
    if readings is not None or genealogy is None:
        _add_launch(batch, job, sources, edges, readings, good, table, quick, signer.name, progress, proof)
    edges.into(batch)
    made = append(records, batch, signer)
    return Recorded(made, made.number, True, counts(batch))


def _add_launch(
    batch: Batch, job: Job, sources: Sources, edges: Edges, readings: Path | None, good: Path | None,
    table: str | None, quick: bool, person: str, progress: Progress | None, proof: Proof | None,
) -> None:  # fmt: skip
    """Plan and, with readings, all that follows from them."""
    settled = proof.plan if proof else planned(job)[0]
    if settled is not None:
        add_result(batch, job, "plan", settled.as_dict(), f"{len(settled.plans)} stations", sources)
    if readings is None:
        return
    trial = batch.add("trials", model=job.name, revision=job.revision, sheet=sources.sheet,
                      plant_sheet=sources.plant_sheet, readings=sources.readings, good=sources.good)  # fmt: skip
    if readings.suffix.lower() == ".parquet":
        rows = read_parquet(readings, units_of(readable(job, settled)), trial)
        batch.add_rows("readings", rows)
        edges.of_readings(((row[2], row[1], row[7], row[12]) for row in rows), person)
        return
    proof = proof or prove(job, readings, None, table)
    batch.add_rows("readings", _rows(proof, trial))
    for file in traces_of(proof.trial):
        batch.add_text(seen_from(file, readings.parent), role_of(sources.readings), file.read_bytes())
    edges.of_readings(((r.lot, r.part, r.gauge, None) for r in proof.trial.readings), person)
    _add_results(batch, job, proof, good, table, sources, quick, progress)


def counts(batch: Batch) -> dict[str, int]:
    """table -> rows."""
    found: dict[str, int] = {}
    for name, _, rows in batch.parts:
        found[name] = found.get(name, 0) + len(rows)
    return found


def _rows(proof: Proof, trial: int) -> list[Row]:
    return [
        (trial, r.part, r.lot, r.group, r.characteristic, r.value, r.unit, r.gauge, r.temperature, r.time, r.line,
         r.column, None)
        for r in proof.trial.readings
    ]  # fmt: skip


def _add_results(
    batch: Batch, job: Job, proof: Proof, good: Path | None, table: str | None, sources: Sources, quick: bool,
    progress: Progress | None,
) -> None:  # fmt: skip
    """Verdicts, and for each lot what explains the readings and what would correct it."""
    bad = sum(v.verdict == "does not conform" for v in proof.judgement.lots)
    add_result(batch, job, "proof", proof.as_dict(), f"{bad} do not conform", sources)
    settled = proof.plan
    if quick or settled is None:
        return
    if progress:
        progress(0, 1, "comparing the causes")
    explanations, _ = explain_lots(settled, proof.trial, read_trial(settled, good, table) if good else None)
    for explanation in explanations:
        lot = explanation.trial.readings[0].lot
        add_result(batch, job, "explanation", explanation.as_dict(), _first_cause(explanation), sources, lot)
        if explanation.found.none < NOTHING:
            if progress:
                progress(0, 1, "searching for corrections")
            correction = correct(explanation)
            add_result(batch, job, "correction", correction.as_dict(), correction.verdict, sources, lot)


def _first_cause(explanation: LaunchExplanation) -> str:
    first = next(iter(explanation.found.causes), None)
    return f"{first.title}, {first.who}: {first.probability:.2f}" if first else "no cause"


def add_result(
    batch: Batch, job: Job, kind: str, content: Mapping[str, Any], summary: str, sources: Sources, lot: str = ""
) -> str:
    """A result of a verb as JSON, with what it was computed from; gives the JSON."""
    words = json.dumps(plain(content), sort_keys=True, allow_nan=False)
    inputs = json.dumps({k: v for k, v in vars(sources).items() if v}, sort_keys=True)
    batch.add("results", kind=kind, model=job.name, revision=job.revision, lot=lot, summary=summary, inputs=inputs,
              content=words)  # fmt: skip
    return words


def add_sources(batch: Batch, connection: Connection, job: Job, readings: Path | None, good: Path | None) -> Sources:
    """The texts of sheets and readings that are not kept yet, and the revision of the model when it is new."""
    plant = plant_file(job.file)
    files = [(job.file, job.file.name, "model sheet")]
    if plant is not None:
        files.append((plant, seen_from(plant, job.file.parent), "plant sheet"))
        role = role_of(sha256(plant))
        files += [(file, seen_from(file, job.file.parent), role) for file in named_by_plant(plant)]
    files += [(file, file.name, role) for file, role in ((readings, "readings"), (good, "good readings")) if file]
    for file, name, role in files:
        _add_text(batch, connection, file, name, role)
    digests = [sha256(file) if file else "" for file in (job.file, plant, readings, good)]
    models = tables["models"]
    row = {"model": job.name, "revision": job.revision, "sheet": digests[0], "plant_sheet": digests[1]}
    known = select(models.c.entry).where(*(models.c[name] == value for name, value in row.items()))
    if connection.execute(known.limit(1)).first() is None:
        batch.add("models", **row, family=job.family.name, plant=job.plant)
    return Sources(*digests)


def _add_text(batch: Batch, connection: Connection, file: Path, name: str, role: str) -> None:
    texts = tables["texts"]
    data = file.read_bytes()
    same = (texts.c.sha256 == sha256(file), texts.c.name == name, texts.c.role == role)
    if connection.execute(select(texts.c.entry).where(*same).limit(1)).first() is None:
        batch.add_text(name, role, data)


def _known(connection: Connection, job: Job, sources: Sources, readings: bool) -> int | None:
    """The entry in which this very launch was recorded before; None when there is anything new."""
    row = {"model": job.name, "revision": job.revision, **vars(sources)}
    table = tables["trials" if readings else "models"]
    same = [table.c[name] == value for name, value in row.items() if name in table.c]
    found = connection.execute(select(table.c.entry).where(*same).limit(1)).scalar()
    return None if found is None else int(found)
