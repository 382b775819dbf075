"""Reference cases and drawn lines, written as a plant sheet would state them."""

from __future__ import annotations

import json
from fractions import Fraction
from importlib.resources import files
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault
from firstoff.launch import sections
from firstoff.launch.line.new import PLANT
from firstoff.line.plant_line import SHARED, Crane, PlantLine, Product, Step, Tank
from firstoff.line.plant_sheet import read_line
from firstoff.sheets.checker import check
from firstoff.sheets.toml import parse_document

CASES = Path(__file__).parents[1] / "reference" / "crane"


def case(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((CASES / f"{name}.json").read_text("utf-8"))
    return found


def sheet_of(whole: dict[str, Any], *, cranes: int = 1, separation: float = 0.0, head: str = "") -> str:
    """The plant sheet of a case file. Where the track is not known, every time is one that was measured."""
    n, at = whole["n_stages"], whole.get("track_position")
    shared = whole["load_and_unload_at_same_place"]
    loaded, empty = whole["loaded_move"], whole["empty_move"]
    straight = at is not None and all(
        empty[r][c] == abs(at[r + 1] - at[c]) for r in range(n + 1) for c in range(n + 1)
    ) and all(loaded[i] == 20 + abs(at[i + 1] - at[i]) for i in range(n + 1))  # fmt: skip
    at = at or [*range(n + 2)]
    tanks = [stage["tanks"] for stage in whole["stages"]]
    names = [["load"], *([f"T{i + 1}.{k + 1}" for k in range(tanks[i])] for i in range(n))]
    names.append(names[0] if shared else ["unload"])
    text = f'[plant]\nname = "works"\n\n[line]\nname = "{whole["name"]}"\ntravel_speed = "1 m/s"\ntime_step = "1 s"\n'
    text += f'lift = "10 s"\nlower = "10 s"\n{head}'
    text += f'separation = "{separation} m"\n' if cranes > 1 else ""
    for k in range(cranes if cranes > 1 else 0):
        text += f'\n[[line.crane]]\nname = "crane {k + 1}"\n'
    turn = whole["load_station_min_turnaround"]
    for i, group in enumerate(names[: n + 1] if shared else names):
        kind = "load and unload" if shared and i == 0 else {0: "load", n + 1: "unload"}.get(i, f"stage {i}")
        for name in group:
            text += f'\n[[line.tank]]\nname = "{name}"\noperation = "{kind}"\nposition = "{at[i]} m"\n'
            text += f'turnaround = "{turn} s"\n' if kind == "load and unload" and turn else ""
    for i, stage in enumerate(whole["stages"], 1):
        window = f"min {stage['min_soak']} s" if stage["max_soak"] is None else (
            f"{stage['min_soak']} to {stage['max_soak']} s" if stage["max_soak"] > stage["min_soak"]
            else f"exactly {stage['min_soak']} s"
        )  # fmt: skip
        text += f'\n[[line.step]]\noperation = "stage {i}"\ntime = "{window}"\n'
    return text if straight else text + measured(names, loaded, empty)


def measured(names: list[list[str]], loaded: list[int], empty: list[list[int]]) -> str:
    n = len(loaded) - 1
    times: dict[tuple[str, str], str] = {}
    for r in range(n + 1):
        for c in range(n + 1):
            for a in names[r + 1]:
                for b in names[c]:
                    times[a, b] = times.get((a, b), "") + f'empty = "{empty[r][c]} s"\n'
    for i in range(n + 1):
        for a in names[i]:
            for b in names[i + 1]:
                times[a, b] = times.get((a, b), "") + f'loaded = "{loaded[i]} s"\n'
    return "".join(f'\n[[line.measured]]\nfrom = "{a}"\nto = "{b}"\n{more}' for (a, b), more in times.items())


def line_from(text: str) -> PlantLine:
    """The line of a plant sheet's text; InputFault with all its faults."""
    settled, messages = check(parse_document(text, "plant.toml"), sections.PLANT)
    if messages:
        raise InputFault(messages)
    return read_line(settled)


def example() -> PlantLine:
    path = Path(str(files("firstoff") / "examples" / "bumper_plating" / "plant.toml"))
    return line_from(path.read_text("utf-8"))


def tiny(soaks: list[tuple[int, int]], at: list[int], turn: int, loads: int = 1, bars: int | None = None) -> PlantLine:
    """Two or three tanks, lift 1 s, lower 1 s, 1 m/s."""
    one = Fraction(1)
    tanks = [Tank("L", SHARED, Fraction(0), one, Fraction(0), one, Fraction(turn))]
    tanks += [Tank(f"T{i}", f"op {i}", Fraction(x), one, Fraction(0), one) for i, x in enumerate(at)]
    steps = tuple(Step(f"op {i}", Fraction(low), Fraction(high)) for i, (low, high) in enumerate(soaks))
    return PlantLine(
        "tiny", tuple(tanks), (Crane("crane"),), (Product("p", steps, loads),), one, bars=bars, time_step=one
    )


def small() -> PlantLine:
    """The line that `firstoff new line` writes: one crane, two nickel tanks, one load place."""
    return line_from(PLANT.format(name="small line"))
