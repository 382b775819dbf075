"""A recommendation as it is signed: of this very run, or as it was computed and kept before, from its plain values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.launch.job import Job, sha256
from firstoff.launch.recorded.named_files import plant_file
from firstoff.launch.release import LaunchRelease
from firstoff.trials.missing import Missing
from firstoff.trials.release import Action, Concession, Finding, Policy, Reason, Recommendation


@dataclass(frozen=True)
class Recommended:
    """What a person decides on."""

    job: Job
    said: Recommendation
    content: Mapping[str, Any]  # `LaunchRelease.as_dict`: what is recorded and hashed
    readings: Path
    units: Mapping[str, str]  # characteristic -> the trade's unit

    @property
    def recorded(self) -> dict[str, Any]:
        """The content as the records hold it: without this machine's folders, and without a word on signing."""
        return recorded(self.content, self.readings.name)


def recorded(content: Mapping[str, Any], readings: str) -> dict[str, Any]:
    """`LaunchRelease.as_dict` as the records hold it."""
    return {**{name: value for name, value in content.items() if name != "signed"}, "readings": readings}


def of_run(found: LaunchRelease) -> Recommended:
    """The recommendation that was just computed."""
    units = {name: c.unit for name, c in found.asked.items()}
    return Recommended(found.job, found.found, found.as_dict(), Path(found.proof.trial.file), units)


def kept(job: Job, content: Mapping[str, Any], readings: Path, units: Mapping[str, str]) -> Recommended:
    """The recommendation that was computed before, of `LaunchRelease.as_dict` as JSON keeps it."""
    said = Recommendation(
        content["recommended"], tuple(_finding(row) for row in content["findings"]), _reasons(content["reasons"]),
        tuple(Action(**row) for row in content["actions"]), tuple(content["cautions"]), Policy(**content["policy"]),
    )  # fmt: skip
    return Recommended(job, said, content, readings, units)


def _finding(row: Mapping[str, Any]) -> Finding:
    missing, concession = row["missing"], row["concession"]
    return Finding(
        row["characteristic"], row["lot"], row["safety"], row["word"], row["basis"], _reasons(row["reasons"]),
        Missing(**missing) if missing else None, Concession(**concession) if concession else None, row["new_lot"],
    )  # fmt: skip


def _reasons(rows: Iterable[Mapping[str, Any]]) -> tuple[Reason, ...]:
    return tuple(Reason(**row) for row in rows)


def raise_if_changed(it: Recommended) -> None:
    """InputFault when sheet, plant sheet or readings are no longer those that the recommendation was computed from."""
    computed_from = set(it.content["sha256"].values())
    plant = plant_file(it.job.file)
    files = [file for file in (it.job.file, plant, it.readings) if file is not None]
    changed = [file.name for file in files if not file.is_file() or sha256(file) not in computed_from]
    if changed:
        what = "changed since the recommendation was computed; weigh the evidence anew. Nothing was signed"
        raise InputFault([Message(what, key=name) for name in changed])
