"""`--trace` as a user meets it."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from firstoff.cli.main import main
from firstoff.errors import ExitStatus
from firstoff.launch.demo import copy_example


def call(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as leave:
        main([str(w) for w in words])
    out, err = capsys.readouterr()
    return int(leave.value.code or 0), out, err


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return copy_example("light_truck_front", tmp_path)


def trace(path: Path, force: float = 1.0) -> Path:
    """FO-01 as a linear damper at 1.04 m/s on a stroke of 100 mm, invented."""
    w = 1.04 / 0.05
    t = np.arange(0.0, 6.2 * 2 * math.pi / w, 1e-3)
    x, f = -50.0 * np.cos(w * t), force * 1600.0 * np.sin(w * t)
    f += np.random.default_rng(1).normal(0.0, 3.0, t.size)
    rows = "".join(f"{a:.4f}\t{b:.3f}\t{c:.2f}\n" for a, b, c in zip(t, x, f, strict=True))
    path.write_text("time [s]\tdisplacement [mm]\tforce [N]\n" + rows, "utf-8")
    return path


def test_prove_takes_a_trace_for_what_was_not_read(
    sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    readings = tmp_path / "r.csv"
    readings.write_text("part,lot,rebound_0.52 [N]\nFO-01,L1,1340\n", "utf-8")
    path = trace(tmp_path / "FO-01 1.04.txt")
    code, out, _ = call(capsys, "prove", sheet, readings, "--trace", path, "--json")
    assert code == ExitStatus.DONE
    result = json.loads(out)["result"]
    (run,) = result["traces"]
    assert (run["part"], run["run"], run["cycles"]) == ("FO-01", "1.04 m/s", 6) and 2.5 < run["noise"] < 3.5
    parts = {p["characteristic"]: p for p in result["parts"]}
    # F = c v at mid-stroke (closed form)
    assert parts["rebound_1.04"]["value"] == pytest.approx(1600.0, abs=3.0)
    assert parts["compression_1.04"]["value"] == pytest.approx(-1600.0, abs=3.0)
    assert parts["rebound_1.04"]["u"] > 6.0  # the gauge's u, and that of the cycles


@pytest.mark.parametrize("verb", ["prove", "explain", "correct", "release", "report"])
def test_a_trace_that_does_not_fit_stops_every_verb(
    verb: str, sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = trace(tmp_path / "FO-01.txt", force=-1.0)
    before = sorted(tmp_path.iterdir())
    code, out, err = call(capsys, verb, sheet, sheet.parent / "first_offs.csv", "--trace", path, "--to", tmp_path / "o")
    assert code == ExitStatus.INPUT and not out
    assert "FO-01.txt:2: part FO-01: gives work instead of taking it" in err and "nothing was computed" in err
    assert sorted(tmp_path.iterdir()) == before


def test_traces_need_readings(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = call(capsys, "report", sheet, "--trace", tmp_path)
    assert code == ExitStatus.USAGE and "--trace need READINGS" in err
