"""A board as it is started on a machine: its process, its address, its end, however hard."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

COMMAND = "from firstoff.cli.main import main; main()"


@dataclass
class Server:
    """`firstoff serve` of a folder on a free port of this machine."""

    folder: Path
    builds: int = 512
    port: int = 0
    address: str = ""
    code: str = ""  # for the first account; empty when there is one
    process: subprocess.Popen[str] | None = field(default=None, repr=False)

    def start(self) -> Server:
        """Start it, at the same address as before when it was started before."""
        command = [sys.executable, "-c", COMMAND, "serve", str(self.folder), "--port", str(self.port),
                   "--builds", str(self.builds)]  # fmt: skip
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        self.code = ""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            at, code = re.search(r"http://127\.0\.0\.1:(\d+)/", line), re.search(r"first one: (\S+)$", line)
            if at:
                self.address, self.port = at[0].rstrip("/"), int(at[1])
            if code:
                self.code = code[1]
            if "Ctrl-C" in line:
                return self
        raise AssertionError("the board did not start")

    def end(self, how: int = signal.SIGTERM) -> None:
        """End it; SIGKILL leaves it no time to put anything in order."""
        if self.process is not None:
            self.process.send_signal(how)
            self.process.wait(30)
            assert self.process.stdout is not None
            self.process.stdout.close()
            self.process = None

    def crash(self) -> None:
        self.end(signal.SIGKILL if os.name == "posix" else signal.SIGTERM)
