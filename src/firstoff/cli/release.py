"""`firstoff release`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope, progress
from firstoff.cli.prove import RULES


@click.command("release")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.argument("readings", type=click.Path(path_type=Path))
@click.option("--good", type=click.Path(path_type=Path), help="Readings of a known-good lot on the same rig.")
@click.option("--rule", type=click.Choice(RULES), help="Decision rule; default: the sheet's.")
@click.option(
    "--trace", "traces", multiple=True, type=click.Path(path_type=Path),
    help="Raw force traces of the parts (CSV or Parquet), a file or a folder; may be given again.",
)  # fmt: skip
@click.option("--table", help="Sheet of a workbook; default: the first.")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(
    sheet: Path,
    readings: Path,
    good: Path | None,
    rule: str | None,
    traces: tuple[Path, ...],
    table: str | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Recommend release, hold or concession from the READINGS (CSV or xlsx) of first-offs, with reasons.

    Nothing is signed: a named person decides. A hold is a result, not a fault.
    """
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff.launch import folder_for, read_job, release, write_release
        from firstoff.launch.account_release import release_text

        report(0, 1)
        job = read_job(sheet)
        if folder or not as_json:
            folder = folder_for(job, folder)
        found = release(job, readings, good, rule, table, progress=report, traces=traces)
    if folder:
        write_release(found, folder)
    if as_json:
        messages = [*job.remarks, *found.proof.trial.messages]
        click.echo(envelope("release", found.as_dict(), messages, sheet_sha256=job.sha256))
        return
    click.echo(release_text(found))
    click.echo(f"\nWritten: {folder}/release.md")
