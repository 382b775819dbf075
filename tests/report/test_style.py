"""The common style: widths of text, cutting, and files that are whole or not there."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from firstoff.errors import InputFault
from firstoff.report import style


def _page(text: str = "force [N]") -> style.Figure:
    with style.applied():
        figure = style.new_figure(20.0)
        style.write(figure, 3.0, 3.0, text)
    return figure


def test_palette_is_okabe_and_itos() -> None:
    """Source: M. Okabe, K. Ito, Color Universal Design (2008), RGB 0-255 of blue, sky blue, orange and vermillion."""
    published = [(0, 114, 178), (86, 180, 233), (230, 159, 0), (213, 94, 0)]
    ours = [style.BLUE, style.SKY, style.ORANGE, style.VERMILLION]
    assert [tuple(bytes.fromhex(c[1:])) for c in ours] == published


def test_text_is_paths_without_date_or_font(tmp_path: Path) -> None:
    text = style.save(_page(), tmp_path / "a.svg").read_text("utf-8")
    assert "<text" not in text and "font-family" not in text
    assert "<dc:date>" not in text and not re.search(r"20\d\d-\d\d-\d\d", text)
    assert "matplotlib" not in text.lower()  # its version would change the bytes


def test_png_repeats_too(tmp_path: Path) -> None:
    """Source: PNG specification (W3C), 5.2: the eight bytes of the signature."""
    first = style.save(_page(), tmp_path / "a.png", title="x").read_bytes()
    assert first == style.save(_page(), tmp_path / "b.png", title="x").read_bytes()
    assert first[:8] == b"\x89PNG\r\n\x1a\n"


def test_a_write_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = style.save(_page(), tmp_path / "a.svg")
    before = path.read_bytes()

    def full(_: int) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="no space"):
        style.save(_page("other"), path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.svg"]


def test_another_kind_of_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputFault) as fault:
        style.save(_page(), tmp_path / "a.jpg")
    assert fault.value.messages[0].allowed == ".svg, .png"


def test_text_width_grows_with_size_and_length() -> None:
    """Source: closed form: width is proportional to size, and additive where the font has no kerning (digits)."""
    assert style.text_width("0000", 10.0) == pytest.approx(4 * style.text_width("0", 10.0), rel=0.03)
    assert style.text_width("force", 20.0) == pytest.approx(2 * style.text_width("force", 10.0), rel=0.03)


def test_fit_and_cut_stay_within_their_room() -> None:
    words = "shim thickness of the third disc counted from the seat"
    lines = style.fit(words, 30.0, 2)
    assert len(lines) == 2 and lines[-1].endswith("…")
    assert all(style.text_width(line) <= 30.0 for line in lines)
    assert " ".join(style.fit(words, 30.0, 9)) == words
    assert style.fit("", 30.0, 2) == [""]
    assert style.cut("RD-2207-L-0001", 12.0, keep_end=True).endswith("0001")
    assert style.cut("short", 30.0) == "short"
    assert style.cut("word", 0.1) == "…"
