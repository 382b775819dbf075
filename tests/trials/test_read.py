"""Reading readings: the files that shops send. Expected values worked by hand; no outside source."""

from __future__ import annotations

import datetime
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstoff.errors import InputFault
from firstoff.trials.readings import Trial, read

KNOWN = {"rebound_0.52": "N", "stroke": "mm", "oil": "ml", "count": "1", "seal temp": "degC"}


def write(tmp_path: Path, text: str | bytes, name: str = "readings.csv", encoding: str = "utf-8") -> Path:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def values(trial: Trial) -> list[tuple[str, str, float]]:
    return [(r.part, r.characteristic, pytest.approx(r.value)) for r in trial.readings]


def fault(path: Path, **options: str) -> str:
    with pytest.raises(InputFault) as caught:
        read(path, KNOWN, **options)  # type: ignore[arg-type]
    return "\n".join(m.as_text() for m in caught.value.messages)


def remarks(trial: Trial) -> str:
    assert all(m.level == "remark" for m in trial.messages)
    return "\n".join(m.as_text() for m in trial.messages)


def test_wide_with_units(tmp_path: Path) -> None:
    text = "stroke [cm],Part,lot,Rebound 0.52 [kN],group,gauge,temperature [degC],time\n15.2,7,A,1.25,h1,rig,20,06:10\n"
    trial = read(write(tmp_path, text), KNOWN)
    assert values(trial) == [("7", "stroke", 0.152), ("7", "rebound_0.52", 1250.0)]
    first = trial.readings[0]
    assert (first.lot, first.group, first.gauge, first.time, first.line) == ("A", "h1", "rig", "06:10", 2)
    assert first.temperature == pytest.approx(293.15)
    assert "read in kN instead of N" in remarks(trial)


def test_long_form(tmp_path: Path) -> None:
    text = "part;characteristic;value;unit\n1;stroke;150,5;mm\n1;REBOUND_0.52;1,2;kN\n1;count;3;\n"
    trial = read(write(tmp_path, text), KNOWN)
    assert values(trial) == [("1", "stroke", 0.1505), ("1", "rebound_0.52", 1200.0), ("1", "count", 3.0)]


def test_long_form_faults(tmp_path: Path) -> None:
    text = "part,characteristic,value,unit\n1,strok,1,mm\n1,stroke,1,N\n1,stroke,1,\n1,stroke,1,parsecx\n"
    said = fault(write(tmp_path, text))
    for word in (":2: characteristic: is an unknown", "did you mean stroke", ":3: unit: has a unit of the wrong kind"):
        assert word in said
    assert ":4: unit: has no unit; found none; allowed: mm for stroke" in said
    assert ":5: unit: has an unknown unit; found parsecx" in said


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    text = "part;lot;stroke [mm]\r\n1;Güte;150,25\r\n"
    trial = read(write(tmp_path, text, encoding=encoding), KNOWN)
    assert trial.readings[0].lot == "Güte" and trial.readings[0].value == pytest.approx(0.15025)
    assert ("Windows-1252" in remarks(trial)) == (encoding == "cp1252")


@pytest.mark.parametrize(
    ("separator", "number"), [(";", "150,25"), (";", "150.25"), (",", "150.25"), ("\t", "150,25"), ("\t", "150.25")]
)
def test_separators_and_decimals(tmp_path: Path, separator: str, number: str) -> None:
    text = f"part{separator}stroke [mm]\n1{separator}{number}\n"
    assert read(write(tmp_path, text), KNOWN).readings[0].value == pytest.approx(0.15025)


def test_quotes_blank_lines_and_stated_separator(tmp_path: Path) -> None:
    text = 'sep=,\n\n"part","stroke [mm]","lot"\n\n,,\n"1","150,5","a, ""b"""\n2,"151,25",\n'
    trial = read(write(tmp_path, text), KNOWN)
    assert values(trial) == [("1", "stroke", 0.1505), ("2", "stroke", 0.15125)]
    assert trial.readings[0].lot == 'a, "b"' and trial.readings[0].line == 6


def test_old_line_ends(tmp_path: Path) -> None:
    assert read(write(tmp_path, "part,stroke [mm]\r1,150\r2,151\r"), KNOWN).readings[1].line == 3


@pytest.mark.parametrize("cell", ["1.234,5", "1,234.5", "1 234", "1'234", "1,234,567"])
def test_thousands_are_refused(tmp_path: Path, cell: str) -> None:
    said = fault(write(tmp_path, f'part;stroke [mm]\n1;"{cell}"\n'))
    assert ":2: stroke [mm]: has separators between thousands" in said and cell in said


def test_a_comma_that_may_be_either_is_refused(tmp_path: Path) -> None:
    assert "is ambiguous" in fault(write(tmp_path, 'part,stroke [mm],oil [ml]\n1,"1,234",2.5\n'))
    assert "is ambiguous" in fault(write(tmp_path, "part\tstroke [mm]\n1\t1,234\n"))
    proven = read(write(tmp_path, "part\tstroke [mm]\n1\t1,234\n2\t1,5\n"), KNOWN)
    assert proven.readings[0].value == pytest.approx(0.001234)
    likely = read(write(tmp_path, "part;stroke [mm]\n1;1,234\n"), KNOWN)
    assert likely.readings[0].value == pytest.approx(0.001234) and "decimal comma" in remarks(likely)
    assert "decimal point in a file with decimal commas" in fault(
        write(tmp_path, "part;stroke [mm]\n1;1,5\n2;1,6\n3;1.7\n")
    )


def test_missing_cells(tmp_path: Path) -> None:
    text = "part,stroke [mm],oil [ml]\n1,,n/a\n2,-,NaN\n3,150,200\n"
    trial = read(write(tmp_path, text), KNOWN)
    assert len(trial.readings) == 2
    assert "1 empty cell was" in remarks(trial)
    assert "3 cells were taken as no reading: n/a, -, NaN; lines 2, 3" in remarks(trial)


@pytest.mark.parametrize("cell", ["inf", "-Infinity", "ok", "1e999", "0x10", "1_000", "12 mm", "١٢", "=1+1", "1e5000"])
def test_bad_cells_are_named(tmp_path: Path, cell: str) -> None:
    said = fault(write(tmp_path, f"part,stroke [mm]\n1,150\n2,{cell}\n"))
    assert f":3: stroke [mm]: is not a {'finite ' if cell in ('1e999', '1e5000') else ''}number; found {cell}" in said


def test_every_fault_at_once(tmp_path: Path) -> None:
    said = fault(write(tmp_path, "part,stroke [mm],oil [ml]\n1,x,y\n,150,200\n"))
    assert said.count("is not a number") == 2 and ":3: part: is empty" in said


def test_header_faults(tmp_path: Path) -> None:
    text = "part,strok [mm],oil,rebound_0.52 [mm],count [qqq],lot [mm],stroke [mm],Stroke [m],seal temp [delta_degC]\n"
    said = fault(write(tmp_path, text))
    assert ":1: strok [mm]: is an unknown column" in said and "did you mean stroke [mm]?" in said
    assert "oil: has no unit; found none; allowed: oil [ml]" in said
    assert "rebound_0.52 [mm]: has a unit of the wrong kind; found mm; allowed: rebound_0.52 [N]" in said
    assert "count [qqq]: has an unknown unit" in said and "lot [mm]: is an unknown column" in said
    assert "Stroke [m]: is there twice" in said
    assert "mixes a temperature with a temperature difference" in said


def test_header_without_part_or_readings(tmp_path: Path) -> None:
    assert "part: is missing" in fault(write(tmp_path, "stroke [mm],lot\n150,a\n"))
    assert "no column with readings" in fault(write(tmp_path, "part,lot\n1,a\n"))
    assert "has no readings" in fault(write(tmp_path, "part,stroke [mm]\n1,\n"))
    assert "has no readings" in fault(write(tmp_path, "part,stroke [mm]\n"))


def test_cells_without_a_column(tmp_path: Path) -> None:
    assert "column without a name" in fault(write(tmp_path, "part,stroke [mm],\n1,150,7\n"))
    assert "more cells than the header" in fault(write(tmp_path, "part,stroke [mm],oil [ml]\n1,150,5,200,5\n"))
    assert len(read(write(tmp_path, "part,stroke [mm],\n1,150,\n2,151,,,\n3,152\n"), KNOWN).readings) == 3


def test_repeated_lines_and_repeat_readings(tmp_path: Path) -> None:
    trial = read(write(tmp_path, "part,stroke [mm]\n1,150\n2,151\n1,150\n1,152\n"), KNOWN)
    assert [r.line for r in trial.readings] == [2, 3, 5]
    said = remarks(trial)
    assert ":4: repeats line 2" in said and "1 part has repeat readings, all kept; part 1 on lines 2, 5" in said


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "is empty"),
        (b" \n\n", "is empty"),
        (b"\x00\x01\x02\xff" * 50, "is not a text file"),
        (bytes(range(256)), "is not a text file"),
        (b"\xff\xfea", "is not a text file"),
        (b"PK\x03\x04" + b"x" * 100, "cannot be read as a workbook"),
        (b"\xd0\xcf\x11\xe0" + b"x" * 100, "old or an encrypted workbook"),
        (b'part,stroke [mm]\n1,"150\n', "cannot be cut into cells"),
    ],
)
def test_unreadable_files(tmp_path: Path, data: bytes, word: str) -> None:
    said = fault(write(tmp_path, data))
    assert word in said and "\n" not in said


def test_no_file_or_no_ordinary_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "does not exist" in fault(tmp_path / "nothing.csv")
    assert "is a folder" in fault(tmp_path)
    assert "has no sheets" in fault(write(tmp_path, "part,stroke [mm]\n1,150\n"), sheet="x")
    monkeypatch.setattr("firstoff.trials.table.MOST_BYTES", 10)
    assert "is too large" in fault(write(tmp_path, "part,stroke [mm]\n1,150\n"))


def book(tmp_path: Path, *rows: list[object]) -> Path:
    workbook = openpyxl.Workbook()
    for row in rows:
        workbook.active.append(row)
    other = workbook.create_sheet("second")
    other.append(["part", "oil [ml]"])
    other.append([1, 200])
    path = tmp_path / "readings.xlsx"
    workbook.save(path)
    return path


def test_workbook(tmp_path: Path) -> None:
    day = datetime.datetime(2024, 5, 6, 6, 10)
    path = book(tmp_path, ["part", "stroke [mm]", "time"], [], [12, 150.5, day], ["B7", "151,5", None])
    trial = read(path, KNOWN)
    assert values(trial) == [("12", "stroke", 0.1505), ("B7", "stroke", 0.1515)]
    assert trial.readings[0].time == "2024-05-06T06:10:00" and trial.readings[0].line == 3
    assert values(read(path, KNOWN, sheet="second")) == [("1", "oil", 2e-4)]
    assert "did you mean second" in fault(path, sheet="secnd")


@pytest.mark.parametrize(
    ("cell", "word"),
    [
        ("=1+1", "formula without a stored result"),
        ("#DIV/0!", "is an error value"),
        (True, "truth value"),
        (datetime.date(2024, 1, 2), "is a date"),
    ],
)
def test_workbook_cells(tmp_path: Path, cell: object, word: str) -> None:
    said = fault(book(tmp_path, ["part", "stroke [mm]"], [1, cell]))
    assert word in said and ":2: stroke [mm]:" in said


def test_workbook_percentages_are_refused(tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    workbook.active.append(["part", "count [%]"])
    workbook.active.append([1, 0.05])
    workbook.active["B2"].number_format = "0%"
    workbook.save(tmp_path / "p.xlsx")
    assert "formatted as a percentage" in fault(tmp_path / "p.xlsx")


def test_other_functions_can_convert(tmp_path: Path) -> None:
    trial = read(write(tmp_path, "part,stroke [furlong]\n1,2\n"), KNOWN, lambda v, u: 201.168 * v, lambda a, b: True)
    assert trial.readings[0].value == pytest.approx(402.336)


HEADS = st.sampled_from(
    ["part", "stroke [mm]", "oil", "count", "value", "characteristic", "unit", "", "x [", "[mm]", "lot"]
)
CELLS = st.one_of(
    st.sampled_from(["1", "1,5", "1.234,5", "n/a", "", '"', "'", "stroke", "mm", "inf", "\x00", "=A1", "-", "1e400"]),
    st.text(max_size=6),
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(HEADS, max_size=6), st.lists(st.lists(CELLS, max_size=7), max_size=6), st.sampled_from(",;\t|"))
def test_any_table_is_read_or_refused(tmp_path: Path, heads: list[str], rows: list[list[str]], separator: str) -> None:
    text = "\n".join(separator.join(row) for row in [heads, *rows])
    path = write(tmp_path, text.encode("utf-8", "surrogatepass"))
    try:
        assert read(path, KNOWN).readings
    except InputFault as caught:
        assert caught.messages


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(tmp_path: Path, data: bytes) -> None:
    with pytest.raises(InputFault):
        read(write(tmp_path, data), KNOWN)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=4))
def test_any_damaged_workbook_is_read_or_refused(tmp_path: Path, at: int, patch: bytes) -> None:
    whole = bytearray(book(tmp_path, ["part", "stroke [mm]"], [1, 150.5]).read_bytes())
    at %= len(whole)
    whole[at : at + len(patch)] = patch
    try:
        assert read(write(tmp_path, bytes(whole), "damaged.xlsx"), KNOWN).readings
    except InputFault as caught:
        assert caught.messages


def test_a_reading_of_absurd_size_is_refused(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text("part,rebound_0.52 [N]\nA,1200\nB,1e308\n")
    with pytest.raises(InputFault, match="too large"):
        read(path, {"rebound_0.52": "N"})


def test_merged_names_stand_for_all_their_lines_and_merged_readings_for_one(tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    page = workbook.active
    for row in (
        ["part", "lot", "stroke [mm]"],
        ["A", "L1", 150],
        ["B", None, 151],
        ["C", None, None],
        ["D", "L2", 152],
    ):
        page.append(row)
    page.merge_cells("B2:B4")
    page.merge_cells("C3:C4")
    workbook.save(tmp_path / "m.xlsx")
    trial = read(tmp_path / "m.xlsx", KNOWN)
    assert [(r.part, r.lot) for r in trial.readings] == [("A", "L1"), ("B", "L1"), ("D", "L2")]
    assert ":2: B2:B4: merged cells: lot L1 was read for lines 2 to 4" in remarks(trial)
    assert ":3: C3:C4: merged cells: their value was read for the first of them only" in remarks(trial)


def test_a_merged_area_outside_the_table_does_no_harm(tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    page = workbook.active
    page.append(["part", "stroke [mm]"])
    page.append(["A", 150])
    page.merge_cells("H20:AA30")
    page.merge_cells("A5:B9")
    workbook.save(tmp_path / "m.xlsx")
    assert values(read(tmp_path / "m.xlsx", KNOWN)) == [("A", "stroke", 0.15)]


def test_empty_lots_beside_others_are_named_by_cell(tmp_path: Path) -> None:
    rows = [["part", "x", "lot", "stroke [mm]"], ["A", None, "L1", 150], ["B", None, None, 151], ["C", None, " ", 152]]
    path = book(tmp_path, *([row[0], *row[2:]] for row in rows))
    assert "lot: is empty in B3, B4: these parts are judged as a lot of their own" in remarks(read(path, KNOWN))
    text = "part,lot,stroke [mm]\nA,L1,150\nB,,151\n"
    assert "lot: is empty in line 3:" in remarks(read(write(tmp_path, text), KNOWN))
    assert "is empty" not in remarks(read(write(tmp_path, "part,lot,stroke [mm]\nA,,150\nB,,151\n"), KNOWN))


def test_lots_written_in_two_ways_are_remarked(tmp_path: Path) -> None:
    trial = read(write(tmp_path, "part,lot,stroke [mm]\nA,L 1,150\nB,l1,151\nC,L2,150\n"), KNOWN)
    assert "lot: L 1 and l1 differ only in their writing and are judged as 2 lots" in remarks(trial)


def test_other_sheets_with_cells_are_remarked_unless_one_was_chosen(tmp_path: Path) -> None:
    path = book(tmp_path, ["part", "stroke [mm]"], [1, 150])
    said = remarks(read(path, KNOWN))
    assert "was read on its first sheet only, Sheet; there are cells on others too; found second" in said
    assert "another sheet by --table" in said
    assert remarks(read(path, KNOWN, sheet="second")) == ""
    workbook = openpyxl.load_workbook(path)
    del workbook["second"]
    workbook.create_sheet("empty")
    workbook.save(path)
    assert remarks(read(path, KNOWN)) == ""


def test_a_unit_in_round_brackets_is_named_with_the_square_ones(tmp_path: Path) -> None:
    said = fault(write(tmp_path, "part,stroke (mm),rebund_0.52 [N],temperature (degC)\n1,150,2,3\n"))
    assert "stroke (mm): has its unit in round brackets; allowed: square ones: stroke [mm]" in said
    assert "temperature (degC): has its unit in round brackets; allowed: square ones: temperature [degC]" in said
    assert "did you mean rebound_0.52 [N]?" in said


def test_a_name_with_a_decimal_comma_is_the_same_name(tmp_path: Path) -> None:
    assert values(read(write(tmp_path, "part;Rebound 0,52 [N]\n1;1250,5\n"), KNOWN)) == [("1", "rebound_0.52", 1250.5)]
