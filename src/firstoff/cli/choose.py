"""`firstoff choose`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope, progress


@click.command("choose")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option(
    "--bin", "named", type=click.Path(path_type=Path), help="The parts bin; default: the one of the plant sheet."
)
@click.option("--quantity", type=click.IntRange(1), default=1000, show_default=True, help="Dampers to be built.")
@click.option(
    "--builds", type=click.IntRange(16), default=16384, show_default=True, help="Trial builds of each of the best."
)
@click.option("--hit", help="A bumper's hit: what thickness, grade, depth or bracket its limits need.")
@click.option("--speed", help='Speed of that hit, as "5 km/h"; default: the sheet\'s.')
@click.option("--share", type=float, help="Percent of builds to keep its limits; default: the sheet's coverage.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Same seed, same numbers.")
@click.option("--workers", type=click.IntRange(1), help="Threads; default: the processors at hand.")
@click.option(
    "--write", "target", type=click.Path(path_type=Path), help="Write a new model sheet with the first valve."
)
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to or --write."
)
def command(
    sheet: Path, named: Path | None, quantity: int, builds: int, seed: int, workers: int | None, target: Path | None,
    folder: Path | None, as_json: bool, hit: str | None, speed: str | None, share: float | None,
) -> None:  # fmt: skip
    """Meet the customer's table of SHEET with parts of the plant's bin: fewest rejects, then room, stock and money.

    With --hit, of a bumper: what the limits of that hit need, each alone.
    """
    if hit is not None:
        if named or target:
            raise click.UsageError("--hit takes neither --bin nor --write")
        _hit(sheet, hit, (speed, share), (builds, seed, workers), folder, as_json)
        return
    if speed is not None or share is not None:
        raise click.UsageError("--speed and --share belong to --hit")
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff.launch import choose_valve, folder_for, plan, read_job, write_choice, write_chosen
        from firstoff.launch.valve_choice.account import choose_text

        report(0, 1)
        job = read_job(sheet)
        if folder or not as_json:
            folder = folder_for(job, folder)
        found = choose_valve(plan(job), named, quantity, builds, seed, workers, report)
        new = write_chosen(found, target) if target else None
        written = []
        if folder:
            report(0, 1, "drawing and printing")
            written = write_choice(found, folder)
    if as_json:
        messages = [*job.remarks, *found.remarks]
        click.echo(envelope("choose", found.as_dict(), messages, seed=seed, sheet_sha256=found.sha256))
        return
    click.echo(choose_text(found))
    click.echo(f"\nWritten: {', '.join(str(p) for p in [*written, *([new] if new else [])])}")


def _hit(
    sheet: Path, hit: str, asked: tuple[str | None, float | None], run: tuple[int, int, int | None],
    folder: Path | None, as_json: bool,
) -> None:  # fmt: skip
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff.launch import choose_for_hit, folder_for, read_job, write_hit_choice
        from firstoff.launch.hit_choice.account import choice_text

        report(0, 1)
        job = read_job(sheet)
        if folder or not as_json:
            folder = folder_for(job, folder)
        builds, seed, workers = run
        found = choose_for_hit(job, hit, *asked, builds, seed, workers, report)
        written = write_hit_choice(found, folder) if folder else []
    if as_json:
        click.echo(envelope("choose", found.as_dict(), job.remarks, seed=run[1], sheet_sha256=job.sha256))
        return
    click.echo(choice_text(found))
    click.echo(f"\nWritten: {', '.join(str(p) for p in written)}")
