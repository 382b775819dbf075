"""`firstoff line PLANT`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from firstoff.cli.output import envelope, progress

ASKED = ("product", "without", "slack", "time_limit")


def of_plant(plant: Path, as_json: bool, how: dict[str, Any]) -> None:
    """The timetable of a plant sheet's line, or the way back to it."""
    asked = {name: how[name] for name in ASKED} | {"loads": how["loads"] or 0}
    if how["state"] is not None and how["after"]:
        raise click.UsageError("--state and --after: the line stands in one state")
    if how["state"] is not None or how["after"]:
        way_back(plant, as_json, how, asked)
        return
    with progress("searching for the timetable", quiet=as_json) as report:
        from firstoff.launch.line.account import plan_dict, plan_text
        from firstoff.launch.line.plan import plan_plant

        found = plan_plant(plant, **asked, takt=how["takt"])
        files: list[Path] = []
        if how["folder"] is not None and found.answer.table is not None:
            from firstoff.launch.line.folder import write_line

            report(0, 1, "drawing the chart")
            files = write_line(found, how["folder"])
    show(as_json, plan_dict(found), plan_text(found), files, found.remarks, found.sha256)


def way_back(plant: Path, as_json: bool, how: dict[str, Any], asked: dict[str, Any]) -> None:
    """From a state, or from another product, into the timetable."""
    with progress("searching for the way back", quiet=as_json) as report:
        from firstoff.launch.line.recovery import recover_plant, recovery_dict, recovery_text

        found = recover_plant(plant, how["state"], after=how["after"], **asked)
        files: list[Path] = []
        if how["folder"] is not None and found.recovery.joined is not None:
            from firstoff.launch.line.folder import write_recovery

            report(0, 1, "drawing the chart")
            files = write_recovery(found, how["folder"])
    show(as_json, recovery_dict(found), recovery_text(found), files, found.plan.remarks, found.sha256)


def show(as_json: bool, result: dict[str, Any], text: str, files: list[Path], remarks: Any, digests: Any) -> None:
    """One envelope, or the text and the files written."""
    if as_json:
        result = result | {"files": [str(f) for f in files]}
        click.echo(envelope("line", result, remarks, sheet_sha256=dict(digests)))
        return
    click.echo(text)
    for file in files:
        click.echo(f"wrote {file}")
