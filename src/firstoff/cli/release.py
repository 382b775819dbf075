"""`firstoff release`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.authority import author, by_option, records_option
from firstoff.cli.options import traces_option
from firstoff.cli.output import envelope, progress
from firstoff.cli.prove import RULES


@click.command("release")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.argument("readings", type=click.Path(path_type=Path))
@click.option("--good", type=click.Path(path_type=Path), help="Readings of a known-good lot on the same rig.")
@click.option("--rule", type=click.Choice(RULES), help="Decision rule; default: the sheet's.")
@traces_option
@click.option("--builds", type=click.IntRange(16), default=16384, show_default=True, help="Trial builds behind it.")
@click.option("--table", help="Sheet of a workbook; default: the first.")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Launch folder; default: SHEET's name + -launch.")
@click.option("--sign", "word", type=click.Choice(("release", "concession", "hold")), help="Decide, and sign it.")
@click.option("--reason", default="", help="Why; needed when the decision is milder than what is recommended.")
@click.option("--until", default="", metavar="DATE", help="End of a concession.")
@click.option("--customer", default="", help="Who approved a concession, and by what.")
@click.option("--owner", default="", help="Of the open actions; default: who decides.")
@click.option("--due", default="", metavar="DATE", help="By when the open actions are closed.")
@by_option
@records_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope; writes files only with --to.")
def command(
    sheet: Path, readings: Path, good: Path | None, rule: str | None, traces: tuple[Path, ...],
    builds: int, table: str | None, folder: Path | None,
    word: str | None, reason: str, until: str, customer: str, owner: str, due: str, by: str, place: str | None,
    as_json: bool,
) -> None:  # fmt: skip
    """Recommend release, hold or concession from the READINGS (CSV or xlsx) of first-offs, with reasons.

    Nothing is signed without --sign: a named person decides. What was decided before is held against the sheets and
    readings as they are now. A hold is a result, not a fault.
    """
    who = author(by, protect=True) if word else None
    with progress("reading the sheets, compiling the kernels", quiet=as_json) as report:
        from firstoff.launch import folder_for, folder_of, read_job, release, write_release
        from firstoff.launch.account_release import release_text
        from firstoff.launch.recorded.authority import are_there, records_place

        report(0, 1)
        job = read_job(sheet)
        beside = folder or folder_of(sheet)
        if folder or not as_json:
            folder = folder_for(job, folder)
        found = release(job, readings, good, rule, table, builds, progress=report, traces=traces)
    stands, said = None, ""
    if word or are_there(place, beside):
        from firstoff.launch.recorded.account import decided_text
        from firstoff.launch.recorded.sign import Decision, sign
        from firstoff.launch.recorded.standing import standing
        from firstoff.records import open_records

        with open_records(records_place(place, beside), create=bool(word)) as records:
            if word and who:
                sign(found, records, who, Decision(word, reason, until, customer, owner, due), good)
            stands = standing(records, job, readings, found)
        said = "\n".join(decided_text(stands))
    if folder:
        write_release(found, folder, said)
    if as_json:
        messages = [*job.remarks, *found.proof.trial.messages]
        result = found.as_dict() | {"records": stands.as_dict() if stands else None, "signed": bool(word)}
        click.echo(envelope("release", result, messages, sheet_sha256=job.sha256))
        return
    click.echo(release_text(found))
    if said:
        click.echo(f"\n{said}")
    click.echo(f"\nWritten: {folder}/release.md")
