"""`firstoff target`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope, progress


@click.command("target")
@click.argument("vehicle", type=click.Path(path_type=Path))
@click.option("--curve", type=click.Path(path_type=Path), help="Model sheet whose nominal force curve is driven, too.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Of the roads' random phases.")
@click.option("--workers", type=click.IntRange(1, 64), help="Threads.  [default: 2, or as many as there are]")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Folder; default: VEHICLE's name + -target.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(
    vehicle: Path, curve: Path | None, seed: int, workers: int | None, folder: Path | None, as_json: bool
) -> None:
    """Recommend a force table for the vehicle sheet VEHICLE, when the customer gives none.

    A two-mass model is driven over the sheet's roads and bumps with a family of damper curves; the folder gets the
    trade-off of comfort and road holding and the limits for a model sheet.
    """
    with progress("driving the family of curves", quiet=as_json) as report:
        from firstoff import launch
        from firstoff.launch.owner import folder_for
        from firstoff.launch.vehicle_target.account import target_text
        from firstoff.launch.vehicle_target.write import target_folder, write_target

        sheet = launch.read_vehicle(vehicle)
        if folder or not as_json:
            folder = folder_for(sheet, folder or target_folder(vehicle))
        found = launch.target(sheet, curve, seed, workers, report)
        if folder:
            write_target(found, folder)
    if as_json:
        messages = [*sheet.remarks, *found.warnings]
        click.echo(envelope("target", found.as_dict(), messages, seed=seed, sheet_sha256=sheet.sha256))
        return
    click.echo(target_text(found))
    click.echo(f"\nWritten: {folder}/target.md, target.svg and limits.toml, whose lines go into a model sheet.")
