"""`firstoff demo`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope, progress

BUMPER_BUILDS, BUMPER_SHARES = 4096, 256  # trial builds: forming takes longer than the rig
LINE_SECONDS = 10.0  # for the crane's search; the example takes a few hundredths


@click.command("demo")
@click.option("--to", "folder", type=click.Path(path_type=Path), default=Path("firstoff-demo"), show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(folder: Path, as_json: bool) -> None:
    """Run the main job on both example launches: plan, predict, prove, explain, correct, release, report; and line."""
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff.launch import account, account_proof, account_release
        from firstoff.launch.correcting import account as account_correct
        from firstoff.launch.demo import copy_example, walk
        from firstoff.launch.explaining import account as account_explain
        from firstoff.launch.line.case import as_dict, line_from_case, line_text
        from firstoff.launch.test_plan.paper import test_plan_short

        report(0, 1)
        sheet, case = (copy_example(name, folder) for name in ("light_truck_front", "chrome_line"))
        bumper = copy_example("truck_rear_bumper", folder / "bumper")
        damper, pressed = walk(sheet, report), walk(bumper, report, BUMPER_BUILDS, BUMPER_SHARES)
        report(0, 1, "searching for the crane's timetable")
        line, answer = line_from_case(case, loads=1, time_limit=LINE_SECONDS)
    if as_json:
        result = damper.as_dict() | {"bumper": pressed.as_dict(), "line": as_dict(line, answer)}
        sheets = damper.job.sha256
        click.echo(envelope("demo", result, seed=damper.prediction.builds.seed, sheet_sha256=sheets))
        return
    for done in (damper, pressed):
        click.echo(account.plan_text(done.plan) + "\n")
        click.echo(test_plan_short(done.tests) + "\n")
        click.echo(account.predict_text(done.prediction) + "\n")
        click.echo(account_proof.prove_text(done.proof) + "\n")
        click.echo(account_proof.lot_summary(done.proof) + "\n")
        click.echo(account_explain.explain_text(done.explanation) + "\n")
        click.echo(account_correct.correct_text(done.correction) + "\n")
        click.echo(account_release.release_text(done.release) + "\n")
    click.echo(f"LINE  {line_text(line, answer)}")
    click.echo(f"\nWhere to look: {folder}/")
    for name, what in LOOK.items():
        click.echo(f"  {name:28s}{what}")
    click.echo(f"From a vehicle: firstoff target {folder / 'vehicle.toml'} --curve {sheet}.")
    click.echo(f"Try your own: firstoff new damper --to my-launch, or change {sheet} and predict again.")
    click.echo(f"The same on pages, for a launch team: firstoff serve {folder.parent}")


LOOK = {
    "force-velocity.svg": "spread of the trial builds, limits and the eight first-offs",
    "share-of-scatter.svg": "which station carries the scatter: the route card",
    "plan.md, setup/": "settings, assumptions with their source, one setup sheet per station",
    "first-off-sheet.pdf, .xlsx": "which first-offs to read, in which order; filled in, the xlsx goes to prove",
    "predict.md": "the prediction",
    "prove.md, verdicts.csv": "the verdicts",
    "explain.md": "the likely cause, and what to measure next",
    "correct.md, correct.svg": "which setting to move, and what else that moves",
    "release.md": "the recommendation, with reasons and open actions",
    "setup-sheets.pdf": "a page for the wall at each machine",
    "dossier.pdf": "all of it, with a decision that an invented person signed",
    "demo.db": "the records; firstoff records verify --records FILE",
    "bumper/": "the same for the pressed bumper: dies, springback, tonnage",
}
