"""`firstoff line`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from firstoff.cli.output import envelope, progress


@click.command("line")
@click.argument("plant", type=click.Path(path_type=Path), required=False)
@click.option("--case", "case", type=click.Path(path_type=Path), help="Case file of a line (JSON) instead of PLANT.")
@click.option(
    "--cranes", type=click.IntRange(1, 4), default=1, show_default=True, help="Of a case: cranes on one track."
)
@click.option(
    "--separation",
    type=click.FloatRange(0),
    default=0.0,
    show_default=True,
    help="Of a case: least distance of two neighbouring cranes, in the case's track units.",
)
@click.option("--loads", type=click.IntRange(1, 12), help="Loads in one cycle.  [default: the sheet's; 1 for a case]")
@click.option("--product", default="", help="Of PLANT: one product alone.")
@click.option("--without", multiple=True, metavar="TANK", help="Of PLANT: a tank out of service; may be repeated.")
@click.option("--slack", type=click.FloatRange(0), help="Of PLANT: seconds to keep free at both ends of every window.")
@click.option(
    "--takt",
    type=click.FloatRange(0, min_open=True),
    help="Seconds a load may take (a case's time units); why, if it takes longer.",
)
@click.option("--state", type=click.Path(path_type=Path), help="Of PLANT: where the line stands; find the way back.")
@click.option("--after", default="", metavar="PRODUCT", help="Of PLANT: change from this product.")
@click.option(
    "--to", "folder", type=click.Path(path_type=Path), help="Of PLANT: folder for chart, moves and setup sheet."
)
@click.option(
    "--time-limit", type=click.FloatRange(0.01), default=60.0, show_default=True, help="Seconds for the search."
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(plant: Path | None, case: Path | None, as_json: bool, **how: Any) -> None:
    """Find the plating crane's shortest repeating timetable, with proof, of the line in PLANT (a plant sheet).

    Where none is possible, or none as short as --takt, it names the limits in the way and the least change that helps.
    It plans, it never drives a crane: interlocks decide.
    """
    if (plant is None) == (case is None):
        raise click.UsageError("name a plant sheet, or a case file with --case")
    if case is not None:
        refuse(
            how,
            ("product", "without", "slack", "state", "after", "folder"),
            "belongs to a plant sheet, not to --case",
        )
        of_case(case, as_json, how)
    elif plant is not None:
        refuse(how, ("separation",), "stands in the plant sheet")
        if how["cranes"] != 1:
            raise click.UsageError("--cranes: the cranes stand in the plant sheet")
        from firstoff.cli.line_plant import of_plant

        of_plant(plant, as_json, how)


def refuse(how: dict[str, Any], names: tuple[str, ...], why: str) -> None:
    """An option that has no meaning here is a slip, not to be passed over."""
    for name in names:
        if how[name] not in (None, "", (), 0.0):
            raise click.UsageError(f"--{'to' if name == 'folder' else name} {why}")


def of_case(case: Path, as_json: bool, how: dict[str, Any]) -> None:
    """The timetable of a case file."""
    from firstoff.launch.line.case import as_dict, line_from_case, line_text

    with progress("searching for the timetable", quiet=as_json):
        how_much = (how["loads"] or 1, how["time_limit"], how["cranes"], how["separation"], how["takt"])
        line, answer = line_from_case(case, *how_much)
    click.echo(envelope("line", as_dict(line, answer)) if as_json else line_text(line, answer))
