"""Long work: asked for, done by the worker, stopped, kept over a restart; its results on the pages."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from firstoff.board import jobs, launches, worker
from firstoff.board.app import create_app
from firstoff.board.database import open_board
from firstoff.board.here import Board
from firstoff.board.supervisor import Supervisor
from firstoff.board.texts import TEXTS
from firstoff.cli.main import main
from firstoff.launch.recorded.keep import Kept, kept_results
from firstoff.records import open_records
from tests.board.conftest import KEY, Person


def test_explain_finds_on_the_page_what_the_command_line_says(
    planner: Person, board: Board, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    planner.get(f"/launch/{KEY}/explain")
    planner.post(f"/launch/{KEY}/job/explain")
    assert worker.do_one(folder, board.engine)
    work = jobs.latest(board.engine, KEY, "explain")
    assert work and (work.state, work.person) == ("done", "P. Lanner")
    page = planner.get(f"/launch/{KEY}/explain")
    capsys.readouterr()
    launch_folder = folder / KEY
    words = ["explain", str(launch_folder / "damper.toml"), str(launch_folder / "first_offs.csv"), "--good",
             str(launch_folder / "good_lot.csv"), "--json"]  # fmt: skip
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 0
    said = json.loads(capsys.readouterr().out)["result"]
    first = said["causes"][0]
    assert first["probability"] > 0.9 and first["title"] in page and first["stated_by"][0]["confirm"] in page
    assert f'<data value="{first["probability"]}">' in page and f'<data value="{said["none"]}">' in page
    stand = planner.get("/")
    assert first["title"] in stand
    # it goes into the records when somebody says so, once
    entries = _kept_twice(planner, folder)
    assert first["title"] in entries[0].summary and entries[0].person == "P. Lanner" and len(entries) == 1
    # other readings make it old, and the page says so
    readings = launch_folder / "first_offs.csv"
    readings.write_text(readings.read_text("utf-8").replace(",1191,", ",1192,"), "utf-8")
    assert TEXTS["job.old"] in planner.get(f"/launch/{KEY}/explain")
    assert TEXTS["stand.old"] in planner.get("/")
    assert TEXTS["keep.do"] not in planner.get(f"/launch/{KEY}/explain")
    assert TEXTS["keep.old"] in planner.post(f"/launch/{KEY}/keep/explain")


def _kept_twice(planner: Person, folder: Path) -> list[Kept]:
    planner.get(f"/launch/{KEY}/explain")
    first = planner.post(f"/launch/{KEY}/keep/explain")
    assert TEXTS["keep.this"] in first and TEXTS["keep.do"] not in first
    assert TEXTS["keep.before"].split("{")[0] in planner.post(f"/launch/{KEY}/keep/explain")
    planner.post(f"/launch/{KEY}/keep/report", 404)
    with open_records(folder / "records.db", create=False) as records:
        return kept_results(records, "LT3 front damper", "explanation")


def test_asking_twice_is_one_job_and_a_waiting_one_stops(planner: Person, board: Board) -> None:
    planner.get(f"/launch/{KEY}")
    for _ in range(2):
        page = planner.post(f"/launch/{KEY}/job/predict")
    assert TEXTS["job.queued"] in page and TEXTS["job.stop"] in page
    first = jobs.latest(board.engine, KEY, "predict")
    assert first and jobs.ask(board.engine, KEY, "predict", "A. Other").id == first.id
    planner.post(f"/launch/{KEY}/job/predict/stop")
    assert jobs.latest(board.engine, KEY, "predict").state == "stopped"  # type: ignore[union-attr]
    assert jobs.take(board.engine) is None
    planner.post(f"/launch/{KEY}/job/nothing", 404)


def test_a_job_survives_a_restart_and_is_given_up_after_two_deaths(folder: Path) -> None:
    engine = open_board(folder)
    asked = jobs.ask(engine, KEY, "predict", "A. Miller")
    taken = jobs.take(engine)
    assert taken and taken.id == asked.id and taken.attempts == 1
    with TestClient(create_app(folder, work=False), base_url="http://localhost") as client:
        board: Board = client.app.state.board  # type: ignore[attr-defined]
        assert jobs.requeue(board.engine) == 1  # as at the start of a board with a worker
    again = jobs.take(engine)
    assert again and (again.id, again.attempts) == (asked.id, 2)
    assert jobs.requeue(engine) == 0
    given_up = jobs.get(engine, asked.id)
    assert given_up and given_up.state == "failed" and "twice" in given_up.message


def test_a_worker_takes_up_what_another_left_and_ends_with_its_board(folder: Path) -> None:
    """With a real worker process."""
    sheet = folder / KEY / "damper.toml"
    sheet.write_text(sheet.read_text("utf-8") + "\n[nonsense]\nx = 1\n", "utf-8")  # a quick end: a fault of the sheet
    engine = open_board(folder)
    work = jobs.ask(engine, KEY, "predict", "A. Miller")
    supervisor = Supervisor(folder, engine)
    jobs.take(engine)  # as a worker that died with the machine
    supervisor.start()
    try:
        ended = _wait(engine, work.id)
        assert (ended.state, ended.attempts) == ("failed", 2) and "nonsense" in ended.message
        assert str(folder) not in ended.message
        last = supervisor.process
        assert last is not None and last.poll() is None
    finally:
        supervisor.close()
    assert last.poll() is not None


def _wait(engine: object, number: int, most: float = 60.0) -> jobs.Work:
    end = time.monotonic() + most
    while time.monotonic() < end:
        work = jobs.get(engine, number)  # type: ignore[arg-type]
        if work and not work.open:
            return work
        time.sleep(0.1)
    raise AssertionError("the job did not end")


def test_a_fault_of_the_program_becomes_the_jobs_message(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import firstoff.board.work as doing

    def breaks(*_: object) -> None:
        raise ZeroDivisionError("nought")

    monkeypatch.setattr(doing, "run", breaks)
    engine = open_board(folder)
    work = jobs.ask(engine, KEY, "predict", "A. Miller")
    assert worker.do_one(folder, engine)
    ended = jobs.get(engine, work.id)
    assert ended and ended.state == "failed" and "firstoff itself is at fault" in ended.message
    assert launches.find(folder, engine, KEY) is not None and not worker.do_one(folder, engine)


def test_a_rig_posts_readings_with_its_token_and_nothing_without(
    client: TestClient, planner: Person, board: Board, folder: Path
) -> None:
    planner.get("/people")
    page = planner.post("/people/rigs", label="damping rig 2")
    token = page.split("<code>")[1].split("</code>")[0]
    assert token not in planner.get("/people")
    sent = {"launch": KEY, "part": "FO-11", "lot": "L1", "gauge": "damping rig 2", "temperature": 25.0,
            "readings": [{"characteristic": "rebound_0.52", "value": 1.34, "unit": "kN"}]}  # fmt: skip
    rig = TestClient(client.app, base_url="http://localhost")
    assert rig.post("/api/readings", json=sent).status_code == 401
    heads = {"authorization": f"Bearer {token}"}
    answer = rig.post("/api/readings", json=sent, headers=heads)
    assert answer.status_code == 201 and answer.json()["verdicts"] == [
        {"characteristic": "rebound_0.52", "value": 1340.0, "verdict": "conforms",
         "p_conform": answer.json()["verdicts"][0]["p_conform"]}
    ]  # fmt: skip
    assert "FO-11,L1,damping rig 2,25" in (folder / KEY / "first_offs.csv").read_text("utf-8")
    for change, status in (({"launch": "other"}, 404), ({"part": "=1"}, 400), ({"readings": []}, 422),
                           ({"readings": [{"characteristic": "rebound_9", "value": 1, "unit": "N"}]}, 400),
                           ({"readings": [{"characteristic": "friction", "value": 1, "unit": "s"}]}, 400)):  # fmt: skip
        assert rig.post("/api/readings", json={**sent, **change}, headers=heads).status_code == status, change
    found = client.get("/api/openapi.json").json()
    assert list(found["paths"]) == ["/readings"]
    assert client.get("/openapi.json").status_code == 404 and client.get("/docs").status_code == 404
    planner.get("/people")
    planner.post("/people/rigs/end", digest=planner.hidden("digest"))
    assert rig.post("/api/readings", json=sent, headers=heads).status_code == 401
