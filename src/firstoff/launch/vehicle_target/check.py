"""Check of a vehicle sheet, and one to start from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstoff.errors import Message, counted
from firstoff.launch.vehicle_target.sections import SECTIONS
from firstoff.launch.vehicle_target.vehicle import Vehicle, read_vehicle
from firstoff.sheets.schema import Key
from firstoff.sheets.toml import read

HEAD = """\
# Vehicle sheet: one corner of a vehicle, its roads, and what counts. Lines that begin with # are comments. An invented
# example: put in your own figures. `firstoff target` recommends a force table for it.
"""
# what an empty sheet starts with: a soft saloon, invented
EXAMPLE: Mapping[str, Mapping[str, str]] = {
    "vehicle": {"body_mass": '"390 kg"', "wheel_mass": '"42 kg"', "spring_rate": '"21 N/mm"',
                "tyre_rate": '"210 N/mm"', "bump_travel": '"95 mm"', "rebound_travel": '"105 mm"'},
    "road": {"class": '"B"', "speed": '"110 km/h"'},
    "bump": {"height": '"60 mm"', "length": '"1.0 m"', "speed": '"30 km/h"'},
    "target": {"comfort_share": '"60 %"'},
}  # fmt: skip


@dataclass(frozen=True)
class VehicleReport:
    """A vehicle sheet without faults: what it is enough for."""

    vehicle: Vehicle

    @property
    def sha256(self) -> Mapping[str, str]:
        return self.vehicle.sha256

    @property
    def messages(self) -> tuple[Message, ...]:
        return self.vehicle.remarks

    @property
    def summary(self) -> str:
        v = self.vehicle
        over = f"{counted(len(v.drives), 'road')} and {counted(len(v.bumps), 'bump')}"
        return f"{v.file}: no fault; {v.name}, {over}, enough for `firstoff target`."

    def as_dict(self) -> dict[str, Any]:
        v = self.vehicle
        return {"vehicle": v.name, "roads": [d.name for d in v.drives], "bumps": [b.name for b in v.bumps],
                "assumed": list(v.assumed)}  # fmt: skip


def is_vehicle(file: Path) -> bool:
    """Whether a sheet is a vehicle sheet, and no model sheet."""
    data = read(file).data
    return "vehicle" in data and "model" not in data


def check_vehicle(file: Path) -> VehicleReport:
    """The vehicle of a sheet. InputFault with every fault of it."""
    return VehicleReport(read_vehicle(file))


def new_vehicle(name: str) -> str:
    """A commented vehicle sheet that runs as it is."""
    parts = [HEAD]
    for section in SECTIONS:
        given = {**EXAMPLE[section.name], **({"name": f'"{name}"'} if section.name == "vehicle" else {})}
        parts.append(f"\n# {section.what}\n[{'[' * section.repeated}{section.name}{']' * section.repeated}]\n")
        parts += [_line(key, given.get(key.name)) for key in section.keys]
    return "".join(parts)


def _line(key: Key, value: str | None) -> str:
    if value is not None:
        return f"{key.name} = {value}   # {key.what}\n"
    default = f"; {key.default}" if key.default is not None else ""
    shown = '"..."' if key.type == "text" else '["... m/s"]' if key.type == "quantities" else f'"... {key.unit}"'
    shown = "..." if key.unit == "1" else shown
    return f"# {key.name} = {shown}   # {key.what}{default}\n"
