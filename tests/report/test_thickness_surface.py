"""The bar in space and its sections: what is drawn is what was given."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from firstoff.errors import InputFault
from firstoff.report.thickness_surface import Section, _most, over_the_bar


def strip() -> tuple[np.ndarray, np.ndarray]:
    """Two triangles of 1 m2, and one of a thousandth of that; thickness 20, 40 and 400 um."""
    square = np.array([[0.0, 0, 0], [2, 0, 0], [0, 0, 1]])
    return np.array([square, square + [0, 0.1, 0], 0.0316227766 * square]), np.array([20.0, 40.0, 400.0])


def test_scale_ends_where_all_but_a_fiftieth_of_the_area_is_below() -> None:
    triangles, thickness = strip()
    assert _most(triangles, thickness) == 40.0  # by hand: the third has 0.05 % of the area
    assert _most(triangles[[0, 1, 1]], thickness) == 400.0


def test_every_triangle_is_drawn_from_both_sides_and_the_deposit_of_a_section_is_to_scale(tmp_path: Path) -> None:
    triangles, thickness = strip()
    outline = np.stack([np.zeros(5), np.linspace(-100.0, 100.0, 5)], axis=1)
    cuts = [Section("thin", outline, np.full(5, 10.0)), Section("thick", outline, np.full(5, 40.0))]
    words = {"triangles": triangles, "front": thickness, "back": np.full(3, 5.0), "sections": cuts, "title": "x"}
    file = over_the_bar(tmp_path / "a.svg", **words)  # type: ignore[arg-type]
    assert file.read_bytes() == over_the_bar(tmp_path / "b.svg", **words).read_bytes()  # type: ignore[arg-type]
    text = file.read_text("utf-8")
    for side in ("before", "behind"):
        part = text.split(f'id="view-from {side} and above"')[1].split("</g>")[0]
        assert part.count("<path") == 3
    wide = []
    for name in ("thin", "thick"):
        path = re.search(r'd="([^"]+)"', text.split(f'id="deposit-{name}"')[1])
        assert path is not None
        x = [float(pair[0]) for pair in re.findall(r"[ML] ([\d.-]+) ([\d.-]+)", path.group(1))]
        wide.append(max(x) - min(x))
    assert wide[1] == pytest.approx(4.0 * wide[0], rel=0.35)  # panels are fitted to what they show


def test_no_number_is_refused(tmp_path: Path) -> None:
    triangles, thickness = strip()
    with pytest.raises(InputFault, match="no number"):
        over_the_bar(tmp_path / "a.svg", triangles=triangles, front=thickness * np.nan, back=thickness, sections=(),
                     title="x")  # fmt: skip
    assert not list(tmp_path.iterdir())
