"""Racking: bars on their hooks, and how much of the rack's current each bar gets."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.finish.plating_common import ASSUMED, HOOKS, plating_of
from firstoff.stations.bumper.finish.plating_drawing import PlatingDrawing
from firstoff.stations.settle import Settings, limited, setting_lines, settle

MIDDLE, LAST = 0.5, 1.0 - 1e-9  # of `place`


class Racking:
    """Contact and tips in, the bar's share of the current and its place on the rack out."""

    name = "racking"
    title = "Racking: bars on their hooks"
    needs: tuple[str, ...] = ()
    gives = ("bar_current", "bar_number")
    parameters = (
        Parameter("contact", "1", "scatter", "current that reaches the bar through its hooks, over what it should be",
                  "1, lot sd 0.004, part sd 0.01", ASSUMED, low="0.1", high="1.5"),
        Parameter("bare_tips", "1", "given", "share of the current that the rack's bare tips take", "3 %", ASSUMED,
                  low="0 %", high="60 %"),
        Parameter("place", "1", "scatter", "place of the bar on the rack: 0 the uppermost, 1 the lowest; 0.5 stands "
                  "for the mean of the rack",
                  "0 to 1", "assumed: bars are hung wherever there is room", low="0", high="1"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        _, drawn = plating_of(settings)
        rack = drawn.rack
        gives = (
            Characteristic("bar_current", "1", "current of the bar over its share of the rack's, tips taken off"),
            Characteristic("bar_number", "1", "bar on the rack, 0 the uppermost", exact=True),
        )
        how = f"{rack.bars} on a rack, faces to the front"
        if rack.bars > 1:
            how += f", one every {format_value(rack.pitch, 'mm', 4)}"
        return Plan(
            self.name, values, limited(gives, settings), {"drawn": drawn},
            (*setting_lines(self, values), ("bars", how),
             ("contact", "two hooks in holes that are hidden on the car; tips insulated down to the contact")),
            ("A bar with a poor contact gets less current all over; what it misses goes to the others.",),
            (HOOKS,),
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        drawn: PlatingDrawing = plan.data["drawn"]
        bars = float(drawn.rack.bars)
        contact, tips, place = (columns[f"{self.name}.{p.name}"] for p in self.parameters)
        given: Columns = {
            "bar_current": np.maximum(contact, 0.0) * (1.0 - np.clip(tips, 0.0, 0.95)),
            # the nominal build hangs in the middle of the rack, between two bars where their number is even
            "bar_number": np.where(place == MIDDLE, 0.5 * (bars - 1.0), np.floor(np.clip(place, 0.0, LAST) * bars)),
        }
        return given, np.where(contact > 0.0, Status.OK, Status.OUT_OF_RANGE).astype(np.uint8)
