"""The one way kernels are compiled: serial, without the interpreter lock, cached by the sources of their package.

Numba's own cache looks only at the file a kernel stands in: an edit of a helper in another file would go unnoticed.
So the cache folder carries a hash of every source file of the kernel's package (physics, or another one with kernels),
and any edit starts an empty folder.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
from numba.core import config

Function = TypeVar("Function", bound=Callable[..., Any])


@cache
def source_hash(package: str | None = None) -> str:
    """Sixteen hexadecimal digits over the names and contents of all source files of physics, or a package beside it."""
    here = Path(__file__).resolve().parent
    folder = here if package is None else here.parent / package
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*.py")):
        digest.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:16]


def user_cache() -> Path:
    """The folder for caches of this user: numba's own setting, else the desktop's, else the system's habit."""
    for variable in ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME"):
        if chosen := os.environ.get(variable):
            return Path(chosen)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    return Path.home() / ("Library/Caches" if sys.platform == "darwin" else ".cache")


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


@cache
def cache_folder(package: str | None = None) -> Path | None:
    """Where compiled kernels are kept; a private temporary folder when the user's cries off; None when both do.

    A temporary folder is always a fresh one: compiled code must not be read from a name others could have planted.
    """
    try:
        folder = user_cache() / "firstoff" / source_hash(package)
    except RuntimeError:  # no home folder
        folder = None
    if folder is not None and _writable(folder):
        return folder
    try:
        return Path(tempfile.mkdtemp(prefix="firstoff-"))
    except OSError:
        return None


def _set_numba_folder(folder: str) -> None:
    setattr(config, "CACHE_DIR", folder)  # noqa: B010 - numba fills its settings in at run time


def njit(signature: Any, inline: bool = False) -> Callable[[Function], Function]:
    """Compile for one explicit signature now, or read the compiled code from the cache.

    inline: into each kernel that calls it, where the call itself costs as much as the arithmetic.
    """

    def decorate(function: Function) -> Function:
        package = function.__module__.split(".")[1]
        folder = cache_folder(None if package == "physics" else package)
        before: str = getattr(config, "CACHE_DIR", "")
        # only for our own kernels: other users of numba in this process keep their folder
        _set_numba_folder(str(folder) if folder else before)
        try:
            decorator = numba.njit(
                signature,
                cache=folder is not None,
                nogil=True,
                fastmath=False,
                error_model="numpy",
                forceinline=inline,
            )
            compiled: Function = decorator(function)
        finally:
            _set_numba_folder(before)
        return compiled

    return decorate


def part(function: Function) -> Function:
    """A piece of kernels of its own package: compiled with the first that calls it, and kept in that one's cache.

    It makes no array of its own: arrays are not counted in and out of it, which takes longer than what small pieces do.
    """
    options: dict[str, Any] = {"nogil": True, "fastmath": False, "error_model": "numpy", "_nrt": False}
    compiled: Function = numba.njit(**options)(function)
    return compiled
