"""`firstoff check`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope


@click.command("check")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(sheet: Path, as_json: bool) -> None:
    """Check SHEET and the plant sheet it names, a plant sheet with a plating line, or a vehicle sheet.

    Every fault is named with file, line and key.
    """
    from firstoff.launch import check

    report = check(sheet)
    if as_json:
        click.echo(envelope("check", report.as_dict(), report.messages, sheet_sha256=report.sha256))
        return
    for message in report.messages:
        click.echo(message.as_text())
    click.echo(report.summary)
