"""Who came in, what became of accounts and tokens, what was kept: in the records, sound, and on a page."""

from __future__ import annotations

import html
from pathlib import Path

from fastapi.testclient import TestClient

from firstoff.board import accounts, trail
from firstoff.board.here import Board
from firstoff.board.texts import TEXTS
from firstoff.launch.recorded.events import last_entries
from firstoff.records import open_records, verify
from tests.board.conftest import KEY, PASSWORD, Person, sign_in


def notes(folder: Path) -> list[str]:
    with open_records(folder / "records.db", create=False) as records:
        assert verify(records).sound
        return [e.note for e in reversed(last_entries(records)) if (e.kind, e.author) == ("access", trail.BOARD)]


def test_who_came_in_and_what_became_of_accounts_is_recorded(
    client: TestClient, planner: Person, board: Board, folder: Path
) -> None:
    planner.get("/people")
    planner.post("/people/add", name="R. Eader", role="readings", password=PASSWORD)
    planner.post("/people/change", name="R. Eader", role="plan", active="1")
    planner.post("/people/rigs", label="damping rig 2")
    planner.get("/people")
    planner.post("/people/rigs/end", digest=planner.hidden("digest"))
    assert client.post("/api/readings", json={"launch": KEY, "part": "X", "readings": [
        {"characteristic": "friction", "value": 1.0, "unit": "N"}]},
        headers={"authorization": "Bearer rig_none"}).status_code == 401  # fmt: skip
    planner.get("/me")
    planner.post("/me", old=PASSWORD, new="another walk to the rig", again="another walk to the rig")
    planner.get("/sign-in")
    planner.post("/sign-in", 400, name="Nobody <here>", password=PASSWORD)
    reader = sign_in(client, "R. Eader")
    assert client.get("/people/trail").status_code == 403
    reader.get("/")
    reader.post("/sign-out")
    said = {
        key: TEXTS[f"event.{key}"]
        for key in ("in", "added", "changed", "token", "token_ended", "token_refused", "password", "failed")
    }
    at = {"person": "P. Lanner", "address": "testclient"}
    expected = [
        said["in"].format(**at), said["added"].format(**at, name="R. Eader", role="readings"),
        said["changed"].format(**at, name="R. Eader", role="plan"), said["token"].format(**at, label="damping rig 2"),
        said["token_ended"].format(**at, label="damping rig 2"), said["token_refused"].format(**at),
        said["password"].format(**at), said["failed"].format(**{**at, "person": "Nobody <here>"}),
        said["in"].format(**{**at, "person": "R. Eader"}), TEXTS["event.out"].format(person="R. Eader"),
    ]  # fmt: skip
    assert notes(folder) == expected
    accounts.set_password(board.engine, "P. Lanner", PASSWORD)
    page = sign_in(client, "P. Lanner").get("/people/trail")
    assert "Nobody &lt;here&gt;" in page and all(words in html.unescape(page) for words in expected)


def test_records_that_take_nothing_keep_nobody_out(client: TestClient, planner: Person, folder: Path) -> None:
    (folder / "records.db").write_bytes(b"not a database, but a long enough text to be looked into" * 40)
    planner.get("/")
    planner.post("/sign-out")
    assert TEXTS["launches.title"] in sign_in(client, "P. Lanner").get("/")
