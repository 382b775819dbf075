"""The chain, sheets, models, trials, readings and results."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from firstoff.records.guard import guard

revision = "0001"
down_revision = None

TEXTS = {
    "people": "name public_key",
    "models": "model revision family plant sheet plant_sheet",
    "trials": "model revision sheet plant_sheet readings good",
    "results": "kind model revision lot summary inputs content",
}

HEAD = ("kind", "author", "time", "version", "note", "previous", "root")
SEAL = ("public_key", "hash", "signature")


def row_key() -> list[sa.Column[int]]:
    return [
        sa.Column("entry", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("position", sa.BigInteger, primary_key=True, autoincrement=False),
    ]


def text(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text) for name in names]


def upgrade() -> None:
    op.create_table(
        "entries",
        sa.Column("number", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("batch", sa.Text, nullable=False, unique=True),
        *(sa.Column(n, sa.Text, nullable=False) for n in HEAD),
        sa.Column("row_count", sa.BigInteger, nullable=False),
        *(sa.Column(n, sa.Text, nullable=False) for n in SEAL),
    )
    op.create_table(
        "leaves",
        sa.Column("entry", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("chunk", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("hashes", sa.LargeBinary, nullable=False),
    )
    op.create_table("texts", *row_key(), *text("sha256", "name", "role"), sa.Column("content", sa.LargeBinary))
    op.create_table(
        "readings",
        *row_key(),
        sa.Column("trial", sa.BigInteger),
        *text("part", "lot", "place", "characteristic"),
        sa.Column("value", sa.Double),
        *text("unit", "gauge"),
        sa.Column("temperature", sa.Double),
        *text("time"),
        sa.Column("line", sa.BigInteger),
        *text("header"),
    )
    for name, columns in TEXTS.items():
        op.create_table(name, *row_key(), *text(*columns.split()))
    op.create_index("texts_sha256", "texts", ["sha256"])
    op.create_index("readings_part", "readings", ["part"])
    for name in ("entries", "leaves", "texts", "readings", *TEXTS):
        guard(op.get_bind(), name)


def downgrade() -> None:
    raise NotImplementedError("records are never taken back to an earlier schema: restore a backup instead")
