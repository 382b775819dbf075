"""Gauge studies from file to verdict: the study's uncertainty is the one that prove uses."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pypdf
import pytest

from firstoff import launch
from firstoff.cli.main import main
from firstoff.errors import InputFault
from firstoff.launch.account_gauge import gauge_text, write_gauge

MODEL = """
[model]
name = "rod"
family = "damper"
plant = "plant.toml"
[characteristics.rod_diameter]
unit = "mm"
limits = "12.5 +0/-0.027 mm"
safety = true
"""
PLANT = """
[plant]
name = "works"
[[gauge]]
name = "micrometer 11"
measures = "rod_diameter"
study = "rr.csv, rings.csv"
resolution = "1 um"
reference_u = "0.3 um"
"""


def study(folder: Path, u: float = 0.001) -> Path:
    """Three people, eight parts, three times; and readings of three rings with a bias of 0.5 um."""
    rng = np.random.default_rng(3)
    parts, people = 12.487 + rng.normal(0, 0.003, 8), rng.normal(0, 0.5 * u, 3)
    lines = [
        f"{'ABC'[a]};{p + 1};{t};{x:.5f}".replace(".", ",")
        for a in range(3) for p in range(8) for t in range(3)
        for x in [parts[p] + people[a] + rng.normal(0, u)]
    ]  # fmt: skip
    (folder / "rr.csv").write_text("appraiser;part;trial;value [mm]\n" + "\n".join(lines) + "\n", "utf-8")
    rings = [f"{r},{1000 * (r + 0.0005 + rng.normal(0, u / 3)):.3f}" for r in (12.46, 12.48, 12.50) for _ in range(5)]
    (folder / "rings.csv").write_text("reference [mm],value [um]\n" + "\n".join(rings) + "\n", "utf-8")
    return folder / "rr.csv"


def sheets(folder: Path, plant: str = PLANT) -> Path:
    (folder / "model.toml").write_text(MODEL, "utf-8")
    (folder / "plant.toml").write_text(plant, "utf-8")
    return folder / "model.toml"


def test_the_studys_uncertainty_reaches_the_verdict(tmp_path: Path) -> None:
    files = [study(tmp_path), tmp_path / "rings.csv"]
    job = launch.read_job(sheets(tmp_path))
    found = launch.gauge(files, "12.5 +0/-0.027 mm", "1 um", "0.3 um").study
    assert found.crossed and found.line and found.uncertainty
    (gauge,) = job.gauges.values()
    assert gauge.u == pytest.approx(found.uncertainty.u, rel=1e-12)
    assert gauge.repeatability == pytest.approx(found.crossed.repeatability[0], rel=1e-12)
    parts = (found.uncertainty.repeatability, found.uncertainty.reproducibility, found.uncertainty.bias)
    assert gauge.u == pytest.approx(math.hypot(*(p or 0.0 for p in parts)), rel=1e-12)
    assert not gauge.assumed and "study rr.csv, rings.csv; 3 people, 8 parts" in gauge.source
    readings = tmp_path / "r.csv"
    readings.write_text("part,lot,rod_diameter [mm]\nP1,L,12.4990\nP2,L,12.487\n", "utf-8")
    near, middle = launch.prove(job, readings).judgement.parts
    assert (near.verdict, middle.verdict) == ("not proven", "conforms")
    assert near.u == pytest.approx(gauge.u)
    study(tmp_path, 0.0001)  # a better gauge proves the same reading
    assert launch.prove(launch.read_job(tmp_path / "model.toml"), readings).judgement.parts[0].verdict == "conforms"


@pytest.mark.parametrize(
    ("change", "key", "what", "allowed"),
    [
        (("rr.csv, rings", "rrr.csv, rings"), "gauge.0.study", "names a file that does not exist", ""),
        (("resolution", 'u = "1 um"\nresolution'), "gauge.0.u", "stands beside a study", "one of the two"),
        (
            ("resolution", 'study_sha256 = "00, 11"\nresolution'),
            "gauge.0.study_sha256",
            "has changed since",
            "rr.csv: ",
        ),
        (('"0.3 um"', '"0.3 N"'), "gauge.0.reference_u", "is a force", ""),
        (('study = "rr.csv, rings.csv"', ""), "gauge.0.u", "is missing", ""),
    ],
)
def test_faults_carry_the_line_of_the_plant_sheet(
    tmp_path: Path, change: tuple[str, str], key: str, what: str, allowed: str
) -> None:
    study(tmp_path)
    sheet = sheets(tmp_path, PLANT.replace(*change))
    with pytest.raises(InputFault) as caught:
        launch.read_job(sheet)
    message = next(m for m in caught.value.messages if m.key == key)
    assert what in message.what and allowed in message.allowed
    assert message.file.endswith("plant.toml") and message.line > 1


def test_a_study_with_gaps_is_refused_by_file_and_by_sheet(tmp_path: Path) -> None:
    path = study(tmp_path)
    lines = path.read_text("utf-8").splitlines()
    path.write_text("\n".join([*lines[:9], *lines[10:], "C;9;1;12,4x"]) + "\n", "utf-8")
    with pytest.raises(InputFault) as caught:
        launch.read_job(sheets(tmp_path))
    said = [m.as_text() for m in caught.value.messages]
    assert any("plant.toml:7" in text and "see the faults of its file" in text for text in said)
    assert any("rr.csv:73" in text and "is not a number" in text for text in said)
    path.write_text("\n".join([*lines[:9], *lines[10:]]) + "\n", "utf-8")
    with pytest.raises(InputFault, match="A, part 3: is not measured as often as the others"):
        launch.gauge([path])


def test_a_study_that_ran_out_counts_as_assumed(tmp_path: Path) -> None:
    study(tmp_path)
    job = launch.read_job(sheets(tmp_path, PLANT + "study_until = 2020-12-31\n"))
    (gauge,) = job.gauges.values()
    assert gauge.assumed and "ran out on 2020-12-31" in gauge.source
    (remark,) = [m for m in job.remarks if m.key == "gauge.0.study_until"]
    assert remark.level == "remark" and remark.line == 10
    fresh = launch.read_job(sheets(tmp_path, PLANT + "study_until = 2999-12-31\n"))
    assert not next(iter(fresh.gauges.values())).assumed and not fresh.remarks


def test_verdicts_by_eye(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    lines = []
    for part in range(20):
        right = "ok" if part < 12 else "nok"
        for person, slip in (("Ada", 0.0), ("Ben", 0.3)):
            for trial in (1, 2):
                wrong = rng.random() < slip
                said = {"ok": "nok", "nok": "ok"}[right] if wrong else right
                lines.append(f"{part},{person},{trial},{said.upper()},{right}")
    path = tmp_path / "eye.csv"
    path.write_text("part,appraiser,trial,verdict,reference\n" + "\n".join(lines) + "\n", "utf-8")
    found = launch.gauge([path])
    ada, ben = found.study.sorting.sorters if found.study.sorting else ()
    assert ada.effectiveness == pytest.approx((1.0, 0.025 ** (1 / 20), 1.0))  # Clopper-Pearson of 20 in 20
    assert ada.against_reference is not None and ada.against_reference.kappa == 1.0
    counted = sum(line.split(",")[1] == "Ben" and line.split(",")[3].lower() != line.split(",")[4] for line in lines)
    assert ben.missed and ben.false_alarms
    assert round(16 * ben.missed[0] + 24 * ben.false_alarms[0]) == counted
    assert found.study.uncertainty is None
    assert "right in all trials" in gauge_text(found)


def test_the_page_and_the_pdf(tmp_path: Path) -> None:
    found = launch.gauge([study(tmp_path), tmp_path / "rings.csv"], "12.5 +0/-0.027 mm", "1 um")
    page, pdf = write_gauge(found, tmp_path / "out", "gauge-rr")
    text = page.read_text("utf-8")
    for word in ("repeatability (EV)", "Analysis of variance", "Bias and linearity", "combined standard uncertainty"):
        assert word in text
    printed = " ".join(p.extract_text() for p in pypdf.PdfReader(pdf).pages)
    assert "Gauge study" in printed and "people × parts" in printed
    again = write_gauge(found, tmp_path / "out", "gauge-rr")[1].read_bytes()
    assert again == pdf.read_bytes()


def test_the_verb(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = study(tmp_path)
    with pytest.raises(SystemExit) as left:
        main(["gauge", str(path), "--json", "--to", str(tmp_path)])
    assert left.value.code == 0
    result = json.loads(capsys.readouterr().out)["result"]
    assert result["crossed"]["appraisers"] == 3 and result["line"] is None
    assert (tmp_path / "gauge-rr.md").is_file()
    with pytest.raises(SystemExit) as left:
        main(["gauge", str(tmp_path / "none.csv")])
    assert left.value.code == 3
    with pytest.raises(SystemExit) as left:
        main(["gauge", str(path), "--resolution", "1 N"])
    assert left.value.code == 3 and "resolution" in capsys.readouterr().err
