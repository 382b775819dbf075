"""Every page for everybody: by keyboard, by screen reader, on a phone, in the dark.

Rules: axe-core's for WCAG 2.2 A and AA and its best practices; keyboard by WCAG 2.2, 2.1.1, 2.4.1, 2.4.7 and 2.1.2.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.board.browser.walk import sign_in
from tests.board.conftest import KEY
from tests.board.test_entrance import PAGES

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
GRAVE = ("serious", "critical")
ALL = (*PAGES, f"/launch/{KEY}/tests", f"/launch/{KEY}/follow", "/people/trail")
FOCUSABLE = """() => [...document.querySelectorAll(
  'a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex="0"]')]
  .filter(e => e.checkVisibility()).length"""
FOCUSED = """() => { const e = document.activeElement, s = getComputedStyle(e), r = e.getBoundingClientRect();
  if (e === document.body || e === document.documentElement) return null;
  e.dataset.seen ??= String(document.querySelectorAll('[data-seen]').length);
  return {seen: e.dataset.seen, what: e.outerHTML.slice(0, 90),
    ring: s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2,
    inside: r.right > 0 && r.left < innerWidth && r.bottom > 0 && r.top < innerHeight}; }"""


def test_axe_finds_nothing_grave_and_nothing_overflows(person: Callable[..., Page]) -> None:
    found, axe = [], Axe()
    for theme, rules in (("light", RULES), ("dark", ["color-contrast"])):
        page = person(viewport={"width": 360, "height": 740}, color_scheme=theme)
        page.goto("/sign-in")
        found += problems(axe, page, rules)
        sign_in(page, "A. Miller")
        for path in ALL:
            page.goto(path)
            found += problems(axe, page, rules)
            for width in (360, 1024, 1920) if theme == "light" else ():
                page.set_viewport_size({"width": width, "height": 740})
                wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
                found += [f"{path} is {wide} px too wide at {width} px"] if wide > 0 else []
            page.set_viewport_size({"width": 360, "height": 740})
    assert not found, "\n".join(found)


def problems(axe: Axe, page: Page, rules: list[str]) -> list[str]:
    response = axe.run(page, options={"runOnly": rules, "resultTypes": ["violations"]}).response
    assert response["passes"], page.url
    return [f"{page.url}: {v['id']} ({v['impact']}): {v['nodes'][0]['html'][:120]}"
            for v in response["violations"] if v["impact"] in GRAVE]  # fmt: skip


@pytest.mark.parametrize(
    "path", ["/", f"/launch/{KEY}", f"/launch/{KEY}/part?part=FO-02&lot=L1", f"/launch/{KEY}/release"]
)
def test_the_tab_key_reaches_everything_and_shows_where_it_is(person: Callable[..., Page], path: str) -> None:
    page = person(viewport={"width": 1024, "height": 768})
    sign_in(page, "A. Miller")
    page.goto(path)
    count, reached = page.evaluate(FOCUSABLE), {}
    for presses in range(6 * count + 20):  # a date has stops of its own
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUSED)
        if at is None and presses:
            break
        assert at["ring"] and at["inside"], at["what"]
        reached[at["seen"]] = at["what"]
    else:
        raise AssertionError("the tab key never leaves the page")
    assert len(reached) == count
    assert 'class="skip"' in reached["0"]  # first of all, past head and tabs


def test_the_skip_link_leads_to_the_content(person: Callable[..., Page]) -> None:
    page = person()
    sign_in(page, "A. Miller")
    page.goto(f"/launch/{KEY}")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelector('main').contains(document.activeElement)")
