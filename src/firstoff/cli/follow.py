"""`firstoff follow`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.authority import records_option
from firstoff.cli.output import envelope


@click.command("follow")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.argument("readings", type=click.Path(path_type=Path))
@click.option("--good", type=click.Path(path_type=Path), help="Readings of a known-good lot on the same rig.")
@click.option("--table", help="Sheet of a workbook; default: the first.")
@records_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(
    sheet: Path, readings: Path, good: Path | None, table: str | None, place: str | None, as_json: bool
) -> None:
    """Control charts of the READINGS (CSV or xlsx) of running lots: which lot slips, and which parts carry it.

    Writes no file. What a lot went into is asked of the records, where there are any.
    """
    from firstoff.launch import folder_of, read_job
    from firstoff.launch.following.account import follow_text
    from firstoff.launch.following.affected import affected_lots
    from firstoff.launch.following.follow import follow
    from firstoff.launch.recorded.authority import are_there, records_place
    from firstoff.records import open_records

    job = read_job(sheet)
    found = follow(job, readings, good, table)
    affected = {}
    beside = folder_of(sheet)
    if are_there(place, beside):
        with open_records(records_place(place, beside), create=False) as records:
            affected = affected_lots(records, [s.lot for s in found.slipping])
    if as_json:
        result = found.as_dict() | {"affected": {lot: one.as_dict() for lot, one in affected.items()}}
        messages = [*job.remarks, *found.proof.trial.messages]
        click.echo(envelope("follow", result, messages, sheet_sha256=job.sha256))
        return
    click.echo(follow_text(found, affected))
