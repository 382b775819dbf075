"""`firstoff plan`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope


@click.command("plan")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(sheet: Path, folder: Path | None, as_json: bool) -> None:
    """Settle how each station of SHEET is set; write plan.md and one setup sheet per station."""
    from firstoff.launch import account, folder_for, plan, read_job, write_plan

    job = read_job(sheet)
    if folder or not as_json:
        folder = folder_for(job, folder)
    settled = plan(job)
    if folder:
        write_plan(settled, folder)
    if as_json:
        click.echo(envelope("plan", settled.as_dict(), [*job.remarks, *settled.warnings], sheet_sha256=job.sha256))
        return
    click.echo(account.plan_text(settled))
    click.echo(f"\nWritten: {folder}/plan.md and {folder}/setup/")
