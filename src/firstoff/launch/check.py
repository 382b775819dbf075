"""Check: every fault of a sheet, and how far the sheet goes when there is none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.launch.job import Job, read_job
from firstoff.launch.line.check import PlantReport, check_plant
from firstoff.launch.line.plant import is_plant, read_plant
from firstoff.launch.plan import plan
from firstoff.launch.valve_choice.bin import read_bin
from firstoff.launch.vehicle_target.check import VehicleReport, check_vehicle, is_vehicle
from firstoff.sheets.toml import read
from firstoff.stations.settle import NEEDED


@dataclass(frozen=True)
class Report:
    """A sheet without faults: what it is enough for."""

    job: Job
    enough_to_predict: bool
    missing: tuple[Message, ...]  # what planning would still need
    messages: tuple[Message, ...]  # remarks

    @property
    def sha256(self) -> Mapping[str, str]:
        return self.job.sha256

    @property
    def summary(self) -> str:
        limited = sum(c.low is not None or c.high is not None for c in self.job.characteristics.values())
        text = f"{self.job.file}: no fault; {limited} characteristics with limits, enough to prove readings"
        if self.enough_to_predict:
            return text + ", to plan and to predict."
        names = [m.key for m in self.missing]
        shown = ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")
        return f"{text}.\nTo plan and predict it still needs: {shown}."

    def as_dict(self) -> dict[str, Any]:
        return {
            "model": self.job.name,
            "family": self.job.family.name,
            "characteristics": list(self.job.characteristics),
            "enough_to_predict": self.enough_to_predict,
            "missing": [m.key for m in self.missing],
        }


def check(file: Path) -> Report | PlantReport | VehicleReport:
    """Read a model sheet and its plant sheet, a plating line's plant sheet, or a vehicle sheet. Raises InputFault with
    every fault."""
    if is_vehicle(file):
        return check_vehicle(file)
    if is_plant(file):
        return check_plant(file)
    job = read_job(file)
    plant = read(file).data["model"].get("plant")
    if plant and is_plant(file.parent / plant):
        read_plant(file.parent / plant)
    remarks = job.remarks + (read_bin(job.parts)[1] if job.parts else ())
    try:
        settled = plan(job)
    except InputFault as fault:
        wrong = [m for m in fault.messages if m.what != NEEDED]
        if wrong:  # what is stated cannot be, whatever is still missing
            raise InputFault(wrong) from fault
        return Report(job, False, fault.messages, remarks)
    return Report(job, True, (), (*remarks, *settled.warnings))
