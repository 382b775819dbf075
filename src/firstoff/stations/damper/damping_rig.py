"""Damping rig: the test of function. Forces at the customer's speeds, gas force and friction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.errors import InputFault, Message
from firstoff.physics.damper.gas import pressure_at_stroke, pressure_at_temperature
from firstoff.physics.damper.oil import dynamic_viscosity, kinematic_viscosity, liquid_density, within_reach
from firstoff.physics.damper.rig_motion import crank_frequency
from firstoff.physics.damper.twin_tube import build_rows, circle_area, curve, oil_rows
from firstoff.sheets.units import format_value
from firstoff.stations.settle import Settings, limited, settle

AMBIENT = 101_325.0  # Pa, standard atmosphere: the rig stands in a shop near sea level
TEMPERATURE_WINDOW = 2.0  # K, of the shell about the test temperature: common practice, no source
LEAST_VISCOSITY = 0.5e-6  # m2/s, below which Walther's law says nothing
T_40, T_100 = 313.15, 373.15  # K, temperatures at which an oil's viscosity is stated (ISO 3104)
CAUTIONS = (
    "Damping rig: the rod moves with several kN; guard closed, hands out, lock out before clamping.",
    "The damper is charged with gas and gets hot: never open, heat or weld it before it has been vented.",
)


def force_name(speed: float) -> str:
    """Name of the damping force at a signed speed [m/s]: `rebound_0.52` or `compression_0.52`."""
    return f"{'rebound' if speed > 0 else 'compression'}_{abs(speed):g}"


@dataclass(frozen=True)
class Hydraulics:
    """Rows of builds and oils for the tube model, gas pressure [Pa absolute], viscosity [Pa s] and status, (n,)."""

    builds: FloatArray
    oils: FloatArray
    gas_pressure: FloatArray
    viscosity: FloatArray
    status: StatusArray


class DampingRig:
    """Quasi-static forces of every build at the speeds of the customer's table, both directions."""

    name = "damping_rig"
    title = "Damping rig: test of function"
    needs = (
        "bore", "rod_diameter", "piston_rebound_row", "piston_check_row", "base_compression_row", "base_intake_row",
        "charge_pressure", "gas_volume", "oil_volume_15", "piston_valve.discharge_coefficient",
        "piston_valve.ring_leak_area", "oil_fill.density_15", "oil_fill.viscosity_40", "oil_fill.viscosity_100",
        "oil_fill.expansion", "oil_fill.entrained_gas", "gas_charge.temperature",
    )  # fmt: skip
    parameters = (
        Parameter("stroke", "mm", "setting", "full stroke of the rig", "100 mm", "assumed: common practice, no source",
                  low="5 mm", high="400 mm"),
        Parameter("rod_travel", "mm", "given", "rod travel from fully out, where it is charged, to mid-stroke",
                  low="0 mm", high="500 mm"),
        Parameter("oil_temperature", "degC", "scatter", "temperature of oil and gas during the test",
                  "25 degC, lot sd 1.5 K", "assumed: warmed up at room temperature", low="-40 degC", high="150 degC"),
        Parameter("friction", "N", "scatter", "friction of seal and guide", "20 N, part sd 3 N",
                  "assumed: common practice, no source", low="0 N", high="500 N"),
        Parameter("oil_compressibility", "1/GPa", "given", "compressibility of the oil without gas", "0.6 1/GPa",
                  "assumed: mineral oil, handbook value from memory", low="0 1/GPa", high="2 1/GPa"),
    )  # fmt: skip

    def __init__(self, speeds: tuple[float, ...] = ()) -> None:
        """`speeds` of the customer's table [m/s], ascending and positive; each is run in both directions."""
        self.speeds = np.array([-v for v in reversed(speeds)] + list(speeds))
        forces = tuple(force_name(v) for v in self.speeds)
        self.gives = (*forces, "static_gas_force", "friction", "gas_pressure", "oil_viscosity")

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        speeds = self.speeds
        if not len(speeds):
            what = "has no entry: the rig needs at least one speed"
            raise InputFault([Message(what, file=settings.file, key="damping", allowed="[[damping]] with speed = ...")])
        gives = [
            Characteristic(force_name(v), "N", f"damping force at {abs(v):g} m/s in "
                           f"{'rebound' if v > 0 else 'compression'}") for v in speeds
        ] + [
            Characteristic("static_gas_force", "N", "force at rest at mid-stroke, tension positive"),
            Characteristic("friction", "N", "friction of seal and guide"),
            Characteristic("gas_pressure", "bar", "gas pressure at mid-stroke, absolute, warm", pressure=True),
        ]  # fmt: skip
        return Plan(
            self.name,
            values,
            limited(gives, settings),
            setup=self._setup(settings.speeds, at),
            assumptions=(
                "Quasi-static: no inertia, no wave, no lag of discs; aeration and dead travel after reversal are not "
                "seen by this model.",
                "The gas force is that of mid-stroke at every speed.",
            ),
            cautions=CAUTIONS,
        )

    @staticmethod
    def _setup(speeds: tuple[float, ...], at: Mapping[str, float]) -> tuple[tuple[str, str], ...]:
        stroke = at["stroke"]
        lines = [
            ("stroke", format_value(stroke, "mm")),
            ("warm-up", "5 full strokes at the highest speed, then wait until the shell is within "
             f"{TEMPERATURE_WINDOW:g} K of the test temperature (common practice, no source)"),
            ("test temperature of the shell", format_value(at["oil_temperature"], "degC")),
            ("readings per damper", f"{2 * len(speeds)} peak forces, gas force at rest, friction, shell temperature"),
        ]  # fmt: skip
        for speed in speeds:
            rate = 60.0 * float(crank_frequency(stroke, speed))
            lines.append((f"crank for {speed:g} m/s", f"{rate:.1f} crank turns per minute, each out and in"))
        return tuple(lines)

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        inner = self.hydraulics(columns)
        rows = ("piston_rebound_row", "piston_check_row", "base_compression_row", "base_intake_row")
        valves = np.stack([columns[name] for name in rows], axis=1)
        found = curve(self.speeds, inner.builds, valves, inner.oils)
        friction = columns[f"{self.name}.friction"]
        given: Columns = {force_name(v): found.force[:, i].copy() for i, v in enumerate(self.speeds)}
        given["static_gas_force"] = -(inner.gas_pressure - AMBIENT) * circle_area(columns["rod_diameter"])
        given |= {"friction": friction.copy(), "gas_pressure": inner.gas_pressure, "oil_viscosity": inner.viscosity}
        return given, found.status | inner.status

    def hydraulics(self, columns: Mapping[str, FloatArray]) -> Hydraulics:
        """What is the same whatever the valves: tube, rod, gas, leak, friction and oil, at the test temperature."""
        temperature = columns[f"{self.name}.oil_temperature"]
        rho, mu, flowing = self._oil(columns, temperature)
        gas, charged = self._gas_pressure(columns, temperature)
        friction = columns[f"{self.name}.friction"]
        # a normal scatter has a tail below zero, gas and leak have not: such builds stand at zero and are flagged
        leak, gassy = columns["piston_valve.ring_leak_area"], columns["oil_fill.entrained_gas"]
        drawn_out = (leak < 0.0) | (gassy < 0.0) | (friction < 0.0)
        builds = build_rows(
            columns["bore"],
            columns["rod_diameter"],
            gas,
            columns["piston_valve.discharge_coefficient"],
            np.maximum(leak, 0.0),
            np.maximum(friction, 0.0),
            AMBIENT,
        )
        oils = oil_rows(rho, mu, columns[f"{self.name}.oil_compressibility"], np.maximum(gassy, 0.0))
        status = np.where(charged & flowing, Status.OK, Status.OUT_OF_RANGE | Status.NO_VALUE).astype(np.uint8)
        status |= np.where(drawn_out, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
        return Hydraulics(builds, oils, gas, mu, status)

    @staticmethod
    def _oil(
        columns: Mapping[str, FloatArray], temperature: FloatArray
    ) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
        """Density, dynamic viscosity, and which builds have an oil that grows thinner with heat, as the law needs."""
        thick, thin = columns["oil_fill.viscosity_40"], columns["oil_fill.viscosity_100"]
        rho = np.full(len(thick), np.nan)
        mu = rho.copy()
        ok = (thick > thin) & (thin > LEAST_VISCOSITY) & (temperature > 0.0)
        ok &= (columns["oil_fill.density_15"] > 0.0) & (columns["oil_fill.expansion"] * (temperature - 288.15) < 1.0)
        ok[ok] = within_reach(temperature[ok], T_40, thick[ok], T_100, thin[ok])
        if ok.any():
            args = (columns[f"oil_fill.{name}"][ok] for name in ("density_15", "expansion"))
            rho[ok] = liquid_density(temperature[ok], *args)
            nu = kinematic_viscosity(temperature[ok], T_40, thick[ok], T_100, thin[ok])
            mu[ok] = dynamic_viscosity(nu, rho[ok])
        return rho, mu, ok

    def _gas_pressure(
        self, columns: Mapping[str, FloatArray], temperature: FloatArray
    ) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
        """Gas pressure at mid-stroke, and which builds have one: oil and rod must leave the gas some room."""
        charge, warm = columns["gas_charge.temperature"], temperature
        room, oil, grow = columns["gas_volume"], columns["oil_volume_15"], columns["oil_fill.expansion"]
        swept = circle_area(columns["rod_diameter"]) * columns[f"{self.name}.rod_travel"]
        left = room - oil * grow * (warm - charge)
        ok = np.isfinite(room) & (room > 0.0) & (left > swept) & (columns["charge_pressure"] > 0.0)
        ok &= (charge > 0.0) & (warm > 0.0)  # a wide scatter can be drawn below absolute zero
        gas = np.full(len(ok), np.nan)
        if ok.any():
            warmed = pressure_at_temperature(
                columns["charge_pressure"][ok], charge[ok], warm[ok], room[ok], oil[ok], grow[ok]
            )
            # a test lasts long enough for the gas to take the shell's temperature at mid-stroke: isothermal
            gas[ok] = pressure_at_stroke(warmed, left[ok], 1.0, swept[ok], 1.0)
        return gas, ok
