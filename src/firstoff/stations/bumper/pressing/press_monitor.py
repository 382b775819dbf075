"""Press monitor: the tonnage of every hit."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.stations.bumper.pressing.common import LOCKOUT
from firstoff.stations.bumper.pressing.die_line import line_summary, route_roles
from firstoff.stations.settle import Settings, limited, settle

MONITORED = ("blank", "draw", "reform", "trim", "pierce", "flange", "cam_flange", "restrike", "final_pierce")


class PressMonitor:
    """What the strain links of each press read."""

    name = "press_monitor"
    title = "Press monitor: tonnage of each hit"
    parameters: tuple[Parameter, ...] = ()

    def __init__(self, settings: Settings | None = None) -> None:
        roles = route_roles(settings) if settings is not None and settings.drawing is not None else MONITORED
        self.hits = tuple(role for role in MONITORED if role in roles)
        self.needs = tuple(f"force_{role}" for role in self.hits)
        self.gives = tuple(f"tonnage_{role}" for role in self.hits)

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        gives = tuple(
            Characteristic(f"tonnage_{role}", "kN", f"force of the hit, {role.replace('_', ' ')}") for role in self.hits
        )
        return Plan(
            self.name, values, limited(gives, settings), setup=line_summary(settings),
            assumptions=("The monitor reads the peak of each hit; dynamics of the slide are not in it.",),
            cautions=(LOCKOUT,),
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        given: Columns = {f"tonnage_{role}": np.array(columns[f"force_{role}"]) for role in self.hits}
        return given, np.zeros(len(next(iter(given.values()))), np.uint8)
