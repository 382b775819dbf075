"""The reverse question of a hit, against the plastic hinge turned round and against the chain itself."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstoff import launch
from firstoff.chain.predict import nominal
from firstoff.cli.main import ExitStatus, main
from firstoff.errors import InputFault
from firstoff.launch.hit_choice import choose as hits
from firstoff.launch.hit_choice.account import choice_text
from firstoff.launch.hit_choice.choose import HitChoice, Trial, choose_for_hit
from firstoff.launch.hit_choice.levers import levers, one_hit

EXAMPLE = Path(launch.__file__).parents[1] / "examples" / "truck_rear_bumper"


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> HitChoice:
    folder = tmp_path_factory.mktemp("choice")
    for name in ("bumper.toml", "plant.toml"):
        shutil.copy(EXAMPLE / name, folder / name)
    patch = pytest.MonkeyPatch()  # a coarse search: the edges and the run that confirms are what is looked at
    for name, value in (("SCANNED", 3), ("REFINED", 2), ("SCAN_BUILDS", 32)):
        patch.setattr(hits, name, value)
    patch.setattr(hits, "levers", lambda plan: levers(plan)[:1])
    found = choose_for_hit(launch.read_job(folder / "bumper.toml"), "corner", "3.1 km/h", 90.0, 64, 1, 1)
    patch.undo()
    return found


def test_a_thicker_sheet_is_asked_for_and_confirmed_with_other_draws(found: HitChoice) -> None:
    (answer,) = found.answers
    assert found.present.share is not None and found.present.share < 0.9
    assert answer.value is not None and answer.value > answer.present
    assert answer.confirmed and answer.share is not None and answer.share >= 0.9
    assert answer.low is not None and answer.high is not None and answer.low < answer.share <= answer.high
    short = [t for t in answer.tried if t.value < answer.value and t.share is not None and t.share < 0.9]
    assert short and short[-1].why in {c.name for c in found.limits}
    assert "needed" in choice_text(found) and f"{1e3 * answer.value:.3g}" in choice_text(found)


def test_the_answer_keeps_the_limits_at_nominal_by_the_chain_itself(found: HitChoice) -> None:
    answer = found.answers[0]
    assert answer.value is not None
    job = one_hit(found.job, "corner", found.speed)
    lever = levers(launch.plan(found.job))[0]
    made = launch.plan(lever.apply(job, answer.value / answer.present))
    at = nominal(made.stations, made.plans)
    assert made.nominal["sheet_thickness"] == pytest.approx(answer.value, rel=1e-6)
    for c in found.limits:
        assert (c.low is None or at[c.name] >= c.low) and (c.high is None or at[c.name] <= c.high), c.name


def test_a_deeper_section_bends_less_as_its_depth_says(found: HitChoice) -> None:
    # an open channel's plastic moment grows with its depth (textbook): less set in the same hit
    depth = levers(launch.plan(found.job))[2]
    job = one_hit(found.job, "corner", None)
    deeper = launch.plan(depth.apply(job, 1.15))
    assert deeper.job.settings.drawing.depth == pytest.approx(1.15 * depth.present)
    assert deeper.nominal["permanent_set_corner"] < launch.plan(job).nominal["permanent_set_corner"]


def test_edges_of_what_does_where_nothing_is_monotonic() -> None:
    def scan(*shares: float) -> list[tuple[float, Trial]]:
        return [(f, Trial(f, s)) for f, s in zip((0.5, 0.8, 1.0, 1.3, 2.0), shares, strict=True)]

    def does(t: Trial) -> bool:
        return t.share is not None and t.share > 0.9

    assert hits._edge(scan(1.0, 0.0, 1.0, 1.0, 0.0), does) == (1.0, 0.8)  # 0.5 does, but not what lies between
    assert hits._edge(scan(1.0, 1.0, 1.0, 1.0, 1.0), does) == (0.5, None)
    assert hits._edge(scan(0.0, 1.0, 0.0, 0.0, 1.0), does) == (0.8, 1.0)  # thinner is nearer
    assert hits._edge(scan(0.0, 0.0, 0.0, 0.0, 0.0), does) == (None, None)
    lever = replace(_thickness(), present=2e-3)
    assert 2e-3 * hits._rounded(lever, 1.0321, 1.02) == pytest.approx(2.07e-3)
    assert 2e-3 * hits._rounded(lever, 0.9321, 0.99) == pytest.approx(1.86e-3)
    assert np.all(np.diff(hits._factors(lever)) > 0.0) and 1.0 in hits._factors(lever)


def _thickness() -> hits.Lever:
    return hits.Lever("thickness", "thickness", "mm", 2e-3, 0.6, 1.6, lambda job, factor: job)


def test_faults(found: HitChoice, capsys: pytest.CaptureFixture[str]) -> None:
    for hit, speed, percent, what in (
        ("cornr", None, None, "no hit"), ("corner", "fast", None, "fast"), ("corner", "90 km/h", None, "range"),
        ("corner", None, 100.0, "share of builds"),
    ):  # fmt: skip
        with pytest.raises(InputFault, match=what):
            choose_for_hit(found.job, hit, speed, percent)
    with pytest.raises(SystemExit) as caught:
        main(["choose", str(found.job.file), "--hit", "cornr", "--json"])
    assert caught.value.code == ExitStatus.INPUT
    assert "is no hit of the sheet" in "".join(capsys.readouterr())
