"""Triggers that refuse to change or delete a row: against mistakes. Against intent stands the chain."""

from __future__ import annotations

from sqlalchemy import Connection, text

MESSAGE = "the records are append-only"


def guard(connection: Connection, table: str) -> None:
    """Let rows of `table` be added only."""
    if connection.dialect.name == "sqlite":
        for verb in ("update", "delete"):
            connection.execute(
                text(
                    f"CREATE TRIGGER {table}_no_{verb} BEFORE {verb.upper()} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END"
                )
            )
        return
    connection.execute(
        text(
            "CREATE OR REPLACE FUNCTION firstoff_append_only() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{MESSAGE}'; END $$"
        )
    )
    for when in ("UPDATE OR DELETE", "TRUNCATE"):
        level = "ROW" if when != "TRUNCATE" else "STATEMENT"
        name = f"{table}_append_only_{level.lower()}"
        connection.execute(
            text(
                f"CREATE TRIGGER {name} BEFORE {when} ON {table} "
                f"FOR EACH {level} EXECUTE FUNCTION firstoff_append_only()"
            )
        )


def unguarded(connection: Connection, names: list[str]) -> list[str]:
    """Tables whose triggers are missing or switched off."""
    if connection.dialect.name == "sqlite":
        rows = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
        return [n for n in names if not {f"{n}_no_update", f"{n}_no_delete"} <= set(rows)]
    sql = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled IN ('O', 'A')"
    rows = connection.execute(text(sql)).scalars().all()
    return [n for n in names if not {f"{n}_append_only_row", f"{n}_append_only_statement"} <= set(rows)]
