"""What holds for all pages: words in one place, contrast, the schema of the board's file, faults of the machine."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import inspect

import firstoff.board
from firstoff.board import accounts, database, launches
from firstoff.board.database import open_board
from firstoff.board.guard import POLICY
from firstoff.board.here import Board
from firstoff.board.texts import TEXTS
from firstoff.cli.main import main
from firstoff.errors import InputFault
from firstoff.records.keys import signer
from tests.board.conftest import KEY, Person

ROOT = Path(firstoff.board.__file__).parent
GROUNDS = {
    "ground": ("ink", "soft", "link", "good", "bad", "warn"), "panel": ("ink", "soft", "link", "bad"),
    "good-ground": ("good", "ink"), "bad-ground": ("bad", "ink"), "warn-ground": ("warn", "ink"), "main": ("on-main",),
}  # fmt: skip


def luminance(colour: str) -> float:
    """L = 0.2126 R + 0.7152 G + 0.0722 B of the linear values. Source: WCAG 2.1, relative luminance."""
    digits = colour.lstrip("#")
    digits = "".join(2 * d for d in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_text_contrasts_with_its_ground_in_both_themes() -> None:
    """4.5 to 1 or more (WCAG 2.1, 1.4.3, level AA); the focus ring 3 to 1 (1.4.11)."""
    blocks = re.findall(r":root \{(.*?)\}", (ROOT / "static" / "board.css").read_text("utf-8"), re.DOTALL)
    themes = [dict(re.findall(r"--([\w-]+): (#[0-9a-f]+);", block)) for block in blocks[:2]]
    assert len(themes) == 2 and themes[0]["ground"] != themes[1]["ground"]
    for theme in themes:
        for ground, inks in {**GROUNDS, "ground ": ("focus",)}.items():
            for ink in inks:
                one, two = sorted((luminance(theme[ground.strip()]), luminance(theme[ink])))
                assert (two + 0.05) / (one + 0.05) >= (3.0 if ink == "focus" else 4.5), (ink, ground, theme)


@pytest.mark.parametrize("page", sorted((ROOT / "templates").glob("*.html")), ids=lambda page: page.name)
def test_no_page_holds_a_word_of_its_own(page: Path) -> None:
    text = re.sub(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", " ", page.read_text("utf-8"), flags=re.DOTALL)
    text = re.sub(r"<code>.*?</code>|<!doctype[^>]*>", " ", text, flags=re.DOTALL)
    text = re.sub(r"<[^<>]*(?:\"[^\"]*\"[^<>]*)*>", " ", re.sub(r"'\{[^']*\}'", "''", text))
    words = set(re.findall(r"[A-Za-z]{2,}", text)) - {"firstoff", "op"}
    assert not words


def test_the_schema_is_what_the_code_asks_for(tmp_path: Path) -> None:
    found = inspect(open_board(tmp_path))
    for name, table in database.metadata.tables.items():
        assert {c["name"] for c in found.get_columns(name)} == {c.name for c in table.columns}, name
    assert set(found.get_table_names()) == {*database.metadata.tables, "alembic_version"}


def test_somebody_elses_database_is_left_alone(tmp_path: Path) -> None:
    import sqlite3

    with sqlite3.connect(tmp_path / database.FILE) as other:
        other.execute("CREATE TABLE theirs (x)")
    with pytest.raises(InputFault):
        open_board(tmp_path)


def test_a_fault_of_the_program_is_a_page_and_no_traceback(
    client: TestClient, planner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: object) -> None:
        raise ZeroDivisionError("secret place")

    monkeypatch.setattr(launches, "judged", breaks)
    frail = TestClient(client.app, base_url="http://localhost", raise_server_exceptions=False, cookies=client.cookies)
    answer = frail.get(f"/launch/{KEY}")
    assert answer.status_code == 500 and TEXTS["fault.500"] in answer.text and "secret place" not in answer.text
    assert answer.headers["content-security-policy"] == POLICY


def test_a_disk_that_takes_nothing_is_said(
    client: TestClient, planner: Person, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from firstoff.board import entry

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    before = (folder / KEY / "first_offs.csv").read_bytes()
    planner.get(f"/launch/{KEY}/first-offs")
    monkeypatch.setattr(entry, "write_text", full)
    pasted = "part,rebound_0.52 [N]\nX-1,1340\n"
    page = planner.post(f"/launch/{KEY}/paste", 507, shown=planner.hidden("shown"), pasted=pasted)
    assert TEXTS["fault.507"] in page and (folder / KEY / "first_offs.csv").read_bytes() == before


def test_rigs_that_post_at_once_lose_nothing(client: TestClient, board: Board, folder: Path) -> None:
    heads = {"authorization": f"Bearer {accounts.make_token(board.engine, 'rig', 'P. Lanner')}"}

    def post(number: int) -> int:
        sent = {"launch": KEY, "part": f"R-{number}", "lot": "L1",
                "readings": [{"characteristic": "friction", "value": 20.0 + number, "unit": "N"}]}  # fmt: skip
        return client.post("/api/readings", json=sent, headers=heads).status_code

    with ThreadPoolExecutor(4) as many:
        assert list(many.map(post, range(4))) == [201] * 4
    text = (folder / KEY / "first_offs.csv").read_text("utf-8")
    assert all(f"\nR-{n},L1," in text for n in range(4))


def test_a_signed_decision_and_its_open_actions_stand_on_the_board(
    planner: Person, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FIRSTOFF_PASSPHRASE", "a passphrase of its own")
    sheet = folder / KEY / "damper.toml"
    sheet.write_text(sheet.read_text("utf-8").split("[pressure_tube]")[0].replace('plant = "plant.toml"', ""), "utf-8")
    words = ["release", str(sheet), str(folder / KEY / "first_offs.csv"), "--to", str(folder / KEY), "--sign", "hold",
             "--by", "S. Igner", "--owner", "O. Wner", "--due", "2099-12-31"]  # fmt: skip
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 0, capsys.readouterr().err
    page = planner.get("/")
    assert TEXTS["release.decided"].format(word="hold", person="S. Igner") in page
    assert TEXTS["action.owner"].format(owner="O. Wner", due="2099-12-31") in page
    assert "O. Wner" in planner.get(f"/launch/{KEY}/release")
    readings = folder / KEY / "first_offs.csv"
    readings.write_text(readings.read_text("utf-8").replace(",1191,", ",1192,"), "utf-8")
    assert TEXTS["release.decided_old"].format(word="hold") in planner.get("/")


def test_what_is_said_once_is_said_once(planner: Person) -> None:
    planner.get(f"/launch/{KEY}/first-offs")
    planner.post(f"/launch/{KEY}/paste", shown=planner.hidden("shown"), pasted="part,friction [N]\nX-1,21\n")
    assert TEXTS["saved.trail"] in planner.page
    assert TEXTS["saved.trail"] not in planner.get(f"/launch/{KEY}/first-offs")


def test_people_who_sign_for_the_first_time_at_the_same_moment_have_one_key_each(tmp_path: Path) -> None:
    def sign(number: int) -> tuple[str, str]:
        who = signer(f"Person {number % 2}", keys=tmp_path)
        return who.name, who.public_key

    with ThreadPoolExecutor(8) as many:
        found = set(many.map(sign, range(16)))
    assert len(found) == 2 and len(list(tmp_path.iterdir())) == 2
