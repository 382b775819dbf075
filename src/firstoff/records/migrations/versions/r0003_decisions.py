"""Decisions, concessions with their end, open actions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from firstoff.records.guard import guard

revision = "0003"
down_revision = "0002"

DECISION = (
    "model revision word meaning person time recommended reason sheet plant_sheet readings recommendation version "
    "authenticated sheet_file readings_file"
)
ACTION = "action state what closes owner due model revision"


def row_key() -> list[sa.Column[int]]:
    return [
        sa.Column("entry", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("position", sa.BigInteger, primary_key=True, autoincrement=False),
    ]


def upgrade() -> None:
    op.create_table("decisions", *row_key(), *(sa.Column(n, sa.Text) for n in DECISION.split()))
    op.create_table(
        "concessions",
        *row_key(),
        sa.Column("decision", sa.BigInteger),
        *(sa.Column(n, sa.Text) for n in ("characteristic", "lot")),
        *(sa.Column(n, sa.Double) for n in ("low", "high")),
        *(sa.Column(n, sa.Text) for n in ("unit", "until", "customer")),
    )
    op.create_table("actions", *row_key(), *(sa.Column(n, sa.Text) for n in ACTION.split()))
    for name in ("decisions", "concessions", "actions"):
        guard(op.get_bind(), name)


def downgrade() -> None:
    raise NotImplementedError("records are never taken back to an earlier schema: restore a backup instead")
