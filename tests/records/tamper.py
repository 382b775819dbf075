"""Changes a database behind the back of the records, as somebody with the right to write its files could."""

from __future__ import annotations

from typing import Any

from sqlalchemy import text

from firstoff.records import Records
from firstoff.records.schema import CONTENT


def behind(records: Records, *statements: str, values: dict[str, Any] | None = None) -> None:
    """Run statements with the append-only triggers out of the way."""
    with records.writing() as connection:
        names = ["entries", "leaves", *CONTENT]
        if records.on_server:
            for name in names:
                connection.execute(text(f"ALTER TABLE {name} DISABLE TRIGGER USER"))
        else:
            for name in names:
                for verb in ("update", "delete"):
                    connection.execute(text(f"DROP TRIGGER IF EXISTS {name}_no_{verb}"))
        for statement in statements:
            connection.execute(text(statement), values or {})
