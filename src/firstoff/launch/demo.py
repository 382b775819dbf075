"""Demo: the main job on the examples, from their sheets and readings."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path

from firstoff.launch.folder import write_text

EXAMPLES = {
    "light_truck_front": ("damper.toml", "plant.toml", "first_offs.csv"),
    "chrome_line": ("line.json",),
}


def copy_example(name: str, folder: Path) -> Path:
    """Copy an example's sheets and readings into `folder`, and return the path of the first."""
    with as_file(files("firstoff") / "examples" / name) as source:
        for file in EXAMPLES[name]:
            write_text(folder / file, (source / file).read_text("utf-8"))
    return folder / EXAMPLES[name][0]
