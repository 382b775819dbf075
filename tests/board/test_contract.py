"""The rigs' interface against its own description, by schemathesis: nothing breaks it, and answers are as described.

Most questions name a launch, a characteristic and a unit that there are, so that they get past the first refusal.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode
from schemathesis.specs.openapi.checks import ignored_auth, positive_data_acceptance

from firstoff.board import accounts
from firstoff.board.app import create_app
from firstoff.board.here import Board
from tests.board.conftest import KEY
from tests.board.test_signing import limits_only

KNOWN = (("rebound_0.52", "N"), ("friction", "kN"), ("bore", "mm"), ("rebound_0.52", "mm"), ("friction", ""))


@pytest.fixture
def described(folder: Path) -> Iterator[Any]:
    """The interface of a running board, with a token."""
    limits_only(folder)
    app = create_app(folder, hosts=("testserver",), work=False)
    made = schemathesis.openapi.from_asgi("/api/openapi.json", app)
    made.config.headers = {"Authorization": f"Bearer {accounts.make_token(app.state.board.engine, 'rig', 'A. M')}"}

    def map_body(_: Any, body: Any) -> Any:
        if isinstance(body, dict) and isinstance(body.get("part"), str) and len(body["part"]) % 4:
            body["launch"] = KEY
            for number, each in enumerate(r for r in body.get("readings") or () if isinstance(r, dict)):
                if (len(str(each.get("value"))) + number) % 4:
                    each["characteristic"], each["unit"] = KNOWN[(len(str(each)) + number) % len(KNOWN)]
        return body

    made.known = map_body
    yield made


@pytest.mark.parametrize("mode", list(GenerationMode), ids=lambda mode: mode.value)
def test_every_answer_is_as_described(described: Any, mode: GenerationMode) -> None:
    """Of the described form, and of another."""
    if mode is GenerationMode.POSITIVE:
        described.hook(described.known)

    @settings(max_examples=20, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
    @given(case=described["/readings"]["POST"].as_strategy(generation_mode=mode))
    def ask(case: Any) -> None:
        # what is of the right form may still be no reading of the launch: that is a refusal, described, too; and
        # after five wrong tokens an address waits (429), which is tested elsewhere
        answer = case.call_and_validate(excluded_checks=[positive_data_acceptance, ignored_auth])
        seen.add(answer.status_code)

    seen: set[int] = set()
    ask()
    assert seen >= ({201, 400} if mode is GenerationMode.POSITIVE else {422}), seen


@pytest.mark.parametrize(
    "sent",
    [b'{"launch": "lt3", "part": "X", "readings": [{"characteristic": "bore", "value": %s, "unit": "mm"}]}' % value
     for value in (b"Infinity", b"NaN", b"1e400", b'"NaN"')]
    + [b"\xff\xfe", b"{", b"", b'{"launch": "lt3", "part": "\\ud800", "readings": [{"characteristic": "bore", '
       b'"value": 1, "unit": "mm"}]}', b"[" * 5000],
)  # fmt: skip
def test_what_no_rig_should_send_is_refused_in_words(
    client: TestClient, board: Board, folder: Path, sent: bytes
) -> None:
    before = (folder / KEY / "first_offs.csv").read_bytes()
    heads = {"authorization": f"Bearer {accounts.make_token(board.engine, 'rig', 'A. M')}",
             "content-type": "application/json"}  # fmt: skip
    answer = client.post("/api/readings", content=sent, headers=heads)
    assert answer.status_code in (400, 422), answer.text
    assert answer.json()["messages"][0]["what"]
    assert (folder / KEY / "first_offs.csv").read_bytes() == before
