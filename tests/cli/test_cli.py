"""The command line as a user meets it, in-process."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from firstoff.cli.main import VERBS, main
from firstoff.errors import ExitStatus
from firstoff.launch.demo import copy_example

DOCS = Path(__file__).parents[2] / "docs"


def call(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as leave:
        main([str(w) for w in words])
    out, err = capsys.readouterr()
    return int(leave.value.code or 0), out, err


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return copy_example("light_truck_front", tmp_path)


def envelope(out: str) -> dict[str, Any]:
    def refuse(text: str) -> float:
        raise AssertionError(f"{text} in JSON")

    found: dict[str, Any] = json.loads(out, parse_constant=refuse)
    assert set(found) == {"schema", "messages", "result", "provenance"}
    assert found["provenance"]["version"]
    return found


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys\nfrom firstoff.cli.main import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'scipy', 'numba', 'pint', 'matplotlib', 'rich', 'openpyxl'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert all(verb in done.stdout for verb in VERBS)


def test_every_verb_option_and_exit_code_is_documented(capsys: pytest.CaptureFixture[str]) -> None:
    import importlib

    text = (DOCS / "cli.md").read_text("utf-8")
    for verb, (module, _) in VERBS.items():
        assert f"firstoff {verb}" in text
        for option in importlib.import_module(f"firstoff.cli.{module}").command.params:
            for name in option.opts:
                assert not name.startswith("--") or name in text, f"{verb} {name} is not in docs/cli.md"
    for status in ExitStatus:
        assert f"| {status.value} |" in text


def test_new_check_and_what_is_missing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = call(capsys, "new", "damper", "--to", tmp_path / "a", "--name", "trial")
    assert code == ExitStatus.DONE
    assert "model.toml" in out
    code, out, _ = call(capsys, "check", tmp_path / "a" / "model.toml")
    assert code == ExitStatus.DONE
    assert "enough to prove readings" in out
    assert "still needs: pressure_tube.sizing_mandrel" in out
    code, _, err = call(capsys, "plan", tmp_path / "a" / "model.toml")
    assert code == ExitStatus.INPUT
    assert "piston_rod.diameter" in err
    code, _, err = call(capsys, "new", "damper", "--to", tmp_path / "a")
    assert code == ExitStatus.INPUT
    assert "is there already" in err
    assert "trial" in (tmp_path / "a" / "model.toml").read_text("utf-8")


def test_a_new_sheet_names_every_parameter(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from firstoff.families import find

    call(capsys, "new", "--to", tmp_path)
    text = (tmp_path / "model.toml").read_text("utf-8")
    for station in find("damper").stations:
        for parameter in station.parameters:
            assert f"# {parameter.name} = " in text


def test_every_fault_of_a_sheet_is_named_with_its_line(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = sheet.read_text("utf-8")
    lines = text.replace('sizing_mandrel = "32.055 mm', 'sizing_mandrell = "32.055 mm').splitlines()
    at = {
        "mandrell": next(i for i, line in enumerate(lines, 1) if "sizing_mandrell" in line),
        "pressure": next(i for i, line in enumerate(lines, 1) if line.startswith("pressure = ")),
        "compression": next(i for i, line in enumerate(lines, 1) if line.startswith("compression = ")),
        "volume": next(i for i, line in enumerate(lines, 1) if line.startswith("volume = ")),
    }
    lines[at["pressure"] - 1] = 'pressure = "5.0 bar ±0.4 bar"'
    lines[at["compression"] - 1] = 'compression = "145 ±30 N"'
    lines[at["volume"] - 1] = 'volume = "260 g"'
    sheet.write_text("\n".join(lines), "utf-8")
    code, out, err = call(capsys, "check", sheet)
    assert code == ExitStatus.INPUT
    assert out == ""
    for line in at.values():
        assert f"damper.toml:{line}: " in err
    assert "did you mean sizing_mandrel?" in err
    assert "gauge" in err
    assert "4 faults; nothing was computed." in err


def test_plan_predict_prove(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "launch"
    assert call(capsys, "plan", sheet, "--to", folder)[0] == ExitStatus.DONE
    code, out, _ = call(capsys, "predict", sheet, "--builds", "2000", "--to", folder)
    assert code == ExitStatus.DONE
    assert "rebound relief preload" in out
    code, out, _ = call(capsys, "prove", sheet, sheet.parent / "first_offs.csv", "--to", folder)
    assert code == ExitStatus.DONE
    assert "DO NOT CONFORM: rebound_0.52" in out
    code, out, _ = call(capsys, "explain", sheet, sheet.parent / "first_offs.csv", "--to", folder)
    assert code == ExitStatus.DONE
    assert "rebound relief spring weak" in out
    assert "To confirm: " in out
    written = {p.name for p in folder.rglob("*") if p.is_file()}
    assert {
        "explain.md",
        "plan.md",
        "predict.md",
        "prove.md",
        "verdicts.csv",
        "force-velocity.svg",
        "share-of-scatter.svg",
    } <= written
    assert not list(folder.rglob(".*"))  # no half-written file is left


def test_json_of_every_verb(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    calls: dict[str, list[Any]] = {
        "new": ["--to", tmp_path / "n"],
        "check": [sheet],
        "plan": [sheet],
        "predict": [sheet, "--builds", "256"],
        "prove": [sheet, sheet.parent / "first_offs.csv"],
        "explain": [sheet, sheet.parent / "first_offs.csv"],
        "correct": [sheet, sheet.parent / "first_offs.csv"],
        "line": ["--case", Path(__file__).parents[1] / "reference" / "crane" / "three_tank_no_wait.json"],
        "stations": [],
        "calc": ["success-run", tmp_path / "in.json"],
        "demo": ["--to", tmp_path / "d"],
    }
    assert set(calls) == set(VERBS)
    (tmp_path / "in.json").write_text('{"reliability": 0.9, "confidence": 0.9}', "utf-8")
    for verb, words in calls.items():
        code, out, err = call(capsys, verb, *words, "--json")
        assert code == ExitStatus.DONE, err
        assert envelope(out)["schema"] == f"firstoff/{verb}/1"


def test_json_of_a_fault_has_the_messages(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet.write_text(sheet.read_text("utf-8").replace('family = "damper"', 'family = "dampr"'), "utf-8")
    code, out, _ = call(capsys, "check", sheet, "--json")
    assert code == ExitStatus.INPUT
    found = envelope(out)
    assert found["result"] is None
    assert found["messages"][0]["nearest"] == "damper"


def test_usage_and_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = call(capsys, "predikt")
    assert code == ExitStatus.USAGE
    assert "did you mean predict?" in err
    assert call(capsys, "predict")[0] == ExitStatus.USAGE
    code, _, err = call(capsys, "check", tmp_path / "nothing.toml")
    assert code in (ExitStatus.INPUT, ExitStatus.FILES)
    assert "nothing.toml" in err


@pytest.mark.skipif(os.name != "posix" or not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_no_traceback_when_a_folder_cannot_be_made(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = call(capsys, "plan", sheet, "--to", "/dev/full/launch")
    assert code == ExitStatus.FILES
    assert "/dev/full" in err


def test_calc(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    import io

    monkeypatch.setattr(sys, "stdin", io.StringIO('{"reliability": 0.9, "confidence": 0.9}'))
    code, out, _ = call(capsys, "calc", "success-run")
    assert code == ExitStatus.DONE
    assert json.loads(out) == {"n": 22}  # success-run theorem: ceil(ln 0.1 / ln 0.9)
    code, out, _ = call(capsys, "calc", "--list")
    assert "twin-tube-quasi-static-force" in out
    for text in ('{"reliability": 0.9, "confidense": 0.9}', '{"reliability": NaN, "confidence": 0.9}', "[]", "{", ""):
        (tmp_path / "in.json").write_text(text, "utf-8")
        code, _, err = call(capsys, "calc", "success-run", tmp_path / "in.json")
        assert code == ExitStatus.INPUT
        assert "Traceback" not in err
    code, _, err = call(capsys, "calc", "success-rum", tmp_path / "in.json")
    assert code == ExitStatus.INPUT
    assert "did you mean success-run?" in err


def test_the_rules_offered_are_those_that_exist() -> None:
    from firstoff.cli.prove import RULES
    from firstoff.methods import conformity

    assert set(RULES) == set(conformity.RULES)


def test_a_misspelt_characteristic_or_gauge_is_remarked(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet.write_text(sheet.read_text("utf-8").replace("[characteristics.bore]", "[characteristics.boer]"), "utf-8")
    code, out, _ = call(capsys, "check", sheet)
    assert code == ExitStatus.DONE
    assert "characteristics.boer: is computed by no station" in out
    assert "did you mean bore?" in out
    assert "measures nothing that this model" in out  # the air gauge measures bore, which the sheet no longer names


def test_a_proof_says_what_it_rests_on(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import hashlib

    readings = sheet.parent / "first_offs.csv"
    call(capsys, "prove", sheet, readings, "--to", tmp_path / "out")
    page = (tmp_path / "out" / "prove.md").read_text("utf-8")
    assert f"first_offs.csv: sha256 {hashlib.sha256(readings.read_bytes()).hexdigest()}" in page
    assert "tolerance interval | kept clear of limits by" in page
