"""`firstoff explain`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.options import traces_option
from firstoff.cli.output import envelope, progress


@click.command("explain")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.argument("readings", type=click.Path(path_type=Path))
@click.option("--good", type=click.Path(path_type=Path), help="Readings of a known-good lot on the same rig.")
@traces_option
@click.option("--table", help="Sheet of a workbook; default: the first.")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(
    sheet: Path, readings: Path, good: Path | None, traces: tuple[Path, ...], table: str | None, folder: Path | None,
    as_json: bool,
) -> None:  # fmt: skip
    """Say which station of SHEET most likely caused the READINGS (CSV or xlsx) of one lot, and how sure that is."""
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff.launch import explain_files, folder_for, plan, read_job, write_explanation
        from firstoff.launch.explaining.account import explain_text

        report(0, 1)
        job = read_job(sheet)
        if folder or not as_json:
            folder = folder_for(job, folder)
        settled = plan(job)
        report(0, 1, "comparing the causes")
        found = explain_files(settled, readings, good, table, traces)
    written = write_explanation(found, folder) if folder else []
    if as_json:
        messages = [*job.remarks, *found.trial.messages]
        click.echo(envelope("explain", found.as_dict(), messages, sheet_sha256=job.sha256))
        return
    click.echo(explain_text(found))
    for message in found.trial.messages:
        click.echo(f"Remark: {message.as_text()}")
    click.echo(f"\nWritten: {' and '.join(str(path) for path in written)}")
