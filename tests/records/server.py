"""A PostgreSQL server of our own for the tests: on loopback, in a temporary folder, gone afterwards."""

from __future__ import annotations

import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

WAIT = 60.0  # s for the server to come up
NEEDED = 2 * 1024**3  # bytes


def binaries() -> Path:
    """The folder of `initdb` and `postgres`. RuntimeError says where they were looked for."""
    stated = os.environ.get("FIRSTOFF_POSTGRESQL_BIN")
    found = shutil.which("initdb")
    places = [Path(stated)] if stated else [Path(found).resolve().parent] if found else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    for place in places:
        if (place / "postgres").exists() and (place / "initdb").exists():
            return place
    raise RuntimeError(
        "no PostgreSQL server found: install its binaries (Debian: apt-get install postgresql), or name their folder "
        "in FIRSTOFF_POSTGRESQL_BIN; see tests/records/README.md"
    )


def _user() -> str | None:
    """Under which user the server runs: never root, which it refuses."""
    if os.geteuid() != 0:
        return None
    names = [entry.pw_name for entry in pwd.getpwall()]
    return "postgres" if "postgres" in names else "nobody"


class Server:
    """One server; `url(name)` makes a new database on it."""

    def __init__(self) -> None:
        self.bin = binaries()
        self.user = _user()
        memory = Path("/dev/shm")  # no load on the disk, where the system has such a place with room
        roomy = memory.is_dir() and os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > NEEDED
        self.folder = Path(tempfile.mkdtemp(prefix="firstoff-pg-", dir=memory if roomy else None))
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        self.process: subprocess.Popen[bytes] | None = None
        if self.user:
            shutil.chown(self.folder, self.user)
        data = str(self.folder / "data")
        words = ["-D", data, "-U", "plant", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync"]
        subprocess.run(
            [self.bin / "initdb", *words], check=True, capture_output=True, user=self.user, cwd=self.folder, text=True
        )

    def start(self) -> None:
        words = [
            "-D", str(self.folder / "data"), "-p", str(self.port), "-k", str(self.folder), "-c",
            "listen_addresses=127.0.0.1", "-c", "fsync=off", "-c", "max_connections=40",
        ]  # fmt: skip
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [self.bin / "postgres", *words], stdout=log, stderr=log, user=self.user, cwd=self.folder
            )
        until = time.monotonic() + WAIT
        while True:
            try:
                psycopg.connect(self.address("postgres"), connect_timeout=2).close()
                return
            except psycopg.OperationalError:
                if time.monotonic() > until or self.process.poll() is not None:
                    raise RuntimeError((self.folder / "log").read_text("utf-8")) from None
                time.sleep(0.05)

    def stop(self, at_once: bool = False) -> None:
        """Orderly, or as a crash: without a last word to the disk."""
        if self.process is not None:
            self.process.send_signal(signal.SIGQUIT if at_once else signal.SIGINT)
            self.process.wait(WAIT)
            self.process = None

    def address(self, name: str) -> str:
        return f"postgresql://plant@127.0.0.1:{self.port}/{name}"

    def new(self) -> str:
        """The address of a new, empty database."""
        name = f"records_{secrets.token_hex(6)}"
        with psycopg.connect(self.address("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} STRATEGY file_copy")
        return self.address(name)

    def remove(self) -> None:
        self.stop(at_once=True)
        shutil.rmtree(self.folder, ignore_errors=True)


@contextmanager
def running() -> Iterator[Server]:
    server = Server()
    try:
        server.start()
        yield server
    finally:
        server.remove()
