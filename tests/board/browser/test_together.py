"""Two people at once, and a server that is killed: nothing is written over silently, nothing is lost."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, expect

from firstoff.board import accounts, jobs
from firstoff.board.database import open_board
from firstoff.board.texts import TEXTS
from tests.board.browser.conftest import Watch
from tests.board.browser.server import Server
from tests.board.browser.walk import sign_in
from tests.board.conftest import KEY, PASSWORD

PART = f"/launch/{KEY}/part?part=FO-02&lot=L1"
READINGS = "first_offs-2.csv"  # those that were uploaded in the walk


def test_two_people_see_each_other_and_neither_writes_over_the_other(
    person: Callable[..., Page], watch: Watch, root: Path
) -> None:
    watch.expected = "409"
    accounts.add(open_board(root), "B. Rigger", "readings", PASSWORD)
    one, two = person(), person()
    sign_in(one, "A. Miller")
    sign_in(two, "B. Rigger")
    for page in (one, two):
        page.goto(PART)
    one.get_by_label("rebound_0.05").fill("216")
    one.get_by_role("button", name=TEXTS["save"], exact=True).click()
    expect(one.get_by_text(TEXTS["saved.trail"])).to_be_visible()
    kept = (root / KEY / READINGS).read_bytes()
    assert b"FO-02,L1,damping rig 2,27.7,216," in kept
    two.evaluate("window.dispatchEvent(new Event('focus'))")  # as when somebody comes back to it
    expect(two.get_by_text(TEXTS["changed"])).to_be_visible()
    two.get_by_label("rebound_0.05").fill("217")
    two.get_by_label("friction").fill("22,5")
    two.get_by_role("button", name=TEXTS["save"], exact=True).click()
    expect(two.get_by_role("heading", name=TEXTS["conflict.title"])).to_be_visible()
    row = two.locator("tr", has_text="rebound_0.05").locator("td").all_inner_texts()
    assert row == ["217", "216"] and (root / KEY / READINGS).read_bytes() == kept
    two.get_by_role("link", name=TEXTS["conflict.leave"]).click()
    two.goto(PART)
    assert two.get_by_label("rebound_0.05").input_value() == "216"


def test_a_job_that_runs_while_the_server_is_killed_is_done_by_the_next(
    person: Callable[..., Page], watch: Watch, server: Server, root: Path
) -> None:
    watch.expected = "ERR_CONNECTION|ERR_EMPTY|409|Failed to load"
    engine = open_board(root)
    before = jobs.result(engine, KEY, "explain")
    page = person()
    sign_in(page, "A. Miller")
    page.goto(f"/launch/{KEY}/explain")
    page.locator("#job-explain button").first.click()
    work = waited(lambda: (w := jobs.latest(engine, KEY, "explain")) and w.state == "running" and w)
    server.crash()
    left = jobs.get(engine, work.id)
    assert left and left.state == "running"
    server.start()
    assert not server.code  # the accounts are still there, and so is the session: the page goes on by itself
    done = waited(lambda: (w := jobs.get(engine, work.id)) and not w.open and w)
    assert (done.state, done.attempts) == ("done", 2)
    after = jobs.result(engine, KEY, "explain")
    assert before and after and after.time >= before.time
    page.reload()
    expect(page.locator("#job-explain").get_by_text(TEXTS["job.by"].split(" {")[0])).to_be_visible()
    assert after.content["lots"][0]["causes"][0]["title"] in page.content()


def test_an_upload_that_is_cut_off_leaves_nothing(
    person: Callable[..., Page], watch: Watch, server: Server, root: Path
) -> None:
    page = person()
    sign_in(page, "A. Miller")
    page.goto(f"/launch/{KEY}/first-offs")
    before = {file.name: file.read_bytes() for file in (root / KEY).iterdir() if file.is_file()}
    cookie = "; ".join(f"{c['name']}={c['value']}" for c in page.context.cookies())
    token = page.locator("input[name=csrf]").first.get_attribute("value")
    body = (
        f'--cut\r\nContent-Disposition: form-data; name="csrf"\r\n\r\n{token}\r\n--cut\r\n'
        'Content-Disposition: form-data; name="file"; filename="cut.csv"\r\n\r\npart,rebound_0.52 [N]\nC-1,1340\n'
    ).encode()
    kind, size = "multipart/form-data; boundary=cut", len(body) + 100_000
    lines = [f"POST /launch/{KEY}/upload HTTP/1.1", f"Host: 127.0.0.1:{server.port}", f"Cookie: {cookie}",
             f"Content-Type: {kind}", f"Content-Length: {size}", "", ""]  # fmt: skip
    with socket.create_connection(("127.0.0.1", server.port)) as half:
        half.sendall("\r\n".join(lines).encode() + body)
        time.sleep(0.3)  # it is being read
        server.crash()
    server.start()
    assert {file.name: file.read_bytes() for file in (root / KEY).iterdir() if file.is_file()} == before
    whole = {"name": "cut.csv", "mimeType": "text/csv", "buffer": b"part,rebound_0.52 [N]\nC-1,1340\n"}
    page.goto(f"/launch/{KEY}/first-offs")
    page.locator("input[type=file]").set_input_files(files=[whole])  # type: ignore[list-item]
    page.get_by_role("button", name=TEXTS["fo.upload_do"]).click()
    expect(page.get_by_text(TEXTS["saved.trail"])).to_be_visible()
    assert (root / KEY / "cut.csv").read_bytes() == whole["buffer"]


def waited(found: Callable[[], object], most: float = 180.0) -> jobs.Work:
    end = time.monotonic() + most
    while time.monotonic() < end:
        if work := found():
            assert isinstance(work, jobs.Work)
            return work
        time.sleep(0.02)
    raise AssertionError("waited in vain")
