"""`firstoff prove`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.options import traces_option
from firstoff.cli.output import envelope

RULES = ("iso14253-1:2017", "iso14253-1:2013")


@click.command("prove")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.argument("readings", type=click.Path(path_type=Path), required=False)
@click.option("--readings", "by_option", type=click.Path(path_type=Path), help="The same as READINGS.")
@click.option("--rule", type=click.Choice(RULES), help="Decision rule; default: the sheet's.")
@traces_option
@click.option("--table", help="Sheet of a workbook; default: the first.")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(
    sheet: Path, readings: Path | None, by_option: Path | None, rule: str | None, traces: tuple[Path, ...],
    table: str | None, folder: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """Judge the READINGS (CSV or xlsx) of first-offs against the limits of SHEET, part by part and for the lot."""
    if (readings is None) == (by_option is None):
        raise click.UsageError("READINGS must be given, once")
    readings = readings or by_option
    assert readings is not None
    from firstoff.launch import folder_for, prove, read_job, write_proof
    from firstoff.launch.account_proof import prove_text

    job = read_job(sheet)
    if folder or not as_json:
        folder = folder_for(job, folder)
    found = prove(job, readings, rule, table, traces)
    written = write_proof(found, folder) if folder else []
    if as_json:
        messages = [*job.remarks, *found.trial.messages]
        click.echo(envelope("prove", found.as_dict(), messages, sheet_sha256=job.sha256))
        return
    click.echo(prove_text(found))
    click.echo(f"\nWritten: {' and '.join(str(path) for path in written)}")
