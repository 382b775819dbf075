"""The setup sheet: cautions first, every line on it, nothing read as markdown that was meant as text."""

from __future__ import annotations

from firstoff.report.setup_sheet import NOT_A_CERTIFICATE, escape, setup_markdown

WORDS = {"model": "rear left", "plant": "works_2", "version": "0.1.0"}


def _page(**other: object) -> str:
    given = {
        "op": 30,
        "title": "Charge nitrogen",
        "lines": [("charge pressure, absolute", "0.6 MPa"), ("seal", "A|B")],
        "assumptions": ["oil temperature 23 °C: assumed, nobody measured it"],
        "cautions": ["Nitrogen displaces air: vent the room.", "Never open a charged tube."],
        **WORDS,
        **other,
    }
    return setup_markdown(**given)  # type: ignore[arg-type]


def test_cautions_come_before_the_settings() -> None:
    page = _page()
    assert page.startswith("# op 30: Charge nitrogen\n")
    order = [page.index(x) for x in ("Nitrogen displaces", "Never open", "0.6 MPa", "23 °C", "rear left", "0.1.0")]
    assert order == sorted(order)


def test_every_page_says_that_it_is_no_certificate() -> None:
    """Also a station without cautions."""
    assert NOT_A_CERTIFICATE in _page()
    bare = _page(cautions=[], lines=[], assumptions=[])
    assert NOT_A_CERTIFICATE in bare
    assert "No caution is declared" in bare and "Nothing is set" in bare and "No assumption is listed" in bare


def test_the_page_is_the_same_on_every_call() -> None:
    assert _page() == _page()


def test_markdown_in_a_value_stays_text() -> None:
    r"""Source: CommonMark 0.31, 2.4: a backslash before ASCII punctuation makes it literal; GFM 4.10 for `\|`."""
    assert escape("A|B *c* <b> [x](y) `z`") == r"A\|B \*c\* \<b\> \[x\](y) \`z\`"
    assert escape("bore_sd is _not_ measured") == r"bore_sd is \_not\_ measured"
    row = next(line for line in _page().split("\n") if line.startswith("| seal"))
    assert row.replace(r"\|", "").count("|") == 4


def test_a_caution_cannot_open_another_block() -> None:
    """Source: CommonMark 0.31, 4.2 and 5.2: `#`, `-`, `+` or `1.` and a blank open a block at an item's start."""
    page = _page(cautions=["1. Lock out", "- Goggles", "# Vent", "2.5 bar is the most", "two\nlines"])
    for line in (r"**1\. Lock out**", r"**\- Goggles**", r"**\# Vent**", "**2.5 bar is the most**", "**two lines**"):
        assert f"- {line}\n" in page
