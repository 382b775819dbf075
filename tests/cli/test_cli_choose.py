"""`firstoff choose` as a user meets it."""

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
    made = copy_example("light_truck_front", tmp_path)
    bin_file = made.with_name("parts.toml")
    text = bin_file.read_text("utf-8")  # fewer valves, for a quick test
    for old, new in (("3 to 5", "4"), ("2 to 4", "3"), ("0 to 4", "0"), ("crimp_steps = 2", "crimp_steps = 1")):
        assert old in text
        text = text.replace(old, new)
    bin_file.write_text(text, "utf-8")
    return made


def test_the_example_has_a_better_valve(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder, new = tmp_path / "launch", tmp_path / "damper-c.toml"
    code, out, _ = call(capsys, "choose", sheet, "--builds", 64, "--to", folder, "--write", new)
    assert code == ExitStatus.DONE
    assert f"{2 * 5 * 3 * 3 * 4 * 3 * 2 * 3 * 2:,} valves".replace(",", " ") in out  # parts and steps, by hand
    assert "The second" in out and "changes" in out
    assert sorted(p.name for p in folder.iterdir()) == ["choose.md", "choose.pdf", "choose.svg", "launch.json"]
    page = (folder / "choose.md").read_text("utf-8")
    assert "parts.toml: sha256" in page and "only first-offs on the rig release it" in page
    assert (folder / "choose.pdf").read_bytes().startswith(b"%PDF")
    assert new.exists()
    code, _, err = call(capsys, "choose", sheet, "--builds", 64, "--write", new, "--to", folder)
    assert code == ExitStatus.INPUT and "is there already" in err


def test_json_and_faults(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = sorted(p.name for p in tmp_path.iterdir())
    code, out, _ = call(capsys, "choose", sheet, "--builds", 64, "--quantity", 90_000, "--json")
    assert code == ExitStatus.DONE
    found = json.loads(out)
    assert found["schema"] == "firstoff/choose/1" and "parts.toml" in found["provenance"]["sheet_sha256"]
    valves = found["result"]["valves"]
    assert len(valves) == 10 and all(v["trial"]["outside"]["builds"] == 64 for v in valves)
    first, now = valves[0]["trial"], found["result"]["present"]["trial"]
    assert first["room_sd"] >= now["room_sd"] and first["outside"]["rejects"] <= now["outside"]["rejects"]
    assert sorted(p.name for p in tmp_path.iterdir()) == before
    code, _, err = call(capsys, "choose", sheet, "--bin", tmp_path / "none.toml", "--json")
    assert code == ExitStatus.INPUT
    plant = sheet.with_name("plant.toml")
    plant.write_text(
        "\n".join(r for r in plant.read_text("utf-8").splitlines() if not r.startswith("parts =")), "utf-8"
    )
    code, _, err = call(capsys, "choose", sheet)
    assert code == ExitStatus.INPUT and "no parts bin is named" in err
