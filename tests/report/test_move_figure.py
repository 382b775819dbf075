"""Before and after: every characteristic between its limits, on one scale."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from figure_reading import crowded, groups, texts
from matplotlib.figure import Figure

from firstoff.errors import InputFault
from firstoff.report import style
from firstoff.report.move_figure import Interval, before_and_after, scaled


def _intervals(count: int) -> list[Interval]:
    rows = [
        Interval("rebound_1.04 [N]", 1600.0, 1850.0, (1570.0, 19.0, "94 %"), (1726.0, 20.0, "< 0.15 %")),
        Interval("friction of seal and guide at a crawl [N]", None, 40.0, (70.0, 3.0, "100 %"), (21.0, 3.0, "0.2 %")),
        Interval("leak [ml]", 1.0, None, (9.0, 0.5, "< 0.15 %"), (2.0, 0.5, "2.3 %")),
        Interval("far [mm]", 0.0, 1.0, (55.0, 0.2, "100 %"), (-3.0, 0.2, "100 %")),
    ]
    return [rows[i % len(rows)] for i in range(count)]


def test_the_same_bytes_on_every_call(tmp_path: Path) -> None:
    first = before_and_after(tmp_path / "a.svg", intervals=_intervals(4), title="x").read_bytes()
    assert before_and_after(tmp_path / "b.svg", intervals=_intervals(4), title="x").read_bytes() == first


@pytest.mark.parametrize("count", [1, 4, 30])
def test_no_text_is_clipped_or_covered(count: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    faults: list[str] = []

    def look(figure: Figure, path: Path, *, title: str) -> Path:
        faults.extend(crowded(figure))
        assert figure.get_size_inches()[1] < 297.0 / 25.4  # A4
        return path

    monkeypatch.setattr(style, "save", look)
    title = "LT3 front damper: rebound disc count 4 to 5, 1 step of 1 up; rebound land height 20 to 14 um, 3 steps down"
    before_and_after(tmp_path / "a.svg", intervals=_intervals(count), title=title)
    assert not faults


def test_every_row_has_its_bars_and_its_words(tmp_path: Path) -> None:
    path = before_and_after(tmp_path / "a.svg", intervals=_intervals(4), title="Front damper: correction")
    assert {f"{key}-{row}" for key in ("before", "after") for row in range(4)} <= groups(path)
    said = texts(path)
    assert {"94 %", "< 0.15 %", "no lower limit", "no upper limit", "lower limit", "upper limit"} <= set(said)
    assert "<title>Front damper: correction</title>" in path.read_text("utf-8")


def test_places_between_the_limits() -> None:
    # by hand: (x - low) / (high - low); one limit: 12 sd stand for the width
    two = Interval("x", 10.0, 30.0, (0.0, 1.0, ""), (0.0, 1.0, ""))
    assert [scaled(two, x) for x in (10.0, 25.0, 40.0)] == [0.0, 0.75, 1.5]
    upper = Interval("x", None, 40.0, (0.0, 2.0, ""), (0.0, 1.0, ""))
    assert [scaled(upper, x) for x in (40.0, 28.0)] == [1.0, 0.5]
    lower = Interval("x", 5.0, None, (0.0, 2.0, ""), (0.0, 1.0, ""))
    assert [scaled(lower, x) for x in (5.0, 17.0)] == [0.0, 0.5]


@pytest.mark.parametrize(
    "wrong",
    [
        [],
        [Interval("x", None, None, (1.0, 1.0, ""), (1.0, 1.0, ""))],
        [Interval("x", 0.0, 1.0, (float("nan"), 1.0, ""), (1.0, 1.0, ""))],
    ],
)
def test_what_cannot_be_drawn_is_named(wrong: list[Any], tmp_path: Path) -> None:
    with pytest.raises(InputFault):
        before_and_after(tmp_path / "a.svg", intervals=wrong, title="x")
    assert not list(tmp_path.iterdir())
