"""A board with the example launch in it, and people who use it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from fastapi.testclient import TestClient

from firstoff.board import accounts
from firstoff.board.app import create_app
from firstoff.board.here import Board
from firstoff.launch.demo import copy_example

PASSWORD = "a long walk to the rig"
KEY = "lt3"


class Person:
    """A browser: keeps cookies, sends the form token of the page it is on."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.page = ""

    def get(self, path: str) -> str:
        answer = self.client.get(path)
        assert answer.status_code == 200, (path, answer.status_code, answer.text)
        self.page = answer.text
        return self.page

    def token(self) -> str:
        found = re.search(r'"X-Form-Token":"([0-9a-f]{64})"', self.page)
        assert found, self.page
        return found[1]

    def post(self, path: str, expect: int = 200, **fields: str) -> str:
        answer = self.client.post(path, data={"csrf": self.token(), **fields})
        assert answer.status_code == expect, (path, answer.status_code, answer.text)
        if "X-Form-Token" in answer.text:
            self.page = answer.text
        return answer.text

    def hidden(self, name: str) -> str:
        """A hidden field of the page, as a browser would send it back."""
        found = re.search(rf'name="{name}" value="([^"]*)"', self.page)
        assert found, name
        return found[1]


@pytest.fixture(autouse=True)
def quick_passwords(monkeypatch: pytest.MonkeyPatch) -> None:
    """As argon2 does it, with less memory and one pass: these tests ask for hundreds of them."""
    monkeypatch.setattr(accounts, "_HASHER", PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FIRSTOFF_CONFIG", str(tmp_path / "config"))
    monkeypatch.delenv("FIRSTOFF_RECORDS", raising=False)
    root = tmp_path / "board"
    copy_example("light_truck_front", root / KEY)
    return root


@pytest.fixture
def client(folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(folder, work=False), base_url="http://localhost") as made:
        yield made


@pytest.fixture
def board(client: TestClient) -> Board:
    found: Board = client.app.state.board  # type: ignore[attr-defined]
    return found


@pytest.fixture
def planner(client: TestClient, board: Board) -> Person:
    """Signed in, and may do everything."""
    accounts.add(board.engine, "P. Lanner", "sign", PASSWORD, keeper=True)
    board.code = ""
    return sign_in(client, "P. Lanner")


def sign_in(client: TestClient, name: str) -> Person:
    person = Person(client)
    person.get("/sign-in")
    person.post("/sign-in", name=name, password=PASSWORD)
    return person
