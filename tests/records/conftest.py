"""The same tests on both databases: a file of its own, or a database of its own on the session's server."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from firstoff.records import Records, Signer, open_records, signer
from tests.records.server import Server, running


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    try:
        with running() as found:
            yield found
    except RuntimeError as error:
        pytest.skip(str(error))  # whoever has no server can still run the rest; .ci/run takes no skipped test


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keys of the test, not of whoever runs it."""
    folder = tmp_path / "config"
    monkeypatch.setenv("FIRSTOFF_CONFIG", str(folder))
    for name in ("FIRSTOFF_BY", "FIRSTOFF_RECORDS", "FIRSTOFF_PASSPHRASE"):
        monkeypatch.delenv(name, raising=False)
    return folder


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where no records are yet."""
    if request.param == "sqlite":
        return str(tmp_path / "records.db")
    server: Server = request.getfixturevalue("server")
    return server.new()


@pytest.fixture
def records(place: str) -> Iterator[Records]:
    with open_records(place) as found:
        yield found


@pytest.fixture
def anna(config: Path) -> Signer:
    return signer("Anna Example")
