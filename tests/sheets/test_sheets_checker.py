"""Sheets against a schema. The planted faults and their lines are counted by hand in the text of the sheet."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputFault, Message
from firstoff.sheets.checker import Settled, check, load
from firstoff.sheets.schema import Key, Section
from firstoff.sheets.toml import parse_document

SECTIONS = (
    Section(
        "model",
        (
            Key("name", None, "what is launched", required=True, type="text"),
            Key("family", None, "family", required=True, type="text", choices=("bumper", "damper")),
            Key("volume", None, "parts a year", type="integer", low="1", high="5000000"),
            Key("start", None, "start of production", type="date"),
            Key("note", None, "a note", type="text"),
        ),
        "what is launched",
        required=True,
    ),
    Section(
        "tube",
        (
            Key("bore", "mm", "inner diameter", required=True, low="10 mm", high="80 mm"),
            Key("cavities", "1", "cavities of the tool"),
            Key("polished", None, "polished", type="boolean"),
            Key("windows", "s", "dwell times", type="quantities", low="1 s"),
            Key("factor", None, "a factor", type="number", low="0"),
        ),
        "the pressure tube",
    ),
    Section("tube.seam", (Key("width", "mm", "width of the seam"),), "the seam of the tube"),
    Section("gas", (Key("pressure", "bar", "charge", pressure=True, low="0 bar gauge", high="30 bar gauge"),), "gas"),
    Section("trial", (Key("u", "N", "uncertainty", required=True),), "trials", repeated=True),
    Section("characteristics", (Key("unit", None, "unit", required=True, type="text"),), "more", open=True),
)

GOOD = """[model]
name = "rear damper"
family = "damper"
volume = 200000
start = 2026-03-01

[tube]
bore = "30 ±0.03 mm"
cavities = 4
polished = true
windows = ["60 to 75 s", "2 min"]
factor = 2
[tube.seam]
width = "0.1 in"

[gas]
pressure = "6 bar gauge ±0.2 bar"

[[trial]]
u = "6 N"
[[trial]]
u = "7 N"

[characteristics.rod_runout]
unit = "mm"
"""

BAD = """[model]
name = 5
family = "dampr"
volume = 0
start = "2026-03-01"

[tube]
bor = "30 mm"
cavities = nan
polished = "yes"
windows = ["60 to 75 s", "30 mm", "0.1 s"]
pressure = "1 bar gauge"
[tube.seem]
width = "0.1 in"

[gas]
pressure = "6 bar"

[trials]
u = "6 N"

[characteristics.rod_runout]
limits = "1 mm"
"""


def run(text: str, sections: tuple[Section, ...] = SECTIONS) -> tuple[Settled, list[Message]]:
    return check(parse_document(text, "sheet.toml"), sections)


def test_a_good_sheet() -> None:
    settled, messages = run(GOOD)
    assert messages == []
    assert set(settled) == {"model", "tube", "tube.seam", "gas", "trial", "characteristics"}
    assert settled["model"] == {"name": "rear damper", "family": "damper", "volume": 200000, "start": date(2026, 3, 1)}
    assert settled["tube"]["bore"].nominal == pytest.approx(0.03)
    assert settled["tube"]["cavities"].nominal == 4.0 and settled["tube"]["polished"] is True
    assert [q.nominal for q in settled["tube"]["windows"]] == [67.5, 120.0]
    assert settled["tube"]["factor"] == 2.0
    assert settled["tube.seam"]["width"].nominal == pytest.approx(2.54e-3, rel=1e-9)
    assert settled["gas"]["pressure"].nominal == pytest.approx(701_325.0)
    assert [row["u"].nominal for row in settled["trial"]] == [6.0, 7.0]
    assert settled["characteristics"] == {"rod_runout": {"unit": "mm"}}
    assert settled.get("nothing", {}) == {}
    assert settled.line("tube", "bore") == 8 and settled.line("trial", 1, "u") == 22
    assert settled.line("characteristics", "rod_runout") == 24 and settled.line("tube.seam", "width") == 14


def test_every_fault_of_a_bad_sheet_once_with_its_line() -> None:
    _, messages = run(BAD)
    got = [(m.line, m.key) for m in messages]
    assert sorted(got) == sorted(
        [
            (2, "model.name"),  # a number for a text
            (3, "model.family"),  # not among the choices
            (4, "model.volume"),  # out of range
            (5, "model.start"),  # a date in quotes
            (7, "tube.bore"),  # missing
            (8, "tube.bor"),  # unknown
            (9, "tube.cavities"),  # not a number
            (10, "tube.polished"),  # a text for a boolean
            (11, "tube.windows"),  # a length for a time
            (11, "tube.windows"),  # too short
            (12, "tube.pressure"),  # belongs elsewhere
            (13, "tube.seem"),  # an unknown section
            (17, "gas.pressure"),  # neither gauge nor absolute
            (19, "trials"),  # an unknown section
            (22, "characteristics.rod_runout.unit"),  # missing
            (23, "characteristics.rod_runout.limits"),  # unknown
        ]
    )
    said = {(m.line, m.key): m for m in messages}
    assert said[3, "model.family"].nearest == "damper" and said[3, "model.family"].found == '"dampr"'
    assert said[4, "model.volume"].allowed == "1 to 5000000" and said[4, "model.volume"].found == "0"
    assert said[8, "tube.bor"].nearest == "bore" and "bore" in said[8, "tube.bor"].allowed
    assert "it is a key of [gas]" in said[12, "tube.pressure"].what
    assert said[13, "tube.seem"].nearest == "[tube.seam]" and said[19, "trials"].nearest == "[trial]"
    assert "gauge" in said[17, "gas.pressure"].what
    assert "a length, e.g. mm" in said[7, "tube.bore"].allowed
    assert all(m.file == "sheet.toml" and m.level == "error" for m in messages)
    assert [m.line for m in messages] == sorted(m.line for m in messages)


@pytest.mark.parametrize(
    ("text", "what", "line"),
    [("x = 1\n", "stands outside any section", 1), ('bore = "30 mm"\n', "it is a key of [tube]", 1),
     ("tube = 5\n", "must be a section", 1), ('[[tube]]\nbore = "30 mm"\n', "must be a section", 1),
     ('[trial]\nu = "1 N"\n', "once per entry", 1), ("[characteristics]\nrod = 1\n", "a section of its own", 2),
     ("[tube]\nbore = 30\n", "has no unit", 2), ('[tube]\nbore = "3 in"\ncavities = true\n', "wrong type", 3),
     ('[tube]\nbore = "4 in"\n', "out of range", 2), ('[tube]\nbore = "1 in"\nfactor = -1.5\n', "out of range", 3),
     ("[tube]\nbore = 0x" + "f" * 5000 + "\n", "has no unit", 2),
     ('[tube]\nbore = "1 in"\ncavities = 0x' + "f" * 5000 + "\n", "usual size", 3),
     ('[tube]\nbore = "1 in"\nfactor = inf\n', "finite", 3), ('[tube]\nbore = "1 in"\nwindows = []\n', "is empty", 3),
     ('[[trial]]\nu = "1 N"\n[[trial]]\n', "is missing", 3), ('[gas]\npressure = "31 bar gauge"\n', "out of range", 2)],
)  # fmt: skip
def test_one_fault(text: str, what: str, line: int) -> None:
    optional = tuple(Section(s.name, s.keys, s.what, False, s.repeated, s.open) for s in SECTIONS)
    _, messages = run(text, optional)
    assert [(m.line, what in m.what) for m in messages] == [(line, True)], messages


def test_range_speaks_the_sheets_unit() -> None:
    _, messages = run('[model]\nname = "x"\nfamily = "damper"\n[tube]\nbore = "4 in"\n')
    (message,) = messages
    assert message.found == "4 in" and message.allowed == "10 mm to 80 mm"


def test_a_limit_in_another_unit_is_met_exactly() -> None:
    key = Key("bore", "mm", "bore", low="0.1 in", high="0.3 in")
    for text in ("2.54 mm", "7.62 mm", "0.1 in", "0.3 in", "0.3 inch"):
        assert run(f'[t]\nbore = "{text}"\n', (Section("t", (key,), "t"),))[1] == []


def test_missing_section_says_what_it_needs() -> None:
    _, messages = run('[tube]\nbore = "30 mm"\n')
    (message,) = messages
    assert (message.key, message.what, message.line) == ("model", "is missing", 0)
    assert message.allowed == "[model] with name, family"


def test_dotted_section_without_its_parent() -> None:
    section = Section("piston.valve", (Key("disc", "mm", "disc"),), "valve")
    settled, messages = run('[piston.valve]\ndisc = "0.2 mm"\n', (section,))
    assert messages == [] and settled["piston.valve"]["disc"].nominal == pytest.approx(2e-4)
    assert [m.what for m in run("piston = 3\n", (section,))[1]] == ["must hold sections"]
    assert [m.key for m in run("[piston]\nx = 3\n", (section,))[1]] == ["piston.x"]


def test_keys_above_the_first_section() -> None:
    top = Section("", (Key("name", None, "name", required=True, type="text"),), "top")
    settled, messages = run('name = "x"\n', (top,))
    assert messages == [] and settled[""] == {"name": "x"} and settled.line("", "name") == 1
    assert [(m.key, m.nearest) for m in run('nam = "x"\nname = "y"\n', (top,))[1]] == [("nam", "name")]
    assert [m.what for m in run("other = 1\n", (top,))[1]] == ["is missing", "is not a key of the top of the sheet"]


def test_load(tmp_path: Path) -> None:
    file = tmp_path / "sheet.toml"
    file.write_text(BAD, encoding="utf-8")
    with pytest.raises(InputFault) as caught:
        load(file, SECTIONS)
    assert len(caught.value.messages) == 16
    file.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    settled = load(file, SECTIONS, sigmas=6.0)
    assert settled["tube"]["bore"].total.sd == pytest.approx(0.005e-3)
    assert [m.level for m in check(settled.document, SECTIONS)[1]] == ["remark"]


def test_a_quantity_key_needs_a_unit() -> None:
    with pytest.raises(ValueError, match="without a unit"):
        Key("bore", None, "bore")


values = st.recursive(
    st.one_of(
        st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.dates(), st.datetimes(), st.times(),
        st.sampled_from(["30 mm", "1 N", "6 bar gauge"]),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)  # fmt: skip
names = st.sampled_from(["model", "tube", "seam", "bore", "gas", "pressure", "trial", "u", "characteristics", "x",
                         "windows", "factor", "volume", "cavities", "start", "name", "width"])  # fmt: skip


@settings(deadline=None, max_examples=300)
@given(
    st.dictionaries(
        names, st.dictionaries(names, values, max_size=4) | values | st.lists(values, max_size=3), max_size=5
    )
)
def test_any_values_are_settled_or_told(data: dict[str, object]) -> None:
    document = parse_document("a = 1", "sheet.toml")
    settled, messages = check(type(document)(data, "sheet.toml"), SECTIONS)
    assert all(m.what and m.as_text() for m in messages)
    assert ("model" in settled) == isinstance(data.get("model"), dict)
