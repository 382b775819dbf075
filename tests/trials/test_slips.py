"""Slips of unit, decimal point and sign are named, and nothing else is. Expected words worked by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff.methods.conformity import Limits
from firstoff.trials.readings import read
from firstoff.trials.slips import slips

KNOWN = {"force": "N", "push": "N", "bore": "mm", "runout": "mm", "pressure": "bar", "free": "N"}
LIMITS = {"force": Limits(1205.0, 1435.0), "push": Limits(-465.0, -365.0), "bore": Limits(31.97e-3, 32.03e-3),
          "runout": Limits(None, 0.05e-3), "pressure": Limits(5.4e5, 6.6e5)}  # fmt: skip


def said(tmp_path: Path, text: str, expected: dict[str, float] | None = None) -> list[str]:
    path = tmp_path / "r.csv"
    path.write_text(text, "utf-8")
    found = slips(read(path, KNOWN), LIMITS, expected or {})
    assert all(m.level == "remark" for m in found)
    return [m.as_text() for m in found]


@pytest.mark.parametrize(
    ("column", "values", "words"),
    [
        ("force [N]", (1.31, 1.3, 1.33), "the unit is kN"),  # kilonewtons under newtons: 1000
        ("force [kN]", (1310, 1300), "the unit is N"),
        ("force [N]", (294.5, 292.3), "the unit is lbf"),  # 1310 N / 4.448
        ("force [N]", (133.6, 133.6), "the unit is kgf"),  # 1310 N / 9.807
        ("bore [mm]", (1.26, 1.2598), "the unit is in"),  # 32 mm / 25.4
        ("bore [mm]", (32000, 32001), "the unit is um"),
        ("runout [mm]", (20, 30), "the unit is um"),
        ("pressure [bar]", (0.6, 0.59), "the unit is MPa"),
        ("pressure [bar]", (87, 86), "the unit is psi"),  # 6 bar x 14.5
        ("push [N]", (415, 420), "the sign is the other one"),
    ],
)
def test_a_known_slip_is_named(tmp_path: Path, column: str, values: tuple[float, ...], words: str) -> None:
    rows = "".join(f"P{i},{v}\n" for i, v in enumerate(values))
    (text,) = said(tmp_path, f"part,{column}\n{rows}")
    lines = ", ".join(str(i + 2) for i in range(len(values)))
    assert f":2: {column}: {len(values)} readings lie far from the limit" in text
    assert f"would fit if {words}" in text
    assert f"lines {lines}; used as written" in text


def test_one_moved_decimal_point_is_named_with_its_line(tmp_path: Path) -> None:
    (text,) = said(tmp_path, "part,force [N]\nA,1310\nB,13100\nC,1290\n")
    assert ":3: force [N]: 1 reading lies far" in text
    assert "the decimal point moved by one place: line 3" in text
    assert "found 13100 N of part B" in text


def test_without_limits_the_other_parts_or_the_plan_say_what_is_usual(tmp_path: Path) -> None:
    (text,) = said(tmp_path, "part,free [N]\nA,500\nB,510\nC,0.505\nD,495\n")
    assert ":4: free [N]: 1 reading lies far from the other parts and would fit if the unit is kN" in text
    (text,) = said(tmp_path, "part,free [N]\nA,0.5\nB,0.51\n", {"free": 505.0})
    assert "far from the value at nominal settings and would fit if the unit is kN" in text


def test_columns_with_the_same_slip_are_said_once(tmp_path: Path) -> None:
    (text,) = said(tmp_path, "part,force [N],push [N]\nA,1.31,-0.415\nB,1.30,-0.42\n")
    assert "4 readings lie" in text
    assert "columns force [N], push [N], lines 2, 3" in text


@pytest.mark.parametrize("row", ["1205,-365,32,0.05", "1100,-300,32.2,0.2", "700,-800,31,0", "2500,-180,40,0.3"])
def test_bad_parts_are_not_taken_for_slips(tmp_path: Path, row: str) -> None:
    assert said(tmp_path, f"part,force [N],push [N],bore [mm],runout [mm]\nA,{row}\n") == []


def test_limits_about_zero_say_nothing(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text("part,force [N]\nA,3000\n", "utf-8")
    assert slips(read(path, KNOWN), {"force": Limits(-5.0, 5.0)}, {}) == ()


def test_a_pressure_that_says_what_it_counts_from_is_looked_at(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text("part,charge [bar abs]\nA,60\nB,6\n", "utf-8")
    (found,) = slips(read(path, {"charge": "bar abs"}), {"charge": Limits(5.4e5, 6.6e5)}, {})
    assert "decimal point" in found.what and found.found == "60 bar of part A"
