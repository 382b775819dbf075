"""The bytes of a row and of an entry's head that are hashed: JSON, so that anybody can check them without this tool.

A row is `["table", value, ...]` in the order of `schema.CONTENT`, without the empty values at its end; a text is
escaped to ASCII, a float is the shortest decimal that reads back to it, bytes are `"sha256:..."`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from hashlib import sha256
from itertools import islice
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.records.merkle import leaf_hash
from firstoff.records.schema import BYTES, CONTENT, REAL, TEXT

Row = tuple[Any, ...]

_encode = json.JSONEncoder(ensure_ascii=True, allow_nan=False, separators=(",", ":")).encode
HEAD = "firstoff entry 1"
BLOCK = 512  # rows encoded together


def leaf(table: str, row: Sequence[Any]) -> bytes:
    """The leaf hash of one row's content (without `entry` and `position`)."""
    return leaf_hash(_encode(_values(table, row)).encode("ascii"))


def leaves_of(table: str, rows: Iterable[Sequence[Any]]) -> list[bytes]:
    """The leaf hashes of many rows: encoded together and cut apart, which takes half the time."""
    found: list[bytes] = []
    left = iter(rows)
    while block := [_values(table, row) for row in islice(left, BLOCK)]:
        pieces = _encode(block)[2:-2].split("],[")
        if len(pieces) != len(block):  # a text holds what stands between two rows
            pieces = [_encode(values)[1:-1] for values in block]
        found += [leaf_hash(b"[%b]" % piece.encode("ascii")) for piece in pieces]
    return found


def _values(table: str, row: Sequence[Any]) -> list[Any]:
    values: list[Any] = [table, *row]
    while values[-1] is None:
        values.pop()
    if table == "texts":
        values = [f"sha256:{sha256(v).hexdigest()}" if isinstance(v, bytes) else v for v in values]
    return values


def head_bytes(head: Sequence[Any]) -> bytes:
    """What is hashed and signed of an entry: every field of its head but the hash and the signature."""
    return _encode([HEAD, *head]).encode("ascii")


def settled(table: str, rows: Sequence[Row]) -> list[Row]:
    """Rows as every database gives them back. InputFault for what a database cannot keep.

    A whole number in a column of floats becomes a float and a minus zero zero; a zero byte or half a character in a
    text, and NaN or infinity, are refused.
    """
    if not rows:
        return []
    kinds = CONTENT[table]
    if any(len(row) != len(kinds) for row in rows):
        raise ValueError(f"a row of {table} has not its {len(kinds)} values")
    columns = zip(*rows, strict=True)
    made = [_column(table, name, kind, values) for (name, kind), values in zip(kinds.items(), columns, strict=True)]
    return list(zip(*made, strict=True))


def _column(table: str, name: str, kind: str, values: Sequence[Any]) -> Sequence[Any]:
    if kind == TEXT:
        for text in set(values):
            if text is not None and ("\0" in text or not _encodable(text)):
                raise _refused(table, name, repr(text), "text without zero bytes")
        return values
    if kind == REAL:
        if not all(v is None or math.isfinite(v) for v in values):
            raise _refused(table, name, "no number", "finite numbers")
        return [None if v is None else float(v) + 0.0 for v in values]
    if kind == BYTES:
        return [None if v is None else bytes(v) for v in values]
    if not all(v is None or -(2**63) <= v < 2**63 for v in values):
        raise _refused(table, name, "a number too large", "whole numbers of 64 bits")
    return [None if v is None else int(v) for v in values]


def _encodable(text: str) -> bool:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _refused(table: str, name: str, found: str, allowed: str) -> InputFault:
    message = Message("cannot be kept in the records", key=f"{table}.{name}", found=found[:80], allowed=allowed)
    return InputFault([message])
