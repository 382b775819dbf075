"""Appends a batch as one entry of the chain: whole or not at all, and acknowledged only when it is on the disk."""

from __future__ import annotations

import errno
import secrets
import time as clock
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, insert, select

from firstoff import __version__
from firstoff.errors import InputFault, Message
from firstoff.records.batch import Batch
from firstoff.records.canonical import Row, head_bytes
from firstoff.records.failures import KEPT, is_broken_off, told
from firstoff.records.keys import Signer
from firstoff.records.merkle import root_of
from firstoff.records.scan import put
from firstoff.records.schema import columns_of, entries, leaves, tables
from firstoff.records.store import Records

CHUNK = 8192  # leaf hashes stored end to end in one row
FIELDS = ("number", "batch", "kind", "author", "time", "version", "note", "previous", "root", "row_count", "public_key")
START = "0" * 64  # what the first entry follows
ANSWER = 30.0  # s to wait for a restarted server, to learn whether a commit came through


@dataclass(frozen=True)
class Head:
    """The end of the chain: by it a cut tail shows."""

    number: int  # 0: nothing is recorded
    hash: str

    def __str__(self) -> str:
        return f"{self.number}:{self.hash}"


def now() -> str:
    """The time by this machine's clock, UTC."""
    return datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def head(records: Records) -> Head:
    """Number and hash of the last entry."""
    with records.reading() as connection:
        return _head(connection)


def _head(connection: Connection) -> Head:
    row = connection.execute(
        select(entries.c.number, entries.c.hash).order_by(entries.c.number.desc()).limit(1)
    ).one_or_none()
    return Head(int(row[0]), str(row[1])) if row else Head(0, START)


def append(records: Records, batch: Batch, signer: Signer, time: Callable[[], str] = now) -> Head:
    """Record a batch as the next entry, signed by its author; gives the new head.

    When this returns, the batch is on the disk. InputFault when the author is known by another key, OSError when the
    place cannot be written; then nothing of the batch is there. A server that was lost while it committed is asked
    again whether it did.
    """
    if not batch.count:
        raise ValueError("a batch without rows")
    hashes = batch.leaves()  # the long work, before anybody has to wait
    token = secrets.token_hex(16)
    made: Head | None = None
    with told(records.place):
        try:
            with records.writing() as connection:
                made = _write(connection, batch, hashes, signer, token, time())
        except Exception as error:
            if made is None or not is_broken_off(error):
                raise
            _ask(records, token)  # the connection was lost while it committed: only the server knows
    return made


def _write(connection: Connection, batch: Batch, hashes: list[bytes], signer: Signer, token: str, time: str) -> Head:
    last = _head(connection)
    introduced = _introduce(connection, signer)
    number, count = last.number + 1, batch.count
    parts: list[tuple[str, int, list[Row]]] = list(batch.parts)
    if introduced:
        person = Batch("")
        person.add("people", name=signer.name, public_key=signer.public_key)
        parts.append(("people", count, person.parts[0][2]))
        hashes, count = [*hashes, *person.leaves()], count + 1
    values: list[Any] = [
        number, token, batch.kind, signer.name, time, __version__, batch.note, last.hash, root_of(hashes).hex(), count,
        signer.public_key,
    ]  # fmt: skip
    data = head_bytes(values)
    digest = sha256(data).hexdigest()
    for table, first, rows in parts:
        numbered = ((number, position, *row) for position, row in enumerate(rows, first))
        put(connection, table, columns_of(table), numbered, len(rows))
    chunks = [
        {"entry": number, "chunk": i // CHUNK, "hashes": b"".join(hashes[i : i + CHUNK])}
        for i in range(0, count, CHUNK)
    ]
    connection.execute(insert(leaves), chunks)
    whole = dict(zip(FIELDS, values, strict=True)) | {"hash": digest, "signature": signer.sign(data)}
    connection.execute(insert(entries), [whole])
    return Head(number, digest)


def _introduce(connection: Connection, signer: Signer) -> bool:
    """Whether this person is new here. A name keeps to one key, and a key to one name."""
    people = tables["people"]
    known = connection.execute(
        select(people.c.name, people.c.public_key).where(
            (people.c.name == signer.name) | (people.c.public_key == signer.public_key)
        )
    ).all()
    for name, key in known:
        if (name, key) != (signer.name, signer.public_key):
            what = (
                "is known to these records with another key" if name == signer.name else "signs with the key of another"
            )
            allowed = "the key file made on first use, or a name that tells the two apart, e.g. 'A. Miller, plating'"
            raise InputFault([Message(f"{what}; nothing was recorded", key="--by", found=signer.name, allowed=allowed)])
    return not known


def _ask(records: Records, token: str) -> None:
    """Wait until the server says that a batch is recorded. OSError when it is not, or when nobody answers in time."""
    until = clock.monotonic() + ANSWER
    while clock.monotonic() < until:
        try:
            with records.engine.connect() as connection:
                known = connection.execute(select(entries.c.number).where(entries.c.batch == token)).first()
        except Exception as error:
            if not is_broken_off(error):
                raise
            clock.sleep(0.5)
            continue
        if known is None:
            what = f"the server broke off before the batch was recorded; nothing was written, {KEPT}"
            raise OSError(errno.ECONNABORTED, what, records.place)
        return
    what = f"the server broke off and does not say whether the batch is recorded; record it again, {KEPT}"
    raise OSError(errno.ECONNABORTED, what, records.place)
