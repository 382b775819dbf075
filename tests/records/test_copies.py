"""Backup, restore and export: everything comes back, and nothing is written over."""

from __future__ import annotations

import base64
import csv
import json
from pathlib import Path

import pyarrow.parquet as parquet
import pytest
from sqlalchemy import text

from firstoff.errors import InputFault
from firstoff.records import Batch, Records, Signer, append, backup, export, head, open_records, restore, verify
from tests.records.tamper import behind

TEXT = b'[model]\r\nname = "\xc3\xa4"\n\x00\xff'  # whatever a file holds


@pytest.fixture
def filled(records: Records, anna: Signer) -> Records:
    for i in range(3):
        batch = Batch("readings", f"batch {i}")
        batch.add_text(f"sheet{i}.toml", "model sheet", TEXT + bytes([i]))
        batch.add("readings", part=f'P;"{i}\n', lot="", characteristic="friction", value=0.1 + i, unit="N")
        batch.add_rows("edges", [(f"lot:{i}", f"part:{k}", "is of", "") for k in range(2500)])
        append(records, batch, anna)
    return records


def test_backup_and_restore(
    filled: Records, place: str, tmp_path: Path, anna: Signer, request: pytest.FixtureRequest
) -> None:
    file = tmp_path / "backup.db"
    known = backup(filled, file)
    assert known == head(filled)
    assert [p.name for p in tmp_path.glob("*backup*")] == ["backup.db"]  # one file, nothing beside it
    append(filled, _later(), anna)
    targets = [str(tmp_path / "restored.db"), request.getfixturevalue("server").new()]
    for target in targets:  # wherever it came from, it may go to either
        assert restore(file, target) == known
        with open_records(target) as records:
            found = verify(records, known)
            assert found.sound
            assert found.rows == 3 * 2502 + 1
            with records.reading() as connection:
                kept = connection.execute(text("SELECT content FROM texts ORDER BY entry")).scalars().all()
            assert [bytes(k) for k in kept] == [TEXT + bytes([i]) for i in range(3)]
            append(records, _later(), anna)  # and it goes on
            assert verify(records, known).sound
        with pytest.raises(InputFault, match="holds records already"):
            restore(file, target)
    with pytest.raises(InputFault, match="is there already"):
        backup(filled, file)
    assert verify(filled, known).sound


def _later() -> Batch:
    batch = Batch("later")
    batch.add("items", item="bar:1", kind="bar", name="1")
    return batch


def test_a_record_that_is_not_sound_is_neither_backed_up_nor_restored(filled: Records, tmp_path: Path) -> None:
    file = tmp_path / "good.db"
    backup(filled, file)
    with open_records(file) as copy:
        behind(copy, "UPDATE readings SET value = 7 WHERE entry = 2")
    with pytest.raises(InputFault, match="entry 2, row 1"):
        restore(file, tmp_path / "new.db")
    assert not (tmp_path / "new.db").exists()
    behind(filled, "DELETE FROM edges WHERE entry = 2 AND position = 77")
    with pytest.raises(InputFault, match="not sound"):
        backup(filled, tmp_path / "other.db")
    assert not list(tmp_path.glob("*other*"))


@pytest.mark.parametrize("form", ["csv", "json", "parquet"])
def test_export(filled: Records, tmp_path: Path, form: str) -> None:
    folder = tmp_path / "out"
    files = export(filled, folder, form)
    assert {f.stem for f in files} >= {"entries", "readings", "texts", "edges", "decisions"}
    found = {f.stem: _read(f) for f in files}
    assert len(found["edges"]) == 7500
    assert [float(r["value"]) for r in found["readings"]] == [0.1, 1.1, 2.1]
    assert [r["part"] for r in found["readings"]] == [f'P;"{i}\n' for i in range(3)]
    contents = [r["content"] for r in found["texts"]]
    assert [c if isinstance(c, bytes) else base64.b64decode(c) for c in contents] == [
        TEXT + bytes([i]) for i in range(3)
    ]
    assert found["decisions"] == []
    assert f"{found['entries'][-1]['number']}:{found['entries'][-1]['hash']}" == str(head(filled))
    with pytest.raises(InputFault, match="is there already"):
        export(filled, folder, form)
    assert not list(folder.glob(".*"))


def _read(file: Path) -> list[dict[str, object]]:
    if file.suffix == ".csv":
        with file.open(encoding="utf-8", newline="") as lines:
            return list(csv.DictReader(lines))
    if file.suffix == ".json":
        return json.loads(file.read_text("utf-8"))
    return parquet.read_table(file).to_pylist()
