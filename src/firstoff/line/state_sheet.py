"""Read where a line stands from a state sheet; every fault is named with its line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from firstoff.errors import InputFault, Message, nearest
from firstoff.line.plant_line import STATIONS, PlantLine, Product
from firstoff.line.plant_sheet import exact
from firstoff.line.state import LineState, LoadState
from firstoff.line.travel import rounded_up
from firstoff.sheets.checker import Settled
from firstoff.sheets.schema import Key, Section


def _text(name: str, what: str, required: bool = False) -> Key:
    return Key(name, None, what, required=required, type="text")


SECTIONS = (
    Section("state", (_text("note", "when and why the line stands"),), "The state of a plating line"),
    Section(
        "crane",
        (
            _text("name", "name of the crane", required=True),
            Key("position", "m", "where it stands", low="-1000 m", high="1000 m"),
            _text("tank", "the tank it stands over, instead of a position"),
        ),
        "Where the cranes stand",
        required=True,
        repeated=True,
    ),
    Section(
        "load",
        (
            _text("name", "name of the load or flight bar", required=True),
            _text("product", "product on it; may be left out when there is one"),
            _text("tank", "the tank it stands in"),
            _text("crane", "the crane it hangs on, instead of a tank"),
            _text("next", "operation it is carried to, when it hangs on a crane"),
            Key("time", "s", "time in the tank, or in air on the crane, so far", required=True, low="0 s",
                high="30 day"),
            Key("step", None, "which step of the recipe, from 1; needed when an operation comes twice", type="integer",
                low="1", high="500"),
            Key("air", "s", "time in air before, while a limit on it runs", low="0 s", high="24 h"),
            Key("weight", None, "how much it counts when it cannot be saved", type="integer", low="1", high="1000"),
        ),
        "The loads in the line",
        repeated=True,
    ),
)  # fmt: skip


class _Reader:
    def __init__(self, settled: Settled, line: PlantLine) -> None:
        self.settled, self.line = settled, line
        self.messages: list[Message] = []

    def fault(self, part: str, index: int, key: str, what: str, **more: str) -> None:
        at = self.settled.line(part, index, *([key] if key else []))
        name = f"{part}.{key}" if key else part
        self.messages.append(Message(what, self.settled.document.file, at, name, **more))

    def known(self, part: str, index: int, key: str, name: str, names: Sequence[str], what: str) -> bool:
        if name in names:
            return True
        self.fault(part, index, key, f"names no {what}", found=f'"{name}"', allowed=", ".join(names[:12]),
                   nearest=nearest(name, names))  # fmt: skip
        return False

    def time(self, row: Mapping[str, Any], key: str) -> Fraction:
        return rounded_up(exact(row[key].nominal), self.line.time_step) if key in row else Fraction(0)


def read_state(settled: Settled, line: PlantLine) -> LineState:
    """The state of a line. Raises InputFault with every fault."""
    reader = _Reader(settled, line)
    cranes = _cranes(reader)
    loads = [
        load for i, row in enumerate(settled.get("load", [])) if (load := _load(reader, i, row, cranes)) is not None
    ]
    _doubles(reader)
    if reader.messages:
        raise InputFault(sorted(reader.messages, key=lambda m: m.line))
    return LineState(tuple(loads), cranes)


def _cranes(reader: _Reader) -> dict[int, Fraction]:
    line, rows = reader.line, reader.settled["crane"]
    names = [c.name for c in line.cranes]
    found: dict[int, Fraction] = {}
    for i, row in enumerate(rows):
        good = reader.known("crane", i, "name", row["name"], names, "crane of the plant sheet")
        if ("position" in row) == ("tank" in row):
            reader.fault("crane", i, "position", "is needed, or the tank it stands over, and not both")
        elif "tank" in row and not reader.known("crane", i, "tank", row["tank"], [t.name for t in line.tanks], "tank"):
            continue
        elif good and names.index(row["name"]) in found:
            reader.fault("crane", i, "name", "stands twice", found=f'"{row["name"]}"')
        elif good:
            position = exact(row["position"].nominal) if "position" in row else line.tank(row["tank"]).position
            found[names.index(row["name"])] = position
    missing = [name for k, name in enumerate(names) if k not in found]
    if missing and not reader.messages:
        reader.fault("crane", 0, "", f"says not where {' and '.join(missing)} stands", allowed="[[crane]] for each")
    for low, high in zip(sorted(found), sorted(found)[1:], strict=False):
        if found[high] - found[low] < line.separation:
            what = f"stands nearer to {names[low]} than the separation"
            reader.fault("crane", 0, "position", what, found=names[high], allowed=f"{float(line.separation):g} m")
    return found


def _load(reader: _Reader, i: int, row: Mapping[str, Any], cranes: Mapping[int, Fraction]) -> LoadState | None:
    line = reader.line
    names = [p.name for p in line.products]
    if "product" not in row and len(names) > 1:
        reader.fault("load", i, "product", "is missing: there are several", allowed=", ".join(names))
        return None
    if not reader.known("load", i, "product", row.get("product", names[0]), names, "product"):
        return None
    product = line.product(row.get("product", names[0]))
    if ("tank" in row) == ("crane" in row):
        reader.fault("load", i, "tank", "is needed, or the crane it hangs on, and not both")
        return None
    crane: int | None = None
    if "tank" in row:
        tanks = [t.name for t in line.tanks if t.operation not in STATIONS]
        if not reader.known("load", i, "tank", row["tank"], tanks, "tank that treats"):
            return None
        operation = line.tank(row["tank"]).operation
    else:
        cranes_names = [c.name for c in line.cranes]
        if not reader.known("load", i, "crane", row["crane"], cranes_names, "crane"):
            return None
        crane = cranes_names.index(row["crane"])
        if "next" not in row:
            reader.fault("load", i, "next", "is missing: where is it carried to?")
            return None
        operation = row["next"]
    step = _step(reader, i, row, product, operation, "tank" if crane is None else "next")
    if step is None or (crane is not None and crane not in cranes):
        return None
    return LoadState(
        row["name"], product.name, step, row.get("tank", ""), reader.time(row, "time"), crane,
        reader.time(row, "air"), row.get("weight", 1),
    )  # fmt: skip


def _step(reader: _Reader, i: int, row: Mapping[str, Any], product: Product, operation: str, key: str) -> int | None:
    """Which step of its recipe a load is in, from 1; one more than there are when it is carried to be taken off."""
    stops = [*(s.operation for s in product.steps), reader.line.last()]
    if key == "tank":
        stops = stops[:-1]
    at = [k for k, stop in enumerate(stops, 1) if stop == operation]
    if not at:
        what = f"has no part in the recipe of {product.name}"
        reader.fault("load", i, key, what, found=operation, nearest=nearest(operation, stops))
        return None
    if "step" in row and row["step"] not in at:
        reader.fault("load", i, "step", f"is not {operation}", found=str(row["step"]), allowed=", ".join(map(str, at)))
        return None
    if "step" not in row and len(at) > 1:
        what = f"is missing: {operation} comes more than once"
        reader.fault("load", i, "step", what, allowed=", ".join(map(str, at)))
        return None
    return int(row.get("step", at[0]))


def _doubles(reader: _Reader) -> None:
    """Two loads of one name, in one tank or on one crane."""
    for key in ("name", "tank", "crane"):
        seen: list[str] = []
        for i, row in enumerate(reader.settled.get("load", [])):
            if key in row and row[key] in seen:
                reader.fault("load", i, key, "stands twice", found=f'"{row[key]}"')
            seen.append(row.get(key, ""))
