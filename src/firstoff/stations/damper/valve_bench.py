"""Valve bench: springs and valves checked before they are filled. A check, not a step of the route."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.physics.damper.flow_bench import bench_flow
from firstoff.physics.damper.valve import BLEED, BLEED_A, valve_row
from firstoff.sheets.units import format_value
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice of flow benches, no source"
CAUTIONS = (
    "Flow bench: oil under pressure; eye protection, hood closed, no hand at a joint.",
    "A spring under test is under load: eye protection, keep fingers out of the fixture.",
)


class ValveBench:
    """Force of a loose spring at its installed length, and flow at one low pressure through valves before filling.

    The closing directions are checked with a plain disc in place of the bleed disc, so that only a leak passes. The
    piston carries its ring, in a gauge tube of the drawing's bore.
    """

    name = "valve_bench"
    title = "Valve bench: springs and valves before filling"
    costly = False
    needs = (
        "piston_rebound_row", "base_compression_row", "piston_valve.discharge_coefficient",
        "piston_valve.ring_leak_area", "piston_valve.rebound_relief_preload", "base_valve.compression_relief_rate",
        "base_valve.relief_free_length", "base_valve.intake_leak_area",
    )  # fmt: skip
    characteristics = (
        Characteristic("spring_force_rebound", "N", "force of a loose rebound relief spring at its installed length",
                       exact=True),
        Characteristic("spring_force_compression", "N", "force of a loose compression relief spring at the drawing's "
                       "crimp length", exact=True),
        Characteristic("bench_flow_rebound", "ml/min", "flow of a piston valve in rebound at the bench's pressure"),
        Characteristic("bench_flow_compression", "ml/min", "flow of a base valve in compression at the bench's "
                       "pressure"),
        Characteristic("bench_leak_piston", "ml/min", "flow past check and ring of a piston with a plain disc for its "
                       "bleed disc, check closing"),
        Characteristic("bench_leak_intake", "ml/min", "flow past the intake of a base valve with a plain disc for its "
                       "bleed disc, intake closing"),
    )  # fmt: skip
    gives = tuple(c.name for c in characteristics)
    parameters = (
        Parameter("pressure", "bar", "setting", "pressure difference of the flow bench", "1 bar", ASSUMED,
                  low="0.01 bar", high="50 bar"),
        Parameter("viscosity", "mm2/s", "given", "kinematic viscosity of the bench's oil as it flows", "15 mm2/s",
                  ASSUMED, low="1 mm2/s", high="200 mm2/s"),
        Parameter("density", "kg/m3", "given", "density of the bench's oil as it flows", "850 kg/m3", ASSUMED,
                  low="700 kg/m3", high="1100 kg/m3"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        drawn = settings.given.get("base_valve.crimp_length")
        length = drawn.nominal if drawn is not None else np.nan  # the base valve has refused a sheet without it
        return Plan(
            self.name,
            values,
            limited(self.characteristics, settings),
            data={"length": length},
            setup=(*setting_lines(self, values), ("compression springs checked at", format_value(length, "mm", 6))),
            assumptions=("A leak has the laminar loss of the bleed notches.",),
            cautions=CAUTIONS,
        )

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        rho = columns[f"{self.name}.density"]
        oil = (rho, columns[f"{self.name}.viscosity"] * rho, columns["piston_valve.discharge_coefficient"])
        dp = columns[f"{self.name}.pressure"]
        piston, base = columns["piston_rebound_row"], columns["base_compression_row"]
        ring = np.maximum(columns["piston_valve.ring_leak_area"], 0.0)
        intake = np.maximum(columns["base_valve.intake_leak_area"], 0.0)
        squeeze = columns["base_valve.relief_free_length"] - plan.data["length"]
        given = {
            "spring_force_rebound": columns["piston_valve.rebound_relief_preload"].copy(),
            "spring_force_compression": columns["base_valve.compression_relief_rate"] * np.maximum(squeeze, 0.0),
            "bench_flow_rebound": bench_flow(dp, piston, ring, *oil),
            "bench_flow_compression": bench_flow(dp, base, 0.0, *oil),  # its row has the intake's leak in it
            "bench_leak_piston": bench_flow(dp, _closed(piston), ring, *oil),
            "bench_leak_intake": bench_flow(dp, _closed(base), intake, *oil),
        }
        return given, np.zeros(len(dp), np.uint8)


def _closed(rows: FloatArray) -> FloatArray:
    """The same valves with everything shut but a leak, which keeps the notches' laminar loss."""
    shut = np.tile(valve_row(), (len(rows), 1))
    shut[:, BLEED] = 0.0
    shut[:, BLEED_A] = rows[:, BLEED_A]
    return shut
