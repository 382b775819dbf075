"""`firstoff correct`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.options import traces_option
from firstoff.cli.output import envelope, progress


@click.command("correct")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.argument("readings", type=click.Path(path_type=Path))
@click.option("--good", type=click.Path(path_type=Path), help="Readings of a known-good lot on the same rig.")
@click.option("--cause", default="", metavar="FAULT", help="A cause you have confirmed; default: what explain finds.")
@click.option("--size", default="", metavar="QUANTITY", help='Its size: a change ("-15 N") or a factor ("82 %").')
@traces_option
@click.option("--table", help="Sheet of a workbook; default: the first.")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(
    sheet: Path, readings: Path, good: Path | None, cause: str, size: str, traces: tuple[Path, ...],
    table: str | None, folder: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """Say which setting of SHEET to move, by how much, and what else that moves, so that the READINGS come back."""
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff.launch import correct, explain_files, folder_for, plan, read_job, write_correction
        from firstoff.launch.correcting.account import correct_text

        report(0, 1)
        job = read_job(sheet)
        if folder or not as_json:
            folder = folder_for(job, folder)
        settled = plan(job)
        report(0, 1, "comparing the causes")
        explanation = explain_files(settled, readings, good, table, traces)
        report(0, 1, "searching for corrections")
        found = correct(explanation, cause, size)
        written = []
        if folder:
            written = write_correction(found, folder)
    if as_json:
        messages = [*job.remarks, *explanation.trial.messages]
        click.echo(envelope("correct", found.as_dict(), messages, sheet_sha256=job.sha256))
        return
    click.echo(correct_text(found))
    click.echo(f"\nWritten: {' and '.join(str(path) for path in written)}")
