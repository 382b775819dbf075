"""Alembic's entry: runs the revisions on the connection that `board.database` hands over."""

from __future__ import annotations

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=False)
context.run_migrations()
