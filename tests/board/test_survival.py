"""Broken off in the middle: an upload leaves nothing behind, and the board answers the next question."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
import uvicorn

from firstoff.board import accounts
from firstoff.board.app import create_app
from tests.board.conftest import KEY, PASSWORD


@pytest.fixture
def address(folder: Path) -> Iterator[tuple[str, int]]:
    """A board on a real socket."""
    app = create_app(folder, work=False)
    accounts.add(app.state.board.engine, "P. Lanner", "sign", PASSWORD, keeper=True)
    app.state.board.code = ""
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="error", log_config=None))
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    running = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    running.start()
    while not server.started:
        time.sleep(0.02)
    yield "127.0.0.1", listener.getsockname()[1]
    server.should_exit = True
    running.join(10)


def token(page: str) -> str:
    return page.split('"X-Form-Token":"')[1][:64]


def test_an_upload_that_is_broken_off_leaves_nothing_half_written(
    folder: Path, address: tuple[str, int], caplog: pytest.LogCaptureFixture
) -> None:
    with httpx.Client(base_url=f"http://{address[0]}:{address[1]}", follow_redirects=True) as browser:
        page = browser.get("/sign-in").text
        browser.post("/sign-in", data={"csrf": token(page), "name": "P. Lanner", "password": PASSWORD})
        page = browser.get(f"/launch/{KEY}/first-offs").text
        cookie = "; ".join(f"{name}={value}" for name, value in browser.cookies.items())
        before = {file.name: file.read_bytes() for file in (folder / KEY).iterdir() if file.is_file()}
        table = (folder / KEY / "first_offs.csv").read_bytes()
        body = (
            f'--edge\r\nContent-Disposition: form-data; name="csrf"\r\n\r\n{token(page)}\r\n'
            '--edge\r\nContent-Disposition: form-data; name="file"; filename="new.csv"\r\n'
            "Content-Type: text/csv\r\n\r\n"
        ).encode() + table
        head = (
            f"POST /launch/{KEY}/upload HTTP/1.1\r\nHost: localhost\r\nCookie: {cookie}\r\n"
            f"Content-Type: multipart/form-data; boundary=edge\r\nContent-Length: {len(body) + 20}\r\n\r\n"
        ).encode()
        for part in (len(body), len(body) // 2, 40):  # all but the closing edge; half of it; hardly begun
            with socket.create_connection(address) as line:
                line.sendall(head + body[:part])
                time.sleep(0.05)
            assert browser.get(f"/launch/{KEY}/first-offs").status_code == 200
        time.sleep(0.2)
        after = {file.name: file.read_bytes() for file in (folder / KEY).iterdir() if file.is_file()}
        assert after == before and not caplog.records  # and no fault of the program
        whole = body + b"\r\n--edge--\r\n"
        answer = browser.post(f"/launch/{KEY}/upload", content=whole,
                              headers={"content-type": "multipart/form-data; boundary=edge"})  # fmt: skip
        assert answer.status_code == 200 and (folder / KEY / "new.csv").read_bytes() == table
