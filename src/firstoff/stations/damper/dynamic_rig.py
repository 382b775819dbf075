"""Damping rig in motion: the force loop at one speed and at crawling speed, for what a steady force cannot show.

A check beside the route: it takes a hundred times longer than the steady curve, so it is computed where a sheet limits
one of its characteristics or readings hold one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.damper.motion import sine, triangle
from firstoff.physics.damper.oil import liquid_density
from firstoff.physics.damper.rig_motion import crank_frequency
from firstoff.physics.damper.twin_tube import build_rows, circle_area, oil_rows
from firstoff.sheets.units import format_value
from firstoff.stations.damper.damping_rig import AMBIENT, CAUTIONS
from firstoff.stations.settle import Settings, limited, setting_lines, settle

if TYPE_CHECKING:
    from firstoff.physics.damper.dynamic_loops import Loops
    from firstoff.physics.damper.loop import Loop
    from firstoff.stations.trace_station import TraceNumbers

USUAL_SPEED = 0.52  # m/s, when the sheet has no table of speeds
LOOP_STEPS, CRAWL_STEPS = 128, 64
PLACES = 0.8  # of half the stroke, in and out, where friction and gas force are read
ROD_MODULUS = 206e9  # Pa, steel, handbook value from memory
ASSUMED = "assumed: common practice, no source"
# characteristic -> (run, field of the loop)
READ = {
    "loop_rebound": (0, "mid_rebound"),
    "loop_compression": (0, "mid_compression"),
    "loop_energy": (0, "energy"),
    "loop_dead_rebound": (0, "dead_rebound"),
    "loop_dead_compression": (0, "dead_compression"),
    "loop_hysteresis_rebound": (0, "hysteresis_rebound"),
    "loop_hysteresis_compression": (0, "hysteresis_compression"),
    "crawl_friction_in": (1, "friction_in"),
    "crawl_friction_out": (1, "friction_out"),
    "crawl_gas_in": (1, "rest_in"),
    "crawl_gas_out": (1, "rest_out"),
}


def places(half: float) -> tuple[float, float]:
    """Where in a stroke of twice `half` friction and gas force are read [m]."""
    return -PLACES * half, PLACES * half


class DynamicRig:
    """Loops of every build: dead travel, width and work at the middle speed of the table, friction at two places."""

    name = "dynamic_rig"
    title = "Damping rig: force loop"
    costly = True  # only where it is asked for
    needs = (
        "bore", "rod_diameter", "piston_rebound_row", "piston_check_row", "base_compression_row", "base_intake_row",
        "gas_pressure", "gas_volume", "oil_volume_15", "oil_viscosity", "piston_valve.discharge_coefficient",
        "piston_valve.ring_leak_area", "oil_fill.density_15", "oil_fill.expansion", "oil_fill.entrained_gas",
        "gas_charge.temperature", "damping_rig.stroke", "damping_rig.rod_travel", "damping_rig.oil_temperature",
        "damping_rig.friction", "damping_rig.oil_compressibility",
    )  # fmt: skip
    characteristics = (
        Characteristic("loop_rebound", "N", "force at half stroke going out, in motion"),
        Characteristic("loop_compression", "N", "force at half stroke going in, in motion"),
        Characteristic("loop_energy", "J", "work a cycle"),
        Characteristic("loop_dead_rebound", "mm", "travel after the inner reversal until the force is half its peak"),
        Characteristic("loop_dead_compression", "mm", "travel after the outer reversal until the force is half its "
                       "peak"),
        Characteristic("loop_hysteresis_rebound", "N", "width of the loop over speed at half the peak speed, rebound"),
        Characteristic("loop_hysteresis_compression", "N", "width of the loop over speed at half the peak speed, "
                       "compression"),
        Characteristic("crawl_friction_in", "N", "friction at crawling speed near the inner end of the stroke"),
        Characteristic("crawl_friction_out", "N", "friction at crawling speed near the outer end of the stroke"),
        Characteristic("crawl_gas_in", "N", "gas force at crawling speed near the inner end, tension positive"),
        Characteristic("crawl_gas_out", "N", "gas force at crawling speed near the outer end, tension positive"),
    )  # fmt: skip
    gives = tuple(c.name for c in characteristics)
    parameters = (
        Parameter("crawl_speed", "mm/s", "setting", "crawling speed of the rig", "2 mm/s", ASSUMED, low="0.1 mm/s",
                  high="20 mm/s"),
        Parameter("rebound_length", "mm", "given", "from piston to rod guide at mid-stroke", "110 mm",
                  "assumed: usual tube", low="20 mm", high="600 mm"),
        Parameter("compression_length", "mm", "given", "from piston to base valve at mid-stroke", "120 mm",
                  "assumed: usual tube", low="20 mm", high="600 mm"),
        Parameter("gas_exponent", "1", "given", "polytropic exponent of the gas within a stroke", "1.2",
                  "assumed: between isothermal (1) and adiabatic (1.4)", low="1", high="1.4"),
        Parameter("feed_oil", "cm3", "given", "oil in the reserve tube at which its feed begins to draw gas", "45 cm3",
                  "assumed: the surge of a stroke uncovers the feed before the level does", low="0 cm3",
                  high="1000 cm3"),
        Parameter("feed_span", "cm3", "given", "oil from the first gas drawn to next to nothing else", "20 cm3",
                  ASSUMED, low="0.1 cm3", high="1000 cm3"),
        Parameter("disc_lag", "ms", "given", "time constant with which discs and springs follow the pressure", "0 ms",
                  "assumed: at once", low="0 ms", high="50 ms"),
        Parameter("intake_lag", "ms", "given", "time constant with which the intake valve follows the pressure", "0 ms",
                  "assumed: at once", low="0 ms", high="500 ms"),
        Parameter("friction_stiffness", "N/mm", "given", "stiffness of seal and guide before they slide", "200 N/mm",
                  ASSUMED, low="1 N/mm", high="100000 N/mm"),
        Parameter("friction_coefficient", "1", "given", "friction coefficient of rod guide and piston", "0.08",
                  "assumed: coated bush in oil, from memory", low="0", high="0.5"),
        Parameter("side_force", "N", "given", "side force on the rod's end during the test", "0 N",
                  "assumed: none in the rig", low="0 N", high="5000 N"),
        Parameter("overhang", "mm", "given", "from rod guide to the rod's end at mid-stroke", "80 mm", ASSUMED,
                  low="1 mm", high="600 mm"),
        Parameter("guide_angle", "deg", "scatter", "angle by which the rod guide stands crooked", "0 deg",
                  "assumed: square", low="-3 deg", high="3 deg"),
        Parameter("mount_rate", "N/mm", "given", "rate of both bushings in series in the rig, 0 for rigid mounts",
                  "0 N/mm", "assumed: rigid mounts", low="0 N/mm", high="1000000 N/mm"),
        Parameter("mount_damping", "N s/m", "given", "damping of both bushings", "0 N s/m", "assumed: rigid mounts",
                  low="0 N s/m", high="100000 N s/m"),
    )  # fmt: skip

    def __init__(self, speeds: tuple[float, ...] = ()) -> None:
        """`speeds` of the customer's table [m/s], ascending: the loop is run at the middle one."""
        self.speed = speeds[len(speeds) // 2] if speeds else USUAL_SPEED

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        drawn = settings.given.get("damping_rig.stroke")
        setup = [*setting_lines(self, values), ("peak speed of the loop", format_value(self.speed, "m/s"))]
        if drawn is not None:
            turns = 60.0 * float(crank_frequency(drawn.nominal, self.speed))
            setup.append(("crank for the loop", f"{turns:.1f} crank turns per minute, each out and in"))
        setup.append(("record", "force and travel over 10 cycles at 1000 samples a second or more"))
        return Plan(
            self.name,
            values,
            limited(self.characteristics, settings),
            setup=tuple(setup),
            assumptions=(
                "Oil without inertia or waves; gas in a chamber is mixed through it at once, so a pocket leaves with "
                "the flow.",
                "Bubbles in the reserve tube keep the size that they have at rest.",
            ),
            cautions=CAUTIONS,
        )

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        stroke, crawl = columns["damping_rig.stroke"], columns[f"{self.name}.crawl_speed"]
        n = len(stroke)
        given = {name: np.full(n, np.nan) for name in self.gives}
        status = np.full(n, Status.OUT_OF_RANGE | Status.NO_VALUE, dtype=np.uint8)
        runs = np.stack([stroke, crawl], axis=1)
        possible = (stroke > 0.0) & (crawl > 0.0)
        for one in np.unique(runs[possible], axis=0):  # a rig has one stroke: as a rule one group
            group = possible & (runs == one).all(axis=1)
            part = {name: columns[name][group] for name in (*self.needs, *(v.name for v in plan.values))}
            found = self._loops(part, float(one[0]), float(one[1]))
            status[group] = found[0].status | found[1].status
            for name, (run, field) in READ.items():
                given[name][group] = found[run].numbers[field][:, 0]
        return given, status

    def _loops(self, columns: Mapping[str, FloatArray], stroke: float, crawl: float) -> tuple[Loops, Loops]:
        """The loop at speed and the one at crawling speed."""
        from firstoff.physics.damper.dynamic_loops import loops  # compiled, so only where a loop is asked for

        half, parts = 0.5 * stroke, self._parts(columns)
        fast = loops(sine(half, self.speed, LOOP_STEPS), *parts, places(half))
        return fast, loops(triangle(half, crawl, CRAWL_STEPS), *parts, places(half))

    def simulated(
        self, columns: Mapping[str, FloatArray], speed: float, crawling: bool
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Travel, speed and force (k + 1,) of the first build's settled cycle at this peak speed, or crawling at it.

        nan for a build without a value.
        """
        from firstoff.physics.damper.dynamic import trace

        half = 0.5 * float(columns["damping_rig.stroke"][0])
        one = {name: column[:1] for name, column in columns.items()}
        motion = triangle(half, speed, LOOP_STEPS) if crawling else sine(half, speed, LOOP_STEPS)
        found = trace(motion, *self._parts(one))
        return motion.travel[0], motion.speed[0], found.force[0, 0]

    def _parts(self, columns: Mapping[str, FloatArray]) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """What the kernels read: builds, valves, oils and bodies."""
        return (
            build_rows(
                columns["bore"], columns["rod_diameter"], columns["gas_pressure"],
                columns["piston_valve.discharge_coefficient"], np.maximum(columns["piston_valve.ring_leak_area"], 0.0),
                np.maximum(columns["damping_rig.friction"], 0.0), AMBIENT,
            ),
            np.stack([columns[name] for name in self.needs[2:6]], axis=1),
            oil_rows(
                self._density(columns), columns["oil_viscosity"], columns["damping_rig.oil_compressibility"],
                np.maximum(columns["oil_fill.entrained_gas"], 0.0),
            ),
            self._bodies(columns),
        )  # fmt: skip

    def trace_numbers(
        self, time: FloatArray, travel: FloatArray, force: FloatArray, values: Mapping[str, float],
        speeds: tuple[float, ...], nominal: Mapping[str, float], stated: float | None,
    ) -> TraceNumbers:  # fmt: skip
        """What a part's measured trace gives, SI: travel positive out, force in tension. Raises Unfit."""
        from firstoff.stations.damper.force_trace import numbers_of, setting

        return numbers_of(time, travel, force, setting(values, speeds, nominal, self.speed), stated)

    @staticmethod
    def reduce(time: FloatArray, travel: FloatArray, force: FloatArray, half: float) -> Loop:
        """A trace at the rig, measured or simulated, reduced as the loops of `run` are; arguments as `loop.reduce`."""
        from firstoff.physics.damper.loop import reduce

        return reduce(time, travel, force, places(half), steps=LOOP_STEPS)

    @staticmethod
    def _density(columns: Mapping[str, FloatArray]) -> FloatArray:
        """Density of the oil; not a number where it makes no sense, which the kernel reports."""
        warm, thin = columns["damping_rig.oil_temperature"], columns["oil_fill.expansion"]
        rho = columns["oil_fill.density_15"] * (1.0 - thin * (warm - 288.15))
        ok = rho > 0.0
        found = np.full(len(ok), np.nan)
        found[ok] = liquid_density(warm[ok], columns["oil_fill.density_15"][ok], thin[ok])
        return found

    def _bodies(self, columns: Mapping[str, FloatArray]) -> FloatArray:
        """Volumes at mid-stroke, warm; lags, friction and mounts."""
        from firstoff.physics.damper.dynamic import body_rows

        def at(name: str) -> FloatArray:
            return columns[f"{self.name}.{name}"]

        rod, piston = circle_area(columns["rod_diameter"]), circle_area(columns["bore"])
        warm, grow = columns["damping_rig.oil_temperature"], columns["oil_fill.expansion"]
        oil = columns["oil_volume_15"]
        room = columns["gas_volume"] - oil * grow * (warm - columns["gas_charge.temperature"])
        rebound, compression = (piston - rod) * at("rebound_length"), piston * at("compression_length")
        bending = ROD_MODULUS * math.pi / 64.0 * columns["rod_diameter"] ** 4
        disc = np.maximum(at("disc_lag"), 0.0)
        return body_rows(
            rebound,
            compression,
            room - rod * columns["damping_rig.rod_travel"],
            at("gas_exponent"),
            reserve_oil=oil * (1.0 + grow * (warm - 288.15)) - rebound - compression,
            feed_oil=at("feed_oil"),
            feed_span=at("feed_span"),
            lag_rebound=disc,
            lag_check=disc,
            lag_base=disc,
            lag_intake=np.maximum(at("intake_lag"), disc),
            friction_stiffness=at("friction_stiffness"),
            side_friction=at("friction_coefficient") * at("side_force"),
            overhang=at("overhang"),
            span=at("rebound_length"),
            tilt_friction=6.0 * at("friction_coefficient") * bending * np.abs(at("guide_angle")),
            mount_rate=at("mount_rate"),
            mount_damping=at("mount_damping"),
        )
