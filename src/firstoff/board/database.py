"""The board's own file, `board.db` (SQLite): accounts, sessions, jobs. The launches themselves stay plain files."""

from __future__ import annotations

import os
import secrets
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    Integer,
    MetaData,
    Table,
    Text,
    create_engine,
    event,
    inspect,
    select,
    text,
)
from sqlalchemy.pool import NullPool

from firstoff.errors import InputFault, Message

FILE = "board.db"
SCHEMA = "0002"
WAIT = 20  # s that a writer waits for another

metadata = MetaData()


def _table(name: str, keys: str, texts: str, numbers: str = "") -> Table:
    return Table(
        name,
        metadata,
        *(Column(key, Text, primary_key=True) for key in keys.split()),
        *(Column(column, Text) for column in texts.split()),
        *(Column(column, Integer) for column in numbers.split()),
    )


accounts = _table("accounts", "name", "role hash created units", "keeper active")
sessions = _table("sessions", "digest", "account", "began seen")
attempts = _table("attempts", "", "who", "at")
tokens = _table("tokens", "digest", "label account created", "active")
results = _table("results", "launch kind", "content inputs person time")
choices = _table("choices", "launch", "readings good owner")
settings = _table("settings", "key", "value")
jobs = Table(
    "jobs",
    metadata,
    Column("id", Integer, primary_key=True),
    *(Column(c, Text) for c in ("launch", "kind", "state", "note", "person", "asked", "began", "ended", "message")),
    *(Column(c, Integer) for c in ("done", "total", "attempts", "stop")),
)


def open_board(folder: Path) -> Engine:
    """The board's file in `folder`, made or brought to the present schema; readable by its owner only."""
    file = folder / FILE
    if not file.exists():
        os.close(os.open(file, os.O_CREAT | os.O_WRONLY, 0o600))
    engine = create_engine(f"sqlite+pysqlite:///{file}", poolclass=NullPool, connect_args={"timeout": WAIT})

    @event.listens_for(engine, "connect")
    def on_connect(raw: Any, _: Any) -> None:
        raw.execute("PRAGMA journal_mode = WAL")
        raw.execute("PRAGMA trusted_schema = OFF")

    with engine.begin() as connection:
        _bring_up(connection, file)
    return engine


def _bring_up(connection: Connection, file: Path) -> None:
    names = inspect(connection).get_table_names()
    found = ""
    if "alembic_version" in names and "jobs" in names:
        found = str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar() or "")
    elif names:
        raise InputFault([Message("is a database, but not one of a board", file=str(file))])
    if found > SCHEMA:
        what = "was written by a newer firstoff; nothing was read or changed"
        raise InputFault([Message(what, file=str(file), found=f"schema {found}", allowed=f"up to {SCHEMA}")])
    if found == SCHEMA:
        return
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, SCHEMA)


def secret(engine: Engine) -> bytes:
    """The board's own key, by which cookies and form tokens are signed; made once."""
    with engine.begin() as connection:
        known = connection.execute(select(settings.c.value).where(settings.c.key == "secret")).scalar()
        if known is None:
            known = secrets.token_hex(32)
            connection.execute(settings.insert().values(key="secret", value=known))
    return bytes.fromhex(str(known))


def now() -> str:
    """The time as it is kept: UTC, to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
