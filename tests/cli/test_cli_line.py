"""`firstoff line PLANT` and its neighbours as a user meets them, in-process."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from firstoff.cli.main import main
from firstoff.errors import ExitStatus
from firstoff.launch.line.new import PLANT


def call(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as leave:
        main([str(w) for w in words])
    out, err = capsys.readouterr()
    return int(leave.value.code or 0), out, err


def result(out: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(out)["result"]
    return found


@pytest.fixture
def plant(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    assert call(capsys, "new", "line", "--to", tmp_path, "--name", "our line")[0] == ExitStatus.DONE
    return tmp_path / "plant.toml"


def test_what_new_writes_is_checked_and_planned(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = call(capsys, "check", plant)
    assert code == ExitStatus.DONE and "no fault; our line: 8 places, 1 crane" in out
    code, out, err = call(capsys, "line", plant)
    assert code == ExitStatus.DONE, err
    assert "Period" in out and "Proven" in out and "interlocks decide" in out
    assert call(capsys, "new", "line", "--to", plant.parent)[0] == ExitStatus.INPUT  # never over a file that is there


def test_the_folder_of_a_line(plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = call(capsys, "line", plant, "--to", tmp_path / "out", "--json")
    assert code == ExitStatus.DONE, err
    found = result(out)
    assert [Path(f).name for f in found["files"]] == ["line-chart.svg", "line-moves.csv", "line-setup.md"]
    rows = list(csv.DictReader((tmp_path / "out" / "line-moves.csv").open(encoding="utf-8")))
    assert len(rows) == len(found["moves"]) == 7
    for row, move in zip(rows, found["moves"], strict=True):
        assert row["to"] == move["target"]
        if move["soak"] is not None:
            assert move["least"] <= move["soak"] <= move["most"]
            assert float(row["soak [s]"]) == move["soak"]
    page = (tmp_path / "out" / "line-setup.md").read_text("utf-8")
    for wanted in ("Hexavalent chromium", "Nickel salts", "caustic", "Acid into water", "interlocks decide", "sha256"):
        assert wanted in page
    # charge of chrome: 4500 A over the time at full current and half the ramp of 10 s
    chrome = next(m for m in found["moves"] if m["operation"] == "chrome")
    assert chrome["full_current"] == chrome["soak"] - 15
    assert chrome["charge"] == 4500 * (chrome["soak"] - 15 + 5)


def test_slack_costs_something_and_is_kept(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = result(call(capsys, "line", plant, "--slack", "6", "--json")[1])
    assert found["period"] >= found["period_without_slack"] > 0
    assert found["slack"] == 6
    for move in found["moves"]:
        if move["soak"] is not None:
            assert move["least"] + 6 <= move["soak"] <= move["most"] - 6
    assert "the slack costs" in call(capsys, "line", plant, "--slack", "6")[1]
    code, _, err = call(capsys, "line", plant, "--slack", "20")
    assert code == ExitStatus.INPUT and "no window is left of acid dip" in err
    assert "multiples of 1 s" in call(capsys, "line", plant, "--slack", "0.25")[2]


def test_a_tank_out_of_service(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = result(call(capsys, "line", plant, "--json")[1])
    less = result(call(capsys, "line", plant, "--without", "5", "--json")[1])
    # closed form: one nickel tank for 600 s, the move in (29 s to the near one) and out (33 or 31 s)
    assert less["period"] >= 600 + 27 + 31 > whole["period"]
    assert less["out_of_service"] == ["5"]
    code, _, err = call(capsys, "line", plant, "--without", "nickle")
    assert code == ExitStatus.INPUT and "names no tank" in err
    assert "no tank is left for chrome" in call(capsys, "line", plant, "--without", "6")[2]


def test_products_of_a_mix(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = plant.read_text("utf-8").replace("[[line.step]]", '[[line.step]]\nproduct = "thick"')
    text += '\n[[line.product]]\nname = "thick"\nparts = 8\n\n[[line.product]]\nname = "thin"\nparts = 10\n'
    for operation, time in (("soak clean", "180 to 300 s"), ("rinse", "20 to 90 s"), ("nickel", "300 to 420 s"),
                            ("last rinse", "20 to 300 s")):  # fmt: skip
        text += f'\n[[line.step]]\nproduct = "thin"\noperation = "{operation}"\ntime = "{time}"\n'
    plant.write_text(text, "utf-8")
    found = result(call(capsys, "line", plant, "--json")[1])
    assert found["loads"] == 2 and found["status"] == "optimal"
    assert {m["product"] for m in found["moves"]} == {"thick", "thin"}
    assert found["parts_per_hour"] == pytest.approx(3600 * 18 / found["period"])
    # both in two nickel tanks: (600 + 29 + 33 and 300 + 29 + 33, at least) shared by two
    assert found["period"] >= (600 + 300 + 2 * (27 + 31)) / 2
    alone = result(call(capsys, "line", plant, "--product", "thin", "--json")[1])
    assert alone["loads"] == 1 and alone["period"] < found["period"]
    code, _, err = call(capsys, "line", plant, "--product", "thinn")
    assert code == ExitStatus.INPUT and "did you mean thin?" in err
    assert call(capsys, "line", plant, "--loads", "2")[0] == ExitStatus.INPUT
    changed = result(call(capsys, "line", plant, "--product", "thin", "--after", "thick", "--json")[1])
    assert changed["after"] == "thick" and changed["spoilt"] == []
    assert {m["product"] for m in changed["moves"]} == {"thick"}


STATE = """\
[[crane]]
name = "crane"
tank = "3"

[[load]]
name = "bar 1"
tank = "6"
time = "200 s"

[[load]]
name = "bar 2"
tank = "4"
time = "500 s"
"""


def test_the_way_back(plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    state = tmp_path / "state.toml"
    state.write_text(STATE, "utf-8")
    code, out, err = call(capsys, "line", plant, "--state", state, "--to", tmp_path / "back")
    assert code == ExitStatus.DONE, err
    assert "Cannot be saved: bar 1 (in 6, chrome). No recovery spoils less." in out
    assert "bar 1 (spoilt)" in out and "interlocks decide" in out
    names = {p.name for p in (tmp_path / "back").iterdir()}
    assert {"recovery.md", "recovery-moves.csv"} <= names and any(n.endswith(".svg") for n in names)
    found = result(call(capsys, "line", plant, "--state", state, "--json")[1])
    assert found["spoilt"] == ["bar 1"] and found["least_spoilt_is_proven"]
    assert found["bound"] <= found["joined"]
    state.write_text(STATE.replace('tank = "6"', 'tank = "66"'), "utf-8")
    code, _, err = call(capsys, "line", plant, "--state", state)
    assert code == ExitStatus.INPUT and "state.toml:7: load.tank: names no tank" in err


def test_faults_of_the_sheet_and_of_the_words(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for words in ([], [plant, "--case", plant], [plant, "--cranes", "2"], ["--case", plant, "--slack", "3"],
                  [plant, "--state", plant, "--after", "x"]):  # fmt: skip
        assert call(capsys, "line", *words)[0] == ExitStatus.USAGE
    plant.write_text(PLANT.format(name="x").replace('"180 to 300 s"', '"300 to 180 s"'), "utf-8")
    for verb in ("line", "check"):
        code, out, err = call(capsys, verb, plant)
        assert code == ExitStatus.INPUT and out == ""
        assert "line.step.time" in err and "nothing was computed" in err


def test_a_model_sheet_is_checked_with_its_plants_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from firstoff.launch.demo import copy_example

    model = copy_example("light_truck_front", tmp_path)
    plant = model.parent / "plant.toml"
    line = (
        PLANT.format(name="x").split("[line]", 1)[1].replace('operation = "rinse"\ntime', 'operation = "rinze"\ntime')
    )
    plant.write_text(plant.read_text("utf-8") + "\n[line]" + line, "utf-8")
    code, _, err = call(capsys, "check", model)
    assert code == ExitStatus.INPUT and "did you mean rinse?" in err
