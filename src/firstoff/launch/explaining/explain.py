"""Explain: which station most likely caused the readings, how sure that is, and what would confirm it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from firstoff.chain.fault import Fault
from firstoff.launch import prove
from firstoff.launch.explaining.calibrate import Calibration, calibrate
from firstoff.launch.explaining.next_reading import as_dict as next_as_dict
from firstoff.launch.explaining.next_reading import next_readings
from firstoff.launch.explaining.suspects import Prepared, columns_of, good_scene, prepare
from firstoff.launch.plan import LaunchPlan, left_out, with_asked
from firstoff.launch.traces.traces import runs_as_dicts
from firstoff.sheets.units import format_value
from firstoff.trials.explain import MISFIT, Cause, Explanation, Hint
from firstoff.trials.explain import explain as compare
from firstoff.trials.next_reading import NextReading
from firstoff.trials.readings import Trial
from firstoff.trials.scene import Scene, anchored

ADDED = (
    "shifts of two faults at once are added; pairs are looked for in all parts only, and those that fit best: assumed"
)

UNEXPLAINED = 0.5  # probability of something undeclared from which on everything is calibrated at once


@dataclass(frozen=True)
class LaunchExplanation:
    """The causes of a trial's readings, ranked, with what the stations say about each."""

    plan: LaunchPlan
    trial: Trial
    prepared: Prepared
    found: Explanation
    anchored: bool
    wide: Scene  # the scene compared, with empty columns of what could still be measured
    scene: Scene  # as it was compared: with the known-good lot in it, when there was one
    good: Trial | None = None
    calibration: Calibration | None = None  # where no declared cause explains the readings

    @cached_property
    def next(self) -> tuple[NextReading, ...]:
        """What to measure next: the most expected information a minute first, SI."""
        return next_readings(self.plan, self.prepared, self.wide, self.found)

    @property
    def faults(self) -> Mapping[str, Fault]:
        return {f.name: f for f in self.plan.job.family.faults}

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What was taken without evidence."""
        said = [*self.prepared.assumptions, ADDED]
        if not self.anchored:
            said.append("no known-good lot: the model's own bias is an unknown, and the answer is weaker for it")
        unseen = left_out(self.plan)
        said += [f"not computed with it, for none of it was read: {', '.join(unseen)}"] if unseen else []
        stated = self.plan.job.fault_rates
        sources = dict.fromkeys(f.source for f in self.faults.values())
        said += [f"frequency and sizes of faults, where the plant sheet says nothing: {source}" for source in sources]
        for name, (rate, where) in stated.items():
            if name not in self.faults:
                continue  # only a check shows it, and nobody asked for that
            how = f"happens in {rate:.3g} of 1000 launches" if rate else "is excluded: it never happens"
            said.append(f"{self.faults[name].title} {how} ({where})")
        return tuple(said)

    def size_text(self, cause: Cause) -> str:
        """`rebound relief preload 15 N low`; empty for a cause without a size, or for a pair."""
        fault = self.faults.get(cause.name)
        if fault is None or cause.size is None or fault.kind == "discrete":
            return ""
        move = fault.moves[0]
        if fault.acts == "parameters":
            value = self.prepared.values[move.name]
            change = cause.size if move.how == "add" else value.nominal * (cause.size - 1.0)
            unit = "K" if value.unit == "degC" else value.unit
            return f"{move.name.split('.')[1].replace('_', ' ')} {format_value(abs(change), unit, 3)} {_side(change)}"
        what = "speed" if fault.acts == "speed" else self.plan.job.family.readings
        if move.how == "add":
            return f"{what} {format_value(abs(cause.size), self._unit_of(move.name), 3)} {_side(cause.size)}"
        return f"{what} {abs(cause.size - 1.0):.1%} {_side(cause.size - 1.0)}"

    def hint_text(self, hint: Hint) -> str:
        """`rebound port diameter 0.08 mm low`; gauges by their gain or zero."""
        value = self.prepared.values.get(hint.name)
        if value is None:
            factor = not hint.name.startswith("zero")  # a gain, or a factor of what several places have in common
            change = hint.size - 1.0 if factor else hint.size
            size = f"{abs(change):.1%}" if factor else format_value(abs(change), self._unit_of(hint.name), 3)
            return f"{hint.title} {size} {_side(change)}"
        unit = "K" if value.unit == "degC" else value.unit
        return f"{hint.title} {format_value(abs(hint.size), unit, 3)} {_side(hint.size)}"

    def _unit_of(self, pattern: str) -> str:
        """Unit of the readings that a fault or a gauge's zero adds to."""
        stem = pattern.removeprefix("zero of ").split("*")[0]
        units = {c.name: c.unit for c in self.plan.characteristics.values()}
        return next((unit for name, unit in units.items() if name.startswith(stem)), self.plan.job.family.readings_unit)

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values; sizes as the faults declare them, SI."""
        found = asdict(self.found)
        for row, cause in zip(found["causes"], self.found.causes, strict=True):
            row["size_text"] = self.size_text(cause)
            row["stated_by"] = [_stated(self.faults[name]) for name in cause.name.split(" + ") if name in self.faults]
        return {
            **found,
            "calibration": None if self.calibration is None else asdict(self.calibration),
            "readings_file": self.trial.file,
            "traces": runs_as_dicts(self.trial),
            "anchored": self.anchored,
            "next": [next_as_dict(r) for r in self.next],
            "characteristics": list(self.prepared.scene.names),
            "not_used": list(self.prepared.not_used),
            "not_computed": list(self.prepared.not_computed),
            "not_seen": list(self.plan.job.family.not_seen),
            "assumptions": list(self.assumptions),
        }


def _side(change: float) -> str:
    return "high" if change > 0 else "low"


def _stated(fault: Fault) -> dict[str, Any]:
    return {
        "fault": fault.name,
        "kind": fault.kind,
        "per_thousand": fault.per_thousand,
        "confirm": fault.confirm,
        "cure": fault.cure,
        "beware": fault.beware,
    }


def read_trial(plan: LaunchPlan, readings: Path, table: str | None = None, traces: Sequence[Path] = ()) -> Trial:
    """The readings in a CSV or xlsx file, with those of their parts' raw traces. Raises InputFault."""
    return prove.read_trial(plan.job, plan, readings, table, traces)


def read_trials(
    plan: LaunchPlan, readings: Path, good: Path | None = None, table: str | None = None, traces: Sequence[Path] = ()
) -> tuple[Trial, Trial | None]:
    """The same, and those of a known-good lot; a trace goes to whichever has its part. Raises InputFault."""
    return prove.read_trials(plan.job, plan, readings, good, table, traces)


def explain(plan: LaunchPlan, trial: Trial, good: Trial | None = None) -> LaunchExplanation:
    """Rank the causes of the readings of one lot.

    good: readings of a known-good lot on the same rig, as an anchor: the model is then trusted for shifts only.
    Raises InputFault when no station computes what was read, or when there are several lots.
    """
    plan = with_asked(plan, {r.characteristic for r in trial.readings})
    prepared = prepare(plan, trial)
    wide = prepared.wide
    if good is not None:
        wide = anchored(wide, good_scene(plan, good, prepared))
    scene = columns_of(wide, [wide.names.index(name) for name in prepared.scene.names])
    found = compare(scene, prepared.suspects)
    free = None
    if found.other >= UNEXPLAINED or (found.none < 0.5 and found.fit < MISFIT):
        free = calibrate(plan, tuple(prepared.values.values()), scene, prepared.units)
    return LaunchExplanation(plan, trial, prepared, found, good is not None, wide, scene, good, free)


def explain_files(
    plan: LaunchPlan, readings: Path, good: Path | None = None, table: str | None = None, traces: Sequence[Path] = ()
) -> LaunchExplanation:
    """`explain` of the readings in files, read as `read_trials` does. Raises InputFault."""
    return explain(plan, *read_trials(plan, readings, good, table, traces))
