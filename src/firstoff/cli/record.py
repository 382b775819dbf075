"""`firstoff record`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.authority import author, by_option, records_option
from firstoff.cli.output import envelope, progress


@click.command("record")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.argument("readings", type=click.Path(path_type=Path), required=False)
@click.option("--good", type=click.Path(path_type=Path), help="Readings of a known-good lot on the same rig.")
@click.option("--genealogy", type=click.Path(path_type=Path), help="CSV: parent kind, parent, child kind, child ...")
@click.option("--table", help="Sheet of a workbook; default: the first.")
@click.option("--quick", is_flag=True, help="Sheets, plan, readings and verdicts; no explanation, no correction.")
@by_option
@records_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(
    sheet: Path, readings: Path | None, good: Path | None, genealogy: Path | None, table: str | None, quick: bool,
    by: str, place: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Take the launch of SHEET into the records as one batch: sheets, plan and, with READINGS, every reading, verdicts,
    explanation and correction.

    READINGS: CSV or xlsx; a Parquet file of many readings is recorded and not judged. What is recorded already is not
    recorded twice.
    """
    who = author(by)
    if (good or table) and not readings:
        raise click.UsageError("--good and --table need READINGS")
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as say:
        from firstoff.launch import folder_of, read_job
        from firstoff.launch.recorded.authority import records_place
        from firstoff.launch.recorded.record import record
        from firstoff.records import open_records

        say(0, 1)
        job = read_job(sheet)
        with open_records(records_place(place, folder_of(sheet))) as records:
            found = record(job, records, who, readings, good, table, genealogy, quick, say)
            where = records.place
    if as_json:
        click.echo(envelope("record", found.as_dict(), job.remarks, sheet_sha256=job.sha256))
        return
    if found.new:
        rows = ", ".join(f"{name} {count}" for name, count in found.tables.items())
        click.echo(f"Recorded in {where} as entry {found.entry} by {who.name}: {rows}.")
    else:
        click.echo(f"Recorded already, as entry {found.entry} of {where}; nothing was added.")
    click.echo(f"Head: {found.head}")
