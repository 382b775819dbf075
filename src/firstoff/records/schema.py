"""What is kept: the tables of the records, and the chain that binds them.

Every content table has `entry` and `position` first: the batch that brought the row, and the row's place in it. Columns
are only ever added at the end and start empty, so that a row keeps its leaf (`canonical.py`) through every migration.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, Double, Integer, LargeBinary, MetaData, Table, Text

metadata = MetaData()

TEXT, REAL, WHOLE, BYTES = "text", "real", "whole", "bytes"
_SQL = {TEXT: Text, REAL: Double, WHOLE: BigInteger, BYTES: LargeBinary}

# table -> its columns in the order of the leaf; what each is about stands in docs/records.md
CONTENT: dict[str, dict[str, str]] = {
    "people": {"name": TEXT, "public_key": TEXT},
    "texts": {"sha256": TEXT, "name": TEXT, "role": TEXT, "content": BYTES},
    "models": {"model": TEXT, "revision": TEXT, "family": TEXT, "plant": TEXT, "sheet": TEXT, "plant_sheet": TEXT},
    "trials": {
        "model": TEXT, "revision": TEXT, "sheet": TEXT, "plant_sheet": TEXT, "readings": TEXT, "good": TEXT,
    },
    "readings": {
        "trial": WHOLE, "part": TEXT, "lot": TEXT, "place": TEXT, "characteristic": TEXT, "value": REAL, "unit": TEXT,
        "gauge": TEXT, "temperature": REAL, "time": TEXT, "line": WHOLE, "header": TEXT, "person": TEXT,
    },
    "results": {
        "kind": TEXT, "model": TEXT, "revision": TEXT, "lot": TEXT, "summary": TEXT, "inputs": TEXT, "content": TEXT,
    },
    "items": {"item": TEXT, "kind": TEXT, "name": TEXT, "note": TEXT},
    "edges": {"parent": TEXT, "child": TEXT, "how": TEXT, "time": TEXT},
    "decisions": {
        "model": TEXT, "revision": TEXT, "word": TEXT, "meaning": TEXT, "person": TEXT, "time": TEXT,
        "recommended": TEXT, "reason": TEXT, "sheet": TEXT, "plant_sheet": TEXT, "readings": TEXT,
        "recommendation": TEXT, "version": TEXT, "authenticated": TEXT, "sheet_file": TEXT, "readings_file": TEXT,
    },
    "concessions": {
        "decision": WHOLE, "characteristic": TEXT, "lot": TEXT, "low": REAL, "high": REAL, "unit": TEXT, "until": TEXT,
        "customer": TEXT,
    },
    "actions": {
        "action": TEXT, "state": TEXT, "what": TEXT, "closes": TEXT, "owner": TEXT, "due": TEXT, "model": TEXT,
        "revision": TEXT,
    },
}  # fmt: skip

entries = Table(
    "entries", metadata,
    Column("number", BigInteger, primary_key=True, autoincrement=False),
    Column("batch", Text, nullable=False, unique=True),  # drawn by the writer: a doubtful commit is looked up by it
    Column("kind", Text, nullable=False),
    Column("author", Text, nullable=False),
    Column("time", Text, nullable=False),
    Column("version", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("previous", Text, nullable=False),
    Column("root", Text, nullable=False),
    Column("row_count", BigInteger, nullable=False),
    Column("public_key", Text, nullable=False),
    Column("hash", Text, nullable=False),
    Column("signature", Text, nullable=False),
)  # fmt: skip

leaves = Table(
    "leaves", metadata,
    Column("entry", BigInteger, primary_key=True, autoincrement=False),
    Column("chunk", Integer, primary_key=True, autoincrement=False),
    Column("hashes", LargeBinary, nullable=False),
)  # fmt: skip

tables: dict[str, Table] = {
    name: Table(
        name,
        metadata,
        Column("entry", BigInteger, primary_key=True, autoincrement=False),
        Column("position", BigInteger, primary_key=True, autoincrement=False),
        *(Column(column, _SQL[kind]) for column, kind in columns.items()),
    )
    for name, columns in CONTENT.items()
}

# Indexes by table; edges both ways, so that tracing needs no more than the index.
INDEXES = (
    ("texts_sha256", "texts", ("sha256",)),
    ("readings_part", "readings", ("part",)),
    ("items_item", "items", ("item",)),
    ("items_name", "items", ("name",)),
    ("edges_down", "edges", ("parent", "child")),
    ("edges_up", "edges", ("child", "parent")),
)


def columns_of(table: str) -> tuple[str, ...]:
    """Every column of a content table, `entry` and `position` first."""
    return ("entry", "position", *CONTENT[table])
