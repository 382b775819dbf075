"""Printed pages, read back from the PDF: every text as given, one page a station, no font but our own."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from firstoff.report.pages import SAFETY, Check, Figure, Paper, Section, Setting, SetupSheet, Table, marked
from firstoff.report.printing import FONT, LONGEST, paper_pdf, printable, setup_pdf

HOSTILE = (
    '#import "x.typ": *', "$ x^2 $", "*bold* _it_", "`code`", "<label>", "@ref", "\\ back", "// no comment",
    "/* nor */", '"quotes" \'single\'', "= head", "- item", "1,5 mm", "{[(", "https://a.b/c", "--- ... ~",
    "é ü ß µ Ω ≤ ±", "%PDF-1.4", "#panic()", "]", "}", "#{", "\\u{41}",
)  # fmt: skip
SHEET = SetupSheet(
    "op 30", "Piston valve: assemble", "LT3", "B", "Millbrook", "0.1.0", ("Lock out before reaching in.",),
    (Setting("bleed depth", "0.200", "mm", "±0.008 mm"),), (("warm-up", "5 full strokes"),),
    (Setting("seat diameter", "22", "mm"),), (Check("force", "1205 to 1435", "N", "rig 2", safety=True),), 3,
    (("damper.toml", "ab" * 32),),
)  # fmt: skip


def read(pdf: bytes) -> list[str]:
    """The text of each page; a place to break a long word is no letter."""
    return [page.extract_text().replace("\u200b", "") for page in PdfReader(io.BytesIO(pdf)).pages]


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def many(n: int, words: int = 1) -> SetupSheet:
    long = " ".join(["measured over the whole width"] * words)
    return replace(
        SHEET,
        title=f"Station {long}",
        settings=tuple(Setting(f"setting {i} {long}", f"{i}.055", "mm", "±0.008 mm", long) for i in range(n)),
        given=tuple(Setting(f"given {i} {long}", f"{i}", "mm") for i in range(n)),
        cautions=tuple(f"caution {i} {long}" for i in range(4)),
        checks=tuple(Check(f"check {i} {long}", "1 to 2", "N", "rig", i == 1) for i in range(n // 3)),
    )


@pytest.mark.parametrize("sheet", [replace(SHEET, settings=()), many(1), many(9), many(40), many(40, 9)])
def test_a_station_is_one_page_and_nothing_is_lost(sheet: SetupSheet) -> None:
    pages = read(setup_pdf([sheet]))
    assert len(pages) == 1
    found = squeezed(pages[0])
    for s in (*sheet.settings, *sheet.given):
        assert squeezed(s.what) in found
        assert squeezed(s.value + s.unit + s.tolerance) in found
    for text in (*sheet.cautions, sheet.op, sheet.title, sheet.model, "revisionB", *(c.what for c in sheet.checks)):
        assert squeezed(text) in found
    assert "abababababab" in found
    assert squeezed("A calculation is not a certificate") in found
    assert ("only readings may release" in pages[0]) == any(c.safety for c in sheet.checks)


def test_main_numbers_are_large() -> None:
    """At 2 m a letter of 5 minutes of arc is 2.9 mm high: the definition of normal sight (Snellen; ISO 8596)."""

    def heights(sheet: SetupSheet, wanted: str) -> list[float]:
        found: list[float] = []

        def visit(text: str, _cm: object, matrix: list[float], _font: object, size: float) -> None:
            if wanted in text:
                found.append(abs(size * matrix[3]))

        PdfReader(io.BytesIO(setup_pdf([sheet]))).pages[0].extract_text(visitor_text=visit)
        return found

    digit = 0.65 * 25.4 / 72  # mm a point: height of a figure of the font over its size
    assert max(heights(SHEET, "0.200")) * digit > 10.0
    assert max(heights(many(12), "11.055")) * digit > 2.9


def test_a_bundle_has_a_page_for_each() -> None:
    pages = read(setup_pdf([SHEET, many(9), replace(SHEET, op="op 40")]))
    assert len(pages) == 3
    assert "op 40" in pages[2]


def paper(**changes: object) -> Paper:
    base = Paper("Release dossier", "LT3", "B", "Millbrook", "0.1.0", (Section("First", (), ("a paragraph",)),),
                 "HOLD", "bad", ("because",), (("damper.toml", "ab" * 32),))  # fmt: skip
    return replace(base, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_is_read_as_markup(text: str) -> None:
    table = Table((text, "b"), ((text, "1"),), text, text)
    section = Section(text, (text,), (text,), (text,), (table,), (), (text,))
    made = paper_pdf(paper(model=text, revision=text, plant=text, says=(text,), sections=(section,)))
    # contents, title and every place of the section
    assert squeezed("".join(read(made))).count(squeezed(text)) >= 10
    setup = replace(SHEET, title=text, model=text, cautions=(text,), settings=(Setting(text, text, text, text, text),))
    assert squeezed(read(setup_pdf([setup]))[0]).count(squeezed(text)) >= 8


def test_letters_that_the_font_has_not_are_named() -> None:
    assert printable("型 A") == "[U+578B] A"
    assert printable("e\u0301 ok\u202e\u200d\ufe0f\x1b\n x") == "é ok x"
    pages = read(setup_pdf([replace(SHEET, model="型 7", title="\U0001f600")]))
    assert "[U+578B] 7" in pages[0] and "[U+1F600]" in pages[0]


def test_long_words_may_break_and_lose_nothing() -> None:
    for word in ("x" * 300, "a_long/name.with-joints" * 9, "short"):
        shown = printable(word)
        assert shown.replace("\u200b", "") == word
        assert max(len(piece) for piece in shown.split("\u200b")) <= LONGEST
    made = paper_pdf(paper(sections=(Section("s", tables=(Table(("a", "b"), (("x" * 300, "1"),)),)),)))
    assert "x" * 300 in squeezed("".join(read(made)))


def test_headers_page_numbers_and_contents() -> None:
    sections = tuple(Section(f"Section {i}", (), tuple(f"paragraph {k} " * 30 for k in range(8))) for i in range(6))
    pages = read(paper_pdf(paper(sections=sections)))
    assert len(pages) > 3
    for i, page in enumerate(pages, 1):
        assert f"page {i} of {len(pages)}" in page
        assert "Release dossier · LT3, revision B" in page
    assert all(f"Section {i}" in pages[0] for i in range(6))
    assert "HOLD" in pages[0] and "because" in pages[0] and "ab" * 32 in squeezed(pages[0])


def test_marks_of_safety() -> None:
    table = Table(("name", "n"), (("a", "1"), ("b", "2")))
    assert marked(table, [False, False]) == table
    assert marked(table, [False, True]).rows == (("a", "", "1"), ("b", SAFETY, "2"))
    page = "".join(read(paper_pdf(paper(sections=(Section("s", tables=(marked(table, [False, True]),)),)))))
    assert re.search(r"b\s*SAFETY\s*2", page)


def test_a_row_that_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="does not fit its 2 heads"):
        paper_pdf(paper(sections=(Section("s", tables=(Table(("a", "b"), (("1",),)),)),)))


SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="170mm" height="50mm"><path d="M0 0L9 9" stroke="#000"/></svg>'


def test_what_is_in_the_file() -> None:
    """PDF/A-2a by ISO 19005-2 and PDF/UA-1 by ISO 14289-1, as the file declares and the typesetter has checked."""
    made = paper_pdf(paper(sections=(Section("s", figures=(Figure(SVG, "title", "what it shows"),)),)))
    reader = PdfReader(io.BytesIO(made))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/Lang"] == "en"
    about = root["/Metadata"].get_object().get_data().decode()
    assert "<pdfaid:part>2</pdfaid:part>" in about and "<pdfaid:conformance>A</pdfaid:conformance>" in about
    assert "<pdfuaid:part>1</pdfuaid:part>" in about
    assert set(re.findall(r"\d{4}-\d\d-\d\d", about)) == {"1970-01-01"}  # a fixed date, so that no clock is in it
    fonts = {
        str(f["/BaseFont"])
        for page in reader.pages
        for f in (x.get_object() for x in page["/Resources"]["/Font"].values())
    }
    assert fonts and all(re.fullmatch(r"/[A-Z]{6}\+SourceSans3.*", name) for name in fonts)
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            assert {"/FontFile2", "/FontFile3"} & set(inner)


def test_the_font_comes_with_its_licence() -> None:
    import firstoff.report

    folder = Path(firstoff.report.__file__).parent / "typst"
    assert (folder / FONT).stat().st_size > 100_000
    assert "SIL OPEN FONT LICENSE" in (folder / "OFL.txt").read_text("utf-8").upper()


PROCESS = """
import hashlib, sys
sys.path.insert(0, sys.argv[1])
from test_printing import SHEET, many, paper
from firstoff.report.printing import paper_pdf, setup_pdf
print(hashlib.sha256(setup_pdf([SHEET, many(9)]) + paper_pdf(paper())).hexdigest())
"""


def test_equal_pages_are_equal_bytes_in_any_process() -> None:
    words = [sys.executable, "-c", PROCESS, str(Path(__file__).parent)]
    one, two = (subprocess.run(words, capture_output=True, text=True, check=True).stdout for _ in range(2))
    assert one == two
    assert setup_pdf([SHEET]) == setup_pdf([SHEET])
    assert setup_pdf([SHEET]) != setup_pdf([replace(SHEET, model="LT4")])
