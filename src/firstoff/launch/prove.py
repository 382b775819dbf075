"""Prove: judge the readings of first-offs, with the gauge's own error."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from firstoff.chain.station import Characteristic
from firstoff.errors import InputFault, Message
from firstoff.launch.job import Job
from firstoff.launch.plan import plan
from firstoff.methods.conformity import Limits
from firstoff.trials.readings import Trial, read
from firstoff.trials.verdicts import Judgement, judge


@dataclass(frozen=True)
class Proof:
    """The verdicts on a trial."""

    job: Job
    trial: Trial
    judgement: Judgement
    characteristics: Mapping[str, Characteristic]
    rule: str

    @property
    def by_part(self) -> dict[str, dict[str, float]]:
        """part -> characteristic -> mean of its readings, SI."""
        found: dict[str, dict[str, float]] = {}
        for verdict in self.judgement.parts:
            found.setdefault(verdict.part, {})[verdict.characteristic] = verdict.value
        return found

    @property
    def not_read(self) -> list[str]:
        """Characteristics with limits of which the trial has no reading."""
        read_ones = {v.characteristic for v in self.judgement.parts}
        return [n for n, c in self.job.characteristics.items() if n not in read_ones and limits_of(c) != Limits()]

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        return {
            "rule": self.rule,
            "readings": self.trial.file,
            "parts": [asdict(v) for v in self.judgement.parts],
            "lots": [asdict(v) for v in self.judgement.lots],
            "not_read": self.not_read,
            "safety": [name for name, c in self.characteristics.items() if c.safety],
        }


def limits_of(c: Characteristic) -> Limits:
    return Limits(c.low, c.high)


def known_characteristics(job: Job) -> dict[str, Characteristic]:
    """What may be read: everything the sheet names, and what the stations compute when the sheet is whole."""
    try:
        computed = plan(job).characteristics
    except InputFault:
        computed = {}  # a sheet of limits alone: it is enough to prove
    return {**computed, **job.characteristics}


def prove(job: Job, readings: Path, rule: str | None = None, table: str | None = None) -> Proof:
    """Judge the readings in a CSV or xlsx file; `table` names the sheet of a workbook.

    Raises InputFault for a file with faults, each named, and when the sheet gives no limits at all.
    """
    if all(limits_of(c) == Limits() for c in job.characteristics.values()):
        raise InputFault([Message("gives no limits: there is nothing to prove", file=str(job.file))])
    characteristics = known_characteristics(job)
    trial = read(readings, {n: c.unit for n, c in characteristics.items()}, sheet=table)
    chosen = rule or job.judging.rule
    judgement = judge(
        trial,
        {n: limits_of(c) for n, c in characteristics.items()},
        job.gauges,
        chosen,
        job.judging.coverage,
        job.judging.confidence,
    )
    return Proof(job, trial, judgement, characteristics, chosen)
