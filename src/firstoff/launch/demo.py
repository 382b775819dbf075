"""Demo: the main job on the examples, from their sheets and readings."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path

from firstoff.errors import InputFault, Message
from firstoff.launch.write import write_text

EXAMPLES = {
    "light_truck_front": ("damper.toml", "plant.toml", "first_offs.csv", "good_lot.csv"),
    "truck_rear_bumper": ("bumper.toml", "plant.toml", "first_offs.csv", "good_lot.csv"),
    "chrome_line": ("line.json",),
}


def copy_example(name: str, folder: Path) -> Path:
    """Copy an example's sheets and readings into `folder`, and return the path of the first.

    InputFault when one of them is there already and has been changed: nothing is written over.
    """
    with as_file(files("firstoff") / "examples" / name) as source:
        texts = {file: (source / file).read_text("utf-8") for file in EXAMPLES[name]}
    changed = [folder / file for file, text in texts.items() if not _same(folder / file, text)]
    if changed:
        what = "is there already and differs from the example; nothing was written"
        raise InputFault([Message(what, file=str(path), allowed="another folder by --to") for path in changed])
    for file, text in texts.items():
        write_text(folder / file, text)
    return folder / EXAMPLES[name][0]


def _same(path: Path, text: str) -> bool:
    """Whether a file is not there, or holds this text."""
    return not path.exists() or (path.is_file() and path.read_bytes() == text.encode("utf-8"))
