"""The bar's windows put to the crane of the example line, what the line uses up, and takt."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from firstoff import launch
from firstoff.errors import InputFault
from firstoff.launch.finishing.account import finish_dict, finish_page, finish_text
from firstoff.launch.finishing.narrowing import narrowed, product_of
from firstoff.launch.finishing.page import window_pages
from firstoff.launch.finishing.plan import FinishPlan, plan_finish
from firstoff.launch.finishing.uses import bar_area
from firstoff.launch.line.plant import read_plant
from firstoff.stations.bumper.finish.treatment import of

HERE = Path(__file__).parent
LINE = Path(launch.__file__).parents[1] / "examples" / "bumper_plating" / "plant.toml"
M, N, F, RHO = 58.6934e-3, 2.0, 96485.33212, 8908.0  # nickel: IUPAC, CODATA, handbook


@pytest.fixture(scope="module")
def sheets(sheet: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The buffed bumper with windows, and its plant with the example's line, three bars a load."""
    folder = tmp_path_factory.mktemp("line")
    line = re.sub(r"\[plant\]\nname = .*\n", "", LINE.read_text("utf-8")).replace("parts = 6", "parts = 3")
    more = {"bumper.toml": (HERE / "windows.toml").read_text("utf-8"),
            "plant.toml": line + (HERE / "supplies.toml").read_text("utf-8")}  # fmt: skip
    for name, text in more.items():
        (folder / name).write_text((sheet.parent / name).read_text("utf-8") + text, "utf-8")
    return folder / "bumper.toml"


@pytest.fixture(scope="module")
def finish(sheets: Path) -> FinishPlan:
    found = plan_finish(launch.plan(launch.read_job(sheets)))
    assert found is not None
    return found


@pytest.fixture
def changed(sheets: Path, tmp_path: Path) -> Callable[..., Path]:
    def change(*pairs: tuple[str, str], plant: tuple[tuple[str, str], ...] = ()) -> Path:
        for file, swaps in (("bumper.toml", pairs), ("plant.toml", plant)):
            text = (sheets.parent / file).read_text("utf-8")
            for old, new in swaps:
                assert old in text, old
                text = text.replace(old, new)
            (tmp_path / file).write_text(text, "utf-8")
        return tmp_path / "bumper.toml"

    return change


def seconds(um: float, a_per_dm2: float) -> float:
    """Faraday's law by hand, at 96 %."""
    return um * 1e-6 * RHO * N * F / (M * 0.96 * a_per_dm2 * 100.0)


def test_windows_follow_from_thickness_by_faraday(finish: FinishPlan) -> None:
    by = {h.operation: h for h in finish.held}
    semi = by["semi-bright nickel"]
    # 15 um at the worst point and 40 um at the best, half of the 20 s ramp on top, whole seconds inwards
    assert float(semi.product[0]) == pytest.approx(seconds(15.0, 5.2) + 10.0, abs=1.0)
    assert float(semi.product[1]) == pytest.approx(seconds(40.0, 9.0) + 10.0, abs=1.0)
    assert semi.both == (semi.product[0], 960) and semi.narrower
    assert by["rinse after nickel"].both == (20, 40)
    assert by["bright nickel to chrome, in air"].both == (None, 70)


def test_timetable_keeps_what_both_allow(finish: FinishPlan) -> None:
    soaks = {s.operation: s for s in finish.soaks}
    for h in finish.held:
        if h.operation in soaks:
            low, high = h.both
            assert (low is None or soaks[h.operation].time >= low) and (high is None or soaks[h.operation].time <= high)
    semi = soaks["semi-bright nickel"]
    assert semi.worst is not None and semi.best is not None
    assert semi.worst >= 15e-6 * (1 - 1e-9) and semi.best <= 40e-6
    # narrower windows never make the line quicker
    assert finish.as_stated is not None and finish.answer.table is not None and finish.as_stated.table is not None
    assert finish.answer.table.per_load >= finish.as_stated.table.per_load == 300
    # 4000 h a year for 90000 bars
    assert finish.takt == pytest.approx(160.0) and finish.holds is True
    assert finish.per_bar == pytest.approx(float(finish.answer.table.per_load) / 3.0)
    # Little's law: an hour's wait at this pace
    assert finish.waiting is not None and finish.waiting[0] == pytest.approx(3600.0 / finish.per_bar)


def test_what_a_bar_uses_by_hand(finish: FinishPlan) -> None:
    u = finish.uses
    assert u is not None
    semi, _, chrome = u.baths
    dwell = semi.dwell
    charge = 2000.0 * (dwell - 20.0 + 10.0) / 3.0  # A s a bar; the ramp counts half
    assert semi.charge == pytest.approx(charge)
    assert semi.deposit == pytest.approx(charge * 0.96 * M / (N * F))
    assert semi.thickness == pytest.approx(semi.deposit / RHO / u.area)
    # anodes at full efficiency dissolve 1/0.96 of it; 120 ml/m2 of 75 g/l is lost
    assert semi.added == pytest.approx(semi.deposit * (1 - 1 / 0.96) + 0.120 * u.area * 0.075)
    assert semi.energy / 3.6e6 == pytest.approx(charge * 7.0 / 0.85 / 3.6e6)
    # what comes off anodes and out of bags is bought; additive by the ampere-hour; power at its price
    bought = semi.dissolved + semi.added
    assert semi.cost == pytest.approx(bought * 21.0 + charge / 3600 * 0.15e-3 * 6.0 + semi.energy / 3.6e6 * 0.14)
    assert chrome.dissolved == 0.0 and chrome.lost == pytest.approx(0.150 * u.area * 0.130 * 0.4)
    rinse = u.rinses[1]
    assert finish.per_bar is not None
    assert rinse.drag_out == pytest.approx(0.150e-3 * u.area * 0.4 / finish.per_bar)
    r = rinse.flow / rinse.drag_out
    assert 1.0 + r + r * r == pytest.approx(1000.0)
    assert u.waste_water == pytest.approx(sum(x.flow for x in u.rinses) * finish.per_bar)
    assert u.unpriced == ()


def test_area_of_the_bar(finish: FinishPlan, sheets: Path) -> None:
    drawing = launch.read_job(sheets).settings.drawing
    # developed width over the length and two wraps, both sides; middle of the sheet drawn in short chords
    width = float(drawing.centreline(2e-3).lengths.sum())
    wrap = 2.0 * (0.061 * 1.0471975512 + 0.090)
    holes = 0.32 * 0.06 + 4 * 3.14159265 / 4 * 0.024**2 + 3.14159265 / 4 * 0.062**2
    assert bar_area(drawing, 2e-3) == pytest.approx(2.0 * (width * (1.64 + wrap) - holes), rel=0.01)


def test_page_for_the_wall(sheets: Path) -> None:
    ((stem, page),) = window_pages(launch.plan(launch.read_job(sheets)))
    assert stem == "line-windows" and len(page.lines) == 4
    assert dict(page.lines)["rinse after nickel"] == "20 to 40 s; supplier: film off, face still wet"
    assert any("interlocks decide" in text for text in page.cautions)


def test_account_in_words_and_numbers(finish: FinishPlan) -> None:
    text = finish_text(finish)
    assert "holds it" in text and "chemical supplier's" in text and "licensed supplier's" in text
    assert "Trivalent chromium is the alternative" in text
    page = finish_page(finish, "TB2")
    assert "carcinogen" in page and "interlocks decide" in page
    found = json.loads(json.dumps(finish_dict(finish), allow_nan=False))
    assert found["takt_holds"] is True and found["windows"][0]["operation"] == "rinse after nickel"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('operation = "semi-bright nickel"\nthick', 'operation = "semibright nickel"\nthick', "semi-bright nickel"),
        ('thickness = "15 to 40 um"', 'thickness = "30 to 40 um"', "serves both"),
        ('product = "front bumper"', 'product = "rear bumper"', "names no product of the line"),
        ('from = "bright nickel"', 'from = "brite nickel"', "bright nickel"),
    ],
)
def test_windows_that_do_not_fit_the_line(changed: Callable[..., Path], old: str, new: str, said: str) -> None:
    job = launch.read_job(changed((old, new)))
    windows = of(job.settings.drawing).windows
    assert job.plant_file is not None
    line = read_plant(job.plant_file).line
    with pytest.raises(InputFault) as fault:
        narrowed(line, product_of(line, windows, job.name, str(job.file)), windows, str(job.file))
    text = "\n".join(m.as_text() for m in fault.value.messages)
    assert said in text and "bumper.toml:" in text


def test_faults_of_windows_and_supplies(changed: Callable[..., Path]) -> None:
    path = changed(
        ('time = "20 to 40 s"', 'time = "20 to 40 s"\nthickness = "1 to 2 um"'),
        ('best = "9 A/dm^2"', 'best = "3 A/dm^2"'),
        plant=(("dilution = \"0.01\"", "dilution = \"0.01\"\nflow = \"20 l/h\""), ('content = "130 g/l"\n', "")),
    )  # fmt: skip
    with pytest.raises(InputFault) as fault:
        launch.read_job(path)
    text = "\n".join(m.as_text() for m in fault.value.messages)
    for said in ("both a time and a thickness", "below that of the worst", "both a dilution and a flow", "content"):
        assert said in text


SMALL = """
[line]
name = "two tanks"
travel_speed = "0.5 m/s"
lift = "5 s"
lower = "5 s"
time_step = "1 s"

[[line.tank]]
name = "L"
operation = "load and unload"
position = "0 m"
turnaround = "20 s"

[[line.tank]]
name = "1"
operation = "nickel"
position = "2 m"

[[line.product]]
name = "TB2 rear step bumper"
parts = 1

[[line.step]]
operation = "nickel"
time = "100 to 900 s"
current = "500 A"

[running]
hours = "4000 h"
"""


def test_takt_that_does_not_hold_says_what_is_in_the_way(sheet: Path, tmp_path: Path) -> None:
    window = '\n[[window]]\noperation = "nickel"\ntime = "200 to 400 s"\n'
    (tmp_path / "bumper.toml").write_text(sheet.read_text("utf-8") + window, "utf-8")
    (tmp_path / "plant.toml").write_text((sheet.parent / "plant.toml").read_text("utf-8") + SMALL, "utf-8")
    found = plan_finish(launch.plan(launch.read_job(tmp_path / "bumper.toml")), 10.0)
    assert found is not None and found.answer.table is not None
    # by hand: 20 s turnaround, twice 5 + 4 + 5 s of crane, 200 s in the tank
    assert found.answer.table.per_load == 20 + 2 * 14 + 200
    assert found.holds is False and found.obstacle is not None
    assert "does NOT hold" in finish_text(found) and "nickel at least 200 s" in finish_text(found)
    # 160 s of takt leave 112 s in the tank
    assert found.obstacle.widening is not None and sum(found.obstacle.widening.by.values()) == 88


def test_windows_without_a_line_are_refused(sheet: Path, tmp_path: Path) -> None:
    text = sheet.read_text("utf-8") + (HERE / "windows.toml").read_text("utf-8")
    (tmp_path / "bumper.toml").write_text(text, "utf-8")
    (tmp_path / "plant.toml").write_text((sheet.parent / "plant.toml").read_text("utf-8"), "utf-8")
    with pytest.raises(InputFault, match="needs a plating line") as fault:
        plan_finish(launch.plan(launch.read_job(tmp_path / "bumper.toml")))
    assert fault.value.messages[0].line > 100


def test_a_line_is_read_beside_presses(sheets: Path) -> None:
    line = read_plant(sheets.parent / "plant.toml").line
    windows = of(launch.read_job(sheets).settings.drawing).windows
    tight, held = narrowed(line, product_of(line, windows, "x", "f"), windows, "f")
    assert len(held) == 4
    least = tight.products[0].steps[5].least
    assert 0 <= float(least) - (seconds(15.0, 5.2) + 10.0) < 1.0  # up to the next whole second
