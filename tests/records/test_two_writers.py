"""Two processes write at once: neither corrupts nor loses what the other recorded."""

from __future__ import annotations

import os

from sqlalchemy import select, text

from firstoff.records import Batch, append, head, open_records, signer, verify
from firstoff.records.schema import entries

EACH = 15


def write(place: str, name: str, go: int, told: int) -> None:
    with open_records(place) as records:
        who = signer(name)
        os.read(go, 1)
        for i in range(EACH):
            batch = Batch("readings", f"{name} {i}")
            batch.add_rows("edges", [(f"rack:{name}-{i}", f"bar:{k}", "hung on", "") for k in range(1 + 50 * (i % 3))])
            os.write(told, f"{append(records, batch, who)}\n".encode())


def test_two_writers_at_once(place: str) -> None:
    open_records(place).close()
    names = ("Writer One", "Writer Two")
    for name in names:
        signer(name)
    go, start = os.pipe()
    source, sink = os.pipe()
    children = []
    for name in names:
        child = os.fork()
        if child == 0:
            try:
                write(place, name, go, sink)
                os._exit(0)
            finally:
                os._exit(1)
        children.append(child)
    os.close(sink)
    os.write(start, b"go")
    with os.fdopen(source) as told:
        acknowledged = told.read().split()
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0, 0]
    for end in (go, start):
        os.close(end)
    assert len(set(acknowledged)) == 2 * EACH
    with open_records(place) as records:
        assert verify(records, head(records)).sound
        with records.reading() as connection:
            rows = connection.execute(select(entries.c.number, entries.c.hash, entries.c.author)).all()
            edges = connection.execute(text("SELECT count(*) FROM edges")).scalar_one()
    assert sorted(acknowledged) == sorted(f"{number}:{digest}" for number, digest, _ in rows)
    assert sorted(number for number, *_ in rows) == list(range(1, 2 * EACH + 1))
    assert {name: sum(author == name for *_, author in rows) for name in names} == dict.fromkeys(names, EACH)
    assert edges == 2 * sum(1 + 50 * (i % 3) for i in range(EACH))
