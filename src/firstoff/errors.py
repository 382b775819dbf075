"""What is said to the engineer when an input cannot be used, and how the program ends.

Everything that is wrong with an input becomes a :class:`Message`; a reader gathers them all and raises one
:class:`InputFault`. The command line catches it in one place.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from enum import IntEnum
from typing import Any


class ExitStatus(IntEnum):
    """Exit codes of the command line, documented in docs/cli.md."""

    DONE = 0
    BROKEN = 1  # a fault of the program itself
    USAGE = 2  # the command's own words are wrong
    INPUT = 3  # a sheet, a readings file or a calculation's inputs are wrong or not to be read
    FILES = 4  # a result cannot be written
    RECORDS = 5  # the records are not as they were recorded


@dataclass(frozen=True)
class Message:
    """One fault or remark about one place of an input."""

    what: str  # one sentence: what is wrong
    file: str = ""
    line: int = 0  # counted from 1; 0 when there is no line
    key: str = ""  # dotted, as the engineer wrote it
    found: str = ""
    allowed: str = ""
    nearest: str = ""  # the nearest valid name, when a name is unknown
    level: str = "error"  # or "remark"

    def as_text(self) -> str:
        """`file:line: key: what; found ...; allowed ...; did you mean ...?`"""
        place = f"{self.file}:{self.line}" if self.line else self.file
        text = ": ".join(part for part in (place, self.key, self.what) if part)
        if self.found:
            text += f"; found {self.found}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        if self.nearest:
            text += f"; did you mean {self.nearest}?"
        return text

    def as_dict(self) -> dict[str, Any]:
        return asdict(self)


class InputFault(Exception):
    """An input cannot be used. Carries every fault that was found in it, never only the first."""

    def __init__(self, messages: Sequence[Message]) -> None:
        super().__init__("\n".join(m.as_text() for m in messages))
        self.messages = tuple(messages)


def nearest(name: str, known: Iterable[str]) -> str:
    """The known name that `name` most likely was meant to be, or an empty text."""
    names = list(known)
    lowered = {n.lower(): n for n in names}
    match = difflib.get_close_matches(name.lower(), list(lowered), n=1, cutoff=0.6)
    return lowered[match[0]] if match else ""


def counted(count: int, word: str, plural: str = "") -> str:
    """`1 part`, `8 parts`."""
    return f"{count} {word if count == 1 else plural or word + 's'}"
