"""Whose a launch folder is: it keeps the name of its sheet, so that one launch cannot write over another."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Protocol

from firstoff import __version__
from firstoff.errors import InputFault, Message
from firstoff.launch.write import write_text

RECORD = "launch.json"


class Sheeted(Protocol):
    """What is made from a sheet: a launch, a target."""

    @property
    def file(self) -> Path: ...
    @property
    def sha256(self) -> Mapping[str, str]: ...


def folder_of(sheet: Path) -> Path:
    """The launch folder when none is named: where the command is given, called after the sheet."""
    return Path(f"{sheet.stem}-launch")


def folder_for(job: Sheeted, named: Path | None = None) -> Path:
    """The folder of a launch, `named` or its own by default. InputFault when it holds the launch of another sheet."""
    folder = named or folder_of(job.file)
    _refuse_another(job, folder)
    return folder


def claim(job: Sheeted, folder: Path) -> Path:
    """Note in the folder which sheets it was last made from. InputFault when it holds the launch of another sheet."""
    _refuse_another(job, folder)
    record = {"sheet": _from(folder, job.file), "sheet_sha256": dict(job.sha256), "firstoff": __version__}
    return write_text(folder / RECORD, json.dumps(record, indent=1, ensure_ascii=False) + "\n")


def _refuse_another(job: Sheeted, folder: Path) -> None:
    """A folder belongs to the sheet at the noted place, wherever both were moved, or to an equal copy of it."""
    path = folder / RECORD
    if not path.is_file():
        return
    try:
        noted = json.loads(path.read_text("utf-8"))
        sheet, digests = str(noted["sheet"]), dict(noted["sheet_sha256"])
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        what = "does not say whose launch folder this is; nothing was written"
        raise InputFault([Message(what, file=str(path), allowed="another folder by --to")]) from error
    if sheet == _from(folder, job.file) or digests == dict(job.sha256):
        return
    other = f"{job.file.resolve().parent.name}-{job.file.stem}-launch"
    what = "holds the launch of another sheet; nothing was written over it"
    raise InputFault([Message(what, file=str(folder), found=sheet, allowed=f"another folder, e.g. --to {other}")])


def _from(folder: Path, sheet: Path) -> str:
    """The sheet's place as seen from the folder, so that both may be moved together."""
    try:
        return Path(os.path.relpath(sheet.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return sheet.resolve().as_posix()
