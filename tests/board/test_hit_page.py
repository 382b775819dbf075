"""The board's page of the impact rig: its setup sheet, and a hit frame by frame once it was predicted."""

from __future__ import annotations

import re
from pathlib import Path

from firstoff import launch
from firstoff.board import jobs, launches
from firstoff.board.here import Board
from firstoff.launch.demo import copy_example
from tests.board.conftest import Person

PAGE = "/launch/tb2/station/impact"


def test_the_rig_shows_a_hit_frame_by_frame(planner: Person, board: Board, folder: Path) -> None:
    sheet = copy_example("truck_rear_bumper", folder / "tb2")
    text = planner.get(PAGE)
    assert "second catch" in text and "the pendulum stores" in text and "frames" not in text
    settled = launch.plan(launch.read_job(sheet))
    drawn = [p.name for p in (*launch.write_hits(settled, sheet.parent), *launch.write_frames(settled, sheet.parent))]
    found = launches.find(board.root, board.engine, "tb2")
    assert found is not None
    jobs.ask(board.engine, "tb2", "predict", "P. Lanner")
    work = jobs.take(board.engine)
    assert work is not None
    jobs.keep(board.engine, work, {"prediction": {}, "figures": drawn}, {"sheets": found.inputs["sheets"]})
    text = planner.get(PAGE)
    images = re.findall(r'src="(/launch/tb2/figure/hit-[^"]+)"', text)
    assert sorted(images) == sorted(f"/launch/tb2/figure/{name}" for name in drawn)
    assert {"hit-middle.svg", "hit-corner.svg", "hit-middle-frame-1.svg", "hit-corner-frame-4.svg"} <= set(drawn)
    assert planner.get(images[0]).startswith("<?xml")
    assert text.count('tabindex="0" role="region"') >= 2  # the strip scrolls by keyboard, without script
