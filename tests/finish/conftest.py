"""A pressed bumper that is buffed, as its sheets state it."""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff import launch
from firstoff.launch.demo import copy_example
from firstoff.launch.plan import LaunchPlan

HERE = Path(__file__).parent


@pytest.fixture(scope="session")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    model = copy_example("truck_rear_bumper", tmp_path_factory.mktemp("buffed"))
    for file, more in ((model, "buffing.toml"), (model.parent / "plant.toml", "gauges.toml")):
        file.write_text(file.read_text("utf-8") + (HERE / more).read_text("utf-8"), "utf-8")
    return model


@pytest.fixture(scope="session")
def plan(sheet: Path) -> LaunchPlan:
    return launch.plan(launch.read_job(sheet))
