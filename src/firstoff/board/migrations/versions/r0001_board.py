"""Accounts, sessions, jobs and what they found: all that a board keeps beside its launch folders."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

TABLES = {
    "accounts": ("name", "role hash created", "keeper active"),
    "sessions": ("digest", "account", "began seen"),
    "attempts": ("", "who", "at"),
    "tokens": ("digest", "label account created", "active"),
    "results": ("launch kind", "content inputs person time", ""),
    "choices": ("launch", "readings good owner", ""),
    "settings": ("key", "value", ""),
}


def upgrade() -> None:
    for name, (keys, texts, numbers) in TABLES.items():
        op.create_table(
            name,
            *(sa.Column(key, sa.Text, primary_key=True) for key in keys.split()),
            *(sa.Column(column, sa.Text, nullable=False, server_default="") for column in texts.split()),
            *(sa.Column(column, sa.Integer, nullable=False, server_default="0") for column in numbers.split()),
        )
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        *(sa.Column(column, sa.Text, nullable=False, server_default="") for column in
          ("launch", "kind", "state", "note", "person", "asked", "began", "ended", "message")),
        *(sa.Column(column, sa.Integer, nullable=False, server_default="0") for column in
          ("done", "total", "attempts", "stop")),
    )  # fmt: skip


def downgrade() -> None:
    raise NotImplementedError("a board is never taken back to an earlier schema: restore its file instead")
