"""US customary units: every number of a page against pint, what is typed, and the sheets that keep their own units."""

from __future__ import annotations

import html
import re
import sqlite3
from pathlib import Path

import pint
import pytest

from firstoff.board import accounts, database
from firstoff.board.database import open_board
from firstoff.board.here import Board
from firstoff.board.measures import CUSTOMARY, US, Measures, sign
from firstoff.families.bumper import FAMILY as BUMPER
from firstoff.families.damper import FAMILY as DAMPER
from firstoff.sheets.units import lookup
from tests.board.conftest import KEY, PASSWORD, Person
from tests.board.test_signing import limits_only

PINT = pint.UnitRegistry()
# the same in both systems, the last two as data sheets have them
SAME = {"1", "%", "deg", "ms", "s", "1/s", "1/min", "mm2/s", "HV", "HRC", "h", "min", "A", "V", "kV",
        "Hz", "uA", "Mohm", "S/m", "lx", "kJ/mol", "W/(m^2*K)"}  # fmt: skip
us = Measures(US)


def by_pint(value: float, old: str, new: str) -> float:
    """Another library's conversion; spelled as it has the units."""
    spell = {"mm2": "mm^2", "cm3": "cm^3", "kg/m3": "kg/m^3", "N s/m": "N*s/m", "l": "liter", "K": "delta_degC"}
    return float(PINT.Quantity(value, spell.get(old, old)).to({"mil": "thou"}.get(new, new)).magnitude)


def test_every_unit_of_the_families_has_its_customary_one_or_is_the_same() -> None:
    found = {p.unit for family in (DAMPER, BUMPER) for s in (*family.stations, *family.checks) for p in s.parameters}
    for family in (DAMPER, BUMPER):
        found |= {c.unit for s in (*family.stations, *family.checks) for c in getattr(s, "characteristics", ())}
    assert found - SAME <= set(CUSTOMARY), found - SAME - set(CUSTOMARY)
    for old, new in CUSTOMARY.items():
        assert lookup(old).dimension == lookup(new).dimension, (old, new)


@pytest.mark.parametrize(
    ("text", "value", "old", "new"),
    [("1225 N", 1225.0, "N", "lbf"), ("31.97 mm", 31.97, "mm", "in"), ("5 bar abs", 5.0, "bar", "psi"),
     ("20 um", 20.0, "um", "mil"), ("-40 degC", -40.0, "degC", "degF"), ("12.5 N*m", 12.5, "N*m", "ft*lbf"),
     ("260 cm3", 260.0, "cm3", "in^3"), ("0.52 m/s", 0.52, "m/s", "in/s"), ("865 kg/m3", 865.0, "kg/m3", "lb/ft^3"),
     ("within 2 K", 2.0, "K", "delta_degF")],
)  # fmt: skip
def test_a_quantity_in_words_is_pints_to_the_digits_that_stand(text: str, value: float, old: str, new: str) -> None:
    shown = us.words(text)
    number = re.search(r"-?\d+(?:\.\d+)?", shown)
    assert number and sign(new) in shown, shown
    decimals = len(number[0].partition(".")[2])
    assert float(number[0]) == pytest.approx(by_pint(value, old, new), abs=0.5001 * 10.0**-decimals)


def test_a_pound_an_inch_a_psi_and_a_foot_pound_are_those_of_nist() -> None:
    """Source: NIST Special Publication 811, appendix B.8: 4.448 222 N, 25.4 mm, 6894.757 Pa, 1.355 818 J."""
    for metric, expected in (("4.448222 N", "1.000000 lbf"), ("25.4 mm", "1.000 in"), ("0.0254 mm", "0.00100 in"),
                             ("25.4 um", "1.00 mil"), ("6.894757 kPa", "1.0000000 psi"),
                             ("1.355818 J", "1.000000 ft-lbf")):  # fmt: skip
        shown, unit = us.words(metric).split()
        value, wanted = expected.split()
        assert unit == wanted and float(shown) == pytest.approx(float(value), rel=3e-7)


def test_words_that_are_no_quantities_stay_and_sizes_have_no_offset() -> None:
    for text in ("rebound_0.52", "op 30", "12.5 mm²/s", "8 of 8 parts", "FO-01", "60 deg", "99 %"):
        assert us.words(text) == text
    assert us.words("22 °C ± 3 °C") == "71.6 °F ± 5.4 °F"
    assert us.words("1225 to 1455 N") == "275.4 to 327.1 lbf"
    assert Measures().words("1225 to 1455 N") == "1225 to 1455 N"


def test_what_is_typed_for_a_setting_comes_back_in_the_sheets_unit() -> None:
    for typed, unit, kept in (("11.9", "N", "52.9338 N"), ("11.9 lbf", "N", "52.9338 N"), ("53 N", "N", "53 N"),
                              ("1.1811 ±0.0012", "mm", "29.9999 ±0.03048 mm"), ("68", "degC", "20 degC"),
                              ("72.5 psi gauge", "bar", "4.9987 bar gauge"), ("4", "1", "4")):  # fmt: skip
        assert us.for_sheet(typed, unit) == kept


def chosen(person: Person, board: Board, units: str) -> None:
    accounts.set_units(board.engine, "P. Lanner", units)


UNIT, NUMBER = r'<td data-head="unit">([^<]*)</td>', r'<td class="n"[^>]*>'
CELL = re.compile(rf'{UNIT}(?:{NUMBER}[^<]*</td>)?{NUMBER}<data value="([^"]+)">([^<]*)</data>')


def test_numbers_of_a_page_agree_in_both_systems_with_pint(planner: Person, board: Board, folder: Path) -> None:
    planner.get("/me")
    planner.post("/me/units", 400, units="cubits")
    assert read(planner.get(f"/launch/{KEY}/first-offs")).count("<data") > 10
    metric = CELL.findall(read(planner.page))
    planner.get("/me")
    planner.post("/me/units", units="us")
    customary = CELL.findall(read(planner.get(f"/launch/{KEY}/first-offs")))
    assert len(metric) == len(customary) > 10
    for (unit, si, shown), (other, same, converted) in zip(metric, customary, strict=True):
        assert si == same and (unit, other) == ("N", "lbf")
        digits = converted.lstrip("-")
        step = 10.0 ** -len(digits.partition(".")[2])
        assert float(converted) == pytest.approx(by_pint(float(si), "N", "lbf"), abs=max(0.5001 * step, 5e-5))
        assert float(shown) == pytest.approx(float(si), rel=5e-5)
    limits = re.findall(r'<td class="n"[^>]*>(-?[\d.]+) to (-?[\d.]+)</td>', planner.page)
    assert (f"{by_pint(1225.0, 'N', 'lbf'):.1f}", f"{by_pint(1455.0, 'N', 'lbf'):.1f}") in limits


def test_a_bare_number_is_meant_as_shown_and_the_file_keeps_its_unit(
    planner: Person, board: Board, folder: Path
) -> None:
    limits_only(folder)
    chosen(planner, board, "us")
    file = folder / KEY / "first_offs.csv"
    before = file.read_text("utf-8").splitlines()
    page = read(planner.get(f"/launch/{KEY}/part?part=FO-01&lot=L1"))
    fields = dict(re.findall(r'name="(value\.[^"]+|temperature|gauge|part|lot)" value="([^"]*)"', page))
    assert fields["value.rebound_0.52"] == f"{by_pint(1222.0, 'N', 'lbf'):.1f}"
    assert fields["temperature"] == f"{by_pint(28.5, 'degC', 'degF'):.1f}" and "[°F]" in page
    same = {name: planner.hidden(name) for name in ("shown", "row", "of_part", "of_lot")}
    planner.post(f"/launch/{KEY}/part", **fields, **same)  # nothing typed: nothing moves
    assert file.read_text("utf-8").splitlines() == before
    planner.get(f"/launch/{KEY}/part?part=FO-01&lot=L1")
    check = planner.client.post(f"/launch/{KEY}/check-value", data={
        "csrf": planner.token(), "name": "rebound_0.52", "unit": "lbf", "value.rebound_0.52": "300"}).text  # fmt: skip
    assert "inside" in check
    typed = {**fields, "value.rebound_0.52": "300", "value.friction": "0,02 kN", "temperature": "77"}
    planner.post(f"/launch/{KEY}/part", **typed, **{n: planner.hidden(n) for n in same})
    heads, cells = (line.split(",") for line in file.read_text("utf-8").splitlines()[:2])
    row = dict(zip(heads, cells, strict=True))
    assert float(row["rebound_0.52 [N]"]) == pytest.approx(by_pint(300.0, "lbf", "N"), rel=1e-9)
    assert float(row["friction [N]"]) == 20.0 and float(row["temperature [degC]"]) == pytest.approx(25.0, abs=1e-9)
    assert row["rebound_0.26 [N]"] == dict(zip(heads, before[1].split(","), strict=True))["rebound_0.26 [N]"]


def test_a_setting_is_tried_and_saved_in_customary_units(planner: Person, board: Board, folder: Path) -> None:
    chosen(planner, board, "us")
    page = read(planner.get(f"/launch/{KEY}/station/piston_valve"))
    fields = dict(re.findall(r'name="(set\.[^"]+)" value="([^"]*)"', page))
    name = "set.piston_valve.rebound_relief_preload"
    assert fields[name].startswith(f"{by_pint(84.0, 'N', 'lbf'):.2f} ±"), fields[name]
    still = planner.client.post(
        f"/launch/{KEY}/station/piston_valve/try", data={"csrf": planner.token(), **fields}
    ).text
    assert "<data" not in still  # as shown: nothing is tried
    moved = {**fields, name: "20.2 ±1.3 lbf"}
    tried = planner.client.post(f"/launch/{KEY}/station/piston_valve/try", data={"csrf": planner.token(), **moved}).text
    rows = re.findall(r"<td data-head=\"unit\">(\w+)</td>.*?<data value=\"([^\"]+)\">([^<]+)</data>", tried)
    assert rows and {unit for unit, _, _ in rows} == {"lbf", "psi"}
    for unit, si, shown in rows:
        assert float(shown) == pytest.approx(by_pint(float(si), {"lbf": "N", "psi": "Pa"}[unit], unit), rel=5e-5)
    planner.post(f"/launch/{KEY}/station/piston_valve/save", **moved, shown=planner.hidden("shown"))
    text = (folder / KEY / "damper.toml").read_text("utf-8") + (folder / KEY / "plant.toml").read_text("utf-8")
    assert f"{by_pint(20.2, 'lbf', 'N'):.4f} ±{by_pint(1.3, 'lbf', 'N'):.5f} N" in text


def test_a_board_of_the_earlier_schema_is_brought_up(tmp_path: Path, board: Board) -> None:
    engine = open_board(tmp_path)
    accounts.add(engine, "A. Miller", "look", PASSWORD)
    engine.dispose()
    with sqlite3.connect(tmp_path / database.FILE) as raw:
        raw.execute("ALTER TABLE accounts DROP COLUMN units")
        raw.execute("UPDATE alembic_version SET version_num = '0001'")
    found = accounts.find(open_board(tmp_path), "A. Miller")
    assert found is not None and (found.units, found.role) == ("metric", "look")


def read(page: str) -> str:
    return html.unescape(page)
