"""Traceability: items and what came of what; and who took a reading."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from firstoff.records.guard import guard

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    for name, columns in (("items", "item kind name note"), ("edges", "parent child how time")):
        op.create_table(
            name,
            sa.Column("entry", sa.BigInteger, primary_key=True, autoincrement=False),
            sa.Column("position", sa.BigInteger, primary_key=True, autoincrement=False),
            *(sa.Column(column, sa.Text) for column in columns.split()),
        )
    op.create_index("items_item", "items", ["item"])
    op.create_index("items_name", "items", ["name"])
    op.create_index("edges_down", "edges", ["parent", "child"])
    op.create_index("edges_up", "edges", ["child", "parent"])
    op.add_column("readings", sa.Column("person", sa.Text))
    for name in ("items", "edges"):
        guard(op.get_bind(), name)


def downgrade() -> None:
    raise NotImplementedError("records are never taken back to an earlier schema: restore a backup instead")
