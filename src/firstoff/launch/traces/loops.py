"""The measured force loops of a trial beside the simulated one: the figure, and a table of what they gave."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.errors import counted
from firstoff.launch.explaining.shifts import middle
from firstoff.launch.plan import LaunchPlan
from firstoff.report.loop_figure import MOST_ROWS, Cycle, LoopRow, loop_figure
from firstoff.report.pages import Figure
from firstoff.report.tables import number, table
from firstoff.sheets.units import format_value, from_si, size_from_si
from firstoff.trials.readings import Run, Trial

FILE = "force-loops.svg"
TITLE = "Force loops, measured and simulated"
ALT = (
    "Force in newtons over displacement, and over velocity: the mean loop of each measured part, and the loop that the "
    "rig in motion gives at nominal settings. The figures stand in the tables."
)


def write_loops(plan: LaunchPlan, trial: Trial, folder: Path, good: Trial | None = None) -> list[Path]:
    """`force-loops.svg`; nothing when no trace was read."""
    if not trial.runs:
        return []
    titles = _titles(trial.runs)[:MOST_ROWS]
    rows = [_row(plan, title, trial.runs, good.runs if good else ()) for title in titles]
    name = f"{plan.job.name} {plan.job.revision}".strip()
    return [loop_figure(folder / FILE, rows=rows, title=f"{name}: force loops")]


def drawn(path: Path) -> Figure:
    """The figure for a paper."""
    return Figure(path.read_text("utf-8"), TITLE, ALT)


def _titles(runs: Sequence[Run]) -> list[str]:
    """Kinds of run: those with a loop's numbers, then crawling, then the other speeds."""
    first: dict[str, tuple[int, float]] = {}
    for r in runs:
        rank = 0 if any(name.startswith("loop_") for name in r.names) else 1 if r.crawling else 2
        first.setdefault(r.title, (rank, -r.speed))
    return sorted(first, key=lambda title: first[title])


def _row(plan: LaunchPlan, title: str, runs: Sequence[Run], good: Sequence[Run]) -> LoopRow:
    of = [r for r in runs if r.title == title]
    warm = [r.temperature for r in of if r.temperature is not None]
    temperature = sum(warm) / len(warm) if warm else None
    parts = counted(len({(r.lot, r.part) for r in of}), "part")
    noise = format_value(math.sqrt(sum(r.noise**2 for r in of) / len(of)), "N", 2)
    cycles = sorted({r.cycles for r in of})
    count = f"{cycles[0]} cycles" if len(cycles) == 1 else f"{cycles[0]} to {cycles[-1]} cycles"
    head = f"{title[0].upper()}{title[1:]}: {parts}, {count} each, noise of a sample {noise}"
    return LoopRow(
        head, [_cycle(r) for r in of], [_cycle(r) for r in good if r.title == title],
        _simulated(plan, of[0], temperature), not of[0].crawling,
    )  # fmt: skip


def _cycle(r: Run) -> Cycle:
    return Cycle(r.travel, r.velocity, r.force)


def _simulated(plan: LaunchPlan, like: Run, temperature: float | None) -> Cycle | None:
    """The build at nominal settings in the same run, at the temperature of the test where it was noted."""
    job = plan.job
    if job.family.make_trace_station is None:
        return None
    station = job.family.make_trace_station(job.settings.speeds)
    values = values_of(plan.stations, plan.plans)
    known = {v.name for v in values}
    values = (*values, *(v for v in station.plan(job.settings).values if v.name not in known))
    if temperature is not None:
        values = tuple(replace(v, nominal=temperature) if v.name == job.family.temperature else v for v in values)
    columns = run(plan.stations, plan.plans, Ensemble(middle(values), {})).columns
    return Cycle(*station.simulated(columns, like.speed, like.crawling))


def traces_text(trial: Trial, units: dict[str, str], width: int = 120) -> str:
    """What the traces gave: runs, cycles, noise, and each characteristic with what the cycles leave open."""
    if not trial.runs:
        return ""
    said = []
    for title in _titles(trial.runs):
        of = [r for r in trial.runs if r.title == title]
        few, many = min(r.cycles for r in of), max(r.cycles for r in of)
        cycles = str(few) if few == many else f"{few} to {many}"
        noise = format_value(math.sqrt(sum(r.noise**2 for r in of) / len(of)), "N", 2)
        drift = format_value(max(abs(r.drift) for r in of), "N", 2)
        said.append((title, str(len(of)), cycles, noise, drift))
    runs = table(("traces", "n", "cycles", "noise of a sample", "most drift"), said, width=width)
    rows = []
    for name in dict.fromkeys(r.characteristic for r in trial.readings if r.run):
        of_name = [r for r in trial.readings if r.run and r.characteristic == name]
        unit = units.get(name, "1")
        mean = number(float(from_si(float(np.mean([r.value for r in of_name])), unit)), 4)
        sd = number(size_from_si(float(np.std([r.value for r in of_name], ddof=1)), unit), 3) if of_name[1:] else "–"
        u = number(size_from_si(math.sqrt(sum(r.u**2 for r in of_name) / len(of_name)), unit), 2)
        rows.append((name, unit, str(len(of_name)), mean, sd, u))
    heads = ("from the traces", "unit", "n", "mean", "sd of parts", "u of one, from its cycles")
    return "\n".join([runs, *(["", table(heads, rows, width=width)] if rows else [])])
