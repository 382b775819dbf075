"""Demo: the main job on the examples, from their sheets and readings."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.launch.correcting.correct import LaunchCorrection, correct
from firstoff.launch.correcting.write import write_correction
from firstoff.launch.curve import write_curve
from firstoff.launch.explaining.explain import LaunchExplanation, explain, read_trial
from firstoff.launch.folder import write_explanation, write_plan, write_prediction, write_proof
from firstoff.launch.job import Job, read_job
from firstoff.launch.owner import folder_for
from firstoff.launch.plan import LaunchPlan, plan, with_asked
from firstoff.launch.predict import BUILDS, SHARE_BUILDS, LaunchPrediction, Progress, predict
from firstoff.launch.prove import Proof, prove
from firstoff.launch.recorded.demo import decided
from firstoff.launch.release import LaunchRelease, weigh, write_release
from firstoff.launch.report import LaunchReport, write_report
from firstoff.launch.test_plan.paper import write_test_plan
from firstoff.launch.test_plan.test_plan import TestPlan, test_plan
from firstoff.launch.write import write_text

EXAMPLES = {
    "light_truck_front": ("damper.toml", "plant.toml", "first_offs.csv", "good_lot.csv", "parts.toml", "vehicle.toml"),
    "low_sports_car_front": ("damper.toml", "plant.toml", "vehicle.toml"),
    "soft_saloon_front": ("damper.toml", "plant.toml", "vehicle.toml"),
    "truck_front_bumper": ("bumper.toml", "plant.toml", "first_offs.csv", "good_lot.csv"),
    "chrome_rear_bumper": ("bumper.toml", "plant.toml", "first_offs.csv", "good_lot.csv"),
    "truck_rear_bumper": ("bumper.toml", "plant.toml", "first_offs.csv", "good_lot.csv"),
    "chrome_line": ("line.json",),
}


def copy_example(name: str, folder: Path) -> Path:
    """Copy an example's sheets and readings into `folder`, and return the path of the first.

    InputFault when one of them is there already and has been changed: nothing is written over.
    """
    with as_file(files("firstoff") / "examples" / name) as source:
        texts = {file: (source / file).read_text("utf-8") for file in EXAMPLES[name]}
    changed = [folder / file for file, text in texts.items() if not _same(folder / file, text)]
    if changed:
        what = "is there already and differs from the example; nothing was written"
        raise InputFault([Message(what, file=str(path), allowed="another folder by --to") for path in changed])
    for file, text in texts.items():
        write_text(folder / file, text)
    return folder / EXAMPLES[name][0]


def _same(path: Path, text: str) -> bool:
    """Whether a file is not there, or holds this text."""
    return not path.exists() or (path.is_file() and path.read_bytes() == text.encode("utf-8"))


@dataclass(frozen=True)
class Walk:
    """One example launch through all verbs, and what each of them found."""

    sheet: Path
    job: Job
    plan: LaunchPlan
    tests: TestPlan
    prediction: LaunchPrediction
    proof: Proof
    explanation: LaunchExplanation
    correction: LaunchCorrection
    release: LaunchRelease

    def as_dict(self) -> dict[str, Any]:
        """The results of the verbs as plain values, SI."""
        return {
            "plan": self.plan.as_dict(), "predict": self.prediction.as_dict(), "prove": self.proof.as_dict(),
            "explain": self.explanation.as_dict(), "correct": self.correction.as_dict(),
            "release": self.release.as_dict(),
        }  # fmt: skip


def walk(sheet: Path, progress: Progress, builds: int = BUILDS, shares: int = SHARE_BUILDS) -> Walk:
    """Take a copied example through all verbs, and write what each has to say into the folder of its sheet.

    Costly checks, such as the hits of a bumper, are left to whoever asks for them.
    """
    folder = sheet.parent
    job = read_job(sheet)
    folder_for(job, folder)
    settled = with_asked(plan(job), ())
    tests = test_plan(job, settled)
    write_plan(settled, folder, tests)
    write_test_plan(tests, folder)
    prediction = predict(settled, builds, progress=progress, share_builds=shares)
    progress(0, 1, "drawing figures")
    write_prediction(prediction, folder)
    proof = prove(job, folder / "first_offs.csv")
    write_proof(proof, folder)
    write_curve(prediction, folder, proof.by_part)
    progress(0, 1, "comparing the causes")
    explanation = explain(settled, proof.trial, read_trial(settled, folder / "good_lot.csv"))
    write_explanation(explanation, folder)
    progress(0, 1, "searching for corrections")
    correction = correct(explanation)
    write_correction(correction, folder)
    release = weigh(proof, prediction, (explanation,))
    write_release(release, folder)
    progress(0, 1, "printing")
    extra = decided(job, release, folder)
    write_report(LaunchReport(job, settled, prediction, release, (correction,)), folder, extra)
    return Walk(sheet, job, settled, tests, prediction, proof, explanation, correction, release)
