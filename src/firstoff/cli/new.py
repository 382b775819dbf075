"""`firstoff new`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope


@click.command("new")
@click.argument("family", default="damper")
@click.option("--to", "folder", type=click.Path(path_type=Path), default=Path("."), help="Folder to write into.")
@click.option("--name", default="", help="Name of the model.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(family: str, folder: Path, name: str, as_json: bool) -> None:
    """Write a commented model sheet and plant sheet of FAMILY (damper) to start from.

    `line` writes the plant sheet of a plating line, `vehicle` a vehicle sheet.
    """
    from firstoff.launch import new

    files = new(family, folder, name)
    if as_json:
        click.echo(envelope("new", [str(f) for f in files]))
        return
    for file in files:
        click.echo(f"wrote {file}")
    click.echo(f"next: fill them in, then  firstoff check {files[0]}")
