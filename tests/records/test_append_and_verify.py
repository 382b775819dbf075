"""Whatever is changed behind the back of the records is named; what is recorded comes back as it was."""

from __future__ import annotations

import math
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from firstoff.errors import InputFault
from firstoff.records import (
    Batch,
    Finding,
    Head,
    Records,
    Signer,
    append,
    head,
    open_records,
    read_head,
    signer,
    verify,
)
from firstoff.records.canonical import leaf, leaves_of, settled
from firstoff.records.schema import CONTENT
from tests.records.tamper import behind


def batch(i: int, rows: int = 4) -> Batch:
    made = Batch("readings", f"batch {i}")
    for k in range(rows):
        made.add("readings", part=f"P{i}-{k}", lot="L1", characteristic="friction", value=20.0 + i + 0.1 * k, unit="N")
    made.add("edges", parent=f"powder lot:{i}", child=f"part:L1/P{i}-0", how="pressed from")
    return made


@pytest.fixture
def filled(records: Records, anna: Signer) -> Records:
    for i in range(6):
        append(records, batch(i), anna)
    return records


def kinds(found: tuple[Finding, ...]) -> set[tuple[str, int | None, int | None]]:
    return {(f.kind, f.entry, f.row) for f in found}


def test_what_is_appended_is_sound_and_chained(filled: Records) -> None:
    found = verify(filled, head(filled))
    assert found.sound, found.findings
    assert not found.remarks
    assert (found.entries, found.rows) == (6, 6 * 5 + 1)  # and the person, once
    assert found.head == head(filled) == read_head(str(head(filled)))


def test_the_leaf_is_what_the_documentation_says() -> None:
    # docs/records.md: JSON of the table and its values without the empty ones at its end, hashed after a zero byte
    values = [None] * len(CONTENT["readings"])
    values[1:7] = ["P1", "L1", None, "friction", 23.5, "N"]
    expected = sha256(b'\x00["readings",null,"P1","L1",null,"friction",23.5,"N"]').digest()
    assert leaf("readings", values) == expected
    # many at once give the same leaves as one at a time, whatever stands in the texts
    rows = [
        (i, f"P{i}", text, None, "x", i / 7, "N", *[None] * 6) for i, text in enumerate(["", "],[", '"],["', "\\", "ä"])
    ]
    for some in (rows, rows[:1], rows[1:3], [*rows * 300]):
        assert leaves_of("readings", some) == [leaf("readings", r) for r in some]
    content = b"a\xff"
    row = ("d", "damper.toml", "model sheet", content)
    words = f'["texts","d","damper.toml","model sheet","sha256:{sha256(content).hexdigest()}"]'
    assert leaf("texts", row) == sha256(b"\x00" + words.encode()).digest()


TAMPERING: dict[str, tuple[list[str], set[tuple[str, int | None, int | None]]]] = {
    "a value": (["UPDATE readings SET value = 21.0 WHERE part = 'P2-1'"], {("altered", 3, 1)}),
    "a value by the last bit": (
        ["UPDATE readings SET value = 22.100000000000005 WHERE part = 'P2-1'"], {("altered", 3, 1)},
    ),
    "an empty column filled": (["UPDATE readings SET person = 'B' WHERE part = 'P2-1'"], {("altered", 3, 1)}),
    "a column emptied": (["UPDATE readings SET unit = NULL WHERE part = 'P2-1'"], {("altered", 3, 1)}),
    "a row removed": (["DELETE FROM readings WHERE part = 'P3-2'"], {("removed", 4, 2)}),
    "a row added": (
        ["INSERT INTO edges (entry, position, parent, child) VALUES (2, 9, 'x', 'y')"], {("added", 2, 9)},
    ),
    "a row of no entry": (
        ["INSERT INTO edges (entry, position, parent, child) VALUES (99, 0, 'x', 'y')"], {("added", 99, 0)},
    ),
    "two rows swapped": (
        ["UPDATE readings SET position = -1 WHERE entry = 5 AND position = 0",
         "UPDATE readings SET position = 0 WHERE entry = 5 AND position = 3",
         "UPDATE readings SET position = 3 WHERE entry = 5 AND position = -1"],
        {("reordered", 5, 0), ("reordered", 5, 3)},
    ),
    "a row replayed": (
        ["UPDATE readings SET value = (SELECT value FROM readings WHERE part = 'P1-1'), part = 'P1-1' "
         "WHERE part = 'P4-1'"],
        {("replayed", 5, 1)},
    ),
    "a row beside another": (
        ["INSERT INTO edges (entry, position, parent, child) VALUES (2, 1, 'x', 'y')"], {("added", 2, 1)},
    ),
    "an entry's author": (["UPDATE entries SET author = 'B' WHERE number = 2"],
                          {("altered", 2, None), ("unsigned", 2, None)}),
    "an entry's time": (["UPDATE entries SET time = '2020-01-01T00:00:00Z' WHERE number = 2"], {("altered", 2, None)}),
    "an entry's note": (["UPDATE entries SET note = 'x' WHERE number = 6"], {("altered", 6, None)}),
    "a signature": (["UPDATE entries SET signature = (SELECT signature FROM entries WHERE number = 1) "
                     "WHERE number = 2"], {("unsigned", 2, None)}),
    "a list of leaves": (["UPDATE leaves SET hashes = (SELECT hashes FROM leaves WHERE entry = 1) WHERE entry = 2"],
                         {("altered", 2, None)}),
    "an entry removed": (
        ["DELETE FROM entries WHERE number = 3", "DELETE FROM leaves WHERE entry = 3",
         "DELETE FROM readings WHERE entry = 3", "DELETE FROM edges WHERE entry = 3"], {("removed", 3, None)},
    ),
    "entries swapped": (
        [f"UPDATE {t} SET {c} = {b} WHERE {c} = {a}" for a, b in ((3, 77), (4, 3), (77, 4))
         for t, c in (("entries", "number"), ("leaves", "entry"), ("readings", "entry"), ("edges", "entry"))],
        {("reordered", 3, None), ("reordered", 4, None)},
    ),
    "an entry cut out and the rest moved up": (
        ["DELETE FROM entries WHERE number = 3", "DELETE FROM leaves WHERE entry = 3",
         "DELETE FROM readings WHERE entry = 3", "DELETE FROM edges WHERE entry = 3",
         *(f"UPDATE {t} SET {c} = {n - 1} WHERE {c} = {n}" for n in (4, 5, 6)
           for t, c in (("entries", "number"), ("leaves", "entry"), ("readings", "entry"), ("edges", "entry")))],
        {("reordered", 3, None), ("reordered", 4, None), ("reordered", 5, None)},
    ),
    "an entry replayed at the end": (
        ["INSERT INTO entries SELECT 7, 'again', kind, author, time, version, note, previous, root, row_count, "
         "public_key, hash, signature FROM entries WHERE number = 4",
         "INSERT INTO leaves SELECT 7, chunk, hashes FROM leaves WHERE entry = 4",
         "INSERT INTO readings SELECT 7, position, trial, part, lot, place, characteristic, value, unit, gauge, "
         "temperature, time, line, header, person FROM readings WHERE entry = 4",
         "INSERT INTO edges SELECT 7, position, parent, child, how, time FROM edges WHERE entry = 4"],
        {("replayed", 7, None)},
    ),
    "the person's key": ([f"UPDATE people SET public_key = '{'00' * 32}'"], {
        ("altered", 1, 5), *(("unsigned", n, None) for n in range(1, 7))}),
}  # fmt: skip


@pytest.mark.parametrize("what", TAMPERING)
def test_tampering_is_named(filled: Records, what: str) -> None:
    statements, expected = TAMPERING[what]
    known = head(filled)
    behind(filled, *statements)
    found = verify(filled)
    assert kinds(found.findings) == expected, [f.as_text() for f in found.findings]
    assert any("no longer refuses" in r for r in found.remarks)
    if what != "an entry replayed at the end":
        assert not verify(filled, known).sound


def test_a_cut_tail_shows_by_the_head_that_was_noted(filled: Records) -> None:
    known = head(filled)
    placed = (("entries", "number"), ("leaves", "entry"), ("readings", "entry"), ("edges", "entry"))
    behind(filled, *(f"DELETE FROM {table} WHERE {column} > 4" for table, column in placed))
    assert verify(filled).sound  # by itself a shorter record is a record: hence the head on every dossier
    found = verify(filled, known)
    assert kinds(found.findings) == {("removed", 6, None)}
    assert "5 to 6" in found.findings[0].what


def test_records_written_anew_with_another_key_show_by_the_head(
    filled: Records, tmp_path: Path, config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = head(filled)
    monkeypatch.setenv("FIRSTOFF_CONFIG", str(tmp_path / "other"))
    with open_records(tmp_path / "anew.db") as forged:
        for i in range(7):
            append(forged, batch(i), signer("Anna Example"))
        assert verify(forged).sound
        assert kinds(verify(forged, known).findings) == {("other head", 6, None)}


def test_the_database_itself_refuses_changes(filled: Records) -> None:
    for statement in ("UPDATE readings SET value = 1", "DELETE FROM entries", "DELETE FROM leaves"):
        with pytest.raises(Exception, match="append-only"), filled.writing() as connection:
            connection.execute(text(statement))
    assert verify(filled).sound


def test_a_name_keeps_to_its_key(
    filled: Records, anna: Signer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FIRSTOFF_CONFIG", str(tmp_path / "another machine"))
    before = head(filled)
    with pytest.raises(InputFault, match="known to these records with another key"):
        append(filled, batch(9), signer("Anna Example"))
    with pytest.raises(InputFault, match="key of another"):
        append(filled, batch(9), Signer("Berta Example", anna.key, False))
    append(filled, batch(9), signer("Berta Example"))
    assert head(filled).number == before.number + 1
    assert verify(filled).sound


def test_a_wrong_clock_is_remarked(records: Records, anna: Signer) -> None:
    for time in ("2026-03-02T10:00:00Z", "2026-03-01T10:00:00Z"):
        append(records, batch(0), anna, lambda time=time: time)
    found = verify(records)
    assert found.sound
    assert found.remarks == ("entry 2 bears an earlier time (2026-03-01T10:00:00Z) than entry 1: a clock was wrong",)


@given(
    st.lists(
        st.tuples(
            st.none() | st.integers(-(2**63), 2**63 - 1),
            st.none() | st.text(st.characters(exclude_characters="\0", codec="utf-8"), max_size=8),
            st.none() | st.floats(allow_nan=False, allow_infinity=False),
        ),
        min_size=1,
        max_size=5,
    )
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=15)
def test_every_value_comes_back_as_it_was(records: Records, anna: Signer, rows: list[tuple[Any, ...]]) -> None:
    made = Batch("odd")
    for whole, words, number in rows:
        made.add("readings", trial=whole, part=words, value=number)
    number = append(records, made, anna).number
    with records.reading() as connection:
        kept = connection.execute(
            text(f"SELECT trial, part, value FROM readings WHERE entry = {number} ORDER BY position")
        ).all()
    assert [tuple(row) for row in kept] == [(w, t, None if v is None else v + 0.0) for w, t, v in rows]
    assert verify(records).sound


@pytest.mark.parametrize(
    ("name", "value"), [("value", math.nan), ("value", math.inf), ("part", "a\0b"), ("part", "\ud800"), ("line", 2**63)]
)
def test_what_no_database_can_keep_is_refused(name: str, value: Any) -> None:
    with pytest.raises(InputFault, match=f"readings.{name}"):
        Batch("odd").add("readings", **{name: value})


def test_a_batch_names_its_columns() -> None:
    with pytest.raises(ValueError, match="readings has no colour"):
        Batch("odd").add("readings", colour="blue")
    with pytest.raises(ValueError, match="not its"):
        settled("edges", [("a", "b")])


def test_a_head_that_is_none_is_refused() -> None:
    with pytest.raises(InputFault, match="is no head"):
        read_head("12")
    assert read_head(" 3:" + "AB" * 32) == Head(3, "ab" * 32)
    assert read_head("3:" + "ab" * 16 + "\u200b\n" + "ab" * 16) == Head(3, "ab" * 32)  # copied from a dossier
