"""`firstoff line PLANT`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from firstoff.cli.output import envelope, progress


def of_plant(plant: Path, as_json: bool, how: dict[str, Any]) -> None:
    """The timetable of a plant sheet's line."""
    from firstoff.launch.line_account import plan_dict, plan_text
    from firstoff.launch.line_plan import plan_plant

    with progress("searching for the timetable", quiet=as_json):
        plan = plan_plant(
            plant,
            product=how["product"],
            loads=how["loads"] or 0,
            without=how["without"],
            slack=how["slack"],
            time_limit=how["time_limit"],
        )
    files: list[Path] = []
    if as_json:
        result = plan_dict(plan) | {"files": [str(f) for f in files]}
        click.echo(envelope("line", result, plan.remarks, sheet_sha256=dict(plan.sha256)))
        return
    click.echo(plan_text(plan))
    for file in files:
        click.echo(f"wrote {file}")
