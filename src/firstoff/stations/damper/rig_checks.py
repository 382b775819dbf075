"""Checks at the damping rig beside the test of function: the cell, the drive, and the gas force at two positions."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.damper.gas import pressure_at_stroke, rod_force
from firstoff.physics.damper.rig_motion import crank_frequency
from firstoff.physics.damper.twin_tube import circle_area
from firstoff.stations.damper.damping_rig import AMBIENT
from firstoff.stations.settle import Settings, limited, settle

CAUTIONS = (
    "Guard closed; lock out before clamping, before hanging a weight on the cell and before touching it.",
    "A dead weight falls: lifting gear, nobody under it.",
)


class RigChecks:
    """What the rig reads without a damper's help, and the gas force at both ends of the rig's stroke."""

    name = "rig_checks"
    title = "Rig checks: cell, drive and gas force"
    costly = False
    needs = (
        "gas_pressure", "gas_volume", "oil_volume_15", "rod_diameter", "oil_fill.expansion", "gas_charge.temperature",
        "damping_rig.oil_temperature", "damping_rig.rod_travel", "damping_rig.stroke",
    )  # fmt: skip
    characteristics = (
        Characteristic("gas_force_out", "N", "force at rest half a stroke out from mid-stroke, tension positive"),
        Characteristic("gas_force_in", "N", "force at rest half a stroke in from mid-stroke, tension positive"),
        Characteristic("cell_unclamped", "N", "reading of the force cell with nothing clamped", exact=True),
        Characteristic("cell_dead_weight", "N", "reading of the force cell with the dead weight on it", exact=True),
        Characteristic("strokes_per_minute", "1/min", "strokes counted at the highest speed of the table", exact=True),
    )  # fmt: skip
    gives = tuple(c.name for c in characteristics)
    parameters = (
        Parameter("dead_weight", "N", "given", "force of the dead weight for checking the cell", "500 N",
                  "assumed: common practice, no source", low="1 N", high="20000 N"),
    )  # fmt: skip

    def __init__(self, speeds: tuple[float, ...] = ()) -> None:
        """`speeds` of the customer's table [m/s]: strokes are counted at the highest."""
        self.highest = max(speeds, default=0.0)

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        return Plan(
            self.name,
            values,
            limited(self.characteristics, settings),
            assumptions=("The gas has the oil's temperature at both positions, and the oil does not yield.",),
            cautions=CAUTIONS,
        )

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        stroke, weight = columns["damping_rig.stroke"], columns[f"{self.name}.dead_weight"]
        outer, inner = (self._gas_force(columns, side * stroke) for side in (-0.5, 0.5))
        status = np.where(np.isfinite(inner + outer), Status.OK, Status.OUT_OF_RANGE).astype(np.uint8)
        given = {
            "gas_force_out": outer,
            "gas_force_in": inner,
            "cell_unclamped": np.zeros(len(stroke)),
            "cell_dead_weight": weight.copy(),
            "strokes_per_minute": crank_frequency(stroke, self.highest),
        }
        return given, status

    @staticmethod
    def _gas_force(columns: Mapping[str, FloatArray], further: FloatArray) -> FloatArray:
        """Force of the gas on the rod, `further` in from mid-stroke; not a number where no room is left."""
        rod = circle_area(columns["rod_diameter"])
        warmed = columns["damping_rig.oil_temperature"] - columns["gas_charge.temperature"]
        room = columns["gas_volume"] - columns["oil_volume_15"] * columns["oil_fill.expansion"] * warmed
        room = room - rod * columns["damping_rig.rod_travel"]  # at mid-stroke, where `gas_pressure` stands
        gas = columns["gas_pressure"]
        ok = (gas > 0.0) & (room > 0.0) & (room - rod * further > 0.0)
        force = np.full(len(ok), np.nan)
        if ok.any():
            p = pressure_at_stroke(gas[ok], room[ok], rod[ok], further[ok], 1.0)
            force[ok] = -rod_force(p, AMBIENT, rod[ok])
        return force
