"""The worker: one process beside the server that does the board's jobs, one after another.

It is started with the board's folder and the number of trial builds, and ends when its standard input does: with the
server, however that ends.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import Engine

from firstoff.board import jobs, launches
from firstoff.board.database import open_board
from firstoff.errors import InputFault
from firstoff.launch.predict import BUILDS

Progress = Callable[..., None]

PAUSE = 0.2  # s between looks at the queue
REPORTS = 0.25  # s, at most so often


def main(folder: Path, builds: int) -> None:
    """Take jobs until the server is gone."""
    threading.Thread(target=_end_with_server, daemon=True).start()
    engine = open_board(folder)
    while True:
        if not do_one(folder, engine, builds):
            time.sleep(PAUSE)


def _end_with_server() -> None:
    sys.stdin.buffer.read()
    os._exit(0)


def do_one(folder: Path, engine: Engine, builds: int = BUILDS) -> bool:
    """Do the next job, if there is one; whatever goes wrong becomes its message."""
    work = jobs.take(engine)
    if work is None:
        return False
    try:
        launch = launches.find(folder, engine, work.launch)
        if launch is None:
            jobs.end(engine, work.id, "failed", "its launch folder is gone")
            return True
        from firstoff.board.work import run

        content, inputs = run(work.kind, launch, _reporter(engine, work.id), builds)
        jobs.keep(engine, work, content, inputs)
        jobs.end(engine, work.id, "done")
    except InputFault as fault:
        jobs.end(engine, work.id, "failed", "\n".join(_beside(m.as_text(), folder) for m in fault.messages))
    except OSError as fault:
        jobs.end(engine, work.id, "failed", f"{Path(fault.filename or 'file').name}: {fault.strerror or fault}")
    except Exception as fault:  # noqa: BLE001 - the worker outlives a fault of the program; the page shows it
        print(f"job {work.id}: {type(fault).__name__}: {fault}", file=sys.stderr)
        jobs.end(engine, work.id, "failed", f"firstoff itself is at fault, please report it: {fault}")
    return True


def _beside(text: str, folder: Path) -> str:
    """A message without the place of the board on this machine."""
    return text.replace(f"{folder}{os.sep}", "")


def _reporter(engine: Engine, number: int) -> Progress:
    last: tuple[float, str] = (0.0, "")

    def progress(done: int, total: int, note: str = "") -> None:
        nonlocal last
        at = time.monotonic()
        if note != last[1] or at - last[0] >= REPORTS:
            last = at, note
            jobs.report(engine, number, done, total, note)

    return progress


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
