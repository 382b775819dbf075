"""Prove beyond limits: temperature, prediction, lots. Figures from the chain itself are laws, not values."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.launch.account_proof import prove_text
from firstoff.launch.demo import copy_example
from firstoff.launch.plan import LaunchPlan

HEAD = "part,lot,temperature [degC],rebound_0.05 [N],rebound_1.5 [N],bore [mm]\n"


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return copy_example("light_truck_front", tmp_path)


def proof_of(sheet: Path, text: str) -> launch.Proof:
    path = sheet.parent / "r.csv"
    path.write_text(text, "utf-8")
    return launch.prove(launch.read_job(sheet), path)


def nominal(sheet: Path, temperature: str = "") -> LaunchPlan:
    plant = sheet.parent / "plant.toml"
    text = plant.read_text("utf-8")
    if temperature:
        plant.write_text(text.replace('oil_temperature = "25 degC', f'oil_temperature = "{temperature}'), "utf-8")
    found = launch.plan(launch.read_job(sheet))
    plant.write_text(text, "utf-8")
    return found


def test_a_warm_reading_is_remarked_with_the_shift_the_chain_expects(sheet: Path) -> None:
    proof = proof_of(sheet, HEAD + "A,L1,45,230,2000,32\nB,L1,26,240,2010,32\n")
    away = proof.away
    assert dict(away.parts) == {("L1", "A"): pytest.approx(20.0)}  # B lies within the 2 K of the setup sheet
    # the same two numbers by planning the launch at the other temperature
    cold, warm = nominal(sheet).nominal, nominal(sheet, "45 degC").nominal
    for name in ("rebound_0.05", "rebound_1.5"):
        assert away.shifts[name, "L1", "A"] == pytest.approx(warm[name] - cold[name], rel=1e-9)
    assert not any(name == "bore" for name, _, _ in away.shifts)  # no station lets a bore depend on the oil
    (said,) = [m.as_text() for m in proof.trial.messages if m.key == "temperature"]
    assert "1 of 2 parts was tested more than 2 K away from the test temperature of 25 °C: A 20.0 K warmer" in said
    assert "Nothing was corrected" in said
    assert proof.by_part["A"]["rebound_1.5"] == 2000.0


def test_a_verdict_must_stand_without_the_shift(sheet: Path) -> None:
    # limits 165 to 305 N, u 6 N; 20 K take about a tenth off the bleed force, far more than the margin of 8 N
    near = proof_of(sheet, HEAD + "A,L1,45,180,,\nB,L1,25,180,,\nC,L1,45,235,,\n")
    words = {v.part: v for v in near.judgement.parts}
    assert [words[p].verdict for p in "ABC"] == ["conforms", "conforms", "conforms"]
    high = proof_of(sheet, HEAD + "A,L1,45,290,,\nB,L1,25,290,,\n")
    words = {v.part: v for v in high.judgement.parts}
    assert words["B"].verdict == "conforms"
    assert words["A"].verdict == "not proven"  # at 25 degC it would be above 305 N
    assert "tested 20.0 K warmer than the test temperature of 25 °C" in words["A"].reason
    low = proof_of(sheet, HEAD + "A,L1,45,150,,\nB,L1,25,150,,\n")
    words = {v.part: v for v in low.judgement.parts}
    assert (words["A"].verdict, words["B"].verdict) == ("not proven", "does not conform")
    assert low.judgement.lots[0].verdict == "does not conform"
    assert low.judgement.lots[0].not_conforming == 1


def test_without_stations_the_temperature_is_still_remarked(tmp_path: Path) -> None:
    sheet = tmp_path / "m.toml"
    sheet.write_text(
        '[model]\nname = "m"\nfamily = "damper"\n[[damping]]\nspeed = "0.05 m/s"\nrebound = "235 ±70 N"\n', "utf-8"
    )
    proof = proof_of(sheet, "part,temperature [degC],rebound_0.05 [N]\nA,60,230\nB,,230\nC,77,230\n")
    said = "\n".join(m.as_text() for m in proof.trial.messages)
    assert "A 35.0 K warmer, C 52.0 K warmer. What it does to rebound_0.05 nobody says" in said
    assert "is not noted for B" in said
    assert ":4: temperature: would be near the test temperature if it were in degF: line 4" in said
    assert proof.against == ()


def test_a_temperature_beyond_the_oil_proves_nothing(sheet: Path) -> None:
    proof = proof_of(sheet, HEAD + "A,L1,-270,230,2000,32\n")
    assert {v.characteristic: v.verdict for v in proof.judgement.parts}["rebound_0.05"] == "not proven"
    assert "No station has a value there for" in "\n".join(m.as_text() for m in proof.trial.messages)


def test_builds_of_the_prediction_itself_agree_with_it(sheet: Path) -> None:
    from firstoff.chain.ensemble import Ensemble, run
    from firstoff.chain.predict import values_of
    from firstoff.chain.sample import sample

    plan = launch.plan(launch.read_job(sheet))
    names = ("rebound_0.05", "rebound_1.5", "compression_0.52", "static_gas_force")
    rng = np.random.default_rng(4)
    found = []
    for seed in range(6):  # six lots of eight
        builds = run(
            plan.stations,
            plan.plans,
            Ensemble(sample(values_of(plan.stations, plan.plans), 0, 8, 100 + seed, 0, 8), {}),
        )
        rows = ["part,lot," + ",".join(f"{n} [N]" for n in names)]
        for i in range(8):
            rows.append(f"P{i},L{seed}," + ",".join(f"{builds.columns[n][i] + rng.normal(0, 2):.3f}" for n in names))
        proof = proof_of(sheet, "\n".join(rows) + "\n")
        found += list(proof.against)
    assert len(found) == 24
    assert sum(not one.agrees for one in found) <= 1
    z = [one.z for one in found if one.z is not None]
    assert 0.3 < np.std(z) < 1.5 and abs(np.mean(z)) < 0.8


def test_a_weak_lot_disagrees_on_the_mean_and_a_torn_one_on_the_scatter(sheet: Path) -> None:
    lot = "".join(f"P{i},L1,25,{220 + 4 * i},{1900 + 5 * i},32\n" for i in range(8))
    torn = "".join(f"P{i},L2,25,{230 + i},{2010 + 60 * (-1) ** i},32\n" for i in range(8))
    proof = proof_of(sheet, HEAD + lot + torn)
    words = {(one.lot, one.characteristic): one.words for one in proof.against}
    assert words["L1", "rebound_1.5"] == "disagrees: mean lower"
    assert words["L2", "rebound_1.5"] == "disagrees: scatter wider"
    assert words["L1", "rebound_0.05"] == "agrees"
    text = prove_text(proof)
    assert "Readings of lot L1 and prediction DISAGREE on rebound_1.5" in text
    assert proof.lots == {"L1": 8, "L2": 8}
    assert "16 parts of 2 lots (lot L1 with 8 parts, lot L2 with 8 parts)" in text
    assert "P0 (L2)" in proof.by_part
    row = next(r for r in proof.as_dict()["prediction"] if (r["lot"], r["characteristic"]) == ("L1", "rebound_1.5"))
    assert row["mean"] == pytest.approx(1917.5)
    u = math.hypot(row["predicted_lot_sd"], row["predicted_part_sd"] / math.sqrt(8))
    assert abs(row["z"]) < abs(row["mean"] - row["predicted_mean"]) / u  # the gauge's error is in it, too


def test_the_prediction_is_taken_at_the_temperature_of_the_readings(sheet: Path) -> None:
    rows = "".join(f"P{i},L1,45,230,2000,32\n" for i in range(4))
    one = next(o for o in proof_of(sheet, HEAD + rows).against if o.characteristic == "rebound_0.05")
    warm = nominal(sheet, "45 degC").nominal["rebound_0.05"]
    assert one.predicted_mean == pytest.approx(warm, abs=2.0)
    assert abs(one.predicted_mean - nominal(sheet).nominal["rebound_0.05"]) > 10.0


def test_a_kilonewton_under_newtons_is_remarked_in_the_account(sheet: Path) -> None:
    text = prove_text(proof_of(sheet, "part,rebound_1.5 [N]\nA,2.01\nB,2.0\n"))
    assert "2 readings lie far from the limits and would fit if the unit is kN" in text


def test_pages_say_from_which_sheets_and_revision_they_were_made(sheet: Path, tmp_path: Path) -> None:
    import hashlib

    job = launch.read_job(sheet)
    plan = launch.plan(job)
    proof = launch.prove(job, sheet.parent / "first_offs.csv")
    out = tmp_path / "out"
    launch.write_plan(plan, out)
    launch.write_prediction(launch.predict(plan, builds=64), out)
    launch.write_proof(proof, out)
    launch.write_explanation(launch.explain(plan, proof.trial), out)
    for page in ("plan.md", "predict.md", "prove.md", "explain.md"):
        text = (out / page).read_text("utf-8")
        assert "LT3 front damper, revision B" in text, page
        for file in ("damper.toml", "plant.toml"):
            digest = hashlib.sha256((sheet.parent / file).read_bytes()).hexdigest()
            assert f"{file}: sha256 {digest}" in text, page


def test_one_is_said_as_one(sheet: Path) -> None:
    text = prove_text(proof_of(sheet, "part,rebound_1.5 [N],friction [N]\nA,1500,n/a\n"))
    assert "1 reading on 1 part," in text
    assert "on 1 part: A: 1500" in text
    assert "1 cell was taken as no reading: n/a; line 2" in text
    lots = proof_of(sheet, "part,rebound_1.5 [N]\nA,9\n").judgement.lots
    assert [v.reason for v in lots] == ["1 of 1 part does not conform"]


def test_one_lot_prints_the_scatter_within_a_lot_and_over_the_lots(sheet: Path) -> None:
    from firstoff.launch.account import predict_text

    plan = launch.plan(launch.read_job(sheet))
    one = launch.predict(plan, builds=2048, one_lot=True)
    text = predict_text(one)
    assert "8 lots of 256 builds each" in text
    assert "sd within a lot" in text and "sd over these 8 lots" in text
    scatters = {c.characteristic.name: c.scatter for c in one.builds.characteristics}
    # bore: part sd 3 um of the mandrel, of which a thin ring keeps 1 / (1 + 360/206000); the yield strength adds
    # 31.999 mm x 15 MPa x sqrt(0.2) / 206 GPa = 1.0 um within a lot
    bore = scatters["bore"]
    assert bore is not None and bore.within_lot_sd is not None
    assert bore.within_lot_sd == pytest.approx(math.hypot(3.0e-6, 1.04e-6), rel=0.03)
    assert all(s is None or s.within_lot_sd is None or s.within_lot_sd <= s.sd * 1.001 for s in scatters.values())
    assert launch.predict(plan, builds=64).builds.characteristics[0].scatter.within_lot_sd is None  # type: ignore[union-attr]


def test_a_lots_reason_counts_as_its_figures_do() -> None:
    sheet = Path(launch.__file__).parents[1] / "examples" / "light_truck_front" / "damper.toml"
    proof = launch.prove(launch.read_job(sheet), sheet.parent / "first_offs.csv")
    (lot,) = [v for v in proof.judgement.lots if v.characteristic == "rebound_0.52"]
    assert (lot.verdict, lot.not_conforming) == ("does not conform", 2)
    assert lot.reason == (
        "as read 4 of 8 parts do not conform, 2 of them with and without the effect of the temperature"
    )
