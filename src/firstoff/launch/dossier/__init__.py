"""The dossier: what the evidence of a launch comes to, section by section, as a paper to be signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from firstoff import __version__
from firstoff.launch.dossier import evidence, foundations, verdict
from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.predict import LaunchPrediction
from firstoff.launch.release import LaunchRelease
from firstoff.report.pages import Figure, Paper, Section, Tone

TONES: Mapping[str, Tone] = {"release": "good", "concession": "open", "hold": "bad"}


def paper(
    job: Job,
    plan: LaunchPlan | None,
    prediction: LaunchPrediction | None,
    release: LaunchRelease | None,
    figures: Mapping[str, Figure],
    extra: Sequence[Section] = (),
) -> Paper:
    """The whole dossier from what there is; `extra`: sections of further verbs, after the explanation."""
    sections = verdict.sections(release) if release else []
    sections += foundations.plan_sections(plan) if plan else []
    sections += evidence.prediction_sections(prediction, figures) if prediction else []
    if release:
        sections += evidence.reading_sections(release.proof, figures)
        for explanation in release.explanations:
            sections += evidence.explanation_sections(explanation, several=len(release.explanations) > 1)
    sections += extra
    sections += foundations.closing_sections(job, plan, release)
    hashes = tuple((release.sha256 if release else job.sha256).items())
    whole = Paper(
        "Release dossier" if release else "Launch dossier", job.name, job.revision, job.plant, __version__,
        tuple(sections), hashes=hashes,
    )  # fmt: skip
    return verdict.headed(whole, release, TONES) if release else whole
