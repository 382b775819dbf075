"""The one way kernels are compiled: serial, without the interpreter lock, cached by the sources they are made of.

Numba's own cache looks only at the file a kernel stands in: an edit of a helper in another file would go unnoticed.
So the cache folder of a module carries a hash of its source and of every source of the project it imports, directly or
not: any edit of one of these starts an empty folder, and an edit elsewhere costs nothing.
"""

from __future__ import annotations

import ast
import hashlib
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
from numba.core import config

Function = TypeVar("Function", bound=Callable[..., Any])

ROOT = Path(__file__).resolve().parents[2]  # the folder that holds the package


def _file_of(module: str, root: Path) -> Path | None:
    """The source of a module or package of the project; None of a name that is neither."""
    path = root.joinpath(*module.split("."))
    for candidate in (path.with_suffix(".py"), path / "__init__.py"):
        if candidate.is_file():
            return candidate
    return None


def _imported(source: bytes, package: str) -> Iterator[str]:
    """Every name under the package that the source imports, in functions too: modules and what is taken from them."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.split(".")[0] == package)
        elif isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == package:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@cache
def source_hash(module: str, root: Path = ROOT) -> str:
    """Sixteen hexadecimal digits over the names and contents of a module's source and of all it imports."""
    found: dict[str, bytes] = {}
    left = [module]
    while left:
        name = left.pop()
        path = _file_of(name, root)
        if path is None or name in found:
            continue
        found[name] = path.read_bytes()
        left.extend(_imported(found[name], module.split(".")[0]))
    digest = hashlib.sha256()
    for name in sorted(found):
        digest.update(name.encode() + b"\0" + found[name] + b"\0")
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
def cache_folder(module: str) -> Path | None:
    """Where a module's compiled kernels are kept; a private temporary folder if the user's cries off; None if both do.

    A temporary folder is always a fresh one: compiled code must not be read from a name others could have planted.
    """
    try:
        folder = user_cache() / "firstoff" / source_hash(module)
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
        folder = cache_folder(function.__module__)
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
