"""Report: setup sheets for the shop floor and the dossier to be signed, as PDF."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstoff.launch.correcting.correct import LaunchCorrection, correct
from firstoff.launch.correcting.write import draw
from firstoff.launch.curve import write_curve
from firstoff.launch.dossier import evidence, paper
from firstoff.launch.dossier.correction import correction_sections
from firstoff.launch.finishing.page import window_pages
from firstoff.launch.folder import write_shares
from firstoff.launch.hit_film import NOTE, drawn_hits, write_hits
from firstoff.launch.job import Job
from firstoff.launch.owner import claim
from firstoff.launch.plan import LaunchPlan, plan
from firstoff.launch.predict import BUILDS, SEED, LaunchPrediction, Progress, pairs_for, predict
from firstoff.launch.prove import prove
from firstoff.launch.release import LaunchRelease, explain_lots, not_planned, weigh
from firstoff.launch.setup_pages import setup_pages
from firstoff.launch.thickness_map import ALT, TITLE, write_thickness
from firstoff.launch.traces.loops import drawn, write_loops
from firstoff.launch.write import write_bytes
from firstoff.report.pages import Figure, Section
from firstoff.report.printing import paper_pdf, setup_pdf

NOTHING = 0.5  # probability that nothing is wrong from which on no correction is looked for
BEFORE_AFTER = "Before and after the first correction"
BEFORE_AFTER_ALT = (
    "Each characteristic's interval before and after, between its limits. The figures stand in the table."
)


@dataclass(frozen=True)
class LaunchReport:
    """What the papers are made from. Without a plan there are no setup sheets; without readings no recommendation."""

    job: Job
    plan: LaunchPlan | None
    prediction: LaunchPrediction | None
    release: LaunchRelease | None
    corrections: tuple[LaunchCorrection, ...] = ()  # of each lot that something is wrong with

    def as_dict(self, files: Sequence[Path], folder: Path) -> dict[str, Any]:
        """The files by their place in the folder, with digest and size, and the recommendation."""
        return {
            "folder": str(folder),
            "files": [
                {"file": f.relative_to(folder).as_posix(), "sha256": hashlib.sha256(f.read_bytes()).hexdigest(),
                 "bytes": f.stat().st_size}
                for f in files
            ],
            "recommended": self.release.found.word if self.release else None,
            "signed": False,
        }  # fmt: skip


def report(
    job: Job, readings: Path | None = None, good: Path | None = None, table: str | None = None,
    builds: int = BUILDS, seed: int = SEED, workers: int | None = None, progress: Progress | None = None,
    traces: Sequence[Path] = (),
) -> LaunchReport:  # fmt: skip
    """Everything a dossier holds: plan, prediction and, with readings, proof, explanation and recommendation.

    A sheet of limits alone needs readings. Raises InputFault for faults of the sheet or the readings.
    """
    proof = prove(job, readings, None, table, traces, good) if readings else None
    settled = proof.plan if proof else plan(job)
    if settled is None:
        return LaunchReport(job, None, None, weigh(proof, None, (), (not_planned(proof),)) if proof else None)
    prediction = predict(settled, builds, seed, workers, progress=progress, share_builds=pairs_for(builds))
    if proof is None:
        return LaunchReport(job, settled, prediction, None)
    if progress:
        progress(0, 1, "comparing the causes")
    explanations, notes = explain_lots(settled, proof.trial, proof.good)
    if progress:
        progress(0, 1, "searching for corrections")
    corrections = tuple(correct(e) for e in explanations if e.found.none < NOTHING)
    return LaunchReport(job, settled, prediction, weigh(proof, prediction, explanations, notes), corrections)


def write_setup_sheets(settled: LaunchPlan, folder: Path) -> list[Path]:
    """`setup/op030-piston_valve.pdf` and so on, and all of them as one bundle, `setup-sheets.pdf`."""
    claim(settled.job, folder)
    pages = [*setup_pages(settled), *window_pages(settled)]
    made = [(folder / "setup" / f"{stem}.pdf", setup_pdf([page])) for stem, page in pages]
    made.append((folder / "setup-sheets.pdf", setup_pdf([page for _, page in pages])))
    return [write_bytes(path, data) for path, data in made]


def write_report(found: LaunchReport, folder: Path, extra: Sequence[Section] = ()) -> list[Path]:
    """Setup sheets, figures and `dossier.pdf`. `extra`: sections of further verbs, printed after the explanation."""
    written = write_setup_sheets(found.plan, folder) if found.plan else []
    claim(found.job, folder)
    shown = []
    if found.prediction:
        by_part = found.release.proof.by_part if found.release else None
        shown = [*write_shares(found.prediction, folder), *write_curve(found.prediction, folder, by_part)]
    figures = {path.name: _figure(path, found.job) for path in shown}
    sections, more = _corrections(found, folder)
    hits = write_hits(found.plan, folder) if found.plan else []
    if hits:
        more += hits
        sections = [Section("Hits over time", items=(NOTE,), figures=drawn_hits(hits)), *sections]
    if found.release and found.plan and found.release.proof.trial.runs:
        explained = [e.good for e in found.release.explanations if e.good]
        loops = write_loops(found.plan, found.release.proof.trial, folder, explained[0] if explained else None)
        more += loops
        sections = [Section("Force loops", figures=tuple(drawn(path) for path in loops)), *sections]
    if found.plan:
        by_part = found.release.proof.by_part if found.release else None
        plated = write_thickness(found.plan, folder, found.prediction, by_part)
        more += plated
        shown_there = tuple(Figure(path.read_text("utf-8"), TITLE, ALT) for path in plated)
        sections = [Section("Plating", figures=shown_there), *sections] if plated else sections
    made = paper(found.job, found.plan, found.prediction, found.release, figures, [*sections, *extra])
    return [*written, *shown, *more, write_bytes(folder / "dossier.pdf", paper_pdf(made))]


def _corrections(found: LaunchReport, folder: Path) -> tuple[list[Section], list[Path]]:
    """The corrections of each lot, and the figure of the first."""
    sections, drawn = [], []
    for i, correction in enumerate(found.corrections):
        path = draw(correction, folder) if i == 0 else None
        figure = Figure(path.read_text("utf-8"), BEFORE_AFTER, BEFORE_AFTER_ALT) if path else None
        drawn += [path] if path else []
        lot = correction.explanation.trial.readings[0].lot if len(found.corrections) > 1 else ""
        sections += correction_sections(correction, figure, lot)
    return sections, drawn


def _figure(path: Path, job: Job) -> Figure:
    words = {
        evidence.CURVE: ("Damping force over rod speed: trial builds, limits and readings",
                         "Force in newtons over rod speed, rebound positive: nominal, band of 99.7 % of the trial "
                         "builds, brackets at the limits, a mark for each reading; below, the same in per cent of half "
                         "the tolerance. The figures stand in the tables."),
        evidence.SHARES: ("Share of scatter by station",
                          "Stations in process order against characteristics; each cell is the share of the "
                          "characteristic's scatter in per cent that the station causes."),
    }  # fmt: skip
    title, alt = words.get(path.name, (job.name, job.name))
    return Figure(path.read_text("utf-8"), title, alt)
