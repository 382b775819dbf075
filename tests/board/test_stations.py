"""A setting tried, then saved; sheets edited as text."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from firstoff import launch
from firstoff.board.texts import TEXTS
from firstoff.chain.predict import predict
from firstoff.errors import InputFault
from firstoff.launch.correcting.trial_moves import TrialMoves
from firstoff.launch.correcting.try_settings import try_settings
from tests.board.conftest import KEY, Person

STATION = f"/launch/{KEY}/station/piston_valve"
PRELOAD = "piston_valve.rebound_relief_preload"


@pytest.fixture
def settled(folder: Path) -> launch.LaunchPlan:
    return launch.plan(launch.read_job(folder / KEY / "damper.toml"))


def test_a_tried_setting_moves_what_correct_says_it_moves(settled: launch.LaunchPlan) -> None:
    """Against the other route through the chain, by which `correct` moves settings in whole steps (of 2 N)."""
    names = [c.name for c in settled.characteristics.values()]
    moves = TrialMoves.of(settled, names)
    before, after = moves.means([((), ()), (((PRELOAD, -3),), ())])
    found = {line.characteristic.name: line for line in try_settings(settled, {PRELOAD: "78"}).lines}
    for name, one, two in zip(names, before, after, strict=True):
        # nominal of the sheet here, middle of the scatter there: the same where no tolerance is lopsided
        assert found[name].after - found[name].before == pytest.approx(two - one, abs=2e-3 * max(abs(one), 1.0)), name
    still = {name for name, line in found.items() if not line.moves}
    assert "bore" in still and not {"rebound_0.52", "rebound_1.5"} & still


def test_a_tried_setting_keeps_the_rest_of_its_line(settled: launch.LaunchPlan) -> None:
    tried = try_settings(settled, {PRELOAD: "86,5", "gas_charge.pressure": "5.2"})
    assert tried.stated == {PRELOAD: "86.5 ±6 N", "gas_charge.pressure": "5.2 bar gauge ±0.4 bar"}
    assert settled.job.settings.given[PRELOAD].text == "84 ±6 N"  # nothing has changed there


def test_the_small_ensemble_scatters_as_a_prediction_does(settled: launch.LaunchPlan) -> None:
    line = next(x for x in try_settings(settled, {}, 4096).lines if x.characteristic.name == "rebound_0.52")
    found = predict(settled.stations, settled.plans, 8192, seed=2)
    scatter = next(c.scatter for c in found.characteristics if c.characteristic.name == "rebound_0.52")
    assert scatter is not None and line.sd_before == pytest.approx(scatter.sd, rel=0.03)
    assert line.sd_before == line.sd_after


@pytest.mark.parametrize(
    ("name", "text"),
    [(PRELOAD, "86 mm"), (PRELOAD, "much"), (PRELOAD, "-400 N"), ("piston_valve.nothing", "1"),
     ("oil_fill.density_15", "800 kg/m3"), ("piston_valve.rebound_bleed_count", "2.5")],
)  # fmt: skip
def test_what_cannot_be_is_said(settled: launch.LaunchPlan, name: str, text: str) -> None:
    with pytest.raises(InputFault):
        try_settings(settled, {name: text})


def test_the_page_shows_the_same_numbers_and_saves_nothing(
    planner: Person, folder: Path, settled: launch.LaunchPlan
) -> None:
    before = (folder / KEY / "damper.toml").read_bytes()
    planner.get(STATION)
    page = planner.post(f"{STATION}/try", **{f"set.{PRELOAD}": "90"})
    shown = dict(re.findall(r'<th scope="row">([\w.]+)(?: \(S\))?</th>.*?<data value="([^"]+)">', page, re.DOTALL))
    said = {m.characteristic.name: m.after for m in try_settings(settled, {PRELOAD: "90"}).moved}
    assert {name: float(value) for name, value in shown.items()} == said
    assert TEXTS["station.still"] not in page and "wrong" not in page
    assert "is a length" in planner.post(f"{STATION}/try", **{f"set.{PRELOAD}": "86 mm"})
    assert (folder / KEY / "damper.toml").read_bytes() == before


def test_saving_a_setting_changes_its_line_alone(planner: Person, folder: Path) -> None:
    file = folder / KEY / "damper.toml"
    before = file.read_text("utf-8").splitlines()
    planner.get(STATION)
    shown = planner.hidden("shown")
    planner.post(f"{STATION}/save", shown=shown, **{f"set.{PRELOAD}": "90"})
    assert TEXTS["saved.trail"] in planner.page
    after = file.read_text("utf-8").splitlines()
    assert [(a, b) for a, b in zip(before, after, strict=True) if a != b] == [
        ('rebound_relief_preload = "84 ±6 N"', 'rebound_relief_preload = "90 ±6 N"')
    ]
    # who still has the old page does not write over it
    page = planner.post(f"{STATION}/save", 409, shown=shown, **{f"set.{PRELOAD}": "80"})
    assert TEXTS["conflict.title"] in page and file.read_text("utf-8").splitlines() == after


def test_a_sheet_with_a_fault_is_not_saved_and_the_fault_stands_beside_its_line(planner: Person, folder: Path) -> None:
    file = folder / KEY / "damper.toml"
    before = file.read_text("utf-8")
    wrong = before.replace('rebound_relief_preload = "84 ±6 N"', 'rebound_relief_preload = "84 ±6 mm"')
    number = wrong[: wrong.index('"84 ±6 mm"')].count("\n") + 1
    path = f"/launch/{KEY}/sheets/damper.toml"
    planner.get(path)
    shown = planner.hidden("shown")
    page = planner.post(f"{path}/check", text=wrong)
    row = re.search(rf'<th scope="row">\+ {number}</th>.*?</tr><tr class="said">.*?</tr>', page, re.DOTALL)
    assert row and "rebound_relief_preload" in row[0] and "is a length" in row[0]
    planner.post(path, 400, text=wrong, shown=shown)
    planner.post(path, 400, text=before + "\n[", shown=shown)
    assert file.read_text("utf-8") == before
    planner.post(path, text=before.replace('"B"', '"C"').replace("\n", "\r\n"), shown=shown)  # as browsers send it
    assert file.read_text("utf-8") == before.replace('revision = "B"', 'revision = "C"')
    assert tomllib.loads(file.read_text("utf-8"))["model"]["revision"] == "C"
    page = planner.post(path, 409, text=before, shown=shown)
    assert TEXTS["conflict.title"] in page


def test_only_the_sheets_of_the_folder_are_opened(planner: Person) -> None:
    for name in ("launch.json", "first_offs.csv", "..%2f..%2fboard.db", "nothing.toml"):
        assert planner.client.get(f"/launch/{KEY}/sheets/{name}").status_code == 404


def test_a_sheet_of_limits_alone_still_proves(planner: Person, folder: Path) -> None:
    sheet = folder / KEY / "damper.toml"
    text = sheet.read_text("utf-8")
    sheet.write_text(text[: text.index("[pressure_tube]")].replace('plant = "plant.toml"\n', ""), "utf-8")
    page = planner.get(f"/launch/{KEY}")
    assert TEXTS["sheet.limits_only"] in page
    assert "rebound_0.52" in planner.get(f"/launch/{KEY}/first-offs")
    assert planner.client.get(STATION).status_code == 404
