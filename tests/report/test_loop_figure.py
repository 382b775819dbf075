"""Measured loops over the simulated one: every line is there, no text is clipped, what cannot be drawn is named."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from figure_reading import crowded, groups, texts
from matplotlib.figure import Figure

from firstoff.errors import InputFault
from firstoff.report import style
from firstoff.report.loop_figure import Cycle, LoopRow, loop_figure


def cycle(force: float = 1300.0) -> Cycle:
    turn = np.linspace(0.0, 2 * np.pi, 129)
    return Cycle(-0.05 * np.cos(turn), 0.52 * np.sin(turn), force * np.sin(turn))


def rows(count: int) -> list[LoopRow]:
    kinds = [
        LoopRow("0.52 m/s: 2 parts, 10 cycles each, noise of a sample 4 N", [cycle(), cycle(1290.0)], [cycle(1310.0)],
                cycle(1305.0)),
        LoopRow("Crawling at 2 mm/s: 1 part, 2 cycles each, noise of a sample 1.3 N", [cycle(60.0)], [], cycle(55.0),
                False),
        LoopRow("1.04 m/s: " + "a very long head " * 12, [cycle()], [], Cycle(*[np.full(129, np.nan)] * 3)),
    ]  # fmt: skip
    return kinds[:count]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_no_text_is_clipped_and_the_page_holds_it(count: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    faults: list[str] = []

    def look(figure: Figure, path: Path, *, title: str) -> Path:
        faults.extend(crowded(figure))
        assert figure.get_size_inches()[1] < 257.0 / 25.4  # A4 with margins
        return path

    monkeypatch.setattr(style, "save", look)
    loop_figure(tmp_path / "a.svg", rows=rows(count), title="LT3 front damper B: force loops")
    assert not faults


def test_every_loop_is_drawn_over_displacement_and_velocity(tmp_path: Path) -> None:
    path = loop_figure(tmp_path / "a.svg", rows=rows(3), title="Front damper: force loops")
    found = groups(path)
    for over in ("displacement", "velocity"):
        names = {f"measured-{over}-0-0", f"measured-{over}-0-1", f"good-{over}-0-0", f"simulated-{over}-0-0"}
        assert names <= found
    assert "measured-displacement-1-0" in found and "measured-velocity-1-0" not in found
    assert "simulated-displacement-2-0" not in found  # no value, no line
    said = texts(path)
    assert "measured, mean of its cycles (2 parts)" in said and "simulated at nominal settings" in said
    again = loop_figure(tmp_path / "b.svg", rows=rows(3), title="Front damper: force loops")
    assert again.read_bytes() == path.read_bytes()


def test_what_cannot_be_drawn_is_named(tmp_path: Path) -> None:
    short = Cycle(np.zeros(3), np.zeros(3), np.zeros(4))
    for wrong in ([], rows(2) * 2, [LoopRow("x", [], [], None)], [LoopRow("x", [short], [], None)]):
        with pytest.raises(InputFault):
            loop_figure(tmp_path / "a.svg", rows=wrong, title="x")
    assert not list(tmp_path.iterdir())
