"""The test plan of a launch, its printed sheet, and the workbook that comes back filled in."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import openpyxl
import pypdf
import pytest

from firstoff import launch
from firstoff.errors import InputFault
from firstoff.launch.demo import copy_example
from firstoff.launch.test_plan.paper import FILES, book_rows
from firstoff.launch.test_plan.paper import test_plan_short as plan_short
from firstoff.launch.test_plan.paper import test_plan_text as plan_text
from firstoff.methods.sampling_plans import demonstration_size
from firstoff.sheets.units import from_si

LIMITS_ONLY = """
[model]
name = "bracket"
family = "damper"
[characteristics.hole]
unit = "mm"
limits = "10 ±0.2 mm"
[characteristics.flatness]
unit = "mm"
limits = "<= 0.3 mm"
[characteristics.weld]
unit = "kN"
limits = ">= 12 kN"
destructive = true
expected = "15 kN, sd 0.5 kN"
spoils = "hole"
[characteristics.filling]
unit = "bar"
limits = "4 to 6 bar abs"
"""
MORE = """
[first_offs]
confidence = "90 %"
inside = "90 %"
parts = 12
[[life_test]]
name = "durability"
life = "500 h"
run = "1000 h"
reliability = "90 %"
shape = 1.5
[[attribute_check]]
name = "no scratches"
lot = 5000
aql = 0.65
"""


def job_of(folder: Path, text: str) -> launch.Job:
    (folder / "model.toml").write_text(text, "utf-8")
    return launch.read_job(folder / "model.toml")


def test_a_sheet_of_limits_alone_has_a_plan(tmp_path: Path) -> None:
    found = launch.test_plan(job_of(tmp_path, LIMITS_ONLY))
    by_name = {a.name: a for a in found.asked}
    assert by_name["flatness"].rule == "success run"
    assert by_name["flatness"].n == demonstration_size(0.95, 0.95) == 59  # e-Handbook 8.3.1
    assert by_name["hole"].sd == pytest.approx(0.4e-3 / 8) and by_name["hole"].foreseen == "assumed"
    assert any("hole" in text and "Cp 1.33" in text for text in found.assumed)
    assert by_name["weld"].foreseen == "the sheet" and by_name["weld"].mean == pytest.approx(15e3)
    assert found.parts == 59 and set(found.shared.lost.values()) == {"weld"}
    names = [step.name for step in found.shared.steps]
    assert names[-1] == "weld"  # what loses the part comes last
    assert "first_offs.confidence: 95 % assumed" in " ".join(found.assumed)


def test_few_parts_say_what_they_prove_instead(tmp_path: Path) -> None:
    found = launch.test_plan(job_of(tmp_path, LIMITS_ONLY + MORE))
    flat = next(a for a in found.asked if a.name == "flatness")
    assert found.parts == 12 and found.wanted == 22  # 22 parts prove 90 % with 90 % confidence
    assert flat.proven == pytest.approx(0.1 ** (1 / 12))
    (life,) = found.life
    assert life.n == 8  # ln 0.1 / ln 0.9 / 2^1.5 = 7.7
    assert life.reached == pytest.approx(1.0 - 0.9 ** (8 * 2**1.5))
    (check,) = found.checks
    assert (check.plan.n, check.plan.accept) == (200, 3)  # ISO 2859-1, letter L, AQL 0.65 (from memory)
    text = plan_text(found)
    assert "12 first-offs" in text and "part is lost" in text and "200 of the lot" in text
    assert "can be had" in text and "12 of 22" in text


def test_faults_are_named_with_their_line(tmp_path: Path) -> None:
    wrong = LIMITS_ONLY.replace('expected = "15 kN, sd 0.5 kN"', 'expected = "15 kN"').replace('"hole"', '"holes"')
    with pytest.raises(InputFault) as caught:
        job_of(tmp_path, wrong + MORE.replace("500 h", "500 N").replace("0.65", "0.66").replace('"90 %"', '"40 %"', 1))
    said = {m.key: m for m in caught.value.messages}
    lines = (tmp_path / "model.toml").read_text("utf-8").splitlines()
    assert said["characteristics.weld.spoils"].nearest == "hole"
    assert "no scatter" in said["characteristics.weld.expected"].what
    assert "is no life" in said["life_test.0.life"].what
    assert "aql_pct must be one of" in said["attribute_check.0.aql"].what
    assert "out of range" in said["first_offs.confidence"].what
    for message in said.values():
        assert message.key.rsplit(".", 1)[-1] in lines[message.line - 1]


def test_what_spoils_each_other_is_refused(tmp_path: Path) -> None:
    text = LIMITS_ONLY.replace("[characteristics.flatness]", '[characteristics.flatness]\nspoils = "filling"')
    text = text.replace("[characteristics.filling]", '[characteristics.filling]\nspoils = "flatness"')
    with pytest.raises(InputFault, match="flatness, filling spoil each other"):
        job_of(tmp_path, text)


def test_a_destructive_gauge_speaks_for_all_it_measures(tmp_path: Path) -> None:
    sheet = copy_example("light_truck_front", tmp_path)
    plant = sheet.parent / "plant.toml"
    text = plant.read_text("utf-8")
    plant.write_text(text.replace('measures = "bore"', 'measures = "bore"\ndestructive = true'), "utf-8")
    found = launch.test_plan(launch.read_job(sheet))
    assert set(found.shared.lost.values()) == {"air gauge 4"}
    assert found.shared.steps[-1].name == "bore"


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> tuple[launch.TestPlan, Path]:
    folder = tmp_path_factory.mktemp("example")
    job = launch.read_job(copy_example("light_truck_front", folder))
    return launch.test_plan(job, launch.plan(job)), folder


def test_the_example_is_planned_from_its_prediction(example: tuple[launch.TestPlan, Path]) -> None:
    found, _ = example
    assert found.parts == 8 and not found.shared.lost
    by_name = {a.name: a for a in found.asked}
    assert by_name["rebound_0.26"].chance is not None and by_name["rebound_0.26"].chance >= 0.9
    assert by_name["rebound_0.52"].safety
    served = {step.name: step.parts for step in found.shared.steps}
    assert len(served["rebound_0.52"]) == 8  # a safety characteristic is read on every part
    gauges = [step.gauge for step in found.shared.steps]
    assert len([1 for a, b in zip(gauges, gauges[1:], strict=False) if a != b]) == len(set(gauges)) - 1
    assert "8 first-offs" in plan_short(found)


def fill(path: Path, target: Path, decimal: str) -> dict[tuple[str, str], float]:
    """Readings typed into the form: numbers, or texts with a decimal comma as a keyboard gives them."""
    rng = np.random.default_rng(1)
    book = openpyxl.load_workbook(path)
    page = book["readings"]
    heads = [cell.value for cell in page[1]]
    at = {name: heads.index(name) + 1 for name in heads}
    typed: dict[tuple[str, str], float] = {}
    for line in range(2, page.max_row + 1):
        name = page.cell(line, at["characteristic"]).value
        if not name:
            continue
        value = round(float(rng.uniform(1, 90)), 3)
        typed[page.cell(line, at["part"]).value, name] = value
        page.cell(line, at["value"]).value = value if decimal == "." else str(value).replace(".", decimal)
    book.save(target)
    return typed


@pytest.mark.parametrize("decimal", [".", ","])
def test_the_filled_form_comes_back_unchanged(tmp_path: Path, decimal: str) -> None:
    job = job_of(tmp_path, LIMITS_ONLY + MORE)
    found = launch.test_plan(job)
    launch.write_test_plan(found, tmp_path / "launch")
    typed = fill(tmp_path / "launch" / FILES[1], tmp_path / "filled.xlsx", decimal)
    rows = book_rows(found)
    assert len(typed) == len(rows) and {row.characteristic for row in rows} == set(job.characteristics)
    proof = launch.prove(job, tmp_path / "filled.xlsx")
    assert [m.as_text() for m in proof.trial.messages if "cells on others" in m.what or "converted" in m.what] == []
    back = {
        (r.part, r.characteristic): float(from_si(r.value, job.characteristics[r.characteristic].unit))
        for r in proof.trial.readings
    }
    assert back == pytest.approx(typed, rel=1e-12)
    assert {r.lot for r in proof.trial.readings} == {"L1"}


def test_gauges_and_lots_of_the_form_come_back(example: tuple[launch.TestPlan, Path]) -> None:
    found, folder = example
    launch.write_test_plan(found, folder / "launch")
    fill(folder / "launch" / FILES[1], folder / "filled.xlsx", ",")
    trial = launch.read_trial(launch.plan(found.job), folder / "filled.xlsx")
    assert {(r.part, r.characteristic, r.gauge) for r in trial.readings} == {
        (r.part, r.characteristic, r.gauge) for r in book_rows(found)
    }


def test_the_form_has_drop_downs(example: tuple[launch.TestPlan, Path]) -> None:
    found, folder = example
    launch.write_test_plan(found, folder / "launch")
    book = openpyxl.load_workbook(folder / "launch" / FILES[1])
    page, lists = book["readings"], book["lists"]
    offered = {}
    for rule in page.data_validations.dataValidation:
        assert rule.type == "list"
        column = str(rule.sqref)[0]
        cells = lists[rule.formula1.removeprefix("lists!").replace("$", "")]
        offered[page[f"{column}1"].value] = {row[0].value for row in cells}
    assert offered["part"] == {found.part(0, i) for i in range(8)}
    assert offered["characteristic"] == set(found.job.characteristics)
    assert offered["lot"] == {"L1"} and {"N", "kN", "mm"} <= offered["unit"]
    units = {page.cell(i, 6).value for i in range(2, len(book_rows(found)) + 2)}
    assert units <= offered["unit"]


def test_equal_sheets_give_equal_papers(example: tuple[launch.TestPlan, Path]) -> None:
    found, folder = example
    first = [path.read_bytes() for path in launch.write_test_plan(found, folder / "launch")]
    assert first == [path.read_bytes() for path in launch.write_test_plan(found, folder / "launch")]
    text = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(first[0])).pages)
    for word in ("First-off sheet", "rebound_0.52", "SAFETY", "FO-08", "damping rig 2", "never open", "1225 to 1455"):
        assert word in text, word


def test_no_text_of_a_sheet_becomes_a_formula(tmp_path: Path) -> None:
    job = job_of(tmp_path, LIMITS_ONLY.replace('"bracket"', '"=1+1"'))
    launch.write_test_plan(launch.test_plan(job), tmp_path / "launch")
    book = openpyxl.load_workbook(tmp_path / "launch" / FILES[1])
    assert not [c for page in book for row in page.iter_rows() for c in row if c.data_type == "f"]
