"""The steps of the whole job in a browser; every number of a page is held against the command line's."""

from __future__ import annotations

import io
import json
import re
import shutil
from collections.abc import Mapping, Sequence
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from firstoff.board.texts import TEXTS, text
from firstoff.cli.main import main
from tests.board.conftest import KEY, PASSWORD

PRELOAD = "piston_valve.rebound_relief_preload"
TYPED = {"rebound_0.52": "1.222 kN", "compression_0.52": "-449,0", "friction": "23,5"}


def said(*words: object) -> Mapping[str, Any]:
    """What a verb of the command line says with --json."""
    out = io.StringIO()
    with redirect_stdout(out), pytest.raises(SystemExit) as left:
        main([*map(str, words), "--json"])
    assert left.value.code == 0, words
    found: Mapping[str, Any] = json.loads(out.getvalue())["result"]
    return found


def walk(page: Page, code: str, root: Path, builds: int) -> None:
    """From the code on the terminal to the signed decision. builds: trial builds of the board."""
    folder, kept = root / KEY, root.parent / "kept"
    kept.mkdir()
    shutil.move(folder / "first_offs.csv", kept)
    set_up(page, code)
    plan = said("plan", folder / "damper.toml")
    see_the_route_card(page, plan)
    try_a_setting(page, folder, kept / "other", plan)
    enter_readings(page, folder, kept / "first_offs.csv")
    many = ("--builds", builds)
    predict(page, said("predict", folder / "damper.toml", *many))
    files = (folder / "damper.toml", folder / "first_offs-2.csv", "--good", folder / "good_lot.csv")
    corrected = said("correct", *files)
    explain(page, corrected["causes"])
    correct(page, corrected)
    release(page, said("release", *files, *many))
    sign(page, root)


def set_up(page: Page, code: str, name: str = "A. Miller") -> None:
    """The first account."""
    page.goto("/")
    page.get_by_label(TEXTS["setup.code"]).fill(code)
    page.get_by_label(TEXTS["in.name"]).fill(name)
    page.get_by_label(TEXTS["setup.password"].format(least=12)).fill(PASSWORD)
    page.get_by_label(TEXTS["setup.again"]).fill(PASSWORD)
    page.get_by_role("button", name=TEXTS["setup.do"]).click()
    expect(page.get_by_role("heading", name=TEXTS["launches.title"])).to_be_visible()


def sign_in(page: Page, name: str) -> None:
    page.goto("/sign-in")
    page.get_by_label(TEXTS["in.name"]).fill(name)
    page.get_by_label(TEXTS["in.password"]).fill(PASSWORD)
    page.get_by_role("button", name=TEXTS["in.do"]).click()
    expect(page.get_by_role("heading", name=TEXTS["launches.title"])).to_be_visible()


def cell(page: Page, row: str, at: int) -> str:
    """A cell of the row whose head begins with `row`."""
    found = page.locator("tr", has=page.locator("th").get_by_text(row)).first
    return found.locator("th, td").nth(at).inner_text()


def numbers(words: str) -> list[float]:
    """The numbers of a text as a page writes it, with a minus sign of its own."""
    plain = words.replace("−", "-").replace("\u202f", "").replace("\u2009", "").replace(",", "")
    return [float(x) for x in plain.split() if x.lstrip("+-").replace(".", "", 1).replace("e-", "", 1).isdigit()]


def values(place: Page | Locator) -> list[float]:
    """The values that the page gives to programs, in SI."""
    return [float(each.get_attribute("value") or "nan") for each in place.locator("data").all()]


def see_the_route_card(page: Page, plan: Mapping[str, Any]) -> None:
    page.get_by_role("link", name="LT3 front damper").click()
    expect(page.get_by_role("heading", name=TEXTS["route.title"])).to_be_visible()
    for name, factor in (("bore", 1e3), ("rebound_0.52", 1.0), ("compression_0.52", 1.0)):
        assert numbers(cell(page, name, 3)) == [pytest.approx(factor * plan["nominal"][name], rel=1e-4)], name
    stops = page.locator("ol.route > li h3 a").all_inner_texts()
    assert len(stops) == len(plan["order"])


def try_a_setting(page: Page, folder: Path, other: Path, before: Mapping[str, Any]) -> None:
    """Against the plan of another sheet, in which the setting stands as tried."""
    page.locator("ol.route a[href$='/station/piston_valve']").click()
    sheet = (folder / "damper.toml").read_text("utf-8")
    field = page.locator(f"input[name='set.{PRELOAD}']")
    assert field.input_value() == "84 ±6 N"
    field.fill("78 ±6 N")
    moved = page.locator("#tried tbody tr")
    expect(moved.first).to_be_visible()
    shutil.copytree(folder, other)
    (other / "damper.toml").write_text(sheet.replace('"84 ±6 N"', '"78 ±6 N"'), "utf-8")
    after = said("plan", other / "damper.toml")["nominal"]
    shown = {row.locator("th").inner_text().removesuffix(" (S)"): values(row)[0] for row in moved.all()}
    moves = {n: x for n, x in after.items() if abs(x - before["nominal"][n]) > 1e-6 * abs(x)}
    assert "rebound_0.52" in shown and shown == pytest.approx(moves, rel=1e-9)
    assert (folder / "damper.toml").read_text("utf-8") == sheet


def enter_readings(page: Page, folder: Path, whole: Path) -> None:
    """Typed, pasted, uploaded."""
    page.get_by_role("link", name=TEXTS["tab.first_offs"]).click()
    page.get_by_role("link", name=TEXTS["fo.new"]).click()
    page.get_by_label(TEXTS["fo.part"], exact=True).fill("FO-01")
    page.get_by_label(TEXTS["fo.lot"], exact=True).fill("L1")
    for name, words in TYPED.items():
        page.get_by_label(name).press_sequentially(words)
        expect(page.locator("tr", has=page.get_by_label(name)).get_by_role("status")).not_to_be_empty()
    page.get_by_role("button", name=TEXTS["save"]).click()
    expect(page.get_by_text(TEXTS["saved.trail"])).to_be_visible()
    page.get_by_role("link", name=TEXTS["tab.first_offs"]).click()
    page.locator("textarea[name=pasted]").fill("part\tlot\trebound_0.52 [kN]\nFO-02\tL1\t1,191\n")
    page.get_by_role("button", name=TEXTS["fo.paste_do"]).click()
    expect(page.get_by_text(TEXTS["saved.trail"])).to_be_visible()
    see_the_verdicts(page, said("prove", folder / "damper.toml", folder / "first_offs.csv"), ("FO-01", "FO-02"))
    page.locator("input[type=file]").set_input_files(whole)
    page.get_by_role("button", name=TEXTS["fo.upload_do"]).click()
    expect(page.get_by_text(TEXTS["saved.trail"])).to_be_visible()
    proof = said("prove", folder / "damper.toml", folder / "first_offs-2.csv")
    for lot in proof["lots"]:
        row = page.locator("tr", has=page.locator("data")).filter(has_text=lot["characteristic"]).first
        assert values(row) == [lot["mean"]]
        assert row.locator(".word").inner_text() == lot["verdict"]
    see_the_verdicts(page, proof, ("FO-02",))


def see_the_verdicts(page: Page, proof: Mapping[str, Any], parts: tuple[str, ...]) -> None:
    for part in parts:
        page.get_by_role("link", name=part, exact=True).click()
        expect(page.get_by_role("heading", name=text("part.title", part=part))).to_be_visible()
        found = {}
        for row in page.locator("table.entry tr", has=page.locator("data")).all():
            name = row.locator("label").inner_text().removesuffix(" (S)")
            found[name] = (values(row)[0], row.locator(".word").inner_text())
        assert found == {v["characteristic"]: (v["value"], v["verdict"]) for v in proof["parts"] if v["part"] == part}
        page.get_by_role("link", name=TEXTS["tab.first_offs"]).click()


def compute(page: Page, kind: str, tab: str) -> None:
    """Ask for a job and wait until the page has loaded itself anew with its result."""
    page.get_by_role("link", name=TEXTS[tab], exact=True).click()
    page.locator(f"#job-{kind}").get_by_role("button", name=TEXTS[f"job.do.{kind}"]).click()
    expect(page.locator(f"#job-{kind}").get_by_text(re.compile("^Computed "))).to_be_visible()


def predict(page: Page, found: Mapping[str, Any]) -> None:
    compute(page, "predict", "tab.route")
    for one in found["characteristics"]:
        name, factor = one["characteristic"]["name"], {"N": 1.0}.get(one["characteristic"]["unit"])
        if factor and not name.endswith("preload"):
            mean, sd = numbers(cell(page, name, 4).replace("±", " "))
            assert mean == pytest.approx(one["scatter"]["mean"], abs=0.06 * one["scatter"]["sd"]), name
            assert sd == pytest.approx(one["scatter"]["sd"], rel=0.05), name
    for figure in page.locator(".figure img").all():
        figure.scroll_into_view_if_needed()
        expect(figure).to_have_js_property("complete", True)
        assert figure.evaluate("image => image.naturalWidth") > 0


def explain(page: Page, causes: Sequence[Mapping[str, Any]]) -> None:
    compute(page, "explain", "tab.explain")
    row = page.locator("tr", has=page.locator("data")).first
    assert row.locator("th").inner_text() == causes[0]["title"]
    assert values(row) == [causes[0]["probability"]] and causes[0]["probability"] > 0.9


def correct(page: Page, found: Mapping[str, Any]) -> None:
    compute(page, "correct", "tab.correct")
    assert values(page) == [c["probability"] for c in found["corrections"]] and found["corrections"]
    expect(page.get_by_text(TEXTS[f"correct.{found['verdict']}"]).first).to_be_visible()


def sign(page: Page, root: Path) -> None:
    """The decision on the page is the one that the records hold and the command line verifies."""
    page.get_by_role("link", name="LT3 front damper").click()
    page.get_by_role("link", name=TEXTS["tab.release"]).click()
    page.get_by_label(TEXTS["sign.due"], exact=True).fill("2099-12-31")
    page.get_by_label(TEXTS["sign.again"]).fill(PASSWORD)
    page.get_by_role("button", name=TEXTS["sign.do"], exact=True).click()
    expect(page.get_by_text(text("sign.done", word="hold"))).to_be_visible()
    assert said("records", "verify", "--records", root / "records.db")["sound"] is True
    held = said("records", "decisions", "--records", root / "records.db")["decisions"]
    assert [(d["word"], d["person"]) for d in held] == [("hold", "A. Miller")]
    page.get_by_role("link", name=TEXTS["nav.launches"]).click()
    expect(page.get_by_text(text("release.decided", word="hold", person="A. Miller"))).to_be_visible()


def release(page: Page, found: Mapping[str, Any]) -> None:
    compute(page, "release", "tab.release")
    expect(page.locator(".recommended strong")).to_have_text(found["recommended"])
    rows = page.locator("tr", has=page.locator(".word"))
    assert rows.count() == len(found["findings"])
    for row, finding in zip(rows.all(), found["findings"], strict=True):
        assert row.locator("th").inner_text().removesuffix(" (S)").startswith(finding["characteristic"])
        assert finding["word"] in row.locator(".word").inner_text()
    page.get_by_role("link", name=TEXTS["nav.launches"]).click()
    expect(page.get_by_text(text("release.recommended", word=found["recommended"]))).to_be_visible()
