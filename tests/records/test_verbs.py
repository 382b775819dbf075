"""The records as an engineer meets them: record, decide, verify, trace, rebuild, on the example launch."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from statistics import NormalDist

import pyarrow as arrow
import pyarrow.parquet as parquet
import pytest

from firstoff import launch
from firstoff.cli.main import main
from firstoff.errors import ExitStatus, InputFault
from firstoff.launch import LaunchRelease
from firstoff.launch.demo import copy_example
from firstoff.launch.dossier.record import record_sections
from firstoff.launch.recorded.authority import Author
from firstoff.launch.recorded.sign import Decision, close_action, sign
from firstoff.launch.recorded.standing import actions_of, stale_decisions, standing
from firstoff.records import open_records, verify

ANNA = Author("Anna Example")
SOON = (date.today() + timedelta(days=30)).isoformat()


@pytest.fixture
def sheet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    copy_example("light_truck_front", tmp_path / "job")
    monkeypatch.chdir(tmp_path / "job")
    return Path("damper.toml")


def limits_only(sheet: Path) -> Path:
    """The sheet without its stations: enough to judge and to decide, and nothing is predicted."""
    sheet.write_text(sheet.read_text("utf-8").split("[pressure_tube]")[0], "utf-8")
    return sheet


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> LaunchRelease:
    sheet = limits_only(copy_example("light_truck_front", tmp_path_factory.mktemp("example")))
    return launch.release(launch.read_job(sheet), sheet.parent / "first_offs.csv")


@pytest.fixture
def found(example: LaunchRelease, tmp_path: Path) -> Iterator[LaunchRelease]:
    """The recommendation on the example; what a test does to its files is put right afterwards."""
    folder, kept = example.job.file.parent, tmp_path / "kept"
    shutil.copytree(folder, kept)
    yield example
    shutil.copytree(kept, folder, dirs_exist_ok=True)


def call(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as leave:
        main([str(w) for w in words])
    out, err = capsys.readouterr()
    return int(leave.value.code or 0), out, err


def test_record_verify_trace_and_rebuild(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("record", sheet, "first_offs.csv", "--good", "good_lot.csv", "--quick")
    code, _, err = call(capsys, *words)
    assert code == ExitStatus.INPUT
    assert "--by NAME" in err
    assert not Path("records.db").exists()
    code, out, _ = call(capsys, *words, "--by", "Anna Example")
    assert code == ExitStatus.DONE
    assert "112 readings" in out or "readings 112" in out
    code, again, _ = call(capsys, *words, "--by", "Anna Example")
    assert "Recorded already, as entry 1" in again
    assert again.splitlines()[-1] == out.splitlines()[-1]  # the head stays
    Path("genealogy.csv").write_text(
        "parent kind;parent;child kind;child;how\ncoil heat;H-1;tube lot;T-1;drawn from\ntube lot;T-1;lot;L1;used in\n"
    )
    code, _, _ = call(capsys, "record", sheet, "--genealogy", "genealogy.csv", "--by", "Anna Example")
    assert code == ExitStatus.DONE
    code, out, _ = call(capsys, "records", "trace", "H-1", "--down", "--json")
    assert json.loads(out)["result"]["down"]["kinds"] == {"part": 8, "lot": 1, "tube lot": 1}
    code, out, _ = call(capsys, "records", "trace", "FO-03")
    for name in ("coil heat:H-1", "gauge:damping rig 2", "person:Anna Example", "lot:L1"):
        assert name in out
    code, out, _ = call(capsys, "records", "verify")
    assert code == ExitStatus.DONE
    assert "Sound: 2 entries" in out
    head = call(capsys, "records", "head")[1].strip()
    originals = {
        name: Path(name).read_bytes()
        for name in ("damper.toml", "plant.toml", "parts.toml", "first_offs.csv", "good_lot.csv")
    }
    for name in originals:
        Path(name).unlink()
    code, out, _ = call(capsys, "records", "rebuild", "--to", tmp_path / "again")
    assert code == ExitStatus.DONE, out
    assert {name: (tmp_path / "again" / name).read_bytes() for name in originals} == originals
    assert (tmp_path / "again" / "damper-launch" / "prove.md").exists()
    _cli_copies(tmp_path, head, capsys)


def _cli_copies(tmp_path: Path, head: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Backup, restore, export; then a change in the file that verify answers with its own exit code."""
    assert call(capsys, "records", "backup", tmp_path / "b.db")[0] == ExitStatus.DONE
    assert call(capsys, "records", "restore", tmp_path / "b.db", "--records", tmp_path / "r.db")[0] == ExitStatus.DONE
    assert call(capsys, "records", "verify", "--head", head, "--records", tmp_path / "r.db")[0] == ExitStatus.DONE
    assert call(capsys, "records", "export", "--to", tmp_path / "out", "--format", "parquet")[0] == ExitStatus.DONE
    with sqlite3.connect(tmp_path / "r.db") as raw:
        raw.execute("DROP TRIGGER readings_no_update")
        raw.execute("UPDATE readings SET value = value + 1 WHERE part = 'FO-02' AND characteristic = 'rebound_0.52'")
    code, out, _ = call(capsys, "records", "verify", "--records", tmp_path / "r.db", "--json")
    assert code == ExitStatus.RECORDS
    wrong = json.loads(out)["result"]["findings"]
    assert [(w["kind"], w["entry"], w["table"]) for w in wrong] == [("altered", 1, "readings")]
    code, out, _ = call(capsys, "records", "verify", "--head", f"9:{'0' * 64}")
    assert code == ExitStatus.RECORDS
    assert "the end was cut off: entry 3 to 9" in out
    code, _, err = call(capsys, "records", "verify", "--records", tmp_path / "none.db")
    assert code == ExitStatus.INPUT
    assert "nothing was recorded there yet" in err


def test_a_decision_is_bound_to_what_it_was_made_on(found: LaunchRelease, place: str) -> None:
    job, readings = found.job, Path(found.proof.trial.file)
    with open_records(place) as records:
        head = sign(found, records, ANNA, Decision("hold", due=SOON))
        now = standing(records, job, readings, found)
        assert now.head == head
        assert now.decided is not None
        assert (now.decided.word, now.decided.person, now.changed) == ("hold", "Anna Example", ())
        assert len(now.actions) == len(found.found.actions) > 0
        assert {(a.owner, a.due) for a in now.actions} == {("Anna Example", SOON)}
        assert stale_decisions(records) == []
        readings.write_text(readings.read_text("utf-8").replace("236", "237", 1), "utf-8")
        assert standing(records, job, readings).changed == ("readings changed",)
        plant = job.file.parent / "plant.toml"
        plant.write_text(plant.read_text("utf-8") + "\n# later\n", "utf-8")
        assert standing(records, job, readings).changed == ("plant sheet changed", "readings changed")
        if "://" not in place:
            (said,) = stale_decisions(records)
            assert "made on other content: plant sheet changed; readings changed" in said
        (section,) = record_sections(standing(records, job, readings, found))
        words = " ".join(section.paragraphs)
        assert "HOLD, decided and signed by Anna Example" in words
        assert "readings changed" in words
        assert str(head) in words
        close_action(records, ANNA, now.actions[0].action, "springs replaced")
        assert [a.state for a in actions_of(records)].count("closed") == 1
        assert len(standing(records, job).actions) == len(now.actions) - 1
        with pytest.raises(InputFault, match="is closed already"):
            close_action(records, ANNA, now.actions[0].action, "again")
        assert verify(records).sound


def test_another_version_of_the_program_shows(
    found: LaunchRelease, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_records(tmp_path / "records.db") as records:
        sign(found, records, ANNA, Decision("hold", due=SOON))
        monkeypatch.setattr("firstoff.launch.recorded.standing.__version__", "9.9")
        assert standing(records, found.job).changed == ("program changed (0.1.0, now 9.9)",)
        (said,) = stale_decisions(records)
        assert "program changed (0.1.0, now 9.9)" in said


def test_a_concession_has_an_end_and_the_customers_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sheet = copy_example("light_truck_front", tmp_path / "c")
    head = '[model]\nname = "rod"\nfamily = "damper"\nplant = "plant.toml"\n'
    limits = '[characteristics.rod_diameter]\nunit = "mm"\nlimits = "12.5 +0/-0.027 mm"\nwhat = "rod"\n'
    sheet.write_text(head + limits, "utf-8")
    plant = sheet.parent / "plant.toml"
    fine = plant.read_text("utf-8").split("[[capability]]")[0].replace("[damping_rig]", "").replace(
        'u = "1.5 um"\nresolution = "1 um"', 'u = "0.3 um"\nresolution = "0.1 um"')  # fmt: skip
    lines = [line for line in fine.splitlines() if not line.startswith(("stroke", "oil_temp", "friction"))]
    plant.write_text("\n".join(lines), "utf-8")
    readings = tmp_path / "rods.csv"
    normal = [NormalDist(12.472, 0.0002).inv_cdf((i + 0.5) / 24) for i in range(24)]  # 1 µm under the drawing
    rows = "".join(f"R{i},L1,{value:.5f}\n" for i, value in enumerate(normal))
    readings.write_text(f"part,lot,rod_diameter [mm]\n{rows}", "utf-8")
    found = launch.release(launch.read_job(sheet), readings)
    assert found.found.word == "concession"
    asked = Decision("concession", until=SOON, customer="letter Q-17 of the customer", due=SOON)
    with open_records(tmp_path / "records.db") as records:
        sign(found, records, ANNA, asked)
        (conceded,) = standing(records, found.job, readings).concessions
        assert (conceded.characteristic, conceded.until, conceded.customer) == ("rod_diameter", SOON, asked.customer)
        assert conceded.low is not None
        assert 0.0124703 <= conceded.low < 0.012473
        assert not conceded.ended
        monkeypatch.setattr("firstoff.launch.recorded.standing.now", lambda: "2099-01-01T00:00:00Z")
        assert standing(records, found.job, readings).concessions[0].ended
        assert any("the concession on rod_diameter in entry 1 ended on" in s for s in stale_decisions(records))
        (section,) = record_sections(standing(records, found.job, readings))
        assert any("(ended)" in cell for table in section.tables for row in table.rows for cell in row)


@pytest.mark.parametrize(
    ("decision", "words"),
    [
        (Decision("release", reason="the customer waits", due=SOON), "SAFETY: rebound_0.52 is on hold"),
        (Decision("release", due=SOON), "milder than what is recommended .hold. and needs its reason"),
        (Decision("hold"), "need the date by which they are closed"),
        (Decision("hold", due="tomorrow"), "is no date"),
        (Decision("hold", due="2020-01-31"), "lies in the past"),
        (Decision("concession", "why", due=SOON), "needs its end"),
        (Decision("concession", "why", due=SOON, until=SOON), "needs the customer's approval"),
        (Decision("perhaps", due=SOON), "is no decision"),
    ],
)
def test_decisions_that_cannot_be(found: LaunchRelease, tmp_path: Path, decision: Decision, words: str) -> None:
    with open_records(tmp_path / "records.db") as records:
        with pytest.raises(InputFault, match=words):
            sign(found, records, ANNA, decision)
        assert verify(records).entries == 0


def test_release_signs_from_the_command_line(
    sheet: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FIRSTOFF_PASSPHRASE", "first light")
    limits_only(sheet)
    code, out, _ = call(capsys, "release", sheet, "first_offs.csv", "--sign", "hold", "--due", SOON,
                        "--by", "Anna Example", "--to", "launch", "--json")  # fmt: skip
    assert code == ExitStatus.DONE
    result = json.loads(out)["result"]
    assert result["signed"] is True
    assert result["records"]["decided"]["authenticated"] == "key with passphrase"
    assert result["records"]["changed"] == []
    page = Path("launch/release.md").read_text("utf-8")
    assert "Decided: HOLD by Anna Example" in page
    assert result["records"]["head"] in page
    monkeypatch.setenv("FIRSTOFF_PASSPHRASE", "wrong")
    code, _, err = call(capsys, "records", "close", result["records"]["actions"][0]["action"], "--note", "done",
                        "--by", "Anna Example")  # fmt: skip
    assert code == ExitStatus.INPUT
    assert "is not opened by this passphrase" in err
    code, out, _ = call(capsys, "records", "actions")
    assert out.count("Anna Example") == len(result["records"]["actions"])


def test_many_readings_from_parquet(sheet: Path, place: str, capsys: pytest.CaptureFixture[str]) -> None:
    limits_only(sheet)
    n = 4000
    parquet.write_table(
        arrow.table({
            "part": [f"P{i // 4}" for i in range(n)], "lot": ["L9"] * n, "characteristic": ["rebound_0.52"] * n,
            "value": [1300.0 + i % 7 for i in range(n)], "gauge": ["damping rig 2"] * n,
        }), "many.parquet",
    )  # fmt: skip
    code, out, err = call(capsys, "record", sheet, "many.parquet", "--by", "Anna Example", "--records", place, "--json")
    assert code == ExitStatus.DONE, err
    rows = json.loads(out)["result"]["rows"]
    assert (rows["readings"], rows["edges"]) == (n, 3 * n // 4)
    code, out, _ = call(capsys, "records", "trace", "lot:L9", "--down", "--records", place, "--json")
    assert json.loads(out)["result"]["down"]["kinds"] == {"part": n // 4}
    with open_records(place) as records:
        assert verify(records).sound


def test_genealogy_faults_are_named(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("g.csv").write_text("parent kind,parent,child kind,child\ncoil heat,H1,,B1\nx:y,A,lot,B\nlot,A,lot,A\n")
    code, _, err = call(capsys, "record", sheet, "--genealogy", "g.csv", "--by", "Anna Example")
    assert code == ExitStatus.INPUT
    for words in (
        "g.csv:2: child kind: is empty",
        "g.csv:3: parent kind: has a colon",
        "g.csv:4: child: comes of itself",
    ):
        assert words in err
    assert "Sound: 0 entries, 0 rows" in call(capsys, "records", "verify")[1]


def test_a_file_that_the_plant_sheet_names_is_bound_too(found: LaunchRelease, tmp_path: Path) -> None:
    with open_records(tmp_path / "r.db") as records:
        sign(found, records, ANNA, Decision("hold", due=SOON))
        assert standing(records, found.job).changed == ()
        parts = found.job.file.parent / "parts.toml"
        parts.write_text(parts.read_text("utf-8") + "# a remark\n", "utf-8")
        assert standing(records, found.job).changed == ("parts.toml changed",)


def test_rebuild_keeps_to_its_folder(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A plant sheet above the model sheet is rebuilt there; a forged name that leads out of the folder is refused."""
    limits_only(sheet)
    Path("model").mkdir()
    for name in ("damper.toml", "first_offs.csv"):
        Path(name).rename(Path("model") / name)
    model = Path("model/damper.toml")
    model.write_text(model.read_text("utf-8").replace('"plant.toml"', '"../plant.toml"'), "utf-8")
    words = ("record", model, "model/first_offs.csv", "--quick", "--by", "Anna Example")
    assert call(capsys, *words)[0] == ExitStatus.DONE
    assert call(capsys, "records", "rebuild", "--to", tmp_path / "a")[0] == ExitStatus.DONE
    assert (tmp_path / "a" / "plant.toml").read_bytes() == Path("plant.toml").read_bytes()
    assert (tmp_path / "a" / "launch" / "damper.toml").read_bytes() == model.read_bytes()
    with sqlite3.connect("records.db") as raw:
        raw.execute("DROP TRIGGER texts_no_update")
        raw.execute("UPDATE texts SET name = '../../../out.csv' WHERE role = 'readings'")
    code, _, err = call(capsys, "records", "rebuild", "--to", tmp_path / "b")
    assert code == ExitStatus.INPUT
    assert "leads out of the folder" in err
    assert not (tmp_path / "b").exists()
