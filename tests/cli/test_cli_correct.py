"""`firstoff correct` as a user meets it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from firstoff.cli.main import main
from firstoff.errors import ExitStatus
from firstoff.launch.demo import copy_example


def call(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as leave:
        main([str(w) for w in words])
    out, err = capsys.readouterr()
    return int(leave.value.code or 0), out, err


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return copy_example("light_truck_front", tmp_path)


def test_the_example_is_corrected_and_written(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    readings, folder = sheet.parent / "first_offs.csv", tmp_path / "launch"
    code, out, _ = call(capsys, "correct", sheet, readings, "--to", folder)
    assert code == ExitStatus.DONE
    assert "CORRECT  rebound relief spring weak, all parts" in out
    assert "rebound relief preload 84 to 102 N, 9" in out
    assert "vents it first" in out and "scrap: FO-01" in out
    page = (folder / "correct.md").read_text("utf-8")
    assert "## Correction 1: rebound relief preload" in page
    assert "first_offs.csv: sha256" in page
    assert sorted(p.name for p in folder.iterdir()) == ["correct.md", "correct.svg", "launch.json"]


def test_json_writes_nothing_and_faults_are_messages(
    sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    readings = sheet.parent / "first_offs.csv"
    before = sorted(p.name for p in tmp_path.iterdir())
    code, out, _ = call(capsys, "correct", sheet, readings, "--json")
    assert code == ExitStatus.DONE
    found = json.loads(out)
    assert found["schema"] == "firstoff/correct/1" and found["result"]["verdict"] == "move"
    code, _, err = call(capsys, "correct", sheet, readings, "--cause", "rebound_relief_week")
    assert code == ExitStatus.INPUT
    assert "did you mean rebound_relief_weak?" in err
    code, _, err = call(capsys, "correct", sheet, readings, "--cause", "crimp_long", "--size", "3 kg")
    assert code == ExitStatus.INPUT and "size" in err
    assert sorted(p.name for p in tmp_path.iterdir()) == before
