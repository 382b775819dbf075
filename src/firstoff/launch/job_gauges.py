"""The gauges of a plant sheet: their uncertainty as stated there, or as their study found it."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from firstoff.chain.station import Characteristic
from firstoff.errors import InputFault, counted, nearest
from firstoff.families import Family
from firstoff.launch.correcting.changes import difference
from firstoff.methods.uncertainty import resolution_uncertainty
from firstoff.sheets.quantity import parse
from firstoff.sheets.units import same_dimension
from firstoff.stations.settle import Settings
from firstoff.trials.gauge_file import read_study
from firstoff.trials.gauge_study import GaugeStudy, work_out
from firstoff.trials.gauges import Gauge

if TYPE_CHECKING:
    from firstoff.launch.job import _Sheet


def units_measured(
    characteristics: Mapping[str, Characteristic], family: Family | None, drawing: Any = None
) -> tuple[dict[str, str], ...]:
    """Units of what a gauge may measure: what the model sheet names, and parameters and checks of the stations, those
    of what it draws among them."""
    stations = (*family.stations, *family.checks) if family else ()
    others = {f"{s.name}.{p.name}": p.unit for s in stations for p in s.parameters}
    checks = (*family.checks, *family.make_checks(Settings({}, {}, drawing=drawing))) if family else ()
    others |= {c.name: c.unit for s in checks for c in s.characteristics}
    return {name: c.unit for name, c in characteristics.items()}, others


def declared_gauges(plant: _Sheet, units: tuple[dict[str, str], ...]) -> dict[str, Gauge]:
    """Gauges by an own key each: one instrument may stand in the sheet once for each kind of reading it gives."""
    gauges: dict[str, Gauge] = {}
    unit_of = {name: unit for group in reversed(units) for name, unit in group.items()}
    for index, row in enumerate(plant.settled.get("gauge", [])):
        names = _measured(row.get("measures", ""), units)
        where = f"gauge/{index}"
        wanted = () if "study" in row else ("u", "source")
        for key in wanted:
            if key not in row:
                plant.fault(where, key, "is missing", allowed="a text in quotes, or a study in its place")
        if not {"name", "measures", *wanted} <= set(row):
            continue  # refused already
        if not names:
            # a gauge for other models, or a slip of the pen: only the engineer can tell
            what, near = "measures nothing that this model's sheet names", nearest(row["measures"], unit_of)
            plant.fault(where, "measures", what, found=row["measures"], nearest=near, level="remark")
            continue
        made = _gauge(plant, where, row, names, unit_of[names[0]])
        if made:
            gauges[f"{index}: {made.name}"] = made
        for name in names:
            if not same_dimension(unit_of[name], unit_of[names[0]]):
                plant.fault(where, "measures", f"mixes {name} and {names[0]}, of different dimensions")
    return gauges


def _gauge(plant: _Sheet, where: str, row: Mapping[str, Any], names: list[str], unit: str) -> Gauge | None:
    if "study" in row:
        return _studied(plant, where, row, names, unit)
    written = [key for key in ("u", "resolution", "repeatability") if key in row]
    found = {key: size_of(plant, where, key, row[key], difference(unit)) for key in written}
    sizes = {key: size for key, size in found.items() if size is not None}
    if len(sizes) < len(found):
        return None
    if sizes["u"] == 0:
        plant.fault(where, "u", "must be above zero", found=row["u"])
        return None
    if sizes["u"] < resolution_uncertainty(sizes.get("resolution", 0.0)):
        what = "is smaller than its display alone allows (resolution over the square root of 12)"
        plant.fault(where, "u", what, found=row["u"], allowed=f"u with resolution {row['resolution']} in it")
        return None
    if sizes.get("repeatability", 0.0) > sizes["u"]:
        plant.fault(where, "repeatability", "is larger than u, which contains it", found=row["repeatability"])
        return None
    return Gauge(row["name"], tuple(names), source=row["source"], trace=row.get("trace", {}), **sizes)


def _studied(plant: _Sheet, where: str, row: Mapping[str, Any], names: list[str], unit: str) -> Gauge | None:
    """The gauge with the uncertainty that its study found; None with the faults noted at their line."""
    for key in ("u", "repeatability", "source"):
        if key in row:
            plant.fault(where, key, "stands beside a study, from which it comes", allowed="one of the two")
    texts = {key: row.get(key, "0 " + difference(unit)) for key in ("resolution", "reference_u")}
    sizes = {key: size_of(plant, where, key, text, difference(unit)) for key, text in texts.items()}
    files = _files(plant, where, row)
    if None in sizes.values() or not files:
        return None
    resolution, reference = (float(size or 0.0) for size in sizes.values())
    try:
        study = work_out([read_study(file, unit) for file in files], resolution, reference)
    except InputFault as fault:
        plant.fault(where, "study", "cannot be used: see the faults of its file", found=row["study"])
        plant.faults += fault.messages
        return None
    made = studied(row["name"], names, study, resolution)
    if made is None:
        plant.fault(where, "study", "is of verdicts, which give no uncertainty of a reading", found=row["study"])
        return None
    return _dated(plant, where, row, replace(made, trace=row.get("trace", {})))


def _files(plant: _Sheet, where: str, row: Mapping[str, Any]) -> list[Path]:
    """The study's files beside the plant sheet; none with the fault noted when one is missing or has changed."""
    folder = Path(plant.document.file).parent
    files = [folder / name.strip() for name in row["study"].split(",") if name.strip()]
    missing = [file.name for file in files if not file.is_file()]
    for name in missing:
        beside = [p.name for p in folder.iterdir() if p.suffix in (".csv", ".xlsx")]
        plant.fault(where, "study", "names a file that does not exist", found=name, nearest=nearest(name, beside))
    stated = [text.strip().lower() for text in row.get("study_sha256", "").split(",") if text.strip()]
    if missing or not stated:
        return [] if missing else files
    for file, now, then in zip_longest(files, map(sha256_of, files), stated, fillvalue=""):
        if not then or now != then:
            what = "is not that of the study's file: the file has changed since, or was never looked at"
            plant.fault(where, "study_sha256", what, found=then[:16], allowed=f"{Path(file).name}: {now}")
            return []
    return files


def sha256_of(file: Path) -> str:
    """Digest of a file."""
    return hashlib.sha256(file.read_bytes()).hexdigest()


def _dated(plant: _Sheet, where: str, row: Mapping[str, Any], made: Gauge) -> Gauge:
    """The gauge; its uncertainty counts as assumed when the study has run out, and a remark says so."""
    until = row.get("study_until")
    if until is None or until >= datetime.date.today():
        return made
    what = "is past: the gauge's uncertainty counts as assumed until it is studied again"
    plant.fault(where, "study_until", what, found=str(until), level="remark")
    return replace(made, source=f"assumed: study ran out on {until}; {made.source}")


def size_of(plant: _Sheet, where: str, key: str, text: str, unit: str) -> float | None:
    """A size of zero or more in SI, or None with the fault noted."""
    size: float | None = plant.attempt(where, key, lambda: parse(text, unit).nominal)
    if size is not None and size < 0:
        plant.fault(where, key, "is negative", found=text, allowed="zero or more")
        return None
    return size


def studied(name: str, names: Sequence[str], study: GaugeStudy, resolution: float) -> Gauge | None:
    """The gauge as its study found it; None for a study of verdicts, which gives no uncertainty."""
    found = study.uncertainty
    if found is None:
        return None
    said = [f"study {', '.join(study.files)}"]
    if study.crossed:
        c = study.crossed
        said.append(f"{counted(c.appraisers, 'person', 'people')}, {counted(c.parts, 'part')}, {c.trials} times")
    said.append(f"{study.line.n} readings of references" if study.line else "bias not studied")
    repeatability = min(study.repeatability or 0.0, found.u)
    return Gauge(name, tuple(names), found.u, "; ".join(said), resolution, repeatability)


def _measured(patterns: str, units: Sequence[Mapping[str, str]]) -> list[str]:
    """The names a gauge measures; * stands for any ending, of the sheet's own names if one fits."""
    found = []
    for pattern in patterns.replace(",", " ").split():
        stem = pattern[:-1] if pattern.endswith("*") else None
        fitting = ([n for n in group if (n.startswith(stem) if stem is not None else n == pattern)] for group in units)
        found += next((names for names in fitting if names), [])
    return found
