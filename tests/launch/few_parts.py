"""A bin small enough to be tried whole: a few parts of the example's."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from firstoff.launch.valve_choice.bin import read_bin
from firstoff.stations.damper.bin_parts import Bin, Part

KEPT = ("P-2210", "P-2216", "B-0420", "B-0320", "D-2330", "D-2335", "D-2820", "S-1110", "V-1605", "B-0218", "B-0220",
        "D-1730", "D-2115", "D-2120", "S-0815")  # fmt: skip


def few(example: Path, kept: tuple[str, ...] = KEPT, **ranges: str) -> Bin:
    """The example's bin with these parts; `ranges` outrank counts and steps of the bodies."""
    whole, _ = read_bin(example)
    return replace(whole, parts={kind: tuple(_with(p, ranges) for p in of if p.number in kept)
                                 for kind, of in whole.parts.items()})  # fmt: skip


def _with(part: Part, ranges: dict[str, str]) -> Part:
    from firstoff.sheets.quantity import parse

    own = {key: parse(text, "1") for key, text in ranges.items() if key in part.values}
    return replace(part, values={**part.values, **own})
