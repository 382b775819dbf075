"""Who comes in, and what is refused: set-up, login, roles, form tokens, headers, hosts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

import firstoff.board
from firstoff.board import accounts, launches
from firstoff.board.here import Board
from firstoff.board.sessions import COOKIE, FAILURES
from firstoff.board.texts import TEXTS
from firstoff.errors import InputFault
from tests.board.conftest import KEY, PASSWORD, Person, sign_in

PAGES = (
    "/", "/people", "/me", f"/launch/{KEY}", f"/launch/{KEY}/first-offs", f"/launch/{KEY}/part",
    f"/launch/{KEY}/part?part=FO-01&lot=L1", f"/launch/{KEY}/explain", f"/launch/{KEY}/correct",
    f"/launch/{KEY}/release", f"/launch/{KEY}/timetable", f"/launch/{KEY}/sheets", f"/launch/{KEY}/sheets/plant.toml",
    f"/launch/{KEY}/station/piston_valve", f"/launch/{KEY}/characteristic/rebound_0.52",
)  # fmt: skip


def test_the_first_account_needs_the_code_of_the_terminal(client: TestClient, board: Board) -> None:
    first = Person(client)
    assert TEXTS["setup.title"] in first.get("/")  # every page leads there
    first.post("/set-up", 400, code="AAAA-AAAA-AAAA", name="A. Miller", password=PASSWORD, again=PASSWORD)
    assert accounts.count(board.engine) == 0
    first.post("/set-up", 400, code=board.code, name="A. Miller", password="short", again="short")
    assert TEXTS["launches.title"] in first.post(
        "/set-up", code=board.code, name="A. Miller", password=PASSWORD, again=PASSWORD
    )
    only = accounts.listed(board.engine)
    assert [(a.name, a.role, a.keeper) for a in only] == [("A. Miller", "sign", True)]
    # the code is worth nothing any more
    other = Person(TestClient(client.app, base_url="http://localhost"))
    assert TEXTS["in.title"] in other.get("/set-up")
    with pytest.raises(InputFault):
        accounts.add(board.engine, "B. Other", "sign", PASSWORD, keeper=True, first=True)


def test_wrong_codes_shut_the_door(client: TestClient, board: Board) -> None:
    guesser = Person(client)
    guesser.get("/set-up")
    for _ in range(FAILURES):
        guesser.post("/set-up", 400, code="no", name="X. Y", password=PASSWORD, again=PASSWORD)
    guesser.post("/set-up", 429, code=board.code, name="X. Y", password=PASSWORD, again=PASSWORD)
    assert accounts.count(board.engine) == 0


def test_login_is_limited_and_says_the_same_for_every_failure(client: TestClient, planner: Person) -> None:
    other = Person(TestClient(client.app, base_url="http://localhost"))
    other.get("/sign-in")
    said = {
        re.sub(r"[0-9a-f]{64}|value=\"[^\"]*\"", "", other.post("/sign-in", 400, name=name, password="wrong wrong 1"))
        for name in ("P. Lanner", "Nobody Known")
    }
    assert len(said) == 1
    for _ in range(FAILURES - 2):
        other.post("/sign-in", 400, name="P. Lanner", password="wrong wrong 1")
    other.post("/sign-in", 429, name="P. Lanner", password=PASSWORD)  # the right one must wait as well


def test_the_cookie_is_signed_and_out_of_reach(client: TestClient, planner: Person) -> None:
    answer = TestClient(client.app, base_url="http://localhost").get("/sign-in")
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=strict" in cookie
    token = client.cookies[COOKIE]
    thief = TestClient(client.app, base_url="http://localhost", cookies={COOKIE: token.replace(".", ".0", 1)})
    assert TEXTS["in.title"] in thief.get("/").text


def test_a_session_that_ended_is_over(client: TestClient, planner: Person) -> None:
    kept = client.cookies[COOKIE]
    planner.get("/")
    planner.post("/sign-out")
    thief = TestClient(client.app, base_url="http://localhost", cookies={COOKIE: kept})
    assert TEXTS["in.title"] in thief.get("/").text


@pytest.mark.parametrize("token", ["", "0" * 64])
def test_a_form_without_its_token_is_refused(client: TestClient, planner: Person, token: str) -> None:
    for path in ("/people/add", "/me", "/sign-out", f"/launch/{KEY}/part", f"/launch/{KEY}/job/predict",
                 f"/launch/{KEY}/owner", f"/launch/{KEY}/files", f"/launch/{KEY}/paste"):  # fmt: skip
        answer = client.post(path, data={"csrf": token})
        assert answer.status_code == 403 and "not made for your session" in answer.text, path


def test_each_role_may_do_its_own_and_no_more(client: TestClient, board: Board, planner: Person) -> None:
    wanted = {
        "look": {"part": 403, "job/predict": 403},
        "readings": {"part": 400, "job/predict": 403},  # 400: let in, and no part is named
        "plan": {"part": 400, "job/predict": 200},
    }
    for role, answers in wanted.items():
        accounts.add(board.engine, f"R. {role}", role, PASSWORD)
        person = sign_in(TestClient(client.app, base_url="http://localhost"), f"R. {role}")
        assert person.client.get("/people").status_code == 403
        person.get(f"/launch/{KEY}/first-offs")
        shown = re.search(r'name="shown" value="([^"]*)"', person.page)
        for path, status in answers.items():
            person.post(f"/launch/{KEY}/{path}", status, part="", shown=shown[1] if shown else "")


def test_an_ended_account_is_out_at_once(client: TestClient, board: Board, planner: Person) -> None:
    accounts.add(board.engine, "T. Emp", "plan", PASSWORD)
    temp = sign_in(TestClient(client.app, base_url="http://localhost"), "T. Emp")
    temp.get("/")
    planner.get("/people")
    planner.post("/people/change", name="T. Emp", role="plan", active="0")
    assert TEXTS["in.title"] in temp.client.get("/").text


def test_every_page_is_strict_and_asks_nobody_outside(client: TestClient, planner: Person) -> None:
    for path in PAGES:
        answer = client.get(path)
        assert answer.status_code == 200, path
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy and "http" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff" and answer.headers["cache-control"] == "no-store"
        assert not re.search(r"(?:src|href|action|url)\s*[=(]\s*[\"']?(?:https?:)?//", answer.text), path
        assert not re.search(r"<style|\sstyle=|<script(?![^>]*\ssrc=\"/static/)|\son[a-z]+=|javascript:", answer.text)
    for name in ("board.css", "htmx-2.min.js"):
        file = client.get(f"/static/{name}")
        assert file.status_code == 200 and not re.search(r"https?://(?!www\.w3\.org)", file.text)


def test_another_host_and_a_flood_are_refused(client: TestClient, planner: Person) -> None:
    assert client.get("/", headers={"host": "evil.example"}).status_code == 421
    big = client.post("/sign-in", content=b"x" * (17 * 1024 * 1024), headers={"content-type": "text/plain"})
    assert big.status_code == 413

    def drops() -> object:
        for _ in range(17 * 16):
            yield b"x" * 65536

    counted = client.post("/sign-in", content=drops(), headers={"content-type": "application/x-www-form-urlencoded"})
    assert counted.status_code == 413


def test_names_lead_out_of_no_folder(client: TestClient, board: Board, planner: Person) -> None:
    assert all(launches.find(board.root, board.engine, name) is None for name in ("..", ".", "", "../board", "config"))
    for path in ("/launch/config", f"/launch/{KEY}/figure/..%2fboard.db",
                 f"/launch/{KEY}/figure/damper.toml", f"/launch/{KEY}/paper/../../board.db",
                 f"/launch/{KEY}/characteristic/nothing", "/static/../database.py"):  # fmt: skip
        assert client.get(path).status_code == 404, path


def test_every_text_is_used_and_every_page_has_its_texts() -> None:
    root = Path(firstoff.board.__file__).parent
    pages = "".join(file.read_text("utf-8") for file in root.rglob("*.html"))
    code = "".join(file.read_text("utf-8") for file in root.rglob("*.py") if file.name != "texts.py")
    asked = set(re.findall(r"\bt\(\"([a-z_.0-9 ]+)\"(?! ~)", pages))
    assert asked <= set(TEXTS), asked - set(TEXTS)
    leads = re.findall(r"\bt\(\"([a-z_.]+)\" ~", pages) + re.findall(r"text\(f\"([a-z_.]+)\{", code)
    leads += ["fault."]
    unused = [key for key in TEXTS if f'"{key}"' not in pages + code and not key.startswith(tuple(leads))]
    assert unused == []
