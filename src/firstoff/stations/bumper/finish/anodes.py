"""Anodes, shields and the rack's place in the tank: how they share the current out over the bar."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish.plating_common import (
    ASSUMED,
    NICKEL_CAUTIONS,
    field_in,
    pattern_of,
    plating_of,
    settled_field,
    significant,
)
from firstoff.stations.bumper.finish.tank_field import BASKETS, FARTHEST
from firstoff.stations.settle import Settings, setting_lines, settle

_MOVES = (
    Parameter("rack_along", "mm", "setting", "rack off its place along the tank, to the right positive",
              "0 mm, part sd 4 mm", ASSUMED, low="-60 mm", high="60 mm",
              change=Change("5 mm", 15, "saddles of the flight bar", 8)),
    Parameter("rack_towards", "mm", "setting", "rack nearer to the front anodes than drawn", "0 mm, part sd 4 mm",
              ASSUMED, low="-60 mm", high="60 mm", change=Change("5 mm", 15, "saddles of the flight bar", 8)),
    Parameter("anode_shift", "mm", "setting", "front anodes further from the rack than drawn", "0 mm, lot sd 2 mm",
              ASSUMED, low="-60 mm", high="60 mm", change=Change("10 mm", 60, "anode rail of the front row", 5)),
)  # fmt: skip
_SHIELD = Parameter(
    "shield_shift", "mm", "setting", "shields further outwards than drawn", "0 mm, lot sd 2 mm", ASSUMED,
    low="-60 mm", high="60 mm", change=Change("10 mm", 30, "clamps of the shields, rectifier off", 5),
)  # fmt: skip
_BASKETS = tuple(
    Parameter(name, "1", "scatter", f"current of the front basket {where}, over that of a whole one",
              "1, lot sd 0.01", ASSUMED, low="0", high="1.5")
    for name, where in zip(BASKETS, ("at the left end", "in the middle", "at the right end"), strict=True)
)  # fmt: skip


class Anodes:
    """Places and states in, the pattern of the current over the bar out."""

    name = "anodes"
    title = "Anodes, shields and the rack's place"
    needs = ("bar_number",)
    gives = ("pattern",)

    def __init__(self, settings: Settings | None = None) -> None:
        drawn: Bumper | None = settings.drawing if settings is not None else None
        plating = drawn.plating if drawn is not None else None
        shielded = plating is None or plating.shielded
        self.parameters = (*_MOVES, *((_SHIELD,) if shielded else ()), *_BASKETS)
        self.shielded = shielded

    def plan(self, settings: Settings) -> Plan:
        values, field = settle(self, settings), settled_field(settings)
        _, drawn = plating_of(settings)
        assert field is not None  # this station is on the route where there is a tank
        front = [h for h in drawn.hung if h.role == "anode" and h.away > drawn.rack.away]
        own = significant(field, drawn)
        lines = [
            (h.name, f"{format_value(h.away, 'mm', 4)} before the middle plane, "
             f"{format_value(h.along, 'mm', 4)} along, upper edge {format_value(h.depth, 'mm', 4)} below the surface")
            for h in drawn.hung
        ]  # fmt: skip
        return Plan(
            self.name, values, (), {"tank": field.name},
            (*setting_lines(self, values), *lines,
             ("front anodes", f"{len(front)}, opposite the faces"),
             ("plated area of the rack", f"{format_value(field.area, 'dm2', 4)}, both sides"),
             ("significant surface", f"{format_value(float(field.areas[own].sum()), 'dm2', 3)} a bar"),
             ("field", f"{field.panels} triangles; current of the bars kept to {field.conserved:.0e}")),
            (
                "Anodes hang on one bus and do not polarise; a basket that draws part of its current lies between "
                "whole and dead.",
                "Moves of rack, anodes and shields are taken one by one, multiplied, and believed up to "
                f"{1e3 * FARTHEST:.0f} mm; what they do in the chromium tank is what they do in the nickel tank.",
                "Apertures of less than 40 mm are plated over; walls at wrapped ends are trimmed to 0.7 of the wrap's "
                "radius.",
            ),
            NICKEL_CAUTIONS,
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        field = field_in(plan)
        assert field is not None
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        zero = np.zeros_like(columns["bar_number"])
        moves = np.stack(
            [at["rack_along"], at["rack_towards"], at["anode_shift"], at.get("shield_shift", zero)], axis=1
        )
        baskets = np.stack([at[name] for name in BASKETS], axis=1)
        far = (np.abs(moves) > FARTHEST).any(axis=1)
        given: Columns = {"pattern": pattern_of(field, columns["bar_number"], moves, baskets)}
        return given, np.where(far, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
