"""Rows in and out straight through the driver: a million of them in seconds and in little memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sqlalchemy import Connection

BLOCK = 10_000
MANY = 2000  # rows from which on a server takes them by COPY

Row = tuple[Any, ...]


def stream(
    connection: Connection, table: str, columns: Sequence[str], where: str = "", values: Sequence[Any] = (),
    order: Sequence[str] = (),
) -> Iterator[Row]:  # fmt: skip
    """The rows of a table; `where` has a `?` for each value."""
    names = ", ".join(f'"{name}"' for name in columns)
    sql = f'SELECT {names} FROM "{table}"' + (f" WHERE {where}" if where else "")
    sql += f" ORDER BY {', '.join(order)}" if order else ""
    raw: Any = connection.connection.dbapi_connection
    if connection.dialect.name == "sqlite":
        yield from raw.execute(sql, tuple(values))
        return
    with raw.cursor(name="firstoff") as cursor:
        cursor.itersize = BLOCK
        cursor.execute(sql.replace("?", "%s"), tuple(values))
        yield from cursor


def put(connection: Connection, table: str, columns: Sequence[str], rows: Iterable[Row], count: int) -> None:
    """Add rows; `count`, or a guess at it, decides by which way a server takes them."""
    raw: Any = connection.connection.dbapi_connection
    names = ", ".join(f'"{name}"' for name in columns)
    if connection.dialect.name == "sqlite":
        raw.executemany(f'INSERT INTO "{table}" ({names}) VALUES ({", ".join("?" * len(columns))})', rows)
    elif count < MANY:
        with raw.cursor() as cursor:
            cursor.executemany(f'INSERT INTO "{table}" ({names}) VALUES ({", ".join(["%s"] * len(columns))})', rows)
    else:
        with raw.cursor() as cursor, cursor.copy(f'COPY "{table}" ({names}) FROM STDIN') as copy:
            for row in rows:
                copy.write_row(row)
