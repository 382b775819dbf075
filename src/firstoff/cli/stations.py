"""`firstoff stations`."""

from __future__ import annotations

from typing import Any

import click

from firstoff.cli.output import envelope


@click.command("stations")
@click.argument("family", default="damper")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(family: str, as_json: bool) -> None:
    """List the stations of FAMILY (damper) in process order, with every parameter a sheet may state."""
    from firstoff.launch import stations

    found = stations(family)
    if as_json:
        click.echo(envelope("stations", found))
        return
    for station in found:
        head = "check" if station["operation"] is None else f"op {station['operation']}"
        click.echo(f"{head}  {station['name']}: {station['title']}")
        for parameter in station["parameters"]:
            click.echo("    " + _line(parameter))
        click.echo(f"    gives: {', '.join(station['gives'])}\n")


def _line(parameter: dict[str, Any]) -> str:
    default = "must be given" if parameter["default"] is None else f"default {parameter['default']}"
    pressure = ", gauge or abs stated" if parameter["pressure"] else ""
    moved = f"; moved in steps of {parameter['change']['step']}" if parameter["change"] else ""
    what = f"{parameter['kind']}: {parameter['what']}"
    return f"{parameter['name']} [{parameter['unit']}{pressure}] {what}; {default}{moved}"
