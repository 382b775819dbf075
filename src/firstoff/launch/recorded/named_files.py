"""Files that a launch rests on because its plant sheet or its readings name them: parts bins, gauge studies, traces."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

from firstoff.trials.readings import Trial


def plant_file(sheet: Path) -> Path | None:
    """The plant sheet that a model sheet names."""
    name = tomllib.loads(sheet.read_text("utf-8-sig")).get("model", {}).get("plant")
    return sheet.parent / name if name else None


def named_by_plant(plant: Path) -> list[Path]:
    """The bin of parts and the gauge studies that a plant sheet names, as far as they are there."""
    stated = tomllib.loads(plant.read_text("utf-8-sig"))
    names = [stated.get("plant", {}).get("parts", "")]
    for gauge in stated.get("gauge", []):
        names += [name.strip() for name in gauge.get("study", "").split(",")]
    return [plant.parent / name for name in dict.fromkeys(names) if name and (plant.parent / name).is_file()]


def traces_of(trial: Trial) -> list[Path]:
    """The files of traces that readings were reduced from."""
    return [Path(file) for file in dict.fromkeys(run.file for run in trial.runs)]


def seen_from(file: Path, folder: Path) -> str:
    """A file's path from a folder, with / on every system."""
    return Path(os.path.relpath(file, folder)).as_posix()


def role_of(digest: str) -> str:
    """Under which a file is kept that the text with this digest names."""
    return f"named by {digest[:16]}"
