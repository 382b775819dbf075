"""A launch as the sheets state it: family, settings, limits, gauges. Everything that is wrong is said at once."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from firstoff.chain.fault import Cure, Fault
from firstoff.chain.measurement import Measurement
from firstoff.chain.station import Characteristic
from firstoff.errors import InputFault, Message, nearest
from firstoff.families import NAMES, Family, find
from firstoff.launch import sections
from firstoff.launch.correcting.changes import Movement, cures, difference, movements
from firstoff.launch.job_gauges import declared_gauges, size_of, units_measured
from firstoff.launch.test_plan.first_offs import FirstOffs, read_first_offs
from firstoff.sheets.checker import Settled, check
from firstoff.sheets.quantity import QuantityError, parse, parse_limits
from firstoff.sheets.schema import Section
from firstoff.sheets.toml import Document, read
from firstoff.stations.reading import Drawn
from firstoff.stations.settle import Capability, Settings
from firstoff.trials.gauges import Gauge


@dataclass(frozen=True)
class Judging:
    """How readings are judged; the defaults are used when the sheet is silent, and the account says so."""

    rule: str = "iso14253-1:2017"  # the edition in force
    coverage: float = 0.95
    confidence: float = 0.95


@dataclass(frozen=True)
class Job:
    """One launch."""

    file: Path
    name: str
    revision: str
    family: Family
    settings: Settings
    characteristics: Mapping[str, Characteristic]  # everything with a limit or a name of its own in the sheet
    gauges: Mapping[str, Gauge]
    judging: Judging
    plant: str = ""
    sha256: Mapping[str, str] = field(default_factory=dict)  # file name -> digest of the sheet's text
    remarks: tuple[Message, ...] = ()
    fault_rates: Mapping[str, tuple[float, str]] = field(default_factory=dict)  # fault -> per thousand, file:line
    changes: Mapping[str, Movement] = field(default_factory=dict)  # settings that can be moved, by parameter
    cures: Mapping[str, Cure] = field(default_factory=dict)  # what each fault's cure takes, by fault
    parts: Path | None = None  # the bin of valve parts that the plant sheet names
    distributions: Mapping[str, str] = field(default_factory=dict)  # of characteristics, where the sheet states it
    first_offs: FirstOffs = field(default_factory=FirstOffs)  # how many first parts the sheet asks for, and how sure
    plant_file: Path | None = None
    yearly_volume: int | None = None


@dataclass
class _Sheet:
    """One sheet while it is read."""

    document: Document
    settled: Settled
    faults: list[Message]

    @property
    def folder(self) -> Path:
        return Path(self.document.file).parent

    def fault(self, section: str, key: str, what: str, **more: str) -> None:
        line = self.document.line(tuple(int(p) if p.isdigit() else p for p in (*section.split("/"), key)))
        name = f"{section}.{key}".replace("/", ".")
        self.faults.append(Message(what, file=self.document.file, line=line, key=name, **more))

    def place(self, section: str, key: str) -> str:
        line = self.document.line(tuple(int(p) if p.isdigit() else p for p in (*section.split("/"), key)))
        return f"{Path(self.document.file).name}:{line}"

    def attempt(self, section: str, key: str, read_it: Callable[[], Any]) -> Any:
        """What `read_it` gives, or None with the fault noted."""
        try:
            return read_it()
        except QuantityError as error:
            self.fault(section, key, error.what, found=error.found, allowed=error.allowed, nearest=error.nearest)
            return None


def _misdrawn(model: _Sheet, family: Family) -> bool:
    """Whether a section that the family draws its part from has a fault: then some characteristics are not there."""
    drawing = {section.name for section in family.sections}
    return any(f.level == "error" and f.key.split(".")[0] in drawing for f in model.faults)


def read_job(file: Path) -> Job:
    """The launch of a model sheet and of the plant sheet it names. Raises InputFault with every fault of both."""
    model = _read_sheet(file, _model_sections)
    family = find(model.settled["model"]["family"]) if _family_name(model.settled) else None
    plant = _read_plant(file, model, family)
    sheets = [model] + ([plant] if plant else [])
    drawn = _characteristics(model, plant, family)
    characteristics = drawn.characteristics
    said = len(plant.faults) if plant else 0
    gauges = declared_gauges(plant, units_measured(characteristics, family, drawn.drawing)) if plant else {}
    if plant and family and _misdrawn(model, family):
        del plant.faults[said:]  # what a gauge measures is not known before the drawing is mended
    asked = read_first_offs(model, plant, family, characteristics, gauges, _judging(model.settled))
    capability = _capability(plant, family) if plant and family else {}
    given, origin = _given(sheets, family)
    parts = _parts(plant) if plant else None
    changes, undone = movements(plant, family, given), cures(plant, family)
    measurements = _measurements(plant, family) if plant and family else family.measurements if family else ()
    faults = [f for sheet in sheets for f in sheet.faults]
    if any(f.level == "error" for f in faults):
        raise InputFault([f for f in faults if f.level == "error"])
    assert family is not None  # without one the checker has refused the sheet
    rates = _rates(plant) if plant else {}

    def here(faults: Iterable[Fault]) -> tuple[Fault, ...]:
        return tuple(replace(f, per_thousand=rates[f.name][0]) if f.name in rates else f for f in faults)

    in_checks = {name: here(of) for name, of in family.check_faults.items()}
    family = replace(family, faults=here(family.faults), check_faults=in_checks, measurements=measurements)
    head = model.settled["model"]
    settings = Settings(
        given, {**drawn.origin, **origin}, capability, characteristics, drawn.speeds, str(file), drawn.drawing
    )
    return Job(
        file,
        head["name"],
        head.get("revision", ""),
        family,
        settings,
        characteristics,
        gauges,
        _judging(model.settled),
        plant.settled["plant"]["name"] if plant else "",
        {Path(s.document.file).name: sha256(Path(s.document.file)) for s in sheets},
        tuple(f for f in faults if f.level != "error"),
        rates,
        changes,
        undone,
        parts,
        {
            n: row["distribution"]
            for n, row in model.settled.get("characteristics", {}).items()
            if "distribution" in row
        },
        asked,
        Path(plant.document.file) if plant else None,
        head.get("yearly_volume"),
    )


def _rates(plant: _Sheet) -> dict[str, tuple[float, str]]:
    """Fault -> so many per thousand launches, and the line that says so."""
    stated = plant.settled.get("faults", {})
    name = Path(plant.document.file).name
    return {key: (rate, f"{name}:{plant.document.line(('faults', key))}") for key, rate in stated.items()}


def _parts(plant: _Sheet) -> Path | None:
    """The file of the parts bin, beside the plant sheet."""
    name = plant.settled.get("plant", {}).get("parts")
    if not name:
        return None
    path = Path(plant.document.file).parent / str(name)
    if not path.is_file():
        beside = [p.name for p in path.parent.glob("*.toml")]
        what = "names a file that does not exist"
        plant.fault("plant", "parts", what, found=name, nearest=nearest(name, beside))
    return path


def _measurements(plant: _Sheet, family: Family) -> tuple[Measurement, ...]:
    """The family's measurements as this plant can make them."""
    stated = plant.settled.get("measurements", {})
    known = {m.name: m for m in family.measurements}
    for name in stated:
        if name not in known:
            plant.fault(
                "measurements", name, "is no measurement of this family", found=name, nearest=nearest(name, known)
            )
    file = Path(plant.document.file).name
    return tuple(
        replace(m, **stated[name], source=f"{file}:{plant.document.line(('measurements', name))}")
        if stated.get(name)
        else m
        for name, m in known.items()
    )


def sha256(file: Path) -> str:
    """Digest of a file, by which a page says what it was made from."""
    return hashlib.sha256(file.read_bytes()).hexdigest()


def _family_name(settled: Settled) -> str:
    return str(settled.get("model", {}).get("family", ""))


def _model_sections(document: Document) -> tuple[Section, ...]:
    """The sections of a model sheet; those of every family while it names none that is known."""
    head = document.data.get("model")
    name = head.get("family") if isinstance(head, dict) else None
    names = [name] if name in NAMES else list(NAMES)
    return (*sections.MODEL, *(s for n in names for s in (*find(n).sections, *sections.of_stations(find(n)))))


def _read_sheet(file: Path, wanted: Callable[[Document], tuple[Section, ...]]) -> _Sheet:
    document = read(file)
    settled, faults = check(document, wanted(document))
    return _Sheet(document, settled, list(faults))


def _read_plant(file: Path, model: _Sheet, family: Family | None) -> _Sheet | None:
    name = model.settled.get("model", {}).get("plant")
    if not name:
        return None
    path = file.parent / name
    if not path.is_file():
        beside = [p.name for p in file.parent.glob("*.toml")]
        model.fault("model", "plant", "names a file that does not exist", found=name, nearest=nearest(name, beside))
        return None
    families = (family,) if family else tuple(find(n) for n in NAMES)
    faults = sections.of_faults(f for each in families for f in each.every_fault)
    stations = (s for each in families for s in (*each.plant_sections, *sections.of_stations(each)))
    return _read_sheet(path, lambda _: (*sections.PLANT, faults, sections.MEASUREMENTS, *stations))


def _judging(settled: Settled) -> Judging:
    said = settled.get("judging", {})
    default = Judging()
    return Judging(
        said.get("rule", default.rule),
        said["coverage"].nominal if "coverage" in said else default.coverage,
        said["confidence"].nominal if "confidence" in said else default.confidence,
    )


def _given(sheets: list[_Sheet], family: Family | None) -> tuple[dict[str, Any], dict[str, str]]:
    given: dict[str, Any] = {}
    origin: dict[str, str] = {}
    for sheet in sheets:
        for station in (*family.stations, *family.checks) if family else ():
            for key, quantity in sheet.settled.get(station.name, {}).items():
                name = f"{station.name}.{key}"
                line = sheet.document.line((station.name, key))
                if name in given:
                    sheet.fault(station.name, key, "is stated twice", found=f"first in {origin[name]}")
                    continue
                given[name] = quantity
                origin[name] = f"{Path(sheet.document.file).name}:{line}"
    return given, origin


def _characteristics(model: _Sheet, plant: _Sheet | None, family: Family | None) -> Drawn:
    """What the family reads from the sheets, with the characteristics that the model sheet names by itself."""
    drawn = family.read(model, plant) if family else Drawn()
    found = dict(drawn.characteristics)
    for name, row in model.settled.get("characteristics", {}).items():
        where = f"characteristics/{name}"
        if name in found:
            model.fault(where, "unit", "has its limits elsewhere in the sheet already")
            continue
        made = _own_characteristic(model, where, name, row)
        if made:
            found[name] = made
    return replace(drawn, characteristics=found)


def _own_characteristic(model: _Sheet, where: str, name: str, row: Any) -> Characteristic | None:
    if "unit" not in row:
        return None
    low = high = None
    stated = False
    if "limits" in row:
        # a pressure that says which it is, is one; the station's own declaration is held against it when planning
        stated = re.search(r"\b(gauge|abs(olute)?)\b", row["limits"]) is not None
        limits = model.attempt(where, "limits", lambda: parse_limits(row["limits"], row["unit"], pressure=stated))
        if limits is None:
            return None
        low, _, high = limits
    elif model.attempt(where, "unit", lambda: parse(f"1 {row['unit']}", row["unit"])) is None:
        return None
    return Characteristic(name, row["unit"], row.get("what", name), low, high, bool(row.get("safety", False)), stated)


def _capability(plant: _Sheet, family: Family) -> dict[str, Capability]:
    units = {f"{s.name}.{p.name}": p.unit for s in (*family.stations, *family.checks) for p in s.parameters}
    found: dict[str, Capability] = {}
    for index, row in enumerate(plant.settled.get("capability", [])):
        where = f"capability/{index}"
        name = row.get("parameter")
        if name is None or "source" not in row:
            continue
        if name not in units:
            plant.fault(where, "parameter", "is no parameter of a station", found=name, nearest=nearest(name, units))
            continue
        if name in found:
            plant.fault(where, "parameter", "has its scatter stated twice", found=name)
            continue
        levels = [level for level in ("lot_sd", "part_sd") if level in row]
        if not levels:
            plant.fault(where, "parameter", "has neither lot_sd nor part_sd", found=name)
            continue
        sizes = {level: size_of(plant, where, level, row[level], difference(units[name])) for level in levels}
        if None not in sizes.values():
            found[name] = Capability(sizes.get("lot_sd"), sizes.get("part_sd"), row["source"])
    return found
