"""Read a crane line from a case file (JSON); every fault of the file is named, nothing is guessed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message, nearest
from firstoff.line.case import Line, Stage

FORMAT = "crane-cyclic/1"
NEEDED = ("n_stages", "stages", "loaded_move", "empty_move")
KNOWN = (
    *NEEDED, "format", "name", "title", "source", "data_obtained_from", "time_unit", "load_and_unload_at_same_place",
    "load_station_min_turnaround", "track_position", "track_position_note", "published", "computed", "notes",
    "computed_multi_hoist_by_position",
)  # fmt: skip
STAGE_KEYS = ("stage", "min_soak", "max_soak", "tanks")
MOST_STAGES = 200
LONGEST = 10**7  # time units; keeps the solvers' whole numbers inside 64 bits


class _Reader:
    """Takes values out of one file and keeps a message for each that cannot be used."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.messages: list[Message] = []

    def fault(
        self, key: str, what: str, found: Any = "", allowed: str = "", near: str = "", level: str = "error"
    ) -> None:
        shown = found if isinstance(found, str) else json.dumps(found)
        shown = shown if len(shown) <= 60 else shown[:57] + "..."
        self.messages.append(Message(what, self.file, 0, key, shown, allowed, near, level))

    def time(self, key: str, value: Any, *, least: int | None = 0) -> Fraction:
        allowed = "a number of time units" + (f", at least {least}" if least is not None else "")
        if isinstance(value, bool) or not isinstance(value, (int, Fraction)):
            self.fault(key, "not a number", value, allowed)
        elif not (-LONGEST if least is None else least) <= value <= LONGEST:
            self.fault(key, "out of range", str(value), f"{allowed}, at most {LONGEST}")
        else:
            return Fraction(value)
        return Fraction(0)

    def row(self, key: str, value: Any, size: int, *, least: int | None = 0) -> tuple[Fraction, ...]:
        if not isinstance(value, list) or len(value) != size:
            found = f"{len(value)} values" if isinstance(value, list) else value
            self.fault(key, "wrong shape", found, f"a list of {size} numbers")
            return (Fraction(0),) * size
        return tuple(self.time(f"{key}[{i}]", v, least=least) for i, v in enumerate(value))

    def names(self, key: str, given: Mapping[str, Any], known: tuple[str, ...], level: str = "error") -> None:
        for name in given:
            if name not in known:
                self.fault(f"{key}{name}", "unknown key", near=nearest(name, known), level=level)


def read_case(path: Path) -> Line:
    """The line of a case file; raises InputFault with one message per fault."""
    try:
        whole = json.loads(path.read_text("utf-8"), parse_float=_fraction, parse_constant=str)
    except (OSError, UnicodeDecodeError, RecursionError) as fault:
        raise InputFault(
            [Message(f"cannot be read: {getattr(fault, 'strerror', None) or fault}", str(path))]
        ) from fault
    except json.JSONDecodeError as fault:
        raise InputFault([Message(f"not JSON: {fault.msg}", str(path), fault.lineno)]) from fault
    return line_from(whole, str(path))


def _fraction(text: str) -> Fraction | str:
    mantissa, _, exponent = text.lower().partition("e")
    if exponent and abs(int(exponent)) > 12 or len(mantissa) > 40:
        return text  # not a time anybody means; refused as no number
    return Fraction(text)


def line_from(whole: Any, file: str = "") -> Line:
    """The line described by the content of a case file."""
    reader = _Reader(file)
    if not isinstance(whole, dict):
        raise InputFault([Message("not a case: the file must hold one object", file)])
    reader.names("", whole, KNOWN)
    if whole.get("format", FORMAT) != FORMAT:
        reader.fault("format", "unknown format", whole["format"], FORMAT)
    for key in NEEDED:
        if key not in whole:
            reader.fault(key, "missing")
    n = whole.get("n_stages")
    if isinstance(n, bool) or not isinstance(n, int) or not 1 <= n <= MOST_STAGES:
        reader.fault("n_stages", "not a number of stages", n, f"1 to {MOST_STAGES}")
        raise InputFault(reader.messages)
    if reader.messages:
        raise InputFault(reader.messages)
    line = _line(reader, whole, n)
    if reader.messages:
        raise InputFault(reader.messages)
    return line


def _line(reader: _Reader, whole: dict[str, Any], n: int) -> Line:
    rows = whole["empty_move"]
    if not isinstance(rows, list) or len(rows) != n + 1:
        reader.fault("empty_move", "wrong shape", allowed=f"{n + 1} rows of {n + 1} numbers")
        rows = [[0] * (n + 1)] * (n + 1)
    shared = whole.get("load_and_unload_at_same_place", False)
    if not isinstance(shared, bool):
        reader.fault("load_and_unload_at_same_place", "not true or false", shared)
    position = whole.get("track_position")
    unit = whole.get("time_unit", "s")
    if unit not in ("s", "0.1 s"):
        reader.fault("time_unit", "unknown unit", unit, "s, 0.1 s")
    return Line(
        name=str(whole.get("name", "")),
        stages=_stages(reader, whole["stages"], n),
        loaded_move=reader.row("loaded_move", whole["loaded_move"], n + 1),
        empty_move=tuple(reader.row(f"empty_move[{i}]", row, n + 1) for i, row in enumerate(rows)),
        shared_load_place=shared is True,
        turnaround=reader.time("load_station_min_turnaround", whole.get("load_station_min_turnaround", 0)),
        position=None if position is None else reader.row("track_position", position, n + 2, least=None),
        time_unit=unit if isinstance(unit, str) else "s",
    )


def _stages(reader: _Reader, given: Any, n: int) -> tuple[Stage, ...]:
    if not isinstance(given, list) or len(given) != n:
        reader.fault("stages", "wrong number of stages", len(given) if isinstance(given, list) else given, str(n))
        return ()
    return tuple(_stage(reader, f"stages[{i}]", entry, i + 1) for i, entry in enumerate(given))


def _stage(reader: _Reader, key: str, entry: Any, number: int) -> Stage:
    if not isinstance(entry, dict):
        reader.fault(key, "not a stage", entry, "an object with " + ", ".join(STAGE_KEYS))
        return Stage(Fraction(0), None)
    reader.names(f"{key}.", entry, STAGE_KEYS)
    if entry.get("stage", number) != number:
        reader.fault(f"{key}.stage", "stages must stand in order", entry["stage"], str(number))
    if "min_soak" not in entry:
        reader.fault(f"{key}.min_soak", "missing")
    least = reader.time(f"{key}.min_soak", entry.get("min_soak", 0))
    most = None if entry.get("max_soak") is None else reader.time(f"{key}.max_soak", entry["max_soak"])
    if most is not None and most < least:
        reader.fault(f"{key}.max_soak", "shorter than min_soak", str(most), f"at least {least}")
    tanks = entry.get("tanks", 1)
    if isinstance(tanks, bool) or not isinstance(tanks, int) or not 1 <= tanks <= 100:
        reader.fault(f"{key}.tanks", "not a number of tanks", tanks, "1 to 100")
        tanks = 1
    return Stage(least, most, tanks)
