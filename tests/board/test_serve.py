"""The server as it is started on a machine."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from firstoff.board.serve import is_loopback
from firstoff.cli.main import main
from firstoff.errors import ExitStatus


@pytest.mark.skipif(os.name != "posix", reason="a signal ends it as Ctrl-C does")
def test_serve_says_where_it_is_and_ends_with_ctrl_c(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = [sys.executable, "-c", "from firstoff.cli.main import main; main()", "serve", str(folder), "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as server:
        try:
            assert server.stdout is not None
            address = re.search(r"http://127\.0\.0\.1:\d+/", server.stdout.readline())
            assert address
            assert re.search(r"Code for the first one: (\w{4}-){2}\w{4}$", server.stdout.readline().rstrip())
            with urllib.request.urlopen(address[0], timeout=30) as answer:
                assert answer.geturl().endswith("/set-up") and answer.headers["server"] is None
            with pytest.raises(SystemExit) as left:  # a second board of the same folder
                main(["serve", str(folder), "--port", "0"])
            assert left.value.code == ExitStatus.INPUT and "running already" in capsys.readouterr().err
            with pytest.raises(SystemExit) as left:  # a second board at the same place
                main(["serve", str(folder), "--port", address[0].rstrip("/").rpartition(":")[2]])
            assert left.value.code == ExitStatus.FILES
        finally:
            server.send_signal(signal.SIGINT)
            out, err = server.communicate(timeout=30)
    assert server.returncode == ExitStatus.DONE, err
    assert "Traceback" not in err
    assert (folder / "board.db").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    ("host", "inside"), [("127.0.0.1", True), ("::1", True), ("localhost", True), ("0.0.0.0", False), ("board", False)]
)
def test_only_this_machine_is_loopback(host: str, inside: bool) -> None:
    assert is_loopback(host) is inside


def test_no_folder_is_a_fault_of_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["serve", str(tmp_path / "nothing")])
    assert left.value.code == ExitStatus.INPUT and "is no folder" in capsys.readouterr().err
