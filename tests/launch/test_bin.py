"""The bin of valve parts: every fault at its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff import launch
from firstoff.errors import InputFault, Message
from firstoff.launch.demo import copy_example
from firstoff.launch.valve_choice.bin import read_bin


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return copy_example("light_truck_front", tmp_path)


def faults(sheet: Path, *changes: tuple[str, str]) -> tuple[Message, ...]:
    path = sheet.with_name("parts.toml")
    text = path.read_text("utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, "utf-8")
    with pytest.raises(InputFault) as found:
        read_bin(path)
    return found.value.messages


def test_the_example_has_no_fault_and_a_million_valves(sheet: Path) -> None:
    parts, remarks = read_bin(sheet.with_name("parts.toml"))
    assert not remarks
    assert [len(of) for of in parts.parts.values()] == [2, 9, 9, 5, 1]
    assert any(p.source.startswith("assumed") for of in parts.parts.values() for p in of)


def test_every_fault_is_named_with_its_line(sheet: Path) -> None:
    found = faults(
        sheet,
        ('rate = "95 ±3 N/mm"', 'rate = "95 ±3 kg"'),
        ('rebound_seat_diameter = "22 mm"', 'rebound_seat_diametre = "22 mm"'),
        ("stock = 65000", "stock = -1"),
        ('part = "S-1125"', 'part = "S-1110"'),
        ('shims = "0 to 4"', 'shims = "0 to 4.5"'),
    )
    rows = sheet.with_name("parts.toml").read_text("utf-8").splitlines()
    said = {(m.key.split(".")[-1], m.what.split(",")[0].split(":")[0]) for m in found}
    assert ("rate", "is a mass") in said
    assert ("part", "is the part number of another part") in said
    assert ("shims", "is no count") in said
    for m in found:
        assert m.file.endswith("parts.toml")
        assert m.key.endswith("rebound_seat_diameter") or m.found.strip('"') in rows[m.line - 1]
    misspelt = next(m for m in found if m.key.endswith("diametre"))
    assert misspelt.nearest == "rebound_seat_diameter"


def test_a_missing_kind_is_a_fault_and_a_part_that_fits_nowhere_a_remark(sheet: Path) -> None:
    path = sheet.with_name("parts.toml")
    text = path.read_text("utf-8")
    path.write_text(text.replace('\ndiameter = "28 mm"', '\ndiameter = "29 mm"', 1), "utf-8")
    _, remarks = read_bin(path)
    assert [m.found for m in remarks] == ["D-2820"] and remarks[0].level == "remark" and remarks[0].line > 0
    path.write_text(text.replace("[[base]]", "[[bases]]"), "utf-8")
    with pytest.raises(InputFault, match="base: is missing"):
        read_bin(path)


def test_check_looks_into_the_bin_and_a_file_that_is_not_there_is_named(sheet: Path) -> None:
    path = sheet.with_name("parts.toml")
    path.write_text(path.read_text("utf-8").replace("stock = 65000", 'stock = "many"'), "utf-8")
    with pytest.raises(InputFault, match="parts.toml"):
        launch.check(sheet)
    path.rename(sheet.with_name("part.toml"))
    with pytest.raises(InputFault, match=r"plant.parts: names a file that does not exist.*did you mean part.toml"):
        launch.read_job(sheet)
