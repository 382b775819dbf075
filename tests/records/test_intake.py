"""Readings from Parquet: units converted as everywhere, every fault named."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pyarrow as arrow
import pyarrow.parquet as parquet
import pytest

from firstoff.errors import InputFault
from firstoff.records import read_parquet
from firstoff.records.schema import CONTENT
from firstoff.sheets.units import to_si

UNITS = {"friction": "N", "gas": "bar abs", "oil": "degC"}


def written(tmp_path: Path, **columns: Any) -> Path:
    file = tmp_path / "readings.parquet"
    parquet.write_table(arrow.table({name.replace("__", " ["): values for name, values in columns.items()}), file)
    return file


def rows(file: Path) -> list[dict[str, Any]]:
    return [dict(zip(CONTENT["readings"], row, strict=True)) for row in read_parquet(file, UNITS, 7)]


def test_units_are_converted(tmp_path: Path) -> None:
    table = arrow.table({
        "part": ["P1", "P1", "P2", "P2"], "characteristic": ["friction", "gas", "friction", "oil"],
        "value": [23.5, 5.0, 0.02, 41], "unit": ["N", "", "kN", ""], "lot": ["L1", None, "L1", ""],
        "gauge": ["rig 2"] * 4, "temperature [degC]": [20.0, 20.0, 21.5, 20.0],
    })  # fmt: skip
    file = tmp_path / "readings.parquet"
    parquet.write_table(table, file)
    found = rows(file)
    assert [r["value"] for r in found] == pytest.approx([23.5, to_si(5.0, "bar"), 20.0, 314.15], rel=1e-12)
    assert [r["unit"] for r in found] == ["N", "bar", "kN", "degC"]
    assert [r["lot"] for r in found] == ["L1", "", "L1", ""]
    assert [r["temperature"] for r in found] == pytest.approx([293.15, 293.15, 294.65, 293.15])
    assert [(r["trial"], r["line"], r["part"], r["person"]) for r in found[:2]] == [
        (7, 1, "P1", None),
        (7, 2, "P1", None),
    ]


GOOD = {"part": ["P1", "P2"], "characteristic": ["friction", "friction"], "value": [1.0, 2.0]}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"value": None}, "value: has no column of this name"),
        ({"colour": ["a", "b"]}, "colour: is no column of readings"),
        (
            {"value": [1.0, float("nan")]},
            "value: has rows without a finite number; found 1 row, the first is row 2",
        ),
        ({"value": ["1", "two"]}, "value: is no column of numbers"),
        ({"part": ["P1", None]}, "part: has rows without a part"),
        ({"characteristic": ["friction", "frictoin"]}, "frictoin; did you mean friction"),
        ({"characteristic": ["friction", None]}, "characteristic: has rows without a value"),
        ({"unit": ["N", "mm"]}, "does not measure friction; found mm"),
        ({"unit": ["N", "furlongs"]}, "does not measure friction; found furlongs"),
        ({name: [] for name in GOOD}, "has no readings"),
    ],
)
def test_faults_are_named(tmp_path: Path, change: dict[str, Any], words: str) -> None:
    columns = {name: values for name, values in {**GOOD, **change}.items() if values is not None}
    with pytest.raises(InputFault, match=words.replace("[", r"\[")):
        read_parquet(written(tmp_path, **columns), UNITS)


def test_what_is_no_parquet(tmp_path: Path) -> None:
    file = tmp_path / "readings.parquet"
    with pytest.raises(InputFault, match="does not exist"):
        read_parquet(file, UNITS)
    file.write_bytes(b"part,value\n")
    with pytest.raises(InputFault, match="is no Parquet file"):
        read_parquet(file, UNITS)
