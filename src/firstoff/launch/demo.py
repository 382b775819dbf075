"""Demo: the main job on the example launch, from its sheets and readings."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path

from firstoff.launch.folder import write_text

EXAMPLES = {"light_truck_front": ("damper.toml", "plant.toml", "first_offs.csv")}


def copy_example(name: str, folder: Path) -> Path:
    """Copy an example's sheets and readings into `folder`, and return the model sheet's path."""
    with as_file(files("firstoff") / "examples" / name) as source:
        for file in EXAMPLES[name]:
            write_text(folder / file, (source / file).read_text("utf-8"))
    return folder / EXAMPLES[name][0]
