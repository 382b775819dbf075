"""`firstoff records VERB`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.authority import author, by_option, records_option
from firstoff.cli.output import envelope
from firstoff.errors import ExitStatus

json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")


@click.group("records")
def command() -> None:
    """Verify, trace, export, back up, restore and rebuild from what was recorded."""


@command.command("verify")
@click.option("--head", "known", metavar="N:HASH", help="A head noted elsewhere, e.g. on a dossier.")
@records_option
@json_option
def verify_command(known: str | None, place: str | None, as_json: bool) -> None:
    """Name every entry and row that was altered, removed, reordered, replayed or added; then the exit code is 5."""
    from firstoff.launch.recorded.account import verify_text
    from firstoff.launch.recorded.authority import records_place
    from firstoff.launch.recorded.standing import stale_decisions
    from firstoff.records import open_records, read_head, verify

    head = read_head(known) if known else None
    with open_records(records_place(place), create=False) as records:
        found = verify(records, head)
        stale = stale_decisions(records)
        where = records.place
    if as_json:
        result = found.as_dict()
        result["remarks"] += stale
        click.echo(envelope("records-verify", result))
    else:
        click.echo(verify_text(found, where, stale))
    if not found.sound:
        raise SystemExit(ExitStatus.RECORDS)


@command.command("head")
@records_option
@json_option
def head_command(place: str | None, as_json: bool) -> None:
    """Print number and hash of the last entry."""
    from firstoff.launch.recorded.authority import records_place
    from firstoff.records import head, open_records

    with open_records(records_place(place), create=False) as records:
        found = str(head(records))
    click.echo(envelope("records-head", {"head": found}) if as_json else found)


@command.command("trace")
@click.argument("item")
@click.option("--up", "way", flag_value="up", help="Only what it came from.")
@click.option("--down", "way", flag_value="down", help="Only what came of it.")
@records_option
@json_option
def trace_command(item: str, way: str | None, place: str | None, as_json: bool) -> None:
    """What ITEM (`kind:name`, or a name alone) was made from, and everything that came of it."""
    from firstoff.launch.recorded.account import trace_text
    from firstoff.launch.recorded.authority import records_place
    from firstoff.records import find_item, open_records, trace_down, trace_up

    with open_records(records_place(place), create=False) as records:
        name = find_item(records, item)
        up = trace_up(records, name) if way != "down" else None
        down = trace_down(records, name) if way != "up" else None
    if as_json:
        result = {"item": name, "up": up.as_dict() if up else None, "down": down.as_dict() if down else None}
        click.echo(envelope("records-trace", result))
        return
    click.echo(f"TRACE  {name}\n\n{trace_text(up, down)}")


@command.command("export")
@click.option("--to", "folder", type=click.Path(path_type=Path), required=True, help="Folder for the files.")
@click.option("--format", "form", type=click.Choice(("csv", "json", "parquet")), default="csv", show_default=True)
@records_option
@json_option
def export_command(folder: Path, form: str, place: str | None, as_json: bool) -> None:
    """Write every table as one file."""
    from firstoff.launch.recorded.authority import records_place
    from firstoff.records import export, open_records

    with open_records(records_place(place), create=False) as records:
        files = export(records, folder, form)
    if as_json:
        click.echo(envelope("records-export", {"files": [str(f) for f in files]}))
        return
    click.echo(f"Written to {folder}/: {', '.join(f.name for f in files)}")


@command.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@records_option
@json_option
def backup_command(file: Path, place: str | None, as_json: bool) -> None:
    """Copy the records, wherever they lie, into one new FILE, and verify the copy."""
    from firstoff.launch.recorded.authority import records_place
    from firstoff.records import backup, open_records

    with open_records(records_place(place), create=False) as records:
        head = backup(records, file)
    if as_json:
        click.echo(envelope("records-backup", {"file": str(file), "head": str(head)}))
        return
    click.echo(f"Backed up to {file}, and verified. Head: {head}")


@command.command("restore")
@click.argument("file", type=click.Path(path_type=Path))
@records_option
@json_option
def restore_command(file: Path, place: str | None, as_json: bool) -> None:
    """Put the backup FILE where no records are yet, after verifying it."""
    from firstoff.launch.recorded.authority import records_place
    from firstoff.records import restore

    target = records_place(place)
    head = restore(file, target)
    if as_json:
        click.echo(envelope("records-restore", {"head": str(head)}))
        return
    click.echo(f"Restored from {file}. Head: {head}")


@command.command("rebuild")
@click.option("--to", "folder", type=click.Path(path_type=Path), required=True, help="A new or empty folder.")
@click.option("--model", default="", help="Which model; needed when several are recorded.")
@click.option("--revision", default="", help="Which revision; default: the last recorded.")
@click.option("--papers", is_flag=True, help="With everything that `firstoff report` prints.")
@records_option
@json_option
def rebuild_command(folder: Path, model: str, revision: str, papers: bool, place: str | None, as_json: bool) -> None:
    """Sheets and readings out of the records, byte for byte, and the launch folder from them."""
    from firstoff.launch.recorded.authority import records_place
    from firstoff.launch.recorded.rebuild import rebuild
    from firstoff.records import open_records

    with open_records(records_place(place), create=False) as records:
        found = rebuild(records, folder, model, revision, papers)
    if as_json:
        result = {"files": [str(f) for f in found.files], "pages": [str(f) for f in found.pages]}
        click.echo(envelope("records-rebuild", result))
        return
    click.echo(f"As recorded, byte for byte: {', '.join(str(f) for f in found.files)}")
    click.echo(f"Made anew: {', '.join(str(f) for f in found.pages) or 'nothing'}")


@command.command("decisions")
@click.option("--model", default="", help="Of this model only.")
@records_option
@json_option
def decisions_command(model: str, place: str | None, as_json: bool) -> None:
    """List the decisions: what, by whom, when, on which recommendation."""
    from dataclasses import asdict

    from firstoff.launch.recorded.account import decisions_text
    from firstoff.launch.recorded.authority import records_place
    from firstoff.launch.recorded.standing import decisions_of
    from firstoff.records import open_records

    with open_records(records_place(place), create=False) as records:
        found = [d for d in decisions_of(records) if not model or d.model == model]
    if as_json:
        click.echo(envelope("records-decisions", {"decisions": [asdict(d) for d in found]}))
        return
    click.echo(decisions_text(found))


@command.command("actions")
@click.option("--all", "every", is_flag=True, help="The closed ones, too.")
@records_option
@json_option
def actions_command(every: bool, place: str | None, as_json: bool) -> None:
    """List the open actions with owner and date."""
    from dataclasses import asdict

    from firstoff.launch.recorded.authority import records_place
    from firstoff.launch.recorded.standing import actions_of
    from firstoff.records import open_records

    with open_records(records_place(place), create=False) as records:
        found = [a for a in actions_of(records) if every or a.state == "open"]
    if as_json:
        click.echo(envelope("records-actions", {"actions": [asdict(a) for a in found]}))
        return
    for a in found:
        click.echo(f"{a.action}  {a.state}  {a.owner}, {a.due}{' LATE' if a.late else ''}  {a.what}")
    if not found:
        click.echo("Nothing is open.")


@command.command("close")
@click.argument("action")
@click.option("--note", required=True, help="What closed it.")
@by_option
@records_option
@json_option
def close_command(action: str, note: str, by: str, place: str | None, as_json: bool) -> None:
    """Record that an open ACTION is closed, and by what."""
    who = author(by)
    from firstoff.launch.recorded.authority import records_place
    from firstoff.launch.recorded.sign import close_action
    from firstoff.records import open_records

    with open_records(records_place(place), create=False) as records:
        head = close_action(records, who, action, note)
    click.echo(envelope("records-close", {"head": str(head)}) if as_json else f"Closed {action}. Head: {head}")


@command.command("key")
@click.option("--protect", is_flag=True, help="Give the key a passphrase, or a new one; asked at the terminal.")
@by_option
@json_option
def key_command(protect: bool, by: str, as_json: bool) -> None:
    """Show whose key lies where, and its public half; made when there is none yet."""
    who = author(by)
    from firstoff.cli.authority import asked_anew, passphrase
    from firstoff.records import key_file, keys

    signer = who.signer()
    if protect:
        signer = keys.protect(signer.name, asked_anew(), passphrase)
    file, how = key_file(signer.name), "with" if signer.protected else "without"
    if as_json:
        result = {
            "name": signer.name,
            "file": str(file),
            "public_key": signer.public_key,
            "protected": signer.protected,
        }
        click.echo(envelope("records-key", result))
        return
    click.echo(f"{signer.name}: key {how} passphrase in {file}\nPublic key: {signer.public_key}")
