"""The kernels' cache follows every source of physics and never stands in the way."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import firstoff.physics.jit as jit

SCRIPT = """
import firstoff.physics.jit as jit
import numba
from firstoff.physics.damper.orifice import loss
print(jit.cache_folder(loss.__module__))
print(repr(numba.config.CACHE_DIR), loss(2.0, 0.0, 1.0, 0.0, 1.0))
"""


def run(**environment: str) -> list[str]:
    kept = {k: v for k, v in os.environ.items() if k not in ("XDG_CACHE_HOME", "NUMBA_CACHE_DIR")}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], env=kept | environment, capture_output=True, text=True, check=True, timeout=300
    )
    return done.stdout.splitlines()


def test_compiled_code_is_kept_under_the_hash_of_the_sources(tmp_path: Path) -> None:
    lines = run(XDG_CACHE_HOME=str(tmp_path))
    assert lines[0].startswith(str(tmp_path / "firstoff" / jit.source_hash("firstoff.physics.damper.orifice")))
    assert list(tmp_path.rglob("*.nbc"))
    assert lines[1] == "'' 2.0"  # numba's own setting is back


@pytest.mark.skipif(os.name == "nt", reason="folders have no such permissions there")
def test_unusable_cache_folder_is_replaced(tmp_path: Path) -> None:
    blocked = tmp_path / "a file, not a folder"
    blocked.write_text("")
    lines = run(XDG_CACHE_HOME=str(blocked), TMPDIR=str(tmp_path))
    assert lines[0].startswith(str(tmp_path / "firstoff-"))
    assert lines[1].endswith("2.0")


def test_hash_changes_with_what_is_imported_and_with_nothing_else(tmp_path: Path) -> None:
    house = tmp_path / "house"
    for name, text in {
        "kernel": "from house.deep import helper\nfrom os import path\n",
        "deep/__init__": "",
        "deep/helper": "def inner():\n    import house.far\n",
        "far": "x = 1\n",
        "stranger": "x = 1\n",
    }.items():
        path = house / f"{name}.py"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)

    def changes(name: str) -> bool:
        before = jit.source_hash.__wrapped__("house.kernel", tmp_path)
        (house / f"{name}.py").write_text((house / f"{name}.py").read_text() + "# edited\n")
        return bool(jit.source_hash.__wrapped__("house.kernel", tmp_path) != before)

    assert [changes(name) for name in ("kernel", "deep/helper", "far", "stranger")] == [True, True, True, False]
