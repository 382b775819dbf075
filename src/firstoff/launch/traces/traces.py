"""Raw traces of a trial: read, held against the sheet, and reduced to readings by the rig station itself."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from firstoff.errors import InputFault, Message, counted, nearest
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.traces.layout import layout_of
from firstoff.sheets.units import format_value, same_dimension, to_si
from firstoff.stations.trace_station import TraceNumbers, Unfit
from firstoff.trials import trace_checks, trace_file
from firstoff.trials.columns import Units
from firstoff.trials.readings import Reading, Run, Trial
from firstoff.trials.table import raise_if
from firstoff.trials.trace_file import Trace

ENDINGS = (".csv", ".txt", ".tsv", ".parquet")
OUT_OF_STEP = 0.05  # relative, of the speed that the file gives to that of its own displacement


@dataclass(frozen=True)
class _Named:
    """A file of traces, and the part that a row of the readings names it for."""

    path: Path
    row: Reading | None = None
    trial: int = -1


@dataclass(frozen=True)
class _Reduced:
    file: str
    numbers: TraceNumbers
    temperature: float | None  # K


def add_traces(plan: LaunchPlan, trials: Sequence[Trial], paths: Iterable[Path] = ()) -> tuple[Trial, ...]:
    """The trials with what their parts' traces give: files or folders in `paths`, and files that readings name.

    A characteristic that was read off a part already is not taken from its trace again. Raises InputFault with every
    trace that cannot be used, and whoever's it is that nobody knows; then nothing is read at all.
    """
    files = _in_readings(trials)
    named = {of.path.resolve() for of in files}
    files += [_Named(p) for given in paths for p in _files(given) if p.resolve() not in named]
    if not files:
        return tuple(trials)
    found, faults, remarks = _read(plan, trials, files)
    raise_if(dict.fromkeys(faults), files[0].path.name)  # what the plant sheet says wrongly once, not at every file
    done = []
    for i, trial in enumerate(trials):
        own = [(row, run) for at, row, run in found if at == i]
        done.append(_with(trial, own, remarks if i == 0 else ()))
    return tuple(done)


def _in_readings(trials: Sequence[Trial]) -> list[_Named]:
    found = []
    for i, trial in enumerate(trials):
        for row in trial.named:
            for name in filter(None, (text.strip() for text in re.split(r"[|;]", row.trace))):
                found += [_Named(p, row, i) for p in _files(Path(trial.file).parent / name)]
    return found


def _files(given: Path) -> list[Path]:
    """The file itself, or those of a folder in the order of their names."""
    if not given.is_dir():
        return [given]
    found = sorted(p for p in given.iterdir() if p.suffix.lower() in ENDINGS and p.is_file())
    if not found:
        raise InputFault(
            [Message("is a folder without traces", str(given), allowed=", ".join(f"*{e}" for e in ENDINGS))]
        )
    return found


def _read(
    plan: LaunchPlan, trials: Sequence[Trial], files: Sequence[_Named]
) -> tuple[list[tuple[int, Reading, _Reduced]], list[Message], list[Message]]:
    job = plan.job
    if job.family.make_trace_station is None:
        return [], [Message("no station of this family reads traces", str(files[0].path))], []
    station = job.family.make_trace_station(job.settings.speeds)
    settled = (*plan.plans.values(), station.plan(job.settings))
    values = {v.name: v.nominal for of in settled for v in of.values}
    units = Units(to_si, same_dimension)
    found: list[tuple[int, Reading, _Reduced]] = []
    faults: list[Message] = []
    remarks: list[Message] = []
    for named in files:
        try:
            traces, said = trace_file.read(named.path, layout_of(job, named.row.gauge if named.row else ""), units)
        except InputFault as fault:
            faults += fault.messages
            continue
        remarks += said
        for trace in traces:
            (trial, row), wrong = _owner(trace, named, trials)
            if wrong is None:
                trace = replace(trace, part=row.part)
                wrong = _unfit(trace)
            if wrong is not None:
                faults.append(wrong)
                continue
            try:
                numbers = station.trace_numbers(
                    trace.time, trace.displacement, trace.force, values, job.settings.speeds, plan.nominal, trace.speed
                )
            except Unfit as unfit:
                faults.append(trace.fault(unfit.what, None, unfit.found, unfit.allowed))
                continue
            faults += _late_faults(trace, numbers)
            remarks += _remarks(trace, numbers)
            warm = trace.temperature if trace.temperature is not None else row.temperature
            found.append((trial, row, _Reduced(trace.file, numbers, warm)))
    return found, faults, remarks


def _unfit(trace: Trace) -> Message | None:
    """What is wrong with a trace whatever rig it comes from."""
    back = trace_checks.not_rising(trace.time)
    if back is not None:
        before, here = (format_value(float(trace.time[i]), "s", 6) for i in (back - 1, back))
        return trace.fault("time does not rise", back, f"{here} after {before}")
    full = trace_checks.clipped(trace.force)
    if full is not None:
        at = format_value(float(trace.force[full]), "N", 5)
        return trace.fault("force stands still at its extreme: the cell or its amplifier is at its end", full, at)
    return None


def _late_faults(trace: Trace, numbers: TraceNumbers) -> list[Message]:
    """What shows once the cycles are known: gaps, and a velocity that is not the displacement's."""
    gap, _ = trace_checks.gaps(trace.time, numbers.period)
    if gap is not None:
        missing = float(trace.time[gap] - trace.time[gap - 1])
        allowed = f"up to {trace_checks.MOST_GAP:.0%} of a cycle of {format_value(numbers.period, 's', 3)}"
        return [trace.fault("has a gap in its times", gap, format_value(missing, "s", 3), allowed)]
    if trace.velocity is None:
        return []
    inside = (trace.time >= numbers.starts[0]) & (trace.time <= numbers.starts[-1])
    phase = np.interp(trace.time[inside], numbers.starts, np.arange(len(numbers.starts))) % 1.0
    own = np.interp(phase, np.linspace(0.0, 1.0, len(numbers.velocity)), numbers.velocity)
    slope = float(np.sum(own * trace.velocity[inside]) / np.sum(own**2))
    if abs(slope - 1.0) <= OUT_OF_STEP:
        return []
    what = "velocity is not that of the displacement: sign, unit or channel is wrong"
    return [trace.fault(what, None, f"{slope:.4g} times as much")]


def _remarks(trace: Trace, numbers: TraceNumbers) -> list[Message]:
    _, short = trace_checks.gaps(trace.time, numbers.period)
    if not short:
        return []
    what = f"{counted(short, 'short gap')} in its times {'was' if short == 1 else 'were'} bridged by a straight line"
    return [replace(trace.fault(what), level="remark")]


def _owner(trace: Trace, named: _Named, trials: Sequence[Trial]) -> tuple[tuple[int, Reading], Message | None]:
    """Whose trace it is: which trial's, and a row with lot, part and what was noted of it."""
    nobody = (0, Reading("", 0.0, ""))
    if named.row is not None and trace.part in ("", named.row.part):
        return (named.trial, named.row), None
    known: dict[tuple[int, str, str], Reading] = {}
    for i, trial in enumerate(trials):
        for r in (*trial.readings, *trial.named):
            known.setdefault((i, r.lot, r.part), r)
    part = trace.part or _by_name(Path(trace.file).stem, {part for _, _, part in known})
    fitting = [key for key in known if key[2] == part and trace.lot in ("", key[1])]
    if len(fitting) == 1:
        i = fitting[0][0]
        return (i, known[fitting[0]]), None
    parts = list(dict.fromkeys(part for _, _, part in known))
    if fitting:
        where = ", ".join(f"lot {lot}" for _, lot, _ in fitting)
        return nobody, trace.fault("is of a part that several lots have", None, part, f"a column lot: {where}")
    allowed = ", ".join(parts[:8]) + (", ..." if len(parts) > 8 else "")
    if not part:
        what = "does not say whose trace it is"
        allowed = f"a column part, a file name that begins with the part ({allowed}), or a column trace of the readings"
        return nobody, trace.fault(what, None, "", allowed)
    wrong = trace.fault("is of a part that the readings do not have", None, part, allowed)
    return nobody, replace(wrong, nearest=nearest(part, parts))


def _by_name(stem: str, parts: Iterable[str]) -> str:
    """The longest part whose name the file's begins with, up to a sign that is no letter and no digit."""
    begins = [p for p in parts if stem.lower().startswith(p.lower()) and not stem[len(p) : len(p) + 1].isalnum()]
    return max(begins, key=len, default="")


def _with(trial: Trial, reduced: Sequence[tuple[Reading, _Reduced]], remarks: Sequence[Message]) -> Trial:
    """The trial with the readings of its traces, where the part does not have them already."""
    had = {(r.lot, r.part, r.characteristic) for r in trial.readings}
    readings: list[Reading] = []
    runs: list[Run] = []
    said, left = list(remarks), set()
    for number, (row, one) in enumerate(reduced, 1):
        of = one.numbers
        kept = [i for i, name in enumerate(of.names) if (row.lot, row.part, name) not in had]
        left |= set(of.names) - {of.names[i] for i in kept}
        key = f"{Path(one.file).name}, {of.title}, {number}"
        for i in kept:
            readings.append(replace(
                row, characteristic=of.names[i], value=float(of.values[i]), temperature=one.temperature,
                column=of.title, unit="", trace="", u=float(np.sqrt(of.covariance[i, i])), run=key,
            ))  # fmt: skip
        runs.append(Run(
            row.lot, row.part, key, one.file, of.title, of.crawling, of.speed, of.cycles, of.period, of.noise,
            of.drift, tuple(of.names[i] for i in kept), of.covariance[np.ix_(kept, kept)], of.travel, of.velocity,
            of.force, one.temperature,
        ))  # fmt: skip
    if left:
        what = f"{', '.join(sorted(left))}: read off already, and not taken from the traces again"
        said.append(Message(what, trial.file, level="remark"))
    return replace(trial, readings=(*trial.readings, *readings), messages=(*trial.messages, *said), runs=tuple(runs))


def runs_as_dicts(trial: Trial) -> list[dict[str, Any]]:
    """The traces of a trial as plain values, SI: what each gave, and how well."""
    found = []
    for run in trial.runs:
        of = [r for r in trial.readings if (r.lot, r.part, r.run) == (run.lot, run.part, run.run)]
        found.append({
            "part": run.part, "lot": run.lot, "file": run.file, "run": run.title, "cycles": run.cycles,
            "period": run.period, "noise": run.noise, "drift": run.drift,
            "readings": {r.characteristic: {"value": r.value, "u_cycles": r.u} for r in of},
        })  # fmt: skip
    return found
