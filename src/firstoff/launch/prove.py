"""Prove: judge the readings of first-offs, with the gauge's own error."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from firstoff.chain.station import Characteristic
from firstoff.errors import InputFault, Message
from firstoff.launch.against import Against, against
from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan, planned
from firstoff.launch.readable import checked_beside, readable, units_of
from firstoff.launch.temperature import Away, away
from firstoff.launch.traces.traces import add_traces, runs_as_dicts
from firstoff.methods.conformity import Limits
from firstoff.stations.settle import NEEDED
from firstoff.trials.away import both_ways, without_shift
from firstoff.trials.capability import AcrossLots, across_lots
from firstoff.trials.readings import Trial, read
from firstoff.trials.slips import slips
from firstoff.trials.verdicts import Judgement, PartVerdict, judge


@dataclass(frozen=True)
class Proof:
    """The verdicts on a trial."""

    job: Job
    trial: Trial
    judgement: Judgement
    characteristics: Mapping[str, Characteristic]
    rule: str
    away: Away = field(default_factory=Away)  # what was tested away from the test temperature
    against: tuple[Against, ...] = ()  # the prediction beside the readings; empty for a sheet of limits alone
    plan: LaunchPlan | None = None  # none when the sheet does not plan the stations
    unplanned: tuple[Message, ...] = ()  # what keeps it from that
    good: Trial | None = None  # readings of a known-good lot that were given beside
    across: tuple[AcrossLots, ...] = ()  # capability over all lots, where there are several

    @property
    def by_part(self) -> dict[str, dict[str, float]]:
        """part -> characteristic -> mean of its readings, SI. With several lots a part is called `part (lot)`."""
        found: dict[str, dict[str, float]] = {}
        for verdict in self.judgement.parts:
            found.setdefault(self.label(verdict), {})[verdict.characteristic] = verdict.value
        return found

    @property
    def lots(self) -> dict[str, int]:
        """lot -> how many parts of it were read, in the order in which they came."""
        return Counter(lot for lot, _ in dict.fromkeys((v.lot, v.part) for v in self.judgement.parts))

    def label(self, verdict: PartVerdict) -> str:
        """A part's name, with its lot where there are several: numbers may come twice."""
        return f"{verdict.part} ({verdict.lot or 'no lot'})" if len(self.lots) > 1 else verdict.part

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
            "traces": runs_as_dicts(self.trial),
            "parts": [asdict(v) for v in self.judgement.parts],
            "lots": [asdict(v) for v in self.judgement.lots],
            "not_read": self.not_read,
            "temperature": self.away.as_dict(),
            "prediction": [asdict(one) for one in self.against],
            "across_lots": [asdict(one) for one in self.across],
            "safety": [name for name, c in self.characteristics.items() if c.safety],
        }


def limits_of(c: Characteristic) -> Limits:
    return Limits(c.low, c.high)


def _remarks(unplanned: tuple[Message, ...]) -> tuple[Message, ...]:
    """What is wrong in a sheet that is not planned; what is merely not given needs no remark."""
    wrong = (m for m in unplanned if m.what != NEEDED)
    return tuple(replace(m, what=f"{m.what}; judged by the limits alone", level="remark") for m in wrong)


def read_trial(
    job: Job, settled: LaunchPlan | None, readings: Path, table: str | None = None, traces: Sequence[Path] = ()
) -> Trial:
    """The readings in a CSV or xlsx file; `table` names the sheet of a workbook. Slips of the unit are remarked.

    traces: files or folders of raw traces of the same parts, beside those that the readings name themselves.
    Raises InputFault for a file with faults, each named.
    """
    return read_trials(job, settled, readings, None, table, traces)[0]


def read_trials(
    job: Job, settled: LaunchPlan | None, readings: Path, good: Path | None = None, table: str | None = None,
    traces: Sequence[Path] = (),
) -> tuple[Trial, Trial | None]:  # fmt: skip
    """The same, and that of a known-good lot; a trace goes to whichever has its part."""
    trials = [_read_off(job, settled, file, table) for file in (readings, good) if file]
    if traces or any(trial.named for trial in trials):
        if settled is None:
            what = "does not plan the rig: traces cannot be read without its stroke and speeds"
            raise InputFault([Message(what, file=str(job.file))])
        trials = list(add_traces(settled, trials, traces))
    return trials[0], trials[1] if good else None


def _read_off(job: Job, settled: LaunchPlan | None, readings: Path, table: str | None) -> Trial:
    characteristics = readable(job, settled)
    trial = read(readings, units_of(characteristics), sheet=table)
    odd = slips(trial, {n: limits_of(c) for n, c in characteristics.items()}, settled.nominal if settled else {})
    return replace(trial, messages=(*trial.messages, *odd))


def prove(
    job: Job, readings: Path, rule: str | None = None, table: str | None = None, traces: Sequence[Path] = (),
    good: Path | None = None,
) -> Proof:  # fmt: skip
    """Judge the readings in a CSV or xlsx file; `table` names the sheet of a workbook, `traces` as `read_trial`.

    What a trace gives and nobody limits is not judged, nor is a known-good lot: that is read along for who explains.
    Of a part that was tested away from the test temperature only what holds with and without the expected shift is
    proven. Raises InputFault for a file with faults, each named, and when the sheet gives no limits at all.
    """
    if all(limits_of(c) == Limits() for c in job.characteristics.values()):
        raise InputFault([Message("gives no limits: there is nothing to prove", file=str(job.file))])
    settled, unplanned = planned(job)
    trial, of_good = read_trials(job, settled, readings, good if settled else None, table, traces)
    known = readable(job, settled)
    free = {name for name, c in known.items() if limits_of(c) == Limits()}
    read = {r.characteristic for r in trial.readings if not (r.run and r.characteristic in free)}
    beside = set(checked_beside(job))  # not asked for: they count only when somebody read them
    characteristics = {n: c for n, c in known.items() if n in read or n not in beside}
    asked = replace(trial, readings=tuple(r for r in trial.readings if r.characteristic in read))
    found = away(job, settled, asked)
    trial = replace(trial, messages=(*_remarks(unplanned), *trial.messages, *found.messages))
    chosen = rule or job.judging.rule

    def judged(of: Trial) -> Judgement:
        limits = {n: limits_of(c) for n, c in characteristics.items()}
        known = job.distributions
        return judge(of, limits, job.gauges, chosen, job.judging.coverage, job.judging.confidence, None, known)

    judgement = judged(asked)
    if found.shifts or found.lost:
        at_test = judged(without_shift(asked, found.bounds))
        judgement = both_ways(judgement, at_test, found.reasons, found.of_lot, found.lost)
    beside_it = against(settled, trial) if settled else ()
    across = across_lots(judgement, job.judging.confidence, job.distributions)
    return Proof(job, trial, judgement, characteristics, chosen, found, beside_it, settled, unplanned, of_good, across)
