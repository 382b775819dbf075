"""The chromed example with a rack of one bar and a tank that is quick to solve."""

from __future__ import annotations

from pathlib import Path

from firstoff import launch
from firstoff.stations.bumper.pressing.faults import FAULTS

EXAMPLE = Path(launch.__file__).parents[1] / "examples" / "chrome_rear_bumper"
# a rack of one bar and a tank that is quick to solve
QUICK = (("bars = 2", "bars = 1"), ('depth = "1200 mm"', 'depth = "900 mm"\nfineness = "0.7"'),
         ('height = "850 mm"', 'height = "500 mm"'), ('height = "650 mm"', 'height = "400 mm"'))  # fmt: skip


def sheet(folder: Path, model: tuple[tuple[str, str], ...] = (), plant: tuple[tuple[str, str], ...] = QUICK) -> Path:
    for name, pairs in (("bumper.toml", model), ("plant.toml", plant)):
        text = (EXAMPLE / name).read_text("utf-8")
        for old, new in pairs:
            assert old in text, old
            text = text.replace(old, new)
        (folder / name).write_text(text, "utf-8")
    with (folder / "plant.toml").open("a", encoding="utf-8") as file:  # the press shop is not among the suspects here
        file.write("\n[faults]\n" + "".join(f"{f.name} = 0\n" for f in FAULTS))
    return folder / "bumper.toml"
