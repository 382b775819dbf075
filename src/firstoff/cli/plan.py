"""`firstoff plan`."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from firstoff.cli.output import envelope, progress


@click.command("plan")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option(
    "--place",
    type=click.Choice(("charge", "evenness")),
    help="Of a plated bumper: where rack, anodes and shields had better hang, for the least current × time or the most "
    "even thickness.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(sheet: Path, folder: Path | None, place: Literal["charge", "evenness"] | None, as_json: bool) -> None:
    """Settle how each station of SHEET is set, and how its first-offs are tested.

    Where the plant sheet has a plating line, a bumper's windows are put to its timetable.
    Writes plan.md, one setup sheet per station and the first-off sheet (PDF, and xlsx to fill in)."""
    from firstoff.launch import account, folder_for, plan, plan_finish, read_job, test_plan, write_plan, write_test_plan
    from firstoff.launch.finishing.account import finish_dict, finish_text
    from firstoff.launch.test_plan.paper import FILES, test_plan_text

    job = read_job(sheet)
    if folder or not as_json:
        folder = folder_for(job, folder)
    settled = plan(job)
    tests = test_plan(job, settled)
    with progress("searching for the line's timetable", quiet=as_json or job.plant_file is None):
        finish = plan_finish(settled)
    places = None
    if place:
        from firstoff.launch.finishing.placing import place as find_places
        from firstoff.launch.finishing.placing import places_dict, places_text

        with progress("solving layouts of the tank", quiet=as_json):
            places = find_places(settled, place)
    if folder:
        write_plan(settled, folder, tests, finish)
        write_test_plan(tests, folder)
    if as_json:
        result = {**settled.as_dict(), "test_plan": tests.as_dict()}
        result |= {"finish": finish_dict(finish)} if finish else {}
        result |= {"places": places_dict(places)} if places else {}
        click.echo(envelope("plan", result, [*job.remarks, *settled.warnings], sheet_sha256=job.sha256))
        return
    click.echo(account.plan_text(settled))
    if finish:
        click.echo("\n" + finish_text(finish))
    if places:
        click.echo("\n" + places_text(places))
    click.echo("\n" + test_plan_text(tests))
    click.echo(f"\nWritten: {folder}/plan.md, {folder}/setup/ and {', '.join(f'{folder}/{name}' for name in FILES)}")
