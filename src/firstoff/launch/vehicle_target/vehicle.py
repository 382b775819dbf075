"""The vehicle sheet: one corner of a vehicle, the roads and bumps it is driven over, and what counts there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.launch.job import sha256
from firstoff.launch.vehicle_target.sections import SECTIONS
from firstoff.physics.vehicle.linear import Road
from firstoff.physics.vehicle.ride import ROAD_WAVINESS, road_class_micro
from firstoff.physics.vehicle.two_mass import Car
from firstoff.sheets.checker import Settled, check
from firstoff.sheets.toml import Document, read
from firstoff.sheets.units import format_value

CONTACT_LENGTH = 0.10  # m, of a tyre on the road: assumed
STOP_RATE = 100e3  # N/m of a stop at the wheel, when the sheet is silent: assumed
SPEEDS = (0.05, 0.13, 0.26, 0.52, 1.04)  # m/s, of the table when the sheet is silent: usual rig speeds
BUMP_SHARE = 0.3  # of what counts: assumed
LEAST_LEVEL = 0.2  # of critical damping, for roll and pitch, which one wheel does not show: assumed
DROP = 0.1  # of the bump travel that the damper may pull the body down, when the sheet is silent: assumed
REBOUND_TOLERANCE, COMPRESSION_TOLERANCE, LEAST_TOLERANCE = 0.10, 0.12, 30.0  # assumed: common practice, no source


@dataclass(frozen=True)
class Drive:
    """A road and the speed on it."""

    name: str  # `class C at 72 km/h`
    road: Road
    share: float  # of the time


@dataclass(frozen=True)
class Bump:
    """One bump or pothole, and the speed over it."""

    name: str
    height: float  # m, below 0 for a pothole
    length: float  # m
    speed: float  # m/s


@dataclass(frozen=True)
class Wish:
    """What counts, and how the table is to be written."""

    comfort_share: float  # 0 holding the road, 1 comfort
    bump_share: float
    drop: float  # m
    least_level: float  # share of critical damping
    least_ratio: float
    most_ratio: float
    speeds: tuple[float, ...]  # m/s at the damper
    rebound_tolerance: float
    compression_tolerance: float
    least_tolerance: float  # N
    gas_force: float  # N by which the gas pushes the rod out, as the rig reads it
    friction: float  # N


@dataclass(frozen=True)
class Vehicle:
    """A vehicle sheet in SI; forces, rates and travel of the car as seen at the wheel."""

    file: Path
    name: str
    car: Car
    motion_ratio: float  # travel of the damper a travel of the wheel
    drives: tuple[Drive, ...]
    bumps: tuple[Bump, ...]
    wish: Wish
    sha256: Mapping[str, str]
    assumed: tuple[str, ...]
    remarks: tuple[Message, ...] = ()


def read_vehicle(file: Path) -> Vehicle:
    """The vehicle of a sheet. InputFault with every fault of it."""
    document = read(file)
    settled, messages = check(document, SECTIONS)
    faults = [*messages, *_crossed(settled, document)]
    if any(m.level == "error" for m in faults):
        raise InputFault(sorted((m for m in faults if m.level == "error"), key=lambda m: m.line))
    body, target = settled["vehicle"], settled["target"]
    car = _car(body)
    drives = tuple(_drive(row, settled["road"], car[1]) for row in settled["road"])
    return Vehicle(
        file,
        body["name"],
        car[0],
        _number(body, "motion_ratio", 1.0),
        drives,
        tuple(_bump(row) for row in settled.get("bump", [])),
        _wish(target, car[0], bool(settled.get("bump"))),
        {file.name: sha256(file)},
        _assumed(settled),
        tuple(m for m in faults if m.level != "error"),
    )


def _number(row: Mapping[str, Any], key: str, default: float) -> float:
    return float(row[key].nominal) if key in row else default


def _car(body: Mapping[str, Any]) -> tuple[Car, float]:
    """The car, and the contact length of its tyre."""
    bump = float(body["bump_travel"].nominal)
    car = Car(
        sprung=body["body_mass"].nominal,
        unsprung=body["wheel_mass"].nominal,
        spring=body["spring_rate"].nominal,
        tyre=body["tyre_rate"].nominal,
        tyre_damping=_number(body, "tyre_damping", 0.0),
        bump_clearance=_number(body, "bump_stop_clearance", bump),
        bump_rate=_number(body, "bump_stop_rate", STOP_RATE),
        bump_travel=bump,
        rebound_travel=body["rebound_travel"].nominal,
        rebound_rate=_number(body, "rebound_stop_rate", STOP_RATE),
    )
    return car, _number(body, "contact_length", CONTACT_LENGTH)


def _drive(row: Mapping[str, Any], rows: list[Mapping[str, Any]], contact: float) -> Drive:
    speed, waviness = row["speed"].nominal, _number(row, "waviness", ROAD_WAVINESS)
    rough = road_class_micro(row["class"]) * 1e-6 if "class" in row else row["roughness"].nominal
    named = f"class {row['class']}" if "class" in row else f"Gd {rough * 1e6:.4g}e-6 m3"
    named += f", waviness {waviness:g}" if waviness != ROAD_WAVINESS else ""
    share = _number(row, "share", 1.0) / sum(_number(r, "share", 1.0) for r in rows)
    return Drive(f"{named} at {format_value(speed, 'km/h', 3)}", Road(rough, waviness, speed, contact), share)


def _bump(row: Mapping[str, Any]) -> Bump:
    height, length, speed = (row[key].nominal for key in ("height", "length", "speed"))
    what = "bump" if height > 0.0 else "pothole"
    name = f"{what} {abs(height) * 1e3:.3g} mm high" if height > 0.0 else f"{what} {abs(height) * 1e3:.3g} mm deep"
    return Bump(f"{name}, {length:.3g} m long, at {format_value(speed, 'km/h', 3)}", height, length, speed)


def _wish(target: Mapping[str, Any], car: Car, bumps: bool) -> Wish:
    speeds = tuple(q.nominal for q in target["speeds"]) if "speeds" in target else SPEEDS
    return Wish(
        target["comfort_share"].nominal,
        _number(target, "bump_share", BUMP_SHARE) if bumps else 0.0,
        _number(target, "ride_height_drop", DROP * car.bump_travel),
        _number(target, "least_level", LEAST_LEVEL),
        _number(target, "least_ratio", 1.0),
        _number(target, "most_ratio", 4.0),
        tuple(sorted(speeds)),
        _number(target, "rebound_tolerance", REBOUND_TOLERANCE),
        _number(target, "compression_tolerance", COMPRESSION_TOLERANCE),
        _number(target, "least_tolerance", LEAST_TOLERANCE),
        _number(target, "gas_force", 0.0),
        _number(target, "friction", 0.0),
    )


def _assumed(settled: Settled) -> tuple[str, ...]:
    """Every key that the sheet leaves to its default, as far as the default changes a figure."""
    return tuple(
        f"{section.name}.{key.name}: {key.default}"
        for section in SECTIONS
        for key in section.keys
        if key.default is not None
        for rows in [settled.get(section.name)]
        if rows and any(key.name not in row for row in (rows if isinstance(rows, list) else [rows]))
    )


def _crossed(settled: Settled, document: Document) -> list[Message]:
    """What only several keys together show."""
    found: list[Message] = []

    def fault(path: tuple[str | int, ...], what: str, shown: str = "", allowed: str = "") -> None:
        key = ".".join(str(p) for p in path if isinstance(p, str))
        found.append(Message(what, document.file, document.line(path), key, shown, allowed))

    for i, row in enumerate(settled.get("road", [])):
        if ("class" in row) == ("roughness" in row):
            what = "states its roughness twice" if "class" in row else "states no roughness"
            fault(("road", i, "class"), what, allowed='class = "A" to "H", or roughness = "... m3"')
    body = settled.get("vehicle", {})
    if {"bump_stop_clearance", "bump_travel"} <= set(body):
        free, full = body["bump_stop_clearance"], body["bump_travel"]
        if free.nominal > full.nominal:
            what = "is more than the whole bump travel"
            fault(("vehicle", "bump_stop_clearance"), what, free.text, f"up to {full.text}")
    target = settled.get("target", {})
    if {"least_ratio", "most_ratio"} <= set(target) and target["least_ratio"].nominal > target["most_ratio"].nominal:
        fault(("target", "least_ratio"), "is above most_ratio", target["least_ratio"].text, target["most_ratio"].text)
    speeds = [q.nominal for q in target.get("speeds", [])]
    if len(set(speeds)) < len(speeds):
        fault(("target", "speeds"), "holds a speed twice")
    for i, row in enumerate(settled.get("bump", [])):
        if "height" in row and row["height"].nominal == 0.0:
            fault(("bump", i, "height"), "is no bump", row["height"].text, "above 0, or below 0 for a pothole")
    return found
