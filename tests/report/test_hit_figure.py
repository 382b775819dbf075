"""The figure of a hit: which instants are drawn, the same bytes again, faults."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from firstoff.errors import InputFault
from firstoff.report.hit_figure import Kept, Scene, Striker, hit_figure, hit_frame, instants

TIME = np.linspace(0.0, 0.1, 201)
PUSH = np.sin(np.pi * np.clip(TIME / 0.08, 0.0, 1.0))
REST = np.stack([np.linspace(-0.8, 0.8, 17), 0.05 * np.linspace(-1.0, 1.0, 17) ** 2], axis=1)
AT = np.array([[-0.45, 0.0], [0.45, 0.0]])


def scene() -> Scene:
    bar = np.repeat(REST[None], 201, axis=0)
    bar[..., 1] += 0.03 * PUSH[:, None] * np.exp(-((REST[:, 0] / 0.4) ** 2))
    loads = {"bracket, left": 9e3 * PUSH, "bracket, right": 9e3 * PUSH}
    energy = {"moving": 1e3 - 500.0 * PUSH, "lost in the bar": 500.0 * PUSH}
    nose = np.stack([0.0 * PUSH, 0.03 * PUSH], axis=1)
    kept, held = Kept("lamp & <glass>", 0.6, 0.06, 0.04 - 0.05 * PUSH), np.repeat(AT[None], 201, axis=0)
    return Scene(
        REST, TIME, bar, nose, Striker(0.2, 0.3, 0.0), AT, held, (kept,), 2e4 * PUSH, 1.8e4 * PUSH, loads, energy
    )


def test_instants_are_in_order_and_hold_touch_most_force_and_end() -> None:
    found = instants(scene())
    assert [i.at for i in found] == sorted({i.at for i in found})
    assert len(found) <= 6
    most = int(np.argmax(PUSH))
    assert {0, most, 200} <= {i.at for i in found}
    assert next(i for i in found if i.at == most).name == "deepest, about most force"


def test_the_same_hit_gives_the_same_bytes_and_says_force_and_room(tmp_path: Path) -> None:
    one, two = (hit_figure(tmp_path / f"{n}.svg", scene=scene(), title="A $bar$ & <hit>") for n in ("a", "b"))
    text = one.read_text("utf-8")
    assert one.read_bytes() == two.read_bytes()
    assert "18 kN; least room -10 mm" in text  # 0.04 - 0.05 at the most force
    frame = hit_frame(tmp_path / "f.svg", scene=scene(), at=0, title="touch")
    assert "touch, 0 ms" in frame.read_text("utf-8")


def test_a_number_that_is_none_is_refused(tmp_path: Path) -> None:
    bad = replace(scene(), filtered=np.full(201, np.nan))
    with pytest.raises(InputFault):
        hit_figure(tmp_path / "x.svg", scene=bad, title="x")
    assert not (tmp_path / "x.svg").exists()
