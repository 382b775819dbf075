"""What a database says when it fails, as one clear message: OSError (exit 4), or InputFault."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from firstoff.errors import InputFault, Message

KEPT = "what was recorded before is kept"
_SQLITE = (
    ("disk is full", errno.ENOSPC, f"no room is left; nothing was written, {KEPT}"),
    ("readonly database", errno.EROFS, "may not be written; nothing was recorded"),
    ("unable to open", errno.EACCES, "cannot be opened: no such folder, or no right to read and write there"),
    ("locked", errno.EBUSY, f"is in use by another program that does not let go; nothing was written, {KEPT}"),
    ("append-only", errno.EPERM, "is append-only: a row is never changed or deleted"),
    ("disk i/o error", errno.EIO, f"is not written to its end: no room, or the disk fails; nothing was added, {KEPT}"),
)  # fmt: skip
_DAMAGED = ("malformed", "not a database", "file is encrypted", "could not decode")


@contextmanager
def told(place: str) -> Iterator[None]:
    """Turn what the database raises into one message about `place`."""
    try:
        yield
    except DBAPIError as error:
        raise translated(error.orig or error, place) from error
    except (SQLAlchemyError, sqlite3.Error) as error:
        raise translated(error, place) from error
    except Exception as error:  # psycopg's own, which must not be imported where there is no server
        if type(error).__module__.startswith("psycopg"):
            raise translated(error, place) from error
        raise


def translated(error: BaseException, place: str) -> Exception:
    """The exception to raise instead."""
    text = " ".join(str(error).split())
    lowered = text.lower()
    if isinstance(error, sqlite3.Error):
        if any(word in lowered for word in _DAMAGED):
            return InputFault([Message("is no records database, or is damaged", file=place, found=text[:120])])
        for word, number, what in _SQLITE:
            if word in lowered:
                return OSError(number, what, place)
        return OSError(errno.EIO, f"fails: {text}; nothing was written, {KEPT}", place)
    if "append-only" in lowered:
        return OSError(errno.EPERM, "is append-only: a row is never changed or deleted", place)
    if "lock timeout" in lowered:
        return OSError(
            errno.EBUSY, f"is held by another writer that does not let go; nothing was written, {KEPT}", place
        )
    if "no space left" in lowered or "disk full" in lowered:
        return OSError(errno.ENOSPC, f"no room is left on the server; nothing was written, {KEPT}", place)
    if "read-only" in lowered or "permission denied" in lowered:
        return OSError(errno.EACCES, "the server gives no right to do this; nothing was recorded", place)
    if any(word in lowered for word in ("password", "authentication", "does not exist", "no pg_hba")):
        return OSError(errno.EACCES, f"the server does not let us in: {text[:160]}", place)
    return OSError(errno.ECONNABORTED, f"the server does not answer ({text[:120]}); nothing was written, {KEPT}", place)


def is_broken_off(error: BaseException) -> bool:
    """Whether the connection was lost, so that nobody knows whether a commit came through."""
    if isinstance(error, DBAPIError):
        return bool(error.connection_invalidated) or _is_operational(error.orig)
    return _is_operational(error)


def _is_operational(error: BaseException | None) -> bool:
    kind = type(error)
    return kind.__module__.startswith("psycopg") and any(
        base.__name__ in ("OperationalError", "InterfaceError") for base in kind.__mro__
    )
