"""What each kind of job computes: a verb, its pages in the launch folder, and its result for the board's pages."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from firstoff import launch as verbs
from firstoff.board.launches import Launch, line_sheet
from firstoff.launch.account_release import against, missing_text
from firstoff.launch.account_release import row as release_row
from firstoff.launch.correcting.account import move_text, outside_text, title_of, why
from firstoff.launch.correcting.account import row as correction_row
from firstoff.launch.dossier.record import of_records
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.launch.explaining.next_reading import SHOWN, next_text
from firstoff.launch.predict import BUILDS, Progress, pairs_for
from firstoff.launch.recorded.account import decided_text
from firstoff.launch.recorded.authority import are_there, records_place
from firstoff.launch.recorded.standing import standing
from firstoff.launch.release import explain_lots
from firstoff.plain import plain
from firstoff.records import open_records
from firstoff.report.tables import probability

Found = tuple[Mapping[str, Any], Mapping[str, str]]


def run(kind: str, launch: Launch, progress: Progress, builds: int = BUILDS) -> Found:
    """The result as plain values, and what it was made from. Raises InputFault for what an engineer must mend.

    builds: trial builds, where some are made.
    """
    makers: dict[str, Callable[[Launch, Progress], Mapping[str, Any]]] = {
        "predict": partial(_predict, builds=builds), "explain": _explain, "correct": _correct,
        "release": partial(_release, builds=builds), "report": partial(_report, builds=builds), "line": _line,
    }  # fmt: skip
    rests_on = {"predict": ("sheets",), "line": ("line",)}.get(kind, ("sheets", "readings", "good"))
    made_from = {name: digest for name, digest in launch.inputs.items() if name in rests_on}
    found = plain(makers[kind](launch, progress))
    return found, made_from


def _predict(launch: Launch, progress: Progress, builds: int) -> Mapping[str, Any]:
    job = verbs.read_job(launch.sheet)
    folder = verbs.folder_for(job, launch.folder)
    settled = verbs.plan(job)
    found = verbs.predict(settled, builds, progress=progress, share_builds=pairs_for(builds))
    progress(0, 1, "drawing the figures")
    verbs.write_plan(settled, folder)
    by_part = verbs.prove(job, launch.readings).by_part if launch.readings else None
    figures = [*verbs.write_prediction(found, folder), *verbs.write_curve(found, folder, by_part)]
    figures += [*verbs.write_hits(settled, folder), *verbs.write_frames(settled, folder)]
    return {"prediction": found.as_dict(), "figures": _svgs(figures)}


def _explained(launch: Launch, progress: Progress) -> tuple[verbs.Proof, tuple[LaunchExplanation, ...], list[str]]:
    job = verbs.read_job(launch.sheet)
    settled = verbs.plan(job)
    progress(0, 1, "judging the readings")
    proof = verbs.prove(job, _readings(launch), good=launch.good)
    progress(0, 1, "comparing the causes")
    found, notes = explain_lots(settled, proof.trial, proof.good)
    return proof, found, list(notes)


def _readings(launch: Launch) -> Path:
    assert launch.readings is not None  # the page offers no such job before there are readings
    return launch.readings


def _explain(launch: Launch, progress: Progress) -> Mapping[str, Any]:
    _, found, notes = _explained(launch, progress)
    lots: list[dict[str, Any]] = []
    figures: list[Path] = []
    for one in found:
        progress(0, 1, "weighing what to measure next")
        lots.append(explanation_as_shown(one))
        figures += verbs.write_explanation(one, verbs.folder_for(one.plan.job, launch.folder))
    return {"lots": lots, "notes": notes, "figures": _svgs(figures)}


def explanation_as_shown(one: LaunchExplanation) -> dict[str, Any]:
    """An explanation with the words that its page prints."""
    shown = one.as_dict()
    titles = {name: fault.title for name, fault in one.faults.items()}
    for row in shown["causes"]:
        row["alike_titles"] = [titles.get(name, name) for name in row["alike"]]
        row["p_text"] = probability(row["probability"])
        rates = [each["per_thousand"] for each in row["stated_by"]]
        row["before_text"] = probability(min(rates) / 1000.0) if len(rates) == 1 else ""
    count = 1 if one.found.none >= 0.5 else SHOWN
    return {
        **shown,
        "lot": one.trial.readings[0].lot,
        "none_text": probability(one.found.none),
        "other_text": probability(one.found.other),
        "unseen_titles": [titles.get(name, name) for name in one.found.unseen],
        "next_text": next_text(one.plan, one.next, count, 200),
    }


def _correct(launch: Launch, progress: Progress) -> Mapping[str, Any]:
    _, explanations, notes = _explained(launch, progress)
    lots: list[dict[str, Any]] = []
    figures: list[Path] = []
    for one in explanations:
        progress(0, 1, "searching for corrections")
        found = verbs.correct(one)
        figures += verbs.write_correction(found, verbs.folder_for(one.plan.job, launch.folder)) if not lots else []
        lots.append(correction_as_shown(found))
    return {"lots": lots, "notes": notes, "figures": _svgs(figures)}


def correction_as_shown(found: verbs.LaunchCorrection) -> dict[str, Any]:
    """A correction with the words that its page prints."""
    shown = found.as_dict()
    for row, one in zip(shown["corrections"], found.corrections, strict=True):
        row["title"] = title_of(one, found)
        row["why"] = why(one, found)
        row["p_text"] = probability(one.probability)
        row["moves_text"] = [move_text(move, found) for move in one.moves]
        row["rows"] = [correction_row(line, found) for line in one.lines if line.before.outside is not None]
        row["outside_text"] = outside_text(one.outside, found.trial_builds)
    named = [{"title": w.title, "who": w.who, "p_text": probability(w.stated)} for w in found.ways]
    return {
        **shown,
        "lot": found.explanation.trial.readings[0].lot,
        "top": named[0],
        "others": [{"title": w.title, "p_text": probability(w.stated)} for w in found.confirm],
        "outside_text": outside_text(found.outside, found.trial_builds),
        "stays_text": probability(found.stays),
    }


def _release(launch: Launch, progress: Progress, builds: int) -> Mapping[str, Any]:
    job = verbs.read_job(launch.sheet)
    found = verbs.release(job, _readings(launch), launch.good, builds=builds, progress=progress)
    verbs.write_release(found, verbs.folder_for(job, launch.folder), _decided(job, launch, found))
    return release_as_shown(found)


def _decided(job: verbs.Job, launch: Launch, found: verbs.LaunchRelease) -> str:
    """What the records say of the launch, for its page; nothing where there are none."""
    if not are_there(None, launch.folder):
        return ""
    with open_records(records_place(None, launch.folder), create=False) as records:
        return "\n".join(decided_text(standing(records, job, launch.readings, found)))


def release_as_shown(found: verbs.LaunchRelease) -> dict[str, Any]:
    """A recommendation with the words that its page prints."""
    rows = [
        {"row": release_row(found, f), "word": f.word, "safety": f.safety, "missing": missing_text(found, f),
         "against": [r.what for r in against(f)]}
        for f in found.found.findings
    ]  # fmt: skip
    return {**found.as_dict(), "rows": rows}


def _report(launch: Launch, progress: Progress, builds: int) -> Mapping[str, Any]:
    job = verbs.read_job(launch.sheet)
    folder = verbs.folder_for(job, launch.folder)
    found = verbs.report(job, launch.readings, launch.good, builds=builds, progress=progress)
    progress(0, 1, "printing")
    extra = of_records(None, launch.folder, job, launch.readings, found.release)
    written = verbs.write_report(found, folder, extra)
    return {"files": [file.relative_to(folder).as_posix() for file in written], "figures": _svgs(written)}


def _line(launch: Launch, progress: Progress) -> Mapping[str, Any]:
    from firstoff.launch.line.account import plan_dict, plan_text
    from firstoff.launch.line.folder import write_line
    from firstoff.launch.line.moves import moves_csv, rows_of
    from firstoff.launch.line.plan import plan_plant

    sheet = line_sheet(launch)
    assert sheet is not None  # the page offers no such job without a line
    progress(0, 1, "searching for the timetable")
    found = plan_plant(sheet)
    shown: dict[str, Any] = {"plan": plan_dict(found), "text": plan_text(found), "moves": [], "figures": []}
    if found.answer.table is not None:
        progress(0, 1, "drawing the chart")
        shown["figures"] = _svgs(write_line(found, launch.folder))
        shown["moves"] = list(csv.reader(io.StringIO(moves_csv(rows_of(found)))))
    return shown


def _svgs(files: list[Path]) -> list[str]:
    return list(dict.fromkeys(file.name for file in files if file.suffix == ".svg"))
