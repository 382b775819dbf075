"""Run a command in a process of its own and watch its time and the memory of its whole process tree."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time

import psutil

PERIOD = 0.05  # s between two looks; a shorter peak is missed


def watched(code: str, *arguments: str) -> tuple[str, float]:
    """What `python -c code` prints, and the peak proportional memory (PSS) of its tree in MB."""
    child = subprocess.Popen([sys.executable, "-c", code, *arguments], stdout=subprocess.PIPE, text=True)
    peak = 0.0
    while child.poll() is None:
        peak = max(peak, tree_memory(child.pid))
        time.sleep(PERIOD)
    assert child.stdout is not None
    text = child.stdout.read()
    if child.returncode:
        raise RuntimeError(f"the measured command failed with {child.returncode}")
    return text, peak


def tree_memory(pid: int) -> float:
    """Proportional memory of a process and all it started [MB]; 0 when it has gone."""
    total = 0
    with contextlib.suppress(psutil.NoSuchProcess):
        root = psutil.Process(pid)
        for process in [root, *root.children(recursive=True)]:
            with contextlib.suppress(psutil.NoSuchProcess, psutil.AccessDenied):
                info = process.memory_full_info()
                total += getattr(info, "pss", info.rss)
    return total / 1e6
