"""The chart of a line, read back from its SVG."""

from __future__ import annotations

from pathlib import Path

import pytest
from figure_reading import crowded, texts

from firstoff.errors import InputFault
from firstoff.report import style
from firstoff.report.line_chart import CraneWay, SoakBar, TankRow, WayPiece, _draw, line_chart

TANKS = [
    TankRow("L", "load", 0.0),
    TankRow("1", "rinse", 1.5),
    TankRow("2", "chrome <Cr>", 1.6),
    TankRow("U", "unload", 9),
]
SOAKS = [SoakBar("1", 10.0, 60.0, "bar 7", 30.0, 80.0), SoakBar("2", -20.0, 130.0, "", None, None, 5.0, True)]
WAYS = [
    CraneWay("crane 1", (WayPiece("empty", (0, 40), (0, 1.5)), WayPiece("loaded", (40, 90), (1.5, 9)),
                         WayPiece("drip", (10, 16), (1.5, 1.5)))),
    CraneWay("crane 2", (WayPiece("empty", (0, 120), (9, 9)),)),
]  # fmt: skip


def draw(path: Path, **how: object) -> Path:
    given: dict[str, object] = {"tanks": TANKS, "soaks": SOAKS, "cranes": WAYS, "span": (0.0, 120.0), "title": "line"}
    return line_chart(path, **(given | how))  # type: ignore[arg-type]


def test_every_tank_crane_and_load_is_named(tmp_path: Path) -> None:
    shown = texts(draw(tmp_path / "a.svg"))
    for wanted in ("bar 7", "crane 1, loaded", "crane 2, empty or waiting", "1 rinse", "9 m", "contact and ramp"):
        assert wanted in shown


def test_the_same_inputs_give_the_same_bytes(tmp_path: Path) -> None:
    assert draw(tmp_path / "a.svg").read_bytes() == draw(tmp_path / "b.svg").read_bytes()


def test_labels_do_not_touch() -> None:
    with style.applied():
        assert crowded(_draw(TANKS, SOAKS, WAYS, (0.0, 120.0), "line", "a note")) == []


def test_nothing_to_draw_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(InputFault):
        draw(tmp_path / "a.svg", span=(5.0, 5.0))
    assert not (tmp_path / "a.svg").exists()
