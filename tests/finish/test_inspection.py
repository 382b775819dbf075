"""The finished face: tests that are only measured, the mirror as attribute agreement, the time looking takes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.errors import InputFault
from firstoff.launch.plan import LaunchPlan
from firstoff.physics.surface import corrosion_rating
from firstoff.stations.bumper.finish.surface_tests import area_of

HERE = Path(__file__).parent
GAUGES = """
[[gauge]]
name = "coulometer with recorder"
measures = "step_potential"
u = "4 mV"
source = "foils of two layers"

[[gauge]]
name = "grid of 5000 points"
measures = "corrosion_area"
u = "0.01 %"
source = "counted twice"
"""


@pytest.fixture(scope="module")
def looked(sheet: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("looked")
    (folder / "plant.toml").write_text((sheet.parent / "plant.toml").read_text("utf-8") + GAUGES, "utf-8")
    (folder / "b.toml").write_text(sheet.read_text("utf-8") + (HERE / "inspection.toml").read_text("utf-8"), "utf-8")
    return folder / "b.toml"


@pytest.fixture(scope="module")
def plan(looked: Path) -> LaunchPlan:
    return launch.plan(launch.read_job(looked))


def test_least_rating_is_an_area_and_back() -> None:
    # ISO 10289, class table (from memory): rating 9 up to 0.1 %, 8 up to 0.25 %, 1 up to 50 %
    assert [100.0 * area_of(r) for r in (9, 8, 1)] == pytest.approx([0.1, 0.25, 50.0])
    for rating in range(1, 10):
        area = area_of(rating)
        assert int(corrosion_rating(area)) == rating and int(corrosion_rating(area * 1.001)) < rating
    assert area_of(10) == 0.0 and area_of(0) == 1.0


def test_tests_are_measured_with_limits(plan: LaunchPlan) -> None:
    c = plan.job.characteristics
    assert (c["step_potential"].low, c["step_potential"].high) == (pytest.approx(0.1), pytest.approx(0.2))
    assert c["corrosion_area"].high == pytest.approx(1e-3)
    assert {"step_potential", "adhesion_loss", "corrosion_area"} <= set(plan.measured_only)
    text = " ".join(f"{a} {b}" for a, b in plan.plans["inspection"].setup)
    assert "CASS" in text and "22 h" in text and "rating 9 or better" in text and "sample S1" in text
    assert any("from memory" in a for a in plan.plans["inspection"].assumptions)
    # 20 s and 10 s of zones, 15 s of handling
    assert plan.nominal["look_time"] == pytest.approx(45.0)


def test_parts_lost_in_tests_are_shared_out(plan: LaunchPlan) -> None:
    lost = plan.job.first_offs.destructive
    assert "adhesion_loss" in lost and "corrosion_area" not in lost  # a gauge of the plant reads it without loss


def test_readings_of_the_tests_are_judged(plan: LaunchPlan, tmp_path: Path) -> None:
    rows = "part,lot,step_potential [mV],corrosion_area [%]\nP1,L,120,0.05\nP2,L,60,0\nP3,L,150,0.2\n"
    (tmp_path / "r.csv").write_text(rows, "utf-8")
    proof = launch.prove(plan.job, tmp_path / "r.csv")
    said = {(p.part, p.characteristic): p.verdict for p in proof.judgement.parts}
    assert said["P2", "step_potential"] != said["P1", "step_potential"]
    assert said["P3", "corrosion_area"] != said["P1", "corrosion_area"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('hours = "22 h"\n', "", "hours"),
        ("rating = 9\n", "", "rating or limits"),
        ('kind = "adhesion"', 'kind = "step potential"', "stands twice"),
        ('kind = "adhesion"', 'kind = "adhesion"\nhours = "10 h"', "belongs to the corrosion test"),
        ('name = "B, walls"', 'name = "A, face"', "is taken"),
    ],
)
def test_faults_of_the_tests(looked: Path, tmp_path: Path, old: str, new: str, said: str) -> None:
    text = looked.read_text("utf-8")
    assert old in text
    (tmp_path / "b.toml").write_text(text.replace(old, new), "utf-8")
    (tmp_path / "plant.toml").write_text((looked.parent / "plant.toml").read_text("utf-8"), "utf-8")
    with pytest.raises(InputFault) as fault:
        launch.read_job(tmp_path / "b.toml")
    assert said in "\n".join(m.as_text() for m in fault.value.messages)


def test_people_who_look_agree_as_statsmodels_says(tmp_path: Path) -> None:
    """Thirty bars seen twice by three people under the light, beside boundary samples: kappas of statsmodels, shares
    counted by hand."""
    from statsmodels.stats.inter_rater import aggregate_raters, cohens_kappa, fleiss_kappa

    rng = np.random.default_rng(4)
    right = np.array([0] * 18 + [1] * 12)
    flaw = np.where(right == 0, rng.uniform(0.05, 0.28, 30), rng.uniform(0.3, 0.6, 30))  # mm, boundary at 0.29
    people = {"Ada": 0.02, "Ben": 0.08, "Cleo": 0.05}
    seen = {(who, t): (flaw + rng.normal(0.0, sd, 30) > 0.29).astype(int) for who, sd in people.items() for t in (1, 2)}
    word = np.array(["good", "bad"])
    lines = [f"B{i:02d},{who},{t},{word[v[i]]},{word[right[i]]}" for (who, t), v in seen.items() for i in range(30)]
    path = tmp_path / "mirror.csv"
    path.write_text("part,appraiser,trial,verdict,reference\n" + "\n".join(lines) + "\n", "utf-8")
    found = launch.gauge([path]).study.sorting
    assert found is not None and len(found.sorters) == 3
    for sorter in found.sorters:
        own = [seen[sorter.name, t] for t in (1, 2)]
        table = sum((np.histogram2d(v, right, bins=2, range=[[-0.5, 1.5]] * 2)[0] for v in own), np.zeros((2, 2)))
        assert sorter.against_reference is not None and sorter.effectiveness is not None
        assert sorter.against_reference.kappa == pytest.approx(cohens_kappa(table).kappa)
        assert sorter.effectiveness[0] == pytest.approx(np.mean((own[0] == right) & (own[1] == right)))
    ratings, _ = aggregate_raters(np.stack(list(seen.values()), axis=1))
    assert found.between is not None and found.between.kappa == pytest.approx(fleiss_kappa(ratings))
