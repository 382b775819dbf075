"""A release decided and signed on the page: by whom, on what, and what is refused."""

from __future__ import annotations

import html
import json
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from firstoff.board import accounts, jobs, standing, worker
from firstoff.board.here import Board
from firstoff.board.standing import Step
from firstoff.board.texts import TEXTS
from firstoff.cli.main import main
from firstoff.launch.recorded.standing import Decided, decisions_of
from firstoff.records import open_records
from tests.board.conftest import KEY, PASSWORD, Person, sign_in

DUE = "2099-12-31"


@pytest.fixture
def weighed(planner: Person, board: Board, folder: Path) -> Person:
    """The evidence weighed, on a sheet of limits alone."""
    limits_only(folder)
    planner.get(f"/launch/{KEY}/release")
    planner.post(f"/launch/{KEY}/job/release")
    assert worker.do_one(folder, board.engine)
    planner.get(f"/launch/{KEY}/release")
    return planner


def limits_only(folder: Path, more: str = "") -> Path:
    sheet = folder / KEY / "damper.toml"
    text = sheet.read_text("utf-8").split("[pressure_tube]")[0].replace('plant = "plant.toml"', "")
    sheet.write_text(text + more, "utf-8")
    return sheet


def signed(person: Person, expect: int = 200, **fields: str) -> str:
    sent = {"shown": person.hidden("shown"), "word": "hold", "due": DUE, "owner": "O. Wner", "password": PASSWORD}
    return html.unescape(person.post(f"/launch/{KEY}/release/sign", expect, **{**sent, **fields}))


def decided(folder: Path) -> list[Decided]:
    if not (folder / "records.db").is_file():
        return []
    with open_records(folder / "records.db", create=False) as records:
        return decisions_of(records)


def said(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    capsys.readouterr()
    with pytest.raises(SystemExit) as left:
        main([*words, "--json"])
    told = capsys.readouterr()
    assert left.value.code == 0, told.err
    found: dict[str, object] = json.loads(told.out)["result"]
    return found


def test_a_hold_is_signed_on_the_page_as_the_command_line_signs_it(
    weighed: Person, board: Board, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(standing, "_plan", lambda _: Step("plan", "done"))  # so that nothing but the actions is left
    assert TEXTS["next.release"] in weighed.get("/") and TEXTS["next.close"] not in weighed.page
    weighed.get(f"/launch/{KEY}/release")
    page = signed(weighed)
    assert TEXTS["next.close"] in weighed.get("/") and TEXTS["next.release"] not in weighed.page
    assert TEXTS["sign.done"].format(word="hold") in page and "P. Lanner" in page and "O. Wner" in page
    places = ["--records", str(folder / "records.db")]
    decisions = said(capsys, "records", "decisions", *places)["decisions"]
    assert isinstance(decisions, list) and len(decisions) == 1
    one = decisions[0]
    assert (one["word"], one["person"]) == ("hold", "P. Lanner")
    assert one["authenticated"] == TEXTS["sign.how"] + "key without passphrase"
    assert one["recommendation"] in page and f"{one['time'][:10]} {one['time'][11:16]} UTC" in page
    assert "P. Lanner" in (folder / KEY / "release.md").read_text("utf-8")
    actions = said(capsys, "records", "actions", *places)["actions"]
    assert isinstance(actions, list) and actions and {a["owner"] for a in actions} == {"O. Wner"}
    assert said(capsys, "records", "verify", *places)["sound"]
    # the command line on the same files signs the same recommendation, to the byte
    monkeypatch.setenv("FIRSTOFF_PASSPHRASE", "a passphrase of its own")
    files = [str(folder / KEY / name) for name in ("damper.toml", "first_offs.csv", "good_lot.csv")]
    other = ["--records", str(tmp_path / "other.db")]
    said(capsys, "release", *files[:2], "--good", files[2], "--sign", "hold", "--by", "C. Line", "--due", DUE, *other)
    theirs = said(capsys, "records", "decisions", *other)["decisions"]
    assert isinstance(theirs, list) and theirs[0]["recommendation"] == one["recommendation"]
    # and an action is closed on the page
    weighed.post(f"/launch/{KEY}/release/close", action=actions[0]["action"], note="read again by A. Miller")
    left = said(capsys, "records", "actions", *places)["actions"]
    assert isinstance(left, list) and actions[0]["action"] not in [a["action"] for a in left]
    weighed.post(f"/launch/{KEY}/release/close", 400, action=actions[0]["action"], note="again")


def test_what_is_not_signed(weighed: Person, folder: Path, board: Board, client: TestClient) -> None:
    assert TEXTS["sign.password"] in signed(weighed, 400, password="something else")
    assert TEXTS["sign.other"] in signed(weighed, 400, shown="0" * 64)
    assert "open actions need the date" in signed(weighed, 400, due="")
    assert "is no decision" in signed(weighed, 400, word="perhaps")
    assert "needs its reason" in signed(weighed, 400, word="release")  # milder than hold, and nothing said
    client.post(f"/launch/{KEY}/release/sign", data={"word": "hold", "password": PASSWORD})  # without the form's token
    readings = folder / KEY / "first_offs.csv"
    readings.write_text(readings.read_text("utf-8").replace(",1191,", ",1192,"), "utf-8")
    assert TEXTS["sign.old"] in signed(weighed, 400)
    assert TEXTS["sign.old"] in html.unescape(weighed.get(f"/launch/{KEY}/release"))
    weighed.post("/sign-out")
    accounts.add(board.engine, "R. Eader", "plan", PASSWORD)
    reader = sign_in(client, "R. Eader")
    page = reader.get(f"/launch/{KEY}/release")
    assert TEXTS["sign.may_not"] in page and "/release/sign" not in page
    reader.post(f"/launch/{KEY}/release/sign", 403, word="hold", password=PASSWORD)
    reader.post(f"/launch/{KEY}/release/close", 403, action="A-1", note="done")
    assert not decided(folder)


def test_nobody_signs_a_safety_characteristic_off_without_readings(planner: Person, board: Board, folder: Path) -> None:
    more = '\n[characteristics.weld_burst]\nunit = "kN"\nlimits = "≥ 40 kN"\nsafety = true\n'
    limits_only(folder, more)
    planner.get(f"/launch/{KEY}/release")
    planner.post(f"/launch/{KEY}/job/release")
    assert worker.do_one(folder, board.engine)
    work = jobs.latest(board.engine, KEY, "release")
    assert work and work.state == "done", work
    page = html.unescape(planner.get(f"/launch/{KEY}/release"))
    assert TEXTS["sign.safety"] in page and '<option value="release"' not in page
    for word in ("release", "concession"):
        page = signed(planner, 400, word=word, reason="we need the parts", customer="letter 7", until=DUE)
        assert "SAFETY: weld_burst is on hold; only readings may release it" in page
    assert not decided(folder)


def test_a_key_with_a_passphrase_asks_for_it(weighed: Person, folder: Path) -> None:
    from firstoff.records import keys

    keys.signer("P. Lanner", passphrase="a passphrase of its own")
    weighed.get(f"/launch/{KEY}/release")
    assert TEXTS["sign.passphrase"] in weighed.page
    assert "is not opened by this passphrase" in signed(weighed, 400, passphrase="another")
    page = signed(weighed, passphrase="a passphrase of its own")
    assert TEXTS["sign.how"] + "key with passphrase" in page
