"""What a plant sheet says of the things that the plating line uses up: drag-out, metal, additives, water, power."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from firstoff.physics.plating.rinse import MOST_STAGES
from firstoff.sheets.schema import Key, Section
from firstoff.stations.bumper.finish.windows import METALS
from firstoff.stations.reading import SheetInReading

ASSUMED_RECTIFIER: Final = 0.85  # common practice, no source


@dataclass(frozen=True)
class Supply:
    """A process tank of the line and what goes in and out of it. SI; a price of 0 is one that nobody stated."""

    operation: str
    drag_out: float  # m3/m2
    metal: str = ""  # none: nothing is deposited there
    content: float = 0.0  # metal in the bath, kg/m3
    efficiency: float = 1.0  # of the cathode, mean over the load
    anode_efficiency: float = 0.0  # insoluble anodes
    voltage: float = 0.0
    returned: float = 0.0  # share of the drag-out that goes back
    additive: float = 0.0  # m3/C
    additive_price: float = 0.0  # a m3
    metal_price: float = 0.0  # a kg


@dataclass(frozen=True)
class Rinse:
    """Counterflow rinses after a process tank."""

    after: str
    stages: int
    dilution: float = 0.0  # of the last stage; 0: the flow is stated
    flow: float = 0.0  # m3/s; 0: the dilution is stated


@dataclass(frozen=True)
class Supplies:
    """What the line uses up, and what that costs in the plant's own money."""

    baths: tuple[Supply, ...] = ()
    rinses: tuple[Rinse, ...] = ()
    power: float = 0.0  # a J
    water: float = 0.0  # a m3
    waste_water: float = 0.0  # a m3
    rectifier: float = ASSUMED_RECTIFIER
    hours: float = 0.0  # s a year that the line runs
    currency: str = ""


SECTIONS: Final = (
    Section(
        "supply",
        (
            Key("operation", None, "operation of the line's tanks", required=True, type="text"),
            Key("drag_out", "ml/m^2", "bath that a square metre of part carries out", required=True, low="0 ml/m^2",
                high="5000 ml/m^2"),
            Key("metal", None, "metal that is plated; left out: none", type="text", choices=METALS),
            Key("content", "g/l", "metal in the bath", low="0 g/l", high="500 g/l"),
            Key("efficiency", "1", "share of the current that deposits metal, mean of the load", low="0.1 %",
                high="100 %"),
            Key("anode_efficiency", "1", "share of the current that dissolves anodes; left out: they do not dissolve",
                low="0 %", high="110 %"),
            Key("voltage", "V", "voltage at the rectifier", low="0.1 V", high="60 V"),
            Key("returned", "1", "share of the drag-out that goes back to the bath", low="0 %", high="100 %"),
            Key("additive", "ml/(A*h)", "additive used an ampere-hour, from its supplier", low="0 ml/(A*h)",
                high="100 ml/(A*h)"),
            Key("additive_price", "1/l", "price of the additive", low="0 1/l", high="1000000 1/l"),
            Key("metal_price", "1/kg", "price of the metal as anodes or salts", low="0 1/kg", high="1000000 1/kg"),
        ),
        "What a process tank of the line uses up; its chemistry stays the supplier's",
        repeated=True,
    ),
    Section(
        "rinse",
        (
            Key("after", None, "operation whose drag-out is rinsed off", required=True, type="text"),
            Key("stages", None, "rinses with water flowing against the parts", required=True, type="integer", low="1",
                high=str(MOST_STAGES)),
            Key("dilution", "1", "concentration wanted in the last one over the bath's", low="1e-9", high="0.5"),
            Key("flow", "l/h", "water to the last one, instead of a dilution", low="0.1 l/h", high="1000000 l/h"),
        ),
        "Counterflow rinses of the line",
        repeated=True,
    ),
    Section(
        "running",
        (
            Key("hours", "h", "hours a year that the line runs", low="1 h", high="8784 h"),
            Key("power", "1/kWh", "price of power, in the plant's own money", low="0 1/kWh", high="1000000 1/kWh"),
            Key("water", "1/m^3", "price of clean water", low="0 1/m^3", high="1000000 1/m^3"),
            Key("waste_water", "1/m^3", "price of treating waste water", low="0 1/m^3", high="1000000 1/m^3"),
            Key("rectifier", "1", "efficiency of the rectifiers; 85 % when left out (assumed)", low="10 %",
                high="100 %"),
            Key("currency", None, "what the prices are in", type="text"),
        ),
        "Hours and prices of the plating line",
    ),
)  # fmt: skip


def read(plant: SheetInReading | None) -> Supplies:
    """What the plant sheet states; faults are noted on it."""
    if plant is None:
        return Supplies()
    baths = tuple(
        _supply(plant, i, row)
        for i, row in enumerate(plant.settled.get("supply", []))
        if {"operation", "drag_out"} <= set(row)
    )
    for i, bath in enumerate(baths):
        if bath.operation in [b.operation for b in baths[:i]]:
            plant.fault(f"supply/{i}", "operation", "is taken", found=bath.operation)
    rinses = tuple(_rinse(plant, i, row) for i, row in enumerate(plant.settled.get("rinse", [])) if "after" in row)
    run = plant.settled.get("running", {})
    power, water, waste = (_of(run, key) for key in ("power", "water", "waste_water"))
    return Supplies(
        baths, tuple(r for r in rinses if r is not None), power, water, waste,
        _of(run, "rectifier", ASSUMED_RECTIFIER), _of(run, "hours"), run.get("currency", ""),
    )  # fmt: skip


def _of(row: Mapping[str, Any], key: str, otherwise: float = 0.0) -> float:
    return float(row[key].nominal) if key in row else otherwise


def _supply(plant: SheetInReading, i: int, row: Mapping[str, Any]) -> Supply:
    if "metal" in row and not {"efficiency", "content"} <= set(row):
        lacking = ", ".join(key for key in ("content", "efficiency") if key not in row)
        plant.fault(f"supply/{i}", "metal", "needs more to be accounted for", found=row["metal"], allowed=lacking)
    return Supply(
        row["operation"], row["drag_out"].nominal, row.get("metal", ""), _of(row, "content"),
        _of(row, "efficiency", 1.0), *(_of(row, key) for key in ("anode_efficiency", "voltage", "returned", "additive",
                                                                 "additive_price", "metal_price")),
    )  # fmt: skip


def _rinse(plant: SheetInReading, i: int, row: Mapping[str, Any]) -> Rinse | None:
    if "stages" not in row:
        return None
    if ("dilution" in row) == ("flow" in row):
        what = "has both a dilution and a flow" if "flow" in row else "has neither a dilution nor a flow"
        plant.fault(f"rinse/{i}", "after", what, found=row["after"], allowed="one of the two")
        return None
    return Rinse(row["after"], int(row["stages"]), _of(row, "dilution"), _of(row, "flow"))
