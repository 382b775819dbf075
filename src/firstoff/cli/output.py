"""What every verb prints: text for people, or one JSON envelope for programs."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import click

from firstoff import __version__
from firstoff.errors import InputFault, Message
from firstoff.plain import plain

__all__ = ["envelope", "plain", "progress", "show_faults"]

PATIENCE = 2.0  # s, before a word is said about work under way


def envelope(verb: str, result: Any, messages: Sequence[Message] = (), **provenance: Any) -> str:
    """The JSON of a verb."""
    whole = {
        "schema": f"firstoff/{verb}/1",
        "messages": [m.as_dict() for m in messages],
        "result": plain(result),
        "provenance": {"version": __version__, **plain(provenance)},
    }
    return json.dumps(whole, indent=1, allow_nan=False, ensure_ascii=False)


def show_faults(fault: InputFault, *, as_json: bool, verb: str) -> None:
    """Faults of an input, one line each, on standard error; with --json an envelope without a result as well."""
    if as_json:
        click.echo(envelope(verb, None, fault.messages))
        return
    for message in fault.messages:
        click.echo(message.as_text(), err=True)
    count = sum(m.level == "error" for m in fault.messages)
    click.echo(f"{count} fault{'s' if count != 1 else ''}; nothing was computed.", err=True)


@contextmanager
def progress(what: str, *, quiet: bool) -> Iterator[Any]:
    """Say on standard error what is being done, with the time left, once it has taken two seconds.

    Yields `report(done, total, note="")`. A terminal gets a bar, a log one line for each thing begun; the timer runs by
    itself, since compiling the kernels reports nothing.
    """
    if quiet:
        yield lambda done, total, note="": None
        return
    from threading import Timer

    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    bar = Progress(*columns, console=console, transient=True)
    task = bar.add_task(what, total=None)
    late = Timer(PATIENCE, lambda: bar.start() if console.is_terminal else console.print(f"{what} ..."))
    late.daemon = True
    late.start()
    said = what

    def report(done: int, total: int, note: str = "") -> None:
        nonlocal said
        bar.update(task, completed=done, total=total if done else None, description=note or said)
        if note and note != said:
            said = note
            if not late.is_alive() and not console.is_terminal:
                console.print(f"{note} ...")

    try:
        yield report
    finally:
        late.cancel()
        if bar.live.is_started:
            bar.stop()
