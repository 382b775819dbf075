"""`firstoff report`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.authority import records_option
from firstoff.cli.options import traces_option
from firstoff.cli.output import envelope, progress


@click.command("report")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.argument("readings", type=click.Path(path_type=Path), required=False)
@click.option("--good", type=click.Path(path_type=Path), help="Readings of a known-good lot on the same rig.")
@traces_option
@click.option("--table", help="Sheet of a workbook; default: the first.")
@click.option("--setup-only", is_flag=True, help="Only the setup sheets; no trial builds, no dossier.")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@records_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope with every file and its sha256.")
def command(
    sheet: Path,
    readings: Path | None,
    good: Path | None,
    traces: tuple[Path, ...],
    table: str | None,
    setup_only: bool,
    folder: Path | None,
    place: str | None,
    as_json: bool,
) -> None:
    """Print the setup sheets of SHEET and its dossier as PDF; with READINGS (CSV or xlsx) up to the recommendation.

    Equal sheets and readings, and records where there are any, give equal files, byte for byte.
    """
    if setup_only and (readings or good or table or traces):
        raise click.UsageError("--setup-only takes no readings")
    if (good or table or traces) and not readings:
        raise click.UsageError("--good, --table and --trace need READINGS")
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as say:
        from firstoff.launch import folder_for, plan, read_job, report, write_report, write_setup_sheets
        from firstoff.launch.dossier.record import of_records
        from firstoff.launch.report import LaunchReport

        say(0, 1)
        job = read_job(sheet)
        folder = folder_for(job, folder)
        if setup_only:
            settled = plan(job)
            found = LaunchReport(job, settled, None, None)
            files = write_setup_sheets(settled, folder)
        else:
            found = report(job, readings, good, table, progress=say, traces=traces)
            say(0, 1, "printing")
            files = write_report(found, folder, of_records(place, folder, job, readings, found.release))
    if as_json:
        messages = [*job.remarks, *(found.release.proof.trial.messages if found.release else ())]
        click.echo(envelope("report", found.as_dict(files, folder), messages, sheet_sha256=job.sha256))
        return
    if found.release:
        click.echo(f"Recommended: {found.release.found.word}. Nothing is signed: a named person decides.")
    click.echo(f"Written to {folder}/:")
    for file in files:
        click.echo(f"  {file.relative_to(folder).as_posix()}")
