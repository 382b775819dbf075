"""In which units an account reads and types."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.add_column("accounts", sa.Column("units", sa.Text, nullable=False, server_default="metric"))


def downgrade() -> None:
    raise NotImplementedError("a board is never taken back to an earlier schema: restore its file instead")
