"""The trade-off figure: what it holds, and what it refuses."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from firstoff.errors import InputFault
from firstoff.report.ride_figure import Family, Mark, TableRow, trade_off

LEVEL = np.array([0.1, 0.2, 0.3, 0.4])
LINEAR = Family("linear, even", LEVEL, np.array([1.0, 1.05, 1.2, 1.4]), np.array([0.3, 0.25, 0.22, 0.21]))


def draw(path: Path, family: Family) -> Path:
    v = np.linspace(-1.0, 1.0, 21)
    return trade_off(
        path,
        linear=LINEAR,
        families=[family],
        marks=[Mark("recommended", 1.1, 0.24, 0.25), Mark("a <odd> $name$", 1.2, 0.23, None)],
        sensible=(0.1, 0.4),
        speeds=v,
        curves={"recommended": 1000.0 * v},
        rows=[TableRow(0.5, 500.0, 50.0), TableRow(-0.5, -500.0, 60.0)],
        title="A car",
    )


def test_figure_is_written_the_same_twice_and_holds_its_words(tmp_path: Path) -> None:
    family = Family("rebound/compression 2", LEVEL, LINEAR.comfort * 1.02, LINEAR.load * 1.01)
    one, two = (draw(tmp_path / name, family).read_bytes() for name in ("a.svg", "b.svg"))
    assert one == two
    said = re.findall("<!-- (.*?) -->", one.decode("utf-8"))
    for words in ("rebound/compression 2", "sensible range of the linear damper", "recommended", "limits"):
        assert words in said
    assert any("a &lt;odd&gt;" in text or "a <odd>" in text for text in said)


def test_numbers_that_are_none_are_refused(tmp_path: Path) -> None:
    for wrong in (np.full(4, np.nan), np.array([])):
        level = LEVEL[: len(wrong)]
        with pytest.raises(InputFault, match="rebound"):
            draw(tmp_path / "a.svg", Family("rebound/compression 2", level, wrong, wrong))
    assert not list(tmp_path.iterdir())
