"""Who writes into the records, and where they lie. Nobody is taken for the author silently."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from firstoff.errors import InputFault, Message

if TYPE_CHECKING:
    from firstoff.records import Signer

FILE = "records.db"


@dataclass(frozen=True)
class Author:
    """A person who writes; `ask` is called for the passphrase of a key that has one."""

    name: str
    ask: Callable[[str], str] | None = None
    new: Callable[[str], str] | None = None  # asked for the passphrase of a key that is yet to be made
    keys: Path | None = None  # where the key lies, if not in the user's own folder
    how: str = ""  # by which the person was known beside the key, e.g. `password on the launch board, `

    def signer(self) -> Signer:
        """The person with the key. Raises InputFault when the key does not open."""
        from firstoff.records import key_file, signer
        from firstoff.records.keys import named

        name = named(self.name)
        fresh = self.new(name) if self.new and not key_file(name, self.keys).exists() else ""
        return signer(name, self.ask, fresh, self.keys)


def author_name(stated: str = "") -> str:
    """Who writes: `--by`, else FIRSTOFF_BY. InputFault without either: the user of the machine is no author."""
    name = stated or os.environ.get("FIRSTOFF_BY", "")
    if not name.strip():
        what = "what is written into the records needs the name of who writes it"
        raise InputFault([Message(what, key="--by", allowed="--by NAME, or the variable FIRSTOFF_BY")])
    return name


def records_place(stated: str | None = None, folder: Path | None = None) -> str:
    """Where the records lie: as stated, else FIRSTOFF_RECORDS, else `records.db` beside the launch folder."""
    return stated or os.environ.get("FIRSTOFF_RECORDS") or str((folder.parent if folder else Path()) / FILE)


def are_there(stated: str | None, folder: Path | None = None) -> bool:
    """Whether records are to be looked at: somebody named them now, they lie on a server, or the file is there."""
    place = records_place(stated, folder)
    return bool(stated) or "://" in place or Path(place).is_file()
