"""Fit-up: trim with its slots, lamps and plate holder in their holes, air for the cooler."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.joints.settling import EXPANSION, growth
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Aperture, Bumper
from firstoff.stations.bumper.mounting.mounted_sheet import Mounted
from firstoff.stations.bumper.pressing.common import drawing_of
from firstoff.stations.settle import Settings, limited, settle

ASSUMED: Final = "assumed: common practice, no source"
CAUTIONS: Final = (
    "Clips and lamps break sharp: gloves, eye protection; the battery's lead off before a lamp is wired.",
)


class FitUp:
    """Hole places and warmth in; room left in slots, around lamps and plate, and for air out."""

    name = "fit_up"
    title = "Fit-up: trim, lamps, plate holder, air"
    costly = False
    parameters = (
        Parameter("hot", "K", "given", "how much hotter than when it was fitted", "60 K", ASSUMED, low="0 K",
                  high="120 K"),
        Parameter("cold", "K", "given", "how much colder", "50 K", ASSUMED, low="0 K", high="120 K"),
        Parameter("slot_place", "mm", "scatter", "place of a slot to its fastener, along the bar",
                  "0 mm, lot sd 0.15 mm, part sd 0.2 mm", ASSUMED, low="-5 mm", high="5 mm"),
        Parameter("expansion", "1", "scatter", "expansion of the trim over that of the table",
                  "1, lot sd 0.05", ASSUMED, low="0.5", high="2"),
        Parameter("lamp_size", "mm", "scatter", "size of a lamp or holder beyond that drawn",
                  "0 mm, lot sd 0.1 mm, part sd 0.05 mm", ASSUMED, low="-5 mm", high="5 mm"),
        Parameter("lamp_place", "mm", "scatter", "place of a lamp or holder on its bracket, across the bar",
                  "0 mm, lot sd 0.1 mm, part sd 0.2 mm", ASSUMED, low="-10 mm", high="10 mm"),
        Parameter("free_share", "%", "given", "share of an inlet that grille and plate leave open", "70 %", ASSUMED,
                  low="1 %", high="100 %"),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        drawn: Bumper | None = settings.drawing if settings is not None else None
        self.mounted: Mounted | None = drawn.mounted if drawn is not None else None
        self.needs = tuple(dict.fromkeys(f"hole_{f.aperture}" for f in self.mounted.fits)) if self.mounted else ()
        self.characteristics = self._gives()
        self.gives = tuple(c.name for c in self.characteristics)

    def _gives(self) -> tuple[Characteristic, ...]:
        m = self.mounted
        if m is None:
            return ()
        found: list[Characteristic] = []
        for t in m.trims:
            said = t.name.replace("_", " ")
            found.append(Characteristic(f"growth_{t.name}", "mm", f"how much the {said} grows beyond the bar, hot"))
            found.append(Characteristic(f"slot_room_{t.name}", "mm", f"room left in the slots of the {said}, worst"))
        found += [Characteristic(f"clearance_{f.name}", "mm", f"least clearance round the {f.name.replace('_', ' ')}")
                  for f in m.fits]  # fmt: skip
        return (
            *found,
            *((Characteristic("cooling_area", "cm^2", "opening left for cooling air"),) if m.inlets else ()),
        )

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        bumper = drawing_of(settings)
        at = {v.name.partition(".")[2]: v.nominal for v in values}
        lines: list[tuple[str, str]] = []
        for t in self.mounted.trims if self.mounted else ():
            hot = float(growth(t.length, EXPANSION[t.material], EXPANSION["steel"], at["hot"]))
            lines.append((t.name.replace("_", " "), "middle fixed first, ends in the middle of their slots; grows "
                          f"{format_value(hot, 'mm', 2)} in {format_value(at['hot'], 'K', 2)}"))  # fmt: skip
        return Plan(
            self.name, values, limited(self.characteristics, settings), {"apertures": bumper.apertures}, tuple(lines),
            (
                "Trim is held in its middle and grows to both ends; bar and car are of steel and as warm. Expansion "
                "from memory: ask its supplier.",
                "Lamps and holders: one dimension, across the bar; hole and lamp are square to each other.",
                "Cooling air: area alone, no flow.",
            ),
            CAUTIONS if lines or self.gives else (),
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        n, m = len(at["hot"]), self.mounted
        if m is None:
            return {}, np.zeros(n, np.uint8)
        given: Columns = {}
        for t in m.trims:
            alpha = np.clip(EXPANSION[t.material] * at["expansion"], 0.0, 1e-3)
            hot, cold = (growth(t.length, alpha, EXPANSION["steel"], at[k]) for k in ("hot", "cold"))
            most = 0.5 * np.maximum(np.abs(hot), np.abs(cold))  # to either end
            given[f"growth_{t.name}"] = hot
            given[f"slot_room_{t.name}"] = 0.5 * (t.slot - t.pin) - most - np.abs(at["slot_place"])
        holes: dict[str, Aperture] = {a.name: a for a in plan.data["apertures"]}
        for f in m.fits:
            off = columns[f"hole_{f.aperture}"] - at["lamp_place"]
            given[f"clearance_{f.name}"] = 0.5 * (holes[f.aperture].height - f.size - at["lamp_size"]) - np.abs(off)
        if m.inlets:
            given["cooling_area"] = _area(plan.data, m.inlets) * at["free_share"]
        bad = ~np.isfinite(np.array([*given.values(), np.zeros(n)])).all(axis=0)
        return given, np.where(bad, Status.NO_VALUE, Status.OK).astype(np.uint8)


def _area(data: Mapping[str, Any], names: tuple[str, ...]) -> float:
    """Area of these apertures, all of each."""
    holes = [a for a in data["apertures"] if a.name in names]
    return math.fsum(a.count * (0.25 * math.pi * a.width**2 if a.round else a.width * a.height) for a in holes)
