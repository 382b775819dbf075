"""A plant sheet by itself: what it says about the plating line."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from firstoff.errors import InputFault, Message, nearest
from firstoff.families import NAMES, find
from firstoff.launch import sections
from firstoff.launch.job import sha256
from firstoff.line.plant_line import PlantLine
from firstoff.line.plant_sheet import read_line
from firstoff.sheets.checker import check
from firstoff.sheets.toml import read
from firstoff.stations.settle import section_of


@dataclass(frozen=True)
class PlantSheet:
    """A plant sheet without faults."""

    file: Path
    name: str
    line: PlantLine
    sha256: dict[str, str]
    remarks: tuple[Message, ...] = ()


def is_plant(file: Path) -> bool:
    """Whether a sheet is a plant sheet with a plating line, and no model sheet."""
    data = read(file).data
    return "line" in data and "model" not in data


def read_plant(file: Path) -> PlantSheet:
    """The plating line of a plant sheet. Raises InputFault with every fault of it."""
    document = read(file)
    families = [find(name) for name in NAMES]
    stations = [section_of(s) for f in families for s in (*f.stations, *f.checks)]
    own = [s for f in families for s in f.plant_sections]
    faults = sections.of_faults(f for each in families for f in each.every_fault)
    unique = {s.name: s for s in (*sections.PLANT, faults, sections.MEASUREMENTS, *own, *stations)}
    settled, messages = check(document, tuple(unique.values()))
    errors = [m for m in messages if m.level == "error"]
    if errors:
        raise InputFault(errors)
    line = read_line(settled)
    remarks = [m for m in messages if m.level != "error"] + unused(line, str(file))
    return PlantSheet(file, settled["plant"]["name"], line, {file.name: sha256(file)}, tuple(remarks))


def unused(line: PlantLine, file: str) -> list[Message]:
    """Tanks that no recipe goes into: perhaps a slip of the pen."""
    wanted = {s.operation for p in line.products for s in p.steps} | {line.first(), line.last()}
    idle = [t.name for t in line.tanks if t.operation not in wanted]
    return [Message(f"no recipe goes into {', '.join(idle)}", file, level="remark")] if idle else []


def out_of_service(line: PlantLine, names: tuple[str, ...]) -> PlantLine:
    """The line without some tanks; an unknown name is a fault."""
    known = [t.name for t in line.tanks]
    faults = [
        Message("names no tank", key="without", found=name, allowed=", ".join(known), nearest=nearest(name, known))
        for name in names
        if name not in known
    ]
    if faults:
        raise InputFault(faults)
    return line.without(names)


def chosen_products(line: PlantLine, product: str, loads: int) -> PlantLine:
    """One product alone, or all as the sheet mixes them; `loads` (not 0) of a single one in a cycle."""
    from dataclasses import replace

    known = [p.name for p in line.products]
    if product and product not in known:
        raise InputFault(
            [Message("names no product", key="product", found=product, allowed=", ".join(known),
                     nearest=nearest(product, known))]
        )  # fmt: skip
    if product:
        line = replace(line, products=tuple(replace(p, loads=1) for p in line.products if p.name == product))
    if loads and len(line.products) > 1:
        what = "belongs to one product; the sheet says how many loads of each are in a cycle"
        raise InputFault([Message(what, key="loads", found=str(loads), allowed="--product")])
    if loads:
        line = replace(line, products=(replace(line.products[0], loads=loads),))
    return line
