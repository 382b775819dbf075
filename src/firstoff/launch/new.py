"""New: a commented model sheet and plant sheet to start from, made from what the stations declare."""

from __future__ import annotations

from pathlib import Path

from firstoff.chain.station import Parameter
from firstoff.errors import InputFault, Message, nearest
from firstoff.families import NAMES, Family, find
from firstoff.launch.line import new as new_line
from firstoff.launch.vehicle_target.check import new_vehicle

LINE, VEHICLE = "line", "vehicle"

MODEL = """\
# Model sheet of a {family}. Lines that begin with # are comments.
#
# A quantity is written as on a drawing, in any unit of the right kind:
#   "30 ±0.03 mm"    "2.0 +0.05/-0.08 mm"    "340 MPa, sd 12 MPa"    "30 mm, lot sd 0.01 mm, part sd 0.02 mm"
# A stated tolerance is read as ±3 standard deviations. Pressures say "gauge" or "abs".
#
# The limits below are enough for `firstoff prove`. To plan and predict, take away the # before the settings of
# every station and put your drawing's values in the place of the dots.

[model]
name = "{name}"
family = "{family}"
revision = "A"
plant = "plant.toml"

[judging]
rule = "iso14253-1:2017"   # or "iso14253-1:2013"
coverage = "95 %"          # share of the lot that must lie inside the limits
confidence = "95 %"        # confidence asked of a statement about the lot

# How many first-offs `firstoff plan` asks for. What is left out is assumed, and the plan says so.
# [first_offs]
# confidence = "95 %"
# inside = "95 %"            # share of the lot to be proven inside the limits
# chance = "90 %"            # that a lot that comes out as predicted is proven
# parts = 8                  # so many can be had

"""

PLANT = """\
# Plant sheet: the equipment, its gauges and what is known of its scatter. An invented example: put in your own.

[plant]
name = "our works"
{family}
# Measured scatter of a parameter; it outranks the tolerance of a drawing.
# [[capability]]
# parameter = "station.parameter"
# lot_sd = "..."
# part_sd = "..."
# source = "which data"

# What moving a setting takes here; it outranks what its station declares.
# [[change]]
# parameter = "station.parameter"
# step = "..."
# minutes = 10
# cost = 0
# customer_approval = false
"""


def new(family: str, folder: Path, name: str = "") -> list[Path]:
    """Write `model.toml` and `plant.toml` into `folder`, which may not hold them yet. Returns the files written.

    The family `line` stands for a plating line: a plant sheet alone; `vehicle` for `vehicle.toml` alone.
    """
    known = (*NAMES, LINE, VEHICLE)
    if family not in known:
        raise InputFault(
            [Message("is no family", key=family, allowed=", ".join(known), nearest=nearest(family, known))]
        )
    title = " ".join(name.split()) or f"new {family}"
    if any(c in title for c in '"\\') or not title.isprintable():
        raise InputFault([Message("may not hold quotes, backslashes or control characters", key="name", found=title)])
    if family == LINE:
        texts = {"plant.toml": new_line.PLANT.format(name=title)}
    elif family == VEHICLE:
        texts = {"vehicle.toml": new_vehicle(title)}
    else:
        start, plant = find(family).start
        texts = {
            "model.toml": MODEL.format(family=family, name=title) + start + _stations(find(family)),
            "plant.toml": PLANT.format(family=plant),
        }
    taken = [folder / file for file in texts if (folder / file).exists()]
    if taken:
        raise InputFault([Message("is there already; nothing was written", file=str(path)) for path in taken])
    folder.mkdir(parents=True, exist_ok=True)
    for file, text in texts.items():
        (folder / file).write_text(text, "utf-8")
    return [folder / file for file in texts]


def _stations(family: Family) -> str:
    parts = []
    for station in family.stations:
        parts.append(f"\n# op {family.operation(station.name)}  {station.title}\n[{station.name}]\n")
        parts += [_line(p) for p in station.parameters]
    for check in family.checks:
        parts.append(f"\n# check  {check.title}\n[{check.name}]\n")
        parts += [_line(p) for p in check.parameters]
    return "".join(parts)


def _line(parameter: Parameter) -> str:
    reference = " gauge" if parameter.pressure else ""
    if parameter.whole and parameter.default is None:
        return f"# {parameter.name} = ...   # {parameter.kind}: {parameter.what}, a whole number\n"
    if parameter.default is None:
        return f'# {parameter.name} = "... {parameter.unit}{reference}"   # {parameter.kind}: {parameter.what}\n'
    return f'# {parameter.name} = "{parameter.default}"   # may be left out; {parameter.what} ({parameter.source})\n'
