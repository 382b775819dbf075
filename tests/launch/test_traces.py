"""Raw traces of first-offs: reduced by the rig's own numbers, matched to parts, refused when they do not fit."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from firstoff import launch
from firstoff.errors import InputFault
from firstoff.launch.demo import copy_example
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.traces.traces import add_traces
from firstoff.trials.readings import Trial

HALF, V, C, K, RUB = 0.05, 0.52, 2400.0, 900.0, 30.0
W = V / HALF
HEAD = "part,lot,temperature [degC],rebound_1.04 [N]\n"
Arrays = tuple[np.ndarray, np.ndarray, np.ndarray]


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_example("light_truck_front", tmp_path_factory.mktemp("launch"))


@pytest.fixture(scope="module")
def plan(sheet: Path) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet))


def damper(cycles: float = 9.4, noise: float = 3.0, speed: float = V, seed: int = 1) -> Arrays:
    """A linear damper beside a spring and dry friction on the rig's crank: time, displacement, force."""
    w = speed / HALF
    t = np.arange(0.0, cycles * 2 * math.pi / w, 2 * math.pi / w / 600)
    x, v = -HALF * np.cos(w * t + 2.0), speed * np.sin(w * t + 2.0)
    return t, x, C * v + K * x + RUB * np.sign(v) + np.random.default_rng(seed).normal(0.0, noise, t.size)


def write(path: Path, t: np.ndarray, x: np.ndarray, f: np.ndarray, **more: Any) -> Path:
    columns = {"time [s]": t, "displacement [mm]": 1e3 * x, "force [N]": f, **more}
    if path.suffix == ".parquet":
        pq.write_table(pa.table(columns), path)
        return path
    names = ";".join(columns)
    rows = (";".join(f"{c:.7g}" for c in row) for row in zip(*columns.values(), strict=True))
    path.write_text(names + "\n" + "\n".join(rows).replace(".", ",") + "\n", "utf-8")
    return path


def trial_of(
    plan: LaunchPlan, folder: Path, traces: list[Path], text: str = HEAD + "P1,L1,25,1735\nP2,L1,25,1731\n"
) -> Trial:
    readings = folder / "readings.csv"
    readings.write_text(text, "utf-8")
    return launch.read_trial(plan, readings, None, traces)


def of_trace(trial: Trial, part: str) -> dict[str, tuple[float, float]]:
    return {r.characteristic: (r.value, r.u) for r in trial.readings if r.run and r.part == part}


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_the_ellipse_of_a_linear_damper_and_spring(plan: LaunchPlan, tmp_path: Path, ending: str) -> None:
    """Work pi c w X^2 + 4 R X; the spring opens the loop over speed by 2 k dx; mid forces c v + R (closed form)."""
    path = write(tmp_path / f"P1 0.52.{ending}", *damper())
    found = of_trace(trial_of(plan, tmp_path, [path]), "P1")
    closed = {
        "loop_energy": math.pi * C * W * HALF**2 + 4 * RUB * HALF,
        "loop_hysteresis_rebound": 2 * K * HALF * math.cos(math.pi / 6),
        "loop_hysteresis_compression": 2 * K * HALF * math.cos(math.pi / 6),
        "rebound_0.52": C * V + RUB,
        "compression_0.52": -C * V - RUB,
    }
    for name, value in closed.items():
        assert found[name][0] == pytest.approx(value, abs=4.0 * found[name][1] + 2e-3 * abs(value)), name
        assert 0.0 < found[name][1] < 3.0  # nine cycles of 600 samples
    assert {"loop_dead_rebound", "loop_dead_compression"} < set(found) and "loop_rebound" not in found


def test_crawling_gives_friction_and_gas_force(plan: LaunchPlan, tmp_path: Path) -> None:
    """F = G + k x + R sign(v) on a triangle: friction is R at both places, the rest G + k x (closed form)."""
    t = np.arange(0.0, 320.0, 0.05)
    turn = (t / 100.0 + 0.3) % 1.0
    x = HALF * np.where(turn < 0.5, 4 * turn - 1, 3 - 4 * turn)
    f = -75.0 + 100.0 * x + RUB * np.where(turn < 0.5, 1.0, -1.0) + np.random.default_rng(2).normal(0.0, 1.0, t.size)
    found = of_trace(trial_of(plan, tmp_path, [write(tmp_path / "P1_crawl.csv", t, x, f)]), "P1")
    assert set(found) == {"crawl_friction_in", "crawl_friction_out", "crawl_gas_in", "crawl_gas_out"}
    for name, value in (("crawl_friction_in", RUB), ("crawl_friction_out", RUB), ("crawl_gas_in", -79.0),
                        ("crawl_gas_out", -71.0)):  # fmt: skip
        assert found[name][0] == pytest.approx(value, abs=1.0), name


def test_traces_of_all_parts_by_name_by_column_and_by_the_readings(plan: LaunchPlan, tmp_path: Path) -> None:
    folder = tmp_path / "traces"
    folder.mkdir()
    write(folder / "P2-first.csv", *damper(seed=2))
    t, x, f = damper(seed=3)
    write(folder / "all.parquet", t, x, f, part=np.array(["P1"] * len(t)))
    first = trial_of(plan, tmp_path, [folder])
    assert of_trace(first, "P1") and of_trace(first, "P2")
    assert {r.temperature for r in first.readings if r.run} == {298.15}
    (folder / "all.parquet").rename(tmp_path / "x.parquet")
    text = "part,lot,trace\nP1,L1,x.parquet\nP2,L1,traces/P2-first.csv\n"
    named = trial_of(plan, tmp_path, [], text)
    both = trial_of(plan, tmp_path, [folder], text)  # named and in the folder: read once
    assert len(both.runs) == len(named.runs) == 2
    assert of_trace(named, "P1") == of_trace(first, "P1") and of_trace(named, "P2") == of_trace(first, "P2")


def test_what_was_read_off_already_is_not_taken_twice(plan: LaunchPlan, tmp_path: Path) -> None:
    text = "part,lot,rebound_0.52 [N]\nP1,L1,1270\n"
    trial = trial_of(plan, tmp_path, [write(tmp_path / "P1.csv", *damper())], text)
    assert [r.value for r in trial.readings if r.characteristic == "rebound_0.52"] == [1270.0]
    assert any("read off already" in m.what for m in trial.messages)
    assert "rebound_0.52" not in trial.runs[0].names and len(trial.runs[0].covariance) == len(trial.runs[0].names)


def test_the_verdict_counts_the_noise_of_the_trace(plan: LaunchPlan, tmp_path: Path, sheet: Path) -> None:
    """u of a reading from a trace: the gauge's, and what the cycles leave open, in squares (JCGM 100:2008, 5.1.2)."""
    path = write(tmp_path / "P1.csv", *damper(noise=400.0))
    (tmp_path / "r.csv").write_text(HEAD + "P1,L1,25,1735\n", "utf-8")
    proof = launch.prove(plan.job, tmp_path / "r.csv", traces=[path])
    verdict = next(v for v in proof.judgement.parts if v.characteristic == "rebound_0.52")
    own = next(r.u for r in proof.trial.readings if r.characteristic == "rebound_0.52")
    assert own > 3.0 and verdict.u == pytest.approx(math.hypot(6.0, own))
    assert not [v for v in proof.judgement.parts if v.characteristic.startswith("loop_")]  # nobody limits them
    written = launch.write_proof(proof, tmp_path / "out")
    assert [p.name for p in written][-1] == "force-loops.svg" and written[-1].stat().st_size > 5000
    assert "P1.csv: sha256" in written[0].read_text("utf-8")


def test_a_known_good_lot_takes_the_traces_of_its_own_parts(plan: LaunchPlan, tmp_path: Path) -> None:
    files = [write(tmp_path / f"{part}.csv", *damper(seed=i)) for i, part in enumerate(("P1", "G1"))]
    for name, part in (("r.csv", "P1"), ("g.csv", "G1")):
        (tmp_path / name).write_text(HEAD + f"{part},{name},25,1735\n", "utf-8")
    trial, good = launch.read_trials(plan, tmp_path / "r.csv", tmp_path / "g.csv", traces=files)
    assert good is not None
    assert [r.part for r in trial.runs] == ["P1"] and [r.part for r in good.runs] == ["G1"]


def clipped(a: Arrays) -> Arrays:
    return a[0], a[1], np.clip(a[2], -900.0, 900.0)


def holed(a: Arrays) -> Arrays:
    keep = np.ones(len(a[0]), dtype=bool)
    keep[2000:2100] = False
    return a[0][keep], a[1][keep], a[2][keep]


def spoilt(a: Arrays) -> Arrays:
    f = a[2].copy()
    f[1000] = math.nan
    return a[0], a[1], f


UNFIT: dict[str, tuple[Callable[[], Arrays], str, int]] = {
    "few cycles": (lambda: damper(3.3), "too few whole cycles", 2),
    "half the stroke": (lambda: (damper()[0], 0.5 * damper()[1], damper()[2]), "stroke is half the sheet's", 2),
    "metres for mm": (lambda: (damper()[0], 1e-3 * damper()[1], damper()[2]), "m taken for mm", 2),
    "another speed": (lambda: damper(speed=0.7), "moves at no speed of the sheet", 2),
    "ms for s": (lambda: (1e3 * damper()[0], *damper()[1:]), "ms taken for s", 2),
    "displacement reversed": (lambda: (damper()[0], -damper()[1], damper()[2]), "counts the wrong way", 2),
    "full cell": (lambda: clipped(damper()), "at its end", 0),
    "gap": (lambda: holed(damper()), "has a gap", 2002),
    "not a number": (lambda: spoilt(damper()), "without a usable number", 1002),
    "time goes back": (lambda: (np.roll(damper()[0], 5), *damper()[1:]), "does not rise", 7),
}


@pytest.mark.parametrize("case", UNFIT)
def test_a_trace_that_does_not_fit_gives_one_message_and_nothing(plan: LaunchPlan, tmp_path: Path, case: str) -> None:
    make, said, line = UNFIT[case]
    good, bad = write(tmp_path / "P2.csv", *damper()), write(tmp_path / "P1.csv", *make())
    with pytest.raises(InputFault) as caught:
        trial_of(plan, tmp_path, [good, bad])
    (message,) = caught.value.messages
    assert said in message.as_text() and message.file == str(bad)
    assert message.line == line or (line == 0 and message.line >= 2)


def test_forces_off_by_a_unit_and_in_and_out_exchanged(plan: LaunchPlan, tmp_path: Path) -> None:
    t, x, f = damper()
    f = np.where(f > 0, f, f * 440.0 / 1270.0)  # as the sheet expects them
    for force, way, said in ((f / 4.448, x, "lbf taken for N"), (f / 1000.0, x, "kN taken for N"),
                             (-f, -x, "in and out exchanged")):  # fmt: skip
        with pytest.raises(InputFault, match=said):
            trial_of(plan, tmp_path, [write(tmp_path / "P1.csv", t, way, force)])


def test_a_velocity_must_be_that_of_the_displacement(plan: LaunchPlan, tmp_path: Path) -> None:
    t, x, f = damper()
    v = V * np.sin(W * t + 2.0)
    assert of_trace(trial_of(plan, tmp_path, [write(tmp_path / "P1.csv", t, x, f, **{"velocity [m/s]": v})]), "P1")
    with pytest.raises(InputFault, match="velocity is not that of the displacement"):
        trial_of(plan, tmp_path, [write(tmp_path / "P1.csv", t, x, f, **{"velocity [m/s]": -v})])


def test_whose_trace_it_is_must_be_known(plan: LaunchPlan, tmp_path: Path) -> None:
    path = write(tmp_path / "unknown.csv", *damper())
    with pytest.raises(InputFault, match="does not say whose trace it is"):
        trial_of(plan, tmp_path, [path])
    with pytest.raises(InputFault, match="several lots have"):
        trial_of(plan, tmp_path, [write(tmp_path / "P1.csv", *damper())],
                 HEAD + "P1,L1,25,1735\nP1,L2,25,1731\n")  # fmt: skip
    with pytest.raises(InputFault, match="folder without traces"):
        (tmp_path / "empty").mkdir()
        trial_of(plan, tmp_path, [tmp_path / "empty"])


def test_the_plant_sheet_may_say_how_the_rig_writes(sheet: Path, tmp_path: Path) -> None:
    plant = sheet.parent / "plant.toml"
    text = plant.read_text("utf-8")
    table = 'trace = { t = "time ms", Weg = "displacement mm", Kraft = "force kN", displacement_positive = "in" }\n'
    folder = copy_example("light_truck_front", tmp_path)
    own = folder.parent / "plant.toml"
    own.write_text(text.replace('source = "rig study', table + 'source = "rig study', 1), "utf-8")
    plan = launch.plan(launch.read_job(folder))
    t, x, f = damper()
    path = tmp_path / "P1.csv"
    path.write_text("t,Weg,Kraft\n" + "".join(f"{1e3 * a:.3f},{-1e3 * b:.4f},{1e-3 * c:.6f}\n" for a, b, c in
                                              zip(t, x, f, strict=True)), "utf-8")  # fmt: skip
    found = of_trace(trial_of(plan, tmp_path, [path]), "P1")
    assert found["loop_energy"][0] == pytest.approx(math.pi * C * W * HALF**2 + 4 * RUB * HALF, rel=2e-3)
    own.write_text(own.read_text("utf-8").replace('"force kN"', '"forc kN"'), "utf-8")
    with pytest.raises(InputFault, match="does not say what this column"):
        add_traces(launch.plan(launch.read_job(folder)), [Trial((), str(tmp_path / "r.csv"))], [path])
