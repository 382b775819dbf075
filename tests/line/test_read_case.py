"""Case files with faults: one message for each, and nothing computed."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from firstoff.errors import InputFault
from firstoff.line.read_case import line_from, read_case

CASES = Path(__file__).parents[1] / "reference" / "crane"


def whole() -> dict[str, Any]:
    case: dict[str, Any] = json.loads((CASES / "three_tank_no_wait.json").read_text("utf-8"))
    return case


def faults(case: Any) -> list[tuple[str, str]]:
    with pytest.raises(InputFault) as caught:
        line_from(case, "line.json")
    assert all(m.file == "line.json" for m in caught.value.messages)
    return [(m.key, m.what) for m in caught.value.messages]


def test_every_fault_has_its_message() -> None:
    case = whole()
    case["stages"][0]["max_soak"] = 9
    case["stages"][1]["tanks"] = 0
    case["stages"][2]["min_soak"] = "ten"
    case["loaded_move"] = [4, 4]
    case["empty_move"][3][1] = -2
    assert faults(case) == [
        ("stages[0].max_soak", "shorter than min_soak"),
        ("stages[1].tanks", "not a number of tanks"),
        ("stages[2].min_soak", "not a number"),
        ("loaded_move", "wrong shape"),
        ("empty_move[3][1]", "out of range"),
    ]


@pytest.mark.parametrize("content", [[], None, 3, {}, {"n_stages": True}, {**whole(), "n_stages": -1}])
def test_what_is_no_case_is_refused(content: Any) -> None:
    assert faults(content)


def test_an_unknown_key_gets_the_nearest() -> None:
    case = whole()
    case["stages"][0]["min_soaks"] = case["stages"][0].pop("min_soak")
    with pytest.raises(InputFault) as caught:
        line_from(case)
    assert [m.nearest for m in caught.value.messages] == ["min_soak", ""]


def test_decimals_are_read_exactly(tmp_path: Path) -> None:
    path = tmp_path / "line.json"
    path.write_text(
        (CASES / "three_tank_no_wait.json").read_text("utf-8").replace('"min_soak": 25', '"min_soak": 24.1')
    )
    assert read_case(path).stages[1].min_soak == Fraction(241, 10)


@pytest.mark.parametrize("text", ["", "{", '{"n_stages": NaN}', '{"n_stages": 1e999999999}'])
def test_what_is_not_json_is_refused(text: str, tmp_path: Path) -> None:
    path = tmp_path / "line.json"
    path.write_text(text)
    with pytest.raises(InputFault):
        read_case(path)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputFault):
        read_case(tmp_path / "none.json")


def test_the_command_prints_the_timetable() -> None:
    from firstoff.cli.line import command

    ran = CliRunner().invoke(command, ["--case", str(CASES / "three_tank_no_wait.json"), "--json"])
    result = json.loads(ran.stdout)["result"]
    assert (result["status"], result["period"], result["bound"]) == ("optimal", 36, 36)
    assert result["removal_times"] == [0, 14, 43, 57]
    text = CliRunner().invoke(command, ["--case", str(CASES / "phillips_unger_1976.json"), "--loads", "2"])
    assert "Period 1004 s for 2 loads." in text.stdout
    assert "interlocks decide" in text.stdout
