"""`firstoff line`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope, progress


@click.command("line")
@click.option("--case", "case", type=click.Path(path_type=Path), required=True, help="Case file of a line (JSON).")
@click.option("--cranes", type=click.IntRange(1, 4), default=1, show_default=True, help="Cranes on one track.")
@click.option(
    "--separation",
    type=click.FloatRange(0),
    default=0.0,
    show_default=True,
    help="Least distance of two neighbouring cranes, in the case's track units.",
)
@click.option("--takt", type=click.FloatRange(0, min_open=True), help="Period per load that is wanted, in time units.")
@click.option("--loads", type=click.IntRange(1, 6), default=1, show_default=True, help="Loads in one period.")
@click.option(
    "--time-limit", type=click.FloatRange(0.01), default=60.0, show_default=True, help="Seconds for the search."
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(
    case: Path, cranes: int, separation: float, takt: float | None, loads: int, time_limit: float, as_json: bool
) -> None:
    """Find the plating crane's shortest repeating timetable, with proof.

    Where none is possible, or none as short as --takt, it names the limits in the way and the least change that helps.
    It plans, it never drives a crane: interlocks decide.
    """
    from firstoff.launch.line import as_dict, line_from_case, line_text

    with progress("searching for the timetable", quiet=as_json):
        line, answer = line_from_case(case, loads, time_limit, cranes, separation, takt)
    click.echo(envelope("line", as_dict(line, answer)) if as_json else line_text(line, answer))
