"""A short soak on both databases; the long one is `python -m tests.records.soak`."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

from firstoff.errors import InputFault
from firstoff.records import Batch, Signer, append, head, open_records, verify
from tests.records.random_tamper import tamper_rounds
from tests.records.soak import kill_rounds


def test_nothing_acknowledged_is_lost_when_writers_are_killed(place: str) -> None:
    found = kill_rounds(place, 26)
    assert found.acknowledged, "the writers never came to write: the test says nothing"
    assert not found.lost
    assert not found.findings
    assert found.entries >= len(found.acknowledged)


def test_every_random_change_is_found(place: str) -> None:
    found = tamper_rounds(place, 60 if "://" not in place else 20, seed=5)
    assert len(found.kinds) >= 6
    assert not found.missed


def test_damage_to_the_file_is_found_or_harms_nothing(tmp_path: Path, anna: Signer) -> None:
    file = tmp_path / "records.db"
    with open_records(file) as records:
        for i in range(8):
            batch = Batch("readings")
            batch.add_rows("edges", [(f"bath fill:{i}", f"bar:{i}-{k}", "plated in", "") for k in range(40)])
            append(records, batch, anna)
        known = head(records)
    whole, content = file.read_bytes(), _rows(file)
    draw = random.Random(3)
    found = 0
    for i in range(40):
        hurt = tmp_path / f"hurt{i}.db"
        data = bytearray(whole)
        if i % 4 == 0:
            del data[draw.randrange(100, len(data)) :]
        else:
            data[draw.randrange(100, len(data))] ^= 1 << draw.randrange(8)
        hurt.write_bytes(bytes(data))
        try:
            with open_records(hurt, create=False) as records:
                sound = verify(records, known).sound
        except (InputFault, OSError):
            sound = False
        found += not sound
        assert not sound or _rows(hurt) == content, f"round {i}"
        hurt.unlink()
    assert found >= 10


def _rows(file: Path) -> list[object]:
    with sqlite3.connect(file) as raw:
        raw.text_factory = bytes
        return [
            raw.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall() for table in ("entries", "leaves", "edges")
        ]
