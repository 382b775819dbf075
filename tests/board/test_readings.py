"""Readings typed, pasted and uploaded, and their verdicts: the same numbers as the command line's."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from firstoff.board.here import Board
from firstoff.board.texts import TEXTS
from firstoff.cli.main import main
from firstoff.records import open_records
from firstoff.records.schema import entries, tables
from tests.board.conftest import KEY, PASSWORD, Person

FIRST = {"rebound_0.52": "1200", "compression_0.52": "-449,5", "friction": "0.0235 kN", "bore": "32,004"}


def by_command_line(capsys: pytest.CaptureFixture[str], folder: Path, readings: str) -> dict[tuple[str, str], float]:
    """(part, characteristic) -> (value, verdict) as `firstoff prove --json` says."""
    with pytest.raises(SystemExit) as left:
        main(["prove", str(folder / KEY / "damper.toml"), str(folder / KEY / readings), "--json"])
    assert left.value.code == 0
    found = json.loads(capsys.readouterr().out)["result"]
    return {(v["part"], v["characteristic"]): (v["value"], v["verdict"]) for v in found["parts"]}


def on_page(page: str) -> dict[str, tuple[float, str]]:
    """characteristic -> (value in SI, verdict) of a part's page."""
    found = {}
    for row in re.findall(r"<tr[^>]*><th scope=\"row\"><label.*?</tr>", page, re.DOTALL):
        name = re.search(r">([\w.]+)(?: \(S\))?</label>", row)
        value = re.search(r'<data value="([^"]+)">', row)
        word = re.search(r'<span class="word \w+">([^<]+)</span>', row)
        if name and value and word:
            found[name[1]] = (float(value[1]), word[1])
    return found


def test_from_first_start_to_a_verdict(
    client: TestClient, board: Board, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("first_offs.csv", "good_lot.csv"):
        (folder / KEY / name).unlink()
    person = Person(client)
    person.get("/")
    person.post("/set-up", code=board.code, name="A. Miller", password=PASSWORD, again=PASSWORD)
    person.get(f"/launch/{KEY}/part")
    shown = person.hidden("shown")
    assert shown == ""  # no file yet
    fields = {f"value.{name}": text for name, text in FIRST.items()}
    person.post(f"/launch/{KEY}/part", part="FO-01", lot="L1", temperature="24,5", shown=shown, row="", **fields)
    assert TEXTS["saved.trail"] in person.page
    said = by_command_line(capsys, folder, "first_offs.csv")
    assert on_page(person.page) == {name: said["FO-01", name] for name in FIRST}
    assert said["FO-01", "rebound_0.52"] == (1200.0, "does not conform")  # limit 1225 N, guard 1.65 u = 9.9 N
    assert said["FO-01", "friction"][0] == pytest.approx(23.5) and said["FO-01", "bore"][0] == pytest.approx(32.004e-3)
    with open_records(folder / "records.db", create=False) as records, records.reading() as connection:
        rows = connection.execute(tables["readings"].select()).mappings().all()
        people = {row["author"] for row in connection.execute(entries.select()).mappings()}
    assert sorted(row["characteristic"] for row in rows) == sorted(FIRST)
    assert people == {"A. Miller", "launch board"}  # the latter of who came in


def test_every_part_of_the_example_reads_as_on_the_command_line(
    planner: Person, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = by_command_line(capsys, folder, "first_offs.csv")
    for part in sorted({part for part, _ in said}):
        found = on_page(planner.get(f"/launch/{KEY}/part?part={part}&lot=L1"))
        assert found == {name: v for (of, name), v in said.items() if of == part}


def test_a_correction_changes_one_line_and_no_other(planner: Person, folder: Path) -> None:
    file = folder / KEY / "first_offs.csv"
    before = file.read_text("utf-8").splitlines()
    planner.get(f"/launch/{KEY}/part?part=FO-02&lot=L1")
    fields = dict(re.findall(r'name="(value\.[^"]+)" value="([^"]*)"', planner.page))
    fields["value.rebound_0.52"] = "1.291 kN"
    hidden = {name: planner.hidden(name) for name in ("shown", "row", "of_part", "of_lot")}
    planner.post(f"/launch/{KEY}/part", part="FO-02", lot="L1", gauge="damping rig 2", temperature="27.7",
                 **hidden, **fields)  # fmt: skip
    after = file.read_text("utf-8").splitlines()
    assert [a for a, b in zip(after, before, strict=True) if a != b] == [before[2].replace(",1191,", ",1291,")]


def test_two_people_at_once_see_both(client: TestClient, planner: Person, folder: Path) -> None:
    file = folder / KEY / "first_offs.csv"
    planner.get(f"/launch/{KEY}/part?part=FO-02&lot=L1")
    hidden = {name: planner.hidden(name) for name in ("shown", "row", "of_part", "of_lot")}
    file.write_text(
        file.read_text("utf-8").replace("FO-02,L1,damping rig 2,27.7,215", "FO-02,L1,damping rig 2,27.7,216")
    )
    kept = file.read_text("utf-8")
    fields = {
        "part": "FO-02",
        "lot": "L1",
        "gauge": "damping rig 2",
        "temperature": "27.7",
        "value.rebound_0.05": "214",
    }
    page = planner.post(f"/launch/{KEY}/part", 409, **hidden, **fields)
    assert TEXTS["conflict.title"] in page and file.read_text("utf-8") == kept
    row = re.search(r"<th scope=\"row\">rebound_0.05</th><td>214</td><td>216</td>", page)
    assert row
    # who looks at both and insists, saves against the file as it stands now
    again = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page.split("conflict", 1)[-1]))
    again = {k: v for k, v in again.items() if k != "csrf"}
    planner.post(f"/launch/{KEY}/part", **again)
    assert "FO-02,L1,damping rig 2,27.7,214" in file.read_text("utf-8")


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("rebound_0.52", "1340", "inside"), ("rebound_0.52", "1,34 kN", "1340: inside"), ("bore", "32,2", "outside"),
        ("rebound_0.52", "1340 mm", "wrong kind"), ("rebound_0.52", "abc", "no number"), ("bore", "1.234,5", "comma"),
        ("rebound_0.52", "1e999", "not a finite number"),
    ],
)  # fmt: skip
def test_a_value_is_checked_while_it_is_typed(planner: Person, name: str, text: str, said: str) -> None:
    planner.get(f"/launch/{KEY}/part")
    assert said in planner.post(f"/launch/{KEY}/check-value", name=name, **{f"value.{name}": text})


def test_pasted_lines_are_added_in_the_units_of_the_file(
    planner: Person, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    planner.get(f"/launch/{KEY}/first-offs")
    pasted = "part\tlot\trebound_0.52 [kN]\tbore [mm]\nFO-09\tL1\t1,3405\t31,998\nFO-10\tL1\t1,3\t\n"
    planner.post(f"/launch/{KEY}/paste", shown=planner.hidden("shown"), pasted=pasted)
    said = by_command_line(capsys, folder, "first_offs.csv")
    assert said["FO-09", "rebound_0.52"][0] == pytest.approx(1340.5) and said["FO-10", "rebound_0.52"][0] == 1300.0
    assert said["FO-09", "bore"][0] == pytest.approx(31.998e-3) and ("FO-10", "bore") not in said


@pytest.mark.parametrize("pasted", ["part,rebound_0.52\nX,1340", "nothing", "part,rebound_9 [N]\nX,1", "\x00\x01"])
def test_a_pasted_fault_writes_nothing(planner: Person, folder: Path, pasted: str) -> None:
    before = (folder / KEY / "first_offs.csv").read_bytes()
    planner.get(f"/launch/{KEY}/first-offs")
    planner.post(f"/launch/{KEY}/paste", 400, shown=planner.hidden("shown"), pasted=pasted)
    assert (folder / KEY / "first_offs.csv").read_bytes() == before


def test_an_upload_is_read_whole_and_kept_beside_the_others(planner: Person, folder: Path) -> None:
    planner.get(f"/launch/{KEY}/first-offs")
    token, path = planner.token(), f"/launch/{KEY}/upload"

    def send(name: str, data: bytes) -> int:
        return planner.client.post(path, data={"csrf": token}, files={"file": (name, data)}).status_code

    files = {file.name for file in (folder / KEY).iterdir()}
    assert send("bad.csv", b"part,rebound_0.52 [mm]\nX,1\n") == 400
    assert send("empty.csv", b"") == 400
    assert send("book.xlsx", b"PK\x03\x04 no workbook") == 400
    assert send("huge.csv", b"part," * 2_000_000) == 413
    assert {file.name for file in (folder / KEY).iterdir()} == files
    assert send("../../first_offs.csv", b"part,rebound_0.52 [N]\nU-1,1340\n") == 200
    assert {file.name for file in (folder / KEY).iterdir()} == {*files, "first_offs-2.csv"}
    assert "U-1" in planner.get(f"/launch/{KEY}/first-offs")


def test_a_name_that_a_spreadsheet_would_run_is_refused(planner: Person, folder: Path) -> None:
    planner.get(f"/launch/{KEY}/part")
    shown = planner.hidden("shown")
    planner.post(f"/launch/{KEY}/part", 400, part="=cmd()", shown=shown, row="", **{"value.bore": "32"})
    page = planner.post(f"/launch/{KEY}/part", part="<b>x</b>", shown=shown, row="", **{"value.bore": "32"})
    assert "<b>x</b>" not in page and "&lt;b&gt;x" in page
