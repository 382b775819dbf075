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
from firstoff.launch import demo
from firstoff.launch.demo import copy_example, walk

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
        "heavy = {'numpy', 'scipy', 'numba', 'pint', 'matplotlib', 'rich', 'openpyxl', 'typst', 'sqlalchemy', "
        "'alembic', 'cryptography', 'pyarrow'} & set(sys.modules)\n"
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


def test_json_of_every_verb(
    sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FIRSTOFF_CONFIG", str(tmp_path / "config"))
    recorded = ["--records", tmp_path / "records.db"]
    calls: dict[str, list[Any]] = {
        "new": ["--to", tmp_path / "n"],
        "target": [sheet.parent / "vehicle.toml"],
        "check": [sheet],
        "plan": [sheet],
        "choose": [sheet, "--builds", "16"],
        "predict": [sheet, "--builds", "256"],
        "prove": [sheet, sheet.parent / "first_offs.csv"],
        "gauge": [tmp_path / "rings.csv"],
        "explain": [sheet, sheet.parent / "first_offs.csv"],
        "correct": [sheet, sheet.parent / "first_offs.csv"],
        "release": [sheet, sheet.parent / "first_offs.csv"],
        "follow": [sheet, sheet.parent / "first_offs.csv"],
        "record": [sheet, sheet.parent / "first_offs.csv", "--quick", "--by", "Anna Example", *recorded],
        "records": ["verify", *recorded],
        "report": [sheet, "--setup-only", "--to", tmp_path / "papers"],
        "line": ["--case", Path(__file__).parents[1] / "reference" / "crane" / "three_tank_no_wait.json"],
        "stations": [],
        "calc": ["success-run", tmp_path / "in.json"],
        "demo": ["--to", tmp_path / "d"],
    }
    monkeypatch.setattr(demo, "walk", lambda sheet, report, *_: walk(sheet, report, 256, 32))
    assert set(calls) == set(VERBS) - {"serve"}  # a server answers with pages
    (tmp_path / "in.json").write_text('{"reliability": 0.9, "confidence": 0.9}', "utf-8")
    (tmp_path / "rings.csv").write_text("reference [mm],value [mm]\n12,12.001\n12,12.002\n13,13.001\n", "utf-8")
    for verb, words in calls.items():
        code, out, err = call(capsys, verb, *words, "--json")
        assert code == ExitStatus.DONE, err
        named = f"{verb}-{words[0]}" if verb == "records" else verb
        assert envelope(out)["schema"] == f"firstoff/{named}/1"


def test_readings_by_option_are_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    limits = '[model]\nname = "x"\nfamily = "damper"\n[characteristics.hole]\nunit = "mm"\nlimits = "10 ±0.2 mm"\n'
    (tmp_path / "m.toml").write_text(limits, "utf-8")
    (tmp_path / "r.csv").write_text("part,hole [mm]\n1,10\n", "utf-8")
    by_option = call(capsys, "prove", tmp_path / "m.toml", "--readings", tmp_path / "r.csv", "--json")
    assert by_option == call(capsys, "prove", tmp_path / "m.toml", tmp_path / "r.csv", "--json")
    assert by_option[0] == ExitStatus.DONE
    assert call(capsys, "prove", tmp_path / "m.toml")[0] == ExitStatus.USAGE
    both = (tmp_path / "r.csv", "--readings", tmp_path / "r.csv")
    assert call(capsys, "prove", tmp_path / "m.toml", *both)[0] == ExitStatus.USAGE


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


@pytest.mark.skipif(os.name != "posix", reason="pipes of a shell")
def test_a_closed_pipe_ends_quietly_with_the_documented_code(sheet: Path) -> None:
    code = "from firstoff.cli.main import main; main()"
    words = (["calc", "--list"], ["stations"], ["check", str(sheet)], ["prove", str(sheet), str(sheet), "--help"])
    for given in words:
        reader, writer = os.pipe()
        os.close(reader)  # the reader is gone before the first word
        done = subprocess.run(
            [sys.executable, "-c", code, *given], stdout=writer, stderr=subprocess.PIPE, text=True, check=False
        )
        os.close(writer)
        assert (done.returncode, done.stderr) == (ExitStatus.FILES, ""), given


def test_an_input_given_twice_to_a_calculation_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "in.json").write_text('{"reliability": 0.9, "confidence": 0.9, "confidence": 0.8}', "utf-8")
    code, out, err = call(capsys, "calc", "success-run", tmp_path / "in.json")
    assert (code, out) == (ExitStatus.INPUT, "")
    assert "in.json: confidence: is given twice" in err
    (tmp_path / "deep.json").write_text('{"valve": {"a": 1, "a": 2}}', "utf-8")
    code, _, err = call(capsys, "calc", "valve-flow", tmp_path / "deep.json")
    assert code == ExitStatus.INPUT
    assert "a: is given twice" in err


def test_two_launches_do_not_write_over_each_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = (copy_example("light_truck_front", tmp_path / name) for name in ("front", "rear"))
    second.write_text(second.read_text("utf-8").replace("LT3 front damper", "LT3 rear damper"), "utf-8")
    monkeypatch.chdir(tmp_path)
    assert call(capsys, "plan", "front/damper.toml")[0] == ExitStatus.DONE
    before = (tmp_path / "damper-launch" / "plan.md").read_text("utf-8")
    for verb in (["plan"], ["predict"], ["prove", "rear/first_offs.csv"], ["explain", "rear/first_offs.csv"]):
        code, _, err = call(capsys, verb[0], "rear/damper.toml", *verb[1:])
        assert code == ExitStatus.INPUT
        assert "damper-launch: holds the launch of another sheet" in err
        assert "found ../front/damper.toml" in err
        assert "--to rear-damper-launch" in err
    assert (tmp_path / "damper-launch" / "plan.md").read_text("utf-8") == before
    assert call(capsys, "plan", "rear/damper.toml", "--to", "rear-damper-launch")[0] == ExitStatus.DONE
    first.write_text(first.read_text("utf-8").replace('revision = "B"', 'revision = "C"'), "utf-8")
    assert call(capsys, "plan", "front/damper.toml")[0] == ExitStatus.DONE  # its own sheet may change
    (tmp_path / "damper-launch" / "launch.json").write_text("[]", "utf-8")
    code, _, err = call(capsys, "plan", "front/damper.toml")
    assert code == ExitStatus.INPUT
    assert "launch.json: does not say whose" in err


def test_the_demo_keeps_a_sheet_that_was_changed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = copy_example("light_truck_front", tmp_path / "d")
    changed = sheet.read_text("utf-8").replace('revision = "B"', 'revision = "C"')
    sheet.write_text(changed, "utf-8")
    code, _, err = call(capsys, "demo", "--to", tmp_path / "d")
    assert code == ExitStatus.INPUT
    assert "damper.toml: is there already and differs from the example" in err
    assert sheet.read_text("utf-8") == changed


def test_release_and_report(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import hashlib

    readings, folder = sheet.parent / "first_offs.csv", tmp_path / "out"
    code, out, _ = call(capsys, "release", sheet, readings, "--to", folder)
    assert code == ExitStatus.DONE  # a hold is a result
    assert "Recommended: HOLD" in out and "Closed by:" in out
    page = (folder / "release.md").read_text("utf-8")
    assert "Signature: ____" in page and hashlib.sha256(readings.read_bytes()).hexdigest() in page
    code, out, _ = call(capsys, "report", sheet, readings, "--to", folder, "--json")
    assert code == ExitStatus.DONE
    result = envelope(out)["result"]
    assert result["recommended"] == "hold" and result["signed"] is False
    names = [f["file"] for f in result["files"]]
    assert {"dossier.pdf", "setup-sheets.pdf", "setup/op030-piston_valve.pdf"} <= set(names)
    for f in result["files"]:
        data = (folder / f["file"]).read_bytes()
        assert f["sha256"] == hashlib.sha256(data).hexdigest() and f["bytes"] == len(data)
    assert not list(folder.rglob(".*"))
    for words in (["--setup-only", readings], ["--good", readings]):
        assert call(capsys, "report", sheet, *words)[0] == ExitStatus.USAGE


def test_safety_is_seen_in_every_account(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import csv

    readings, folder = sheet.parent / "first_offs.csv", tmp_path / "out"
    for words in (["plan", sheet], ["predict", sheet, "--builds", "256"], ["prove", sheet, readings]):
        _, out, _ = call(capsys, *words, "--to", folder)
        assert "rebound_0.52 (S)" in out and "only readings may release it" in out
        assert "rebound_1.04 (S)" not in out
    rows = list(csv.DictReader((folder / "verdicts.csv").open(encoding="utf-8")))
    assert {r["characteristic"] for r in rows if r["safety"] == "yes"} == {"rebound_0.52", "compression_0.52"}
    assert "**SAFETY** rebound_0.52" in (folder / "setup" / "op070-damping_rig.md").read_text("utf-8")
    _, out, _ = call(capsys, "prove", sheet, readings, "--json")
    assert envelope(out)["result"]["safety"] == ["compression_0.52", "rebound_0.52"]
    sheet.write_text(sheet.read_text("utf-8").replace("safety = true", ""), "utf-8")
    assert "(S)" not in call(capsys, "prove", sheet, readings, "--to", folder)[1]
