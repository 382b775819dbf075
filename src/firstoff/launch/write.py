"""Writes a file of a launch folder whole, or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_text(path: Path, text: str) -> Path:
    """Write a whole file or nothing: a reader never meets half of it."""
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> Path:
    """Write a whole file or nothing."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return path


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
