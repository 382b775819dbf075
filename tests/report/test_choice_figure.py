"""The figure of the best valves: drawn, the same bytes again, and refused where it cannot be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firstoff.errors import InputFault
from firstoff.report.choice_figure import Valve, choice_figure

SPEEDS = np.array([-0.5, -0.1, 0.1, 0.5])
LIMITS = np.array([-500.0, -200.0, 300.0, np.nan]), np.array([-300.0, -100.0, 500.0, 1200.0])


def draw(path: Path, *valves: Valve, speeds: np.ndarray = SPEEDS) -> str:
    return choice_figure(path, speeds=speeds, limits=LIMITS, valves=valves, title="a $ damper").read_text("utf-8")


def test_it_is_drawn_the_same_again_and_names_its_valves(tmp_path: Path) -> None:
    one = Valve("valve 1", [-400.0, -150.0, 410.0, 1000.0], [-401.0, -150.0, 411.0, 990.0], [10.0, 5.0, 12.0, 20.0])
    two = Valve("as the sheet has it", [-290.0, -150.0, 380.0, 1100.0])
    text = draw(tmp_path / "a.svg", one, two)
    assert text == draw(tmp_path / "b.svg", one, two)
    for said in ("valve 1", "as the sheet has it", "a $ damper", "limits at ±100", "rod speed [m/s]"):
        assert f"<!-- {said}" in text or said in text
    assert text != draw(tmp_path / "c.svg", one)


def test_it_refuses_what_it_cannot_show(tmp_path: Path) -> None:
    one = Valve("valve 1", [-400.0, -150.0, 410.0, 1000.0])
    with pytest.raises(InputFault, match="strictly ascending"):
        draw(tmp_path / "a.svg", one, speeds=SPEEDS[::-1])
    with pytest.raises(InputFault, match="cannot be shown together"):
        draw(tmp_path / "a.svg")
    with pytest.raises(InputFault, match="cannot be shown together"):
        draw(tmp_path / "a.svg", *[one] * 5)
    assert not list(tmp_path.iterdir())
