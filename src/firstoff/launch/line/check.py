"""Check of a plant sheet with a plating line: what it is enough for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstoff.errors import Message
from firstoff.launch.line.plant import PlantSheet, read_plant
from firstoff.line.jobs import jobs_of
from firstoff.line.mixed_bound import least_period


@dataclass(frozen=True)
class PlantReport:
    """A plant sheet without faults."""

    sheet: PlantSheet
    least: float  # s, period of a cycle that no timetable can beat

    @property
    def messages(self) -> tuple[Message, ...]:
        return self.sheet.remarks

    @property
    def sha256(self) -> dict[str, str]:
        return self.sheet.sha256

    @property
    def summary(self) -> str:
        line = self.sheet.line
        cranes = "1 crane" if len(line.cranes) == 1 else f"{len(line.cranes)} cranes"
        products = ", ".join(f"{p.loads} × {p.name}, {len(p.steps)} steps" for p in line.products)
        return (
            f"{self.sheet.file}: no fault; {line.name}: {len(line.tanks)} places, {cranes}, {products}; enough for "
            f"`firstoff line`.\nThe busiest of tanks, cranes, bars and buses alone asks for {self.least:g} s a cycle."
        )

    def as_dict(self) -> dict[str, Any]:
        line = self.sheet.line
        return {
            "line": line.name,
            "plant": self.sheet.name,
            "tanks": [t.name for t in line.tanks],
            "cranes": [c.name for c in line.cranes],
            "products": [p.name for p in line.products],
            "least_period": self.least,
            "time_unit": "s",
        }


def check_plant(file: Path) -> PlantReport:
    """Read a plant sheet. Raises InputFault with every fault."""
    sheet = read_plant(file)
    return PlantReport(sheet, float(least_period(jobs_of(sheet.line)) * sheet.line.time_step))
