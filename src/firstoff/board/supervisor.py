"""Keeps the worker: starts it when there is work, ends it when a job is to stop, and queues again what it left."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path

from sqlalchemy import Engine

from firstoff.board import jobs
from firstoff.launch.predict import BUILDS

PAUSE = 0.2  # s between looks
GRACE = 5.0  # s that a worker has to end


class Supervisor:
    """One worker process at most. Files are written whole or not at all, so that it may be ended at any time."""

    def __init__(self, folder: Path, engine: Engine, builds: int = BUILDS) -> None:
        self.folder = folder
        self.engine = engine
        self.builds = builds
        self.process: subprocess.Popen[bytes] | None = None
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def start(self) -> None:
        """Jobs that were running when the board last ended are queued again."""
        jobs.requeue(self.engine)
        self._thread.start()

    def close(self) -> None:
        """End worker and watch; what was running is queued again at the next start."""
        self._over.set()
        if self._thread.is_alive():
            self._thread.join(GRACE)
        self._end_worker()

    def _watch(self) -> None:
        while not self._over.wait(PAUSE):
            self.look()

    def look(self) -> None:
        """One look at the queue and the worker."""
        alive = self.process is not None and self.process.poll() is None
        work = jobs.running(self.engine)
        if work is not None and (work.stop or not alive):
            self._end_worker()
            jobs.requeue(self.engine)
        elif not alive and jobs.waiting(self.engine):
            command = [sys.executable, "-m", "firstoff.board.worker", str(self.folder), str(self.builds)]
            self.process = subprocess.Popen(command, stdin=subprocess.PIPE)

    def _end_worker(self) -> None:
        process, self.process = self.process, None
        if process is None:
            return
        process.kill()
        process.wait(GRACE)
        if process.stdin:
            process.stdin.close()
