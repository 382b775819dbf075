"""`firstoff demo`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from firstoff.cli.output import envelope, progress

LINE_SECONDS = 10.0  # for the crane's search; the example takes a few hundredths


@click.command("demo")
@click.option("--to", "folder", type=click.Path(path_type=Path), default=Path("firstoff-demo"), show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(folder: Path, as_json: bool) -> None:
    """Run the main job on the example launch: plan, predict, prove, explain, correct, release, report, line."""
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff import launch
        from firstoff.launch import account, account_correct, account_explain, account_proof, account_release
        from firstoff.launch.demo import copy_example
        from firstoff.launch.demo_record import decided
        from firstoff.launch.line import as_dict, line_from_case, line_text

        report(0, 1)
        sheet, case = (copy_example(name, folder) for name in ("light_truck_front", "chrome_line"))
        job = launch.read_job(sheet)
        launch.folder_for(job, folder)
        plan = launch.plan(job)
        launch.write_plan(plan, folder)
        prediction = launch.predict(plan, progress=report)
        report(0, 1, "drawing figures")
        launch.write_prediction(prediction, folder)
        proof = launch.prove(job, folder / "first_offs.csv")
        launch.write_proof(proof, folder)
        launch.write_curve(prediction, folder, proof.by_part)
        report(0, 1, "comparing the causes")
        good = launch.read_trial(plan, folder / "good_lot.csv")
        explanation = launch.explain(plan, proof.trial, good)
        launch.write_explanation(explanation, folder)
        report(0, 1, "searching for corrections")
        correction = launch.correct(explanation)
        launch.write_correction(correction, folder)
        release = launch.weigh(proof, prediction, (explanation,))
        launch.write_release(release, folder)
        report(0, 1, "printing")
        extra = decided(job, release, folder)
        launch.write_report(launch.LaunchReport(job, plan, prediction, release, (correction,)), folder, extra)
        report(0, 1, "searching for the crane's timetable")
        line, answer = line_from_case(case, loads=1, time_limit=LINE_SECONDS)
    if as_json:
        verbs: dict[str, Any] = {"plan": plan, "predict": prediction, "prove": proof, "explain": explanation,
                                 "correct": correction, "release": release}  # fmt: skip
        result = {name: found.as_dict() for name, found in verbs.items()} | {"line": as_dict(line, answer)}
        click.echo(envelope("demo", result, seed=prediction.builds.seed, sheet_sha256=job.sha256))
        return
    for text in (account.plan_text(plan), account.predict_text(prediction), account_proof.prove_text(proof)):
        click.echo(text + "\n")
    click.echo(account_proof.lot_summary(proof) + "\n")
    click.echo(account_explain.explain_text(explanation) + "\n")
    click.echo(account_correct.correct_text(correction) + "\n")
    click.echo(account_release.release_text(release) + "\n")
    click.echo(f"LINE  {line_text(line, answer)}")
    click.echo(f"\nWhere to look: {folder}/")
    for name, what in LOOK.items():
        click.echo(f"  {name:24s}{what}")
    click.echo(f"Try your own: firstoff new damper --to my-launch, or change {sheet} and predict again.")


LOOK = {
    "force-velocity.svg": "spread of the trial builds, limits and the eight first-offs",
    "share-of-scatter.svg": "which station carries the scatter: the route card",
    "plan.md, setup/": "settings, assumptions with their source, one setup sheet per station",
    "predict.md": "the prediction",
    "prove.md, verdicts.csv": "the verdicts",
    "explain.md": "the likely cause, and what to measure next",
    "correct.md, correct.svg": "which setting to move, and what else that moves",
    "release.md": "the recommendation, with reasons and open actions",
    "setup-sheets.pdf": "a page for the wall at each machine",
    "dossier.pdf": "all of it, with a decision that an invented person signed",
    "demo.db": "the records; firstoff records verify --records FILE",
}
