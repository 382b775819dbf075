"""Random changes behind the back of the records, one at a time, each undone before the next; was it found?"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, text

from firstoff.records import Batch, Records, append, head, open_records, signer, verify
from firstoff.records.schema import CONTENT, metadata
from tests.records.tamper import behind

SMALL = 24  # entries of the records that are tampered with
OF_ENTRY = [("entries", "number"), ("leaves", "entry"), *((name, "entry") for name in CONTENT)]


@dataclass
class Tampers:
    rounds: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    missed: list[str] = field(default_factory=list)


class Undone(Exception):
    """Ends the transaction in which a change was made and looked for."""


def tamper_rounds(place: str, rounds: int, seed: int = 1) -> Tampers:
    """Change, verify, undo; on records that go on from those at `place` with a few small entries of every sort."""
    draw, found = random.Random(seed), Tampers()
    small = place if "://" in place else f"{place}.small"
    if "://" in place:
        base, _, name = place.rpartition("/")
        small = _new_database(base, f"{name}_small")
    with open_records(small) as records:
        _fill(records)
        known = head(records)
        behind(records)  # the triggers are out of the way from here on
        while found.rounds < rounds:
            kind = draw.choice(list(KINDS))
            try:
                with records.writing() as connection:
                    what = KINDS[kind](connection, draw)
                    if what:
                        sound = verify(_Within(records, connection), known).sound
                        found.rounds += 1
                        found.kinds[kind] += 1
                        if sound:
                            found.missed.append(f"{kind}: {what}")
                    raise Undone
            except Undone:
                continue
        assert verify(records, known).sound  # everything was undone
    return found


class _Within(Records):
    """The records as they look from inside an open transaction."""

    def __init__(self, records: Records, connection: Connection) -> None:
        super().__init__(records.engine, records.place, records.file)
        object.__setattr__(self, "connection", connection)

    def reading(self) -> Any:
        from contextlib import nullcontext

        return nullcontext(self.connection)  # type: ignore[attr-defined]


def _new_database(base: str, name: str) -> str:
    import psycopg

    with psycopg.connect(f"{base}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"{base}/{name}"


def _fill(records: Records) -> None:
    people = [signer("Writer One"), signer("Writer Two")]
    for i in range(SMALL):
        batch = Batch("soak", f"small {i}")
        batch.add_text(f"damper{i}.toml", "model sheet", f"[model]\nname = 'm{i}'\n".encode())
        batch.add("models", model=f"m{i}", revision="A", sheet="x")
        batch.add("trials", model=f"m{i}")
        for k in range(4):
            batch.add("readings", part=f"P{k}", characteristic="friction", value=i + k / 7, unit="N", line=k)
        batch.add("results", kind="plan", content='{"a": 1}')
        batch.add("items", item=f"bar:{i}", kind="bar", name=f"{i}")
        batch.add("edges", parent=f"bath fill:{i}", child=f"bar:{i}", how="plated in")
        batch.add("decisions", word="hold", person="Writer One", recommended="hold")
        batch.add("concessions", decision=1, characteristic="friction", low=1.0, until="2027-01-31")
        batch.add("actions", action=f"A-{i}", state="open", due="2027-01-31")
        append(records, batch, people[i % 2])


def _row(connection: Connection, draw: random.Random, tables: list[str]) -> tuple[str, dict[str, Any]]:
    table = draw.choice(tables)
    rows = connection.execute(text(f"SELECT * FROM {table}")).mappings().all()
    return table, dict(draw.choice(rows)) if rows else {}


def _key(table: str) -> list[str]:
    return [c.name for c in metadata.tables[table].primary_key.columns]


def _edit(connection: Connection, draw: random.Random) -> str:
    table, row = _row(connection, draw, ["entries", "leaves", *CONTENT])
    column = draw.choice([c for c in row if c not in _key(table)])
    old = row[column]
    new: Any = _other(draw, old, str(metadata.tables[table].c[column].type))
    if new == old:
        return ""
    where = " AND ".join(f"{k} = :k_{k}" for k in _key(table))
    values = {"new": new, **{f"k_{k}": row[k] for k in _key(table)}}
    connection.execute(text(f"UPDATE {table} SET {column} = :new WHERE {where}"), values)
    return f"{table}.{column} of {[row[k] for k in _key(table)]}: {old!r} to {new!r}"


def _other(draw: random.Random, old: Any, kind: str) -> Any:
    if kind in ("BLOB", "BYTEA"):
        data = bytearray(old or b"x")
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        return bytes(data)
    if kind in ("BIGINT", "INTEGER"):
        return (old or 0) + draw.choice([-1, 1, 7])
    if kind.startswith("DOUBLE"):
        return (old or 0.0) * (1 + 2**-50) + draw.choice([0.0, 1e-9])
    words = old or ""
    place = draw.randrange(len(words) + 1)
    return words[:place] + draw.choice("0a ") + words[place + draw.choice([0, 1]) :]


def _delete(connection: Connection, draw: random.Random) -> str:
    table, row = _row(connection, draw, ["entries", "leaves", *CONTENT])
    where = " AND ".join(f"{k} = :{k}" for k in _key(table))
    connection.execute(text(f"DELETE FROM {table} WHERE {where}"), {k: row[k] for k in _key(table)})
    return f"{table} {[row[k] for k in _key(table)]}"


def _move(connection: Connection, table: str, column: str, pairs: list[tuple[int, int]], also: str = "") -> None:
    for old, new in pairs:
        connection.execute(text(f"UPDATE {table} SET {column} = {new} WHERE {column} = {old} {also}"))


def _swap_rows(connection: Connection, draw: random.Random) -> str:
    entry, (a, b) = draw.randint(1, SMALL), draw.sample(range(2, 8), 2)
    for table in CONTENT:
        _move(connection, table, "position", [(a, -1), (b, a), (-1, b)], f"AND entry = {entry}")
    return f"entry {entry}, rows {a} and {b}"


def _swap_entries(connection: Connection, draw: random.Random) -> str:
    a, b = draw.sample(range(1, SMALL + 1), 2)
    for table, column in OF_ENTRY:
        _move(connection, table, column, [(a, -7), (b, a), (-7, b)])
    return f"{a} and {b}"


def _cut(connection: Connection, draw: random.Random) -> str:
    last = draw.randint(0, SMALL - 1)
    for table, column in OF_ENTRY:
        connection.execute(text(f"DELETE FROM {table} WHERE {column} > {last}"))
    return f"behind {last}"


def _cut_out(connection: Connection, draw: random.Random) -> str:
    gone = draw.randint(1, SMALL - 1)
    for table, column in OF_ENTRY:
        connection.execute(text(f"DELETE FROM {table} WHERE {column} = {gone}"))
        _move(connection, table, column, [(n, n - 1) for n in range(gone + 1, SMALL + 1)])
    return f"{gone}"


def _replay_row(connection: Connection, draw: random.Random) -> str:
    table, row = _row(connection, draw, list(CONTENT))
    entry = draw.choice([n for n in range(1, SMALL + 1) if n != row["entry"]])
    row |= {"entry": entry, "position": draw.choice([row["position"] + 100, 99])}
    names = ", ".join(row)
    connection.execute(text(f"INSERT INTO {table} ({names}) VALUES ({', '.join(f':{n}' for n in row)})"), row)
    return f"{table} into {entry}"


def _replay_entry(connection: Connection, draw: random.Random) -> str:
    old, new = draw.randint(1, SMALL), SMALL + draw.choice([1, 1, 2])
    for table, column in OF_ENTRY:
        names = [c.name for c in metadata.tables[table].columns]
        taken = ", ".join(str(new) if n == column else "'again'" if n == "batch" else n for n in names)
        connection.execute(
            text(f"INSERT INTO {table} ({', '.join(names)}) SELECT {taken} FROM {table} WHERE {column} = {old}")
        )
    return f"{old} as {new}"


KINDS: dict[str, Callable[[Connection, random.Random], str]] = {
    "edit": _edit,
    "delete": _delete,
    "swap rows": _swap_rows,
    "swap entries": _swap_entries,
    "cut the end": _cut,
    "cut out": _cut_out,
    "replay a row": _replay_row,
    "replay an entry": _replay_entry,
}
