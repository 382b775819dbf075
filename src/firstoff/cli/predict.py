"""`firstoff predict`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope, progress


@click.command("predict")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--builds", type=click.IntRange(16), default=16384, show_default=True, help="Number of trial builds.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Same seed, same numbers.")
@click.option("--workers", type=click.IntRange(1), help="Threads; default: the processors at hand.")
@click.option("--one-lot", is_flag=True, help="All builds of a scramble share their lot offsets.")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(
    sheet: Path, builds: int, seed: int, workers: int | None, one_lot: bool, folder: Path | None, as_json: bool
) -> None:
    """Make trial builds of SHEET: spread, share outside the limits with its interval, and which station carries it."""
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff.launch import (
            account,
            folder_for,
            plan,
            predict,
            read_job,
            write_curve,
            write_hits,
            write_prediction,
        )

        report(0, builds)
        job = read_job(sheet)
        if folder or not as_json:
            folder = folder_for(job, folder)
        settled = plan(job)
        found = predict(settled, builds, seed, workers, one_lot, report)
        if folder:
            report(0, 1, "drawing figures")
            written = [*write_prediction(found, folder), *write_curve(found, folder), *write_hits(settled, folder)]
    if as_json:
        click.echo(envelope("predict", found.as_dict(), job.remarks, seed=seed, sheet_sha256=job.sha256))
        return
    click.echo(account.predict_text(found))
    names = dict.fromkeys(path.name for path in written)
    click.echo(f"\nWritten: {folder}/{', '.join(names)}")
