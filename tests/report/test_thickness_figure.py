"""Thickness along the developed bar: the same bytes, no text over another, a mark for every point."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from figure_reading import crowded, groups, texts
from matplotlib.figure import Figure

from firstoff.errors import InputFault
from firstoff.report import style
from firstoff.report.thickness_figure import Layer, Line, Spot, along_the_bar

ALONG = np.linspace(-970.0, 970.0, 15)
NICKEL = Layer(
    "nickel",
    (Line("face", ALONG, 30.0 + 1e-5 * ALONG**2), Line("upper edge", ALONG, 60.0 + 2e-5 * ALONG**2),
     Line("lower edge", ALONG, 65.0 + 2e-5 * ALONG**2)),
    (Spot("left end", -800.0, 38.0, (34.0, 43.0), (36.1, 37.4)), Spot("upper edge", 280.0, 61.0),
     Spot("lower edge", 280.0, 66.0)), 25.0,
)  # fmt: skip
CHROME = Layer("chromium", (), (Spot("left end", -800.0, 0.31, (0.27, 0.35)),), 0.25)


def test_the_same_bytes_on_every_call(tmp_path: Path) -> None:
    first = along_the_bar(tmp_path / "a.svg", layers=[NICKEL, CHROME], title="x", source="y").read_bytes()
    assert along_the_bar(tmp_path / "b.svg", layers=[NICKEL, CHROME], title="x", source="y").read_bytes() == first


@pytest.mark.parametrize("layers", [[NICKEL, CHROME], [CHROME]])
def test_no_text_is_clipped_or_covered(layers: list[Layer], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    faults: list[str] = []

    def look(figure: Figure, path: Path, *, title: str) -> Path:
        faults.extend(crowded(figure))
        assert figure.get_size_inches()[1] < 297.0 / 25.4  # A4
        return path

    monkeypatch.setattr(style, "save", look)
    along_the_bar(tmp_path / "a.svg", layers=layers, title="TB3 chromed rear bumper: nickel and chromium", source="z")
    assert not faults


def test_every_point_has_its_mark_and_the_least_its_line(tmp_path: Path) -> None:
    path = along_the_bar(tmp_path / "a.svg", layers=[NICKEL, CHROME], title="Rear bumper", source="Least: SC 3.")
    assert {"layer-0-point-left end", "layer-0-readings-left end", "layer-0-least", "layer-1-least"} <= groups(path)
    said = " ".join(texts(path))
    assert "least 25 µm" in said and "Least: SC 3." in said and "nickel [µm]" in said


def test_nothing_to_draw_and_no_number_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputFault):
        along_the_bar(tmp_path / "a.svg", layers=[], title="x")
    bad = Layer("nickel", (Line("face", ALONG, np.full(15, np.nan)),), ())
    with pytest.raises(InputFault):
        along_the_bar(tmp_path / "a.svg", layers=[bad], title="x")
    assert not list(tmp_path.iterdir())
