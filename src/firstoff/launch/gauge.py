"""Gauge: what a study says about a gauge, and the uncertainty that its readings carry from then on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.launch.correcting.changes import difference
from firstoff.launch.job import sha256
from firstoff.sheets.quantity import QuantityError, parse, parse_limits
from firstoff.trials.gauge_file import read_study
from firstoff.trials.gauge_study import GaugeStudy, work_out

CONFIDENCE = 0.95


@dataclass(frozen=True)
class LaunchGauge:
    """A study worked out."""

    study: GaugeStudy
    tolerance: float | None = None  # width of the limits, SI, when they were given
    sha256: Mapping[str, str] = field(default_factory=dict)

    @property
    def of_tolerance(self) -> float | None:
        """6 standard deviations of repeatability and reproducibility as a share of the tolerance."""
        if self.tolerance is None or self.study.crossed is None:
            return None
        return 6.0 * self.study.crossed.grr[0] / self.tolerance

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        found = asdict(self.study)
        found.pop("messages")
        return {**found, "tolerance": self.tolerance, "share_of_tolerance": self.of_tolerance}


def gauge(
    files: Sequence[Path],
    limits: str = "",
    resolution: str = "",
    reference_u: str = "",
    confidence: float = CONFIDENCE,
    table: str | None = None,
) -> LaunchGauge:
    """Work out the files of one gauge's study: repeated readings, readings of references, or verdicts.

    limits of the characteristic, resolution of the display and standard uncertainty of the references: as written on a
    sheet, with unit. Raises InputFault with every fault.
    """
    read = [read_study(file, None, table) for file in files]
    unit = next((f.unit for f in read if f.unit), "")
    for file in files if unit else ():
        read_study(file, unit, table)  # all of one dimension
    faults: list[Message] = []

    def size(key: str, text: str) -> float:
        try:
            return parse(text, difference(unit or "1")).nominal if text else 0.0
        except QuantityError as error:
            faults.append(Message(error.what, key=key, found=error.found, allowed=error.allowed, nearest=error.nearest))
            return 0.0

    sizes = size("resolution", resolution), size("reference-u", reference_u)
    faults += [
        Message("is negative", key=k) for k, v in zip(("resolution", "reference-u"), sizes, strict=True) if v < 0
    ]
    width = None
    if limits:
        try:
            low, _, high = parse_limits(limits, unit or "1")
            width = high - low if low is not None and high is not None else None
        except QuantityError as error:
            faults.append(Message(error.what, key="limits", found=error.found, allowed=error.allowed))
    if faults:
        raise InputFault(faults)
    study = work_out(read, sizes[0], sizes[1], confidence)
    return LaunchGauge(study, width, {file.name: sha256(file) for file in files})
