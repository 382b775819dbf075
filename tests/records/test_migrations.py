"""Records of every earlier schema open, keep every leaf, and go on."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import inspect, text

from firstoff.errors import InputFault
from firstoff.records import Batch, Records, Signer, append, head, open_records, verify
from firstoff.records.guard import unguarded
from firstoff.records.schema import CONTENT, INDEXES, metadata
from firstoff.records.store import SCHEMA, migrate

HERE = Path(__file__).parent / "schemas"


def put_down(name: str, place: str) -> None:
    """The database as it was written under an earlier schema: its SQL on a file, its rows on a server."""
    script = (HERE / f"{name}.sql").read_text("utf-8")
    if "://" not in place:
        with sqlite3.connect(place) as raw:
            raw.executescript(script)
        return
    from firstoff.records.scan import put
    from firstoff.records.store import Records, _server_engine, _url

    records = Records(_server_engine(_url(place)), place, None)
    old = sqlite3.connect(":memory:")
    old.executescript(script)
    with records.writing() as connection:
        migrate(connection, name.removeprefix("schema_"))
        for (table,) in old.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
            if table != "alembic_version":
                rows = old.execute(f"SELECT * FROM {table}")
                columns = [c[0] for c in rows.description]
                put(connection, table, columns, rows.fetchall(), 1)
    records.close()


@pytest.mark.parametrize("name", ["schema_0001", "schema_0002"])
def test_records_of_an_earlier_schema(name: str, place: str, anna: Signer) -> None:
    put_down(name, place)
    noted = (HERE / f"{name}.head").read_text("utf-8").strip()
    with open_records(place, create=False) as records:
        assert str(head(records)) == noted
        found = verify(records, head(records))
        assert found.sound, found.findings
        assert not found.remarks
        assert found.rows >= 8
        with records.reading() as connection:
            assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one() == SCHEMA
            row = connection.execute(text("SELECT part, value, person FROM readings ORDER BY position LIMIT 1")).one()
        assert tuple(row) == ("FO-01", 1222.0, None if name == "schema_0001" else "Berta Example")
        batch = Batch("decision")
        batch.add("decisions", word="hold", person="Anna Example")
        append(records, batch, anna)
        assert verify(records).sound
    with open_records(place) as records:  # a second opening changes nothing
        assert head(records).number == int(noted.split(":")[0]) + 1


def test_the_revisions_make_what_the_code_expects(records: Records) -> None:
    with records.writing() as connection:
        different = compare_metadata(MigrationContext.configure(connection), metadata)
        found = inspect(connection)
        indexes = {i["name"]: (t, tuple(i["column_names"])) for t in CONTENT for i in found.get_indexes(t)}
        bare = unguarded(connection, ["entries", "leaves", *CONTENT])
    assert [d for d in different if d[0] != "remove_index"] == []
    assert indexes == {name: (table, columns) for name, table, columns in INDEXES}
    assert bare == []


def test_the_schema_of_a_newer_firstoff_is_left_alone(records: Records, place: str) -> None:
    with records.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '0999'"))
    with pytest.raises(InputFault, match="newer firstoff"):
        open_records(place)
    with records.reading() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one() == "0999"
