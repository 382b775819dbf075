"""Options of every verb that writes into the records: who, and where."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from firstoff.launch.recorded.authority import Author

Command = Callable[..., Any]


def by_option(command: Command) -> Command:
    what = "Who writes; default: the variable FIRSTOFF_BY. Never taken from the machine."
    return click.option("--by", default="", metavar="NAME", help=what)(command)


def records_option(command: Command) -> Command:
    what = "Records: a file, or postgresql://...; default: FIRSTOFF_RECORDS, else records.db beside the launch folder."
    return click.option("--records", "place", metavar="PATH|URL", help=what)(command)


def author(by: str, protect: bool = False) -> Author:
    """The person who writes; asked for a passphrase when the key has one. protect: a new key is to get one."""
    from firstoff.launch.recorded.authority import Author, author_name

    return Author(author_name(by), passphrase, _new if protect else None)


def passphrase(name: str) -> str:
    """The passphrase of a key: FIRSTOFF_PASSPHRASE, else asked at the terminal; empty when there is none."""
    stated = os.environ.get("FIRSTOFF_PASSPHRASE", "")
    if stated or not sys.stdin.isatty():
        return stated
    return str(click.prompt(f"Passphrase of {name}", hide_input=True, default="", show_default=False, err=True))


def _new(name: str) -> str:
    stated = os.environ.get("FIRSTOFF_PASSPHRASE", "")
    if stated or not sys.stdin.isatty():
        return stated
    click.echo(f"A key for {name} is made. Whoever has it and its passphrase signs as {name}.", err=True)
    return asked_anew()


def asked_anew() -> str:
    """A new passphrase, asked twice at the terminal; empty: none."""
    return str(
        click.prompt("New passphrase (empty: none)", hide_input=True, confirmation_prompt=True, default="",
                     show_default=False, err=True)
    )  # fmt: skip
