"""Where the records lie, a file (SQLite) or a server (PostgreSQL): opened, and brought to the present schema."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import NullPool

from firstoff.errors import InputFault, Message
from firstoff.records.failures import told

SCHEMA = "0003"  # the present revision
WAIT = 60.0  # s that a writer waits for another
LOCK = 0x66697273746F6666  # the advisory lock under which batches are appended to a server


@dataclass(frozen=True)
class Records:
    """Open records. Close them, or use them in a `with`."""

    engine: Engine
    place: str  # for messages: the file, or the server's address without its password
    file: Path | None  # None: on a server
    read_only: bool = False

    @property
    def on_server(self) -> bool:
        return self.file is None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One unchanging view of everything recorded so far."""
        with told(self.place), self.engine.connect() as connection:
            if self.on_server:
                connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY"))
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that no other writer shares; committed at its end, or nothing is."""
        with self.engine.connect() as connection:
            connection.execution_options(firstoff_writes=True)
            with connection.begin():
                if self.on_server:
                    connection.execute(text(f"SET LOCAL lock_timeout = '{WAIT:.0f}s'"))
                    connection.execute(text("SET LOCAL synchronous_commit = on"))
                    connection.execute(text(f"SELECT pg_advisory_xact_lock({LOCK})"))
                yield connection

    def close(self) -> None:
        self.engine.dispose()

    def __enter__(self) -> Records:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


def open_records(place: str | Path, create: bool = True) -> Records:
    """Open the records at a path or a `postgresql://` address, and bring them to the present schema.

    create: make them when there are none; else that is an InputFault. OSError when the place cannot be used.
    """
    url = _url(place)
    if url.get_backend_name() == "sqlite":
        records = _open_file(Path(url.database or ""), create)
    else:
        records = Records(_server_engine(url), url.render_as_string(hide_password=True), None)
    try:
        with told(records.place):
            _bring_up(records, create)
    except BaseException:
        records.close()
        raise
    return records


def is_server(place: str | Path) -> bool:
    return "://" in str(place)


def _url(place: str | Path) -> URL:
    words = str(place)
    if not is_server(place):
        return URL.create("sqlite", database=words)
    try:
        url = make_url(words)
    except ArgumentError as error:
        raise _no_place("is no address of records", words.split("@")[-1]) from error
    if url.get_backend_name() in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if url.drivername == "sqlite" and url.database:
        return url
    raise _no_place("is no place for records", url.render_as_string(hide_password=True))


def _no_place(what: str, found: str) -> InputFault:
    return InputFault([Message(what, key="--records", found=found, allowed="a file, or postgresql://user@host/name")])


def _open_file(file: Path, create: bool) -> Records:
    if not file.exists() and not create:
        raise InputFault([Message("does not exist: nothing was recorded there yet", file=str(file))])
    if file.is_dir() or not file.absolute().parent.is_dir():
        raise OSError(errno.ENOENT, "is no place for a file", str(file))
    writable = _is_writable(file)
    return Records(_file_engine(file, writable), str(file), file, read_only=not writable)


def _is_writable(file: Path) -> bool:
    """Whether SQLite may write there; it needs the folder as well, for its log."""
    import os

    return os.access(file.absolute().parent, os.W_OK) and (not file.exists() or os.access(file, os.W_OK))


def _file_engine(file: Path, writable: bool) -> Engine:
    def connect() -> sqlite3.Connection:
        if writable or not file.exists():
            raw = sqlite3.connect(file, timeout=WAIT, isolation_level=None)
            raw.execute("PRAGMA journal_mode = WAL")
            raw.execute("PRAGMA synchronous = FULL")
        else:  # a read-only place cannot hold the log that SQLite keeps beside the file
            log = Path(f"{file}-wal")
            whole = "&immutable=1" if not (log.exists() and log.stat().st_size) else ""
            raw = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro{whole}", uri=True, isolation_level=None)
        raw.execute("PRAGMA cache_size = -65536")
        raw.execute("PRAGMA trusted_schema = OFF")
        return raw

    engine = create_engine("sqlite+pysqlite://", creator=connect, poolclass=NullPool)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("firstoff_writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _server_engine(url: URL) -> Engine:
    try:
        import psycopg  # noqa: F401
    except ImportError as error:
        what = "needs the driver of PostgreSQL, which is not installed"
        raise InputFault([Message(what, key="--records", allowed="pip install 'firstoff[plant]'")]) from error
    settings: dict[str, Any] = {"connect_timeout": 10, "application_name": "firstoff"}
    return create_engine(url, poolclass=NullPool, connect_args=settings)


def _bring_up(records: Records, create: bool) -> None:
    """The present schema: made, or reached by migration; one transaction, so that a kill leaves the earlier one."""
    with records.engine.connect() as connection:
        found = _schema_of(connection, records.place)
    if found == SCHEMA:
        return
    if found == "" and not create:
        raise InputFault([Message("holds no records", file=records.place)])
    if found > SCHEMA:
        what = "was written by a newer firstoff; nothing was read or changed"
        raise InputFault([Message(what, file=records.place, found=f"schema {found}", allowed=f"up to {SCHEMA}")])
    if records.read_only:
        raise OSError(errno.EROFS, "may not be written, and has to be brought to the present schema", records.place)
    with records.writing() as connection:
        if _schema_of(connection, records.place) != SCHEMA:  # nobody else did meanwhile
            migrate(connection, SCHEMA)


def _schema_of(connection: Connection, place: str) -> str:
    """The revision; empty where nothing is yet. InputFault for somebody else's database."""
    names = inspect(connection).get_table_names()
    if "alembic_version" in names and "entries" in names:
        return str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar() or "")
    if names:
        raise InputFault([Message("is a database, but holds no records", file=place)])
    return ""


def migrate(connection: Connection, revision: str) -> None:
    """Take the open transaction's database up to a revision."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, revision)
