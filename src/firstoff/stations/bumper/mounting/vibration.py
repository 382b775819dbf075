"""Shaking: modes of the bar on its brackets, lamps and plate holder riding on it, and what a random profile wears."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.durability.beam_modes import Modes, deflection_response, modes
from firstoff.physics.durability.random_profile import density_at, profile, sampled_moments
from firstoff.physics.durability.spectra import Moments
from firstoff.physics.durability.spectral_damage import dirlik, narrow_band_damage
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.mounting.mounted_sheet import Mounted
from firstoff.stations.bumper.pressing.common import drawing_of
from firstoff.stations.settle import Settings, limited, settle

ASSUMED: Final = "assumed: common practice, no source"
MODULUS, DENSITY = 2.06e11, 7850.0  # of steel, textbook
PIECES: Final = 0.22  # m, longest element
KEPT: Final = 8  # modes
BAND: Final = np.geomspace(5.0, 2000.0, 400)  # Hz: 1.5 % a step, half-power bands of 6 % and more
CYCLES: Final = 2e6  # at which the fatigue strength is stated
CHUNK: Final = 256
CAUTIONS: Final = (
    "Shaker: guards shut and nobody beside the table while it runs; a bar that comes loose flies. Ears covered.",
    "Stop the table and wait until it stands before a bolt is looked at or a sensor is glued on.",
)
GIVES: Final = (
    Characteristic("first_frequency", "Hz", "lowest frequency of the bar on its brackets, with what rides on it"),
    Characteristic("lamp_separation", "%", "lamp on its holder: distance to the nearest frequency of the bar"),
    Characteristic("plate_separation", "%", "plate holder: distance to the nearest frequency of the bar"),
    Characteristic("bracket_stress_rms", "MPa", "rms stress at the bracket's notch in the random profile"),
    Characteristic("bracket_damage", "1", "share of a bracket's life used by the profile (Dirlik, Miner)"),
    Characteristic("slip_reserve", "1", "load at which a bracket's joint slips over three times its rms load"),
)


class Vibration:
    """Thickness, brackets and what rides on the bar in; frequencies, stress, damage and reserve against slip out."""

    name = "vibration"
    title = "Shaker: modes and random profile"
    costly = True  # about a millisecond a build
    needs = ("sheet_thickness", "wall_strain_upper", "wall_strain_lower", "slip_load")
    parameters = (
        Parameter("bracket_vertical", "kN/mm", "scatter", "stiffness of one bracket upwards with its frame end",
                  "3 kN/mm, lot sd 0.15 kN/mm, part sd 0.1 kN/mm", ASSUMED, low="0.05 kN/mm", high="100 kN/mm"),
        Parameter("bracket_turning", "kN*m", "given", "moment a radian of one bracket against slope of the bar",
                  "20 kN*m", ASSUMED, low="0 kN*m", high="1e5 kN*m"),
        Parameter("damping", "%", "given", "damping of every mode, share of critical", "3 %", ASSUMED, low="0.5 %",
                  high="30 %"),
        Parameter("lamp_mass", "kg", "given", "mass of one lamp", "0.6 kg", ASSUMED, low="0.01 kg", high="10 kg"),
        Parameter("lamp_frequency", "Hz", "scatter", "frequency of a lamp on its holder, bar held",
                  "150 Hz, lot sd 4 Hz, part sd 4 Hz", ASSUMED, low="5 Hz", high="1000 Hz"),
        Parameter("lamp_along", "mm", "given", "distance of the lamps from the middle of the bar", "600 mm", ASSUMED,
                  low="50 mm", high="1700 mm"),
        Parameter("plate_mass", "kg", "given", "mass of plate and holder, at the middle", "0.5 kg", ASSUMED,
                  low="0.01 kg", high="10 kg"),
        Parameter("plate_frequency", "Hz", "scatter", "frequency of the plate on its holder, bar held",
                  "120 Hz, lot sd 4 Hz, part sd 4 Hz", ASSUMED, low="5 Hz", high="1000 Hz"),
        Parameter("bracket_lever", "mm", "given", "from the bar to the bracket's notch", "120 mm", ASSUMED, low="5 mm",
                  high="1000 mm"),
        Parameter("bracket_sheet", "mm", "given", "thickness of the bracket's plate, on edge", "4 mm", ASSUMED,
                  low="1 mm", high="30 mm"),
        Parameter("bracket_height", "mm", "given", "height of that plate", "70 mm", ASSUMED, low="10 mm",
                  high="400 mm"),
        Parameter("notch", "1", "given", "stress at hole or weld toe over the nominal one", "2.5", ASSUMED, low="1",
                  high="10"),
        Parameter("fatigue_strength", "MPa", "scatter", "stress amplitude at the notch that lasts 2 million cycles",
                  "180 MPa, lot sd 8 MPa, part sd 10 MPa", ASSUMED + "; base metal at a punched hole", low="10 MPa",
                  high="1000 MPa"),
        Parameter("fatigue_exponent", "1", "given", "exponent k of N = C S^-k", "5", ASSUMED, low="2", high="20"),
        Parameter("hours", "h", "given", "how long the profile runs, each direction", "8 h",
                  "assumed: ISO 16750-3, passenger car, from memory", low="0.1 h", high="1000 h"),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        drawn: Bumper | None = settings.drawing if settings is not None else None
        self.mounted: Mounted | None = drawn.mounted if drawn is not None else Mounted(0.5)
        self.characteristics = GIVES if self.mounted is not None else ()
        self.gives = tuple(c.name for c in self.characteristics)

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        drawing_of(settings)
        mounted = self.mounted
        at = {v.name.partition(".")[2]: v.nominal for v in values}
        lines: tuple[tuple[str, str], ...] = ()
        if mounted is not None:
            of = profile(mounted.profile)
            lines = (
                ("profile", f"{mounted.profile}: {of.source}"),
                ("level and time", f"rms {format_value(of.rms, 'm/s^2', 3)}, {format_value(at['hours'], 'h', 3)} a "
                                   "direction; computed upwards"),
                ("sensor", "at the bar's middle, at one lamp and at one bracket"),
            )  # fmt: skip
        return Plan(
            self.name, values, limited(self.characteristics, settings), self.data(settings, at), lines,
            (
                "Euler-Bernoulli bar of the formed steel, straight, upwards only; brackets as springs, "
                "lamps and plate as masses on springs; both brackets shaken alike; damping alike in all modes.",
                "Damage by Dirlik's formula and Miner's rule, no endurance limit, no mean stress; a bracket's stress "
                "is its load times lever over the plate's modulus, times the notch factor.",
                "Damage is no life: a shaker run shows it. Miner's sum at failure scatters from about 0.3 to 3.",
            ),
            CAUTIONS if mounted is not None else (),
        )  # fmt: skip

    def data(self, settings: Settings, at: Mapping[str, float]) -> dict[str, Any]:
        """Nodes of the bar, which of them carry what, and the fibres of its section."""
        bumper, mounted = drawing_of(settings), self.mounted
        if mounted is None:
            return {}
        half = 0.5 * bumper.length
        lamp = min(at["lamp_along"], half)
        marks = np.unique(np.round([-half, -lamp, *mounted.places, 0.0, lamp, half], 6))
        pairs = zip(marks[:-1], marks[1:], strict=True)
        nodes = np.unique(np.concatenate([np.linspace(a, b, 1 + int(np.ceil((b - a) / PIECES))) for a, b in pairs]))

        def on(x: float) -> int:
            return int(np.argmin(np.abs(nodes - x)))

        line = bumper.centreline(1e-6)
        middle = 0.5 * (line.ends[1:] + line.ends[:-1])
        corners = [int(np.argmin(np.hypot(*(middle - bumper.xy[i + 1]).T))) for i in bumper.drawn]
        index = np.arange(len(middle))
        part = np.where(index < corners[0], 1, np.where(index > corners[1], 2, 0))
        wraps = bumper.wrap.radius * bumper.wrap.angle + bumper.wrap.length if bumper.wrap else 0.0
        return {
            "nodes": nodes, "brackets": tuple(on(x) for x in mounted.places), "lamps": (on(-lamp), on(lamp)),
            "middle": on(0.0), "fibres": (middle[:, 1], line.lengths, part), "wraps": wraps,
            "profile": profile(mounted.profile),
        }  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        n = len(columns["sheet_thickness"])
        if "nodes" not in plan.data:
            return {}, np.zeros(n, np.uint8)
        at = {p.name: np.maximum(columns[f"{self.name}.{p.name}"], 1e-9) for p in self.parameters}
        t = columns["sheet_thickness"]
        strain = np.stack([np.zeros(n), columns["wall_strain_upper"], columns["wall_strain_lower"]], axis=1)
        good = np.isfinite(strain).all(axis=1) & (t > 0.0) & np.isfinite(columns["slip_load"])
        rigidity, mass = _section(plan.data["fibres"], np.where(good, t, 1e-3), np.where(good[:, None], strain, 0.0))
        found = np.empty((n, len(GIVES)))
        for start in range(0, n, CHUNK):
            own = slice(start, start + CHUNK)
            some = {name: column[own] for name, column in at.items()}
            found[own] = _shaken(plan.data, some, rigidity[own], mass[own], columns["slip_load"][own])
        found[~good] = np.nan
        bad = ~np.isfinite(found).all(axis=1)
        given: Columns = {c.name: found[:, i] for i, c in enumerate(GIVES)}
        return given, np.where(bad, Status.NO_VALUE, Status.OK).astype(np.uint8)


def _section(
    fibres: tuple[FloatArray, FloatArray, np.ndarray], t: FloatArray, strain: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """E I against bending upwards [N m2] and mass per length [kg/m] of the formed section."""
    height, length, part = fibres
    area = length * t[:, None] * np.exp(-np.clip(strain, 0.0, 1.0))[:, part]
    whole = area.sum(axis=1)
    middle = (area @ height) / whole
    inertia = (area * (height - middle[:, None]) ** 2).sum(axis=1)
    return MODULUS * inertia, DENSITY * whole


def _shaken(
    data: Mapping[str, Any], at: Mapping[str, FloatArray], rigidity: FloatArray, mass: FloatArray, slip: FloatArray
) -> FloatArray:
    """The characteristics (n, 6) of some builds."""
    nodes, brackets = data["nodes"], data["brackets"]
    springs = [(i, at["bracket_vertical"]) for i in brackets]
    turning = [(i, at["bracket_turning"]) for i in brackets]
    lamp, plate = (at[f"{who}_mass"] * (2.0 * np.pi * at[f"{who}_frequency"]) ** 2 for who in ("lamp", "plate"))
    ends = [(0, data["wraps"]), (len(nodes) - 1, data["wraps"])] if data["wraps"] else []
    heavy = [(i, mass * length, np.full(len(mass), 1e9)) for i, length in ends]  # the wrapped ends ride rigidly
    alone = modes(nodes, rigidity, mass, springs, turning, heavy, KEPT)
    riders = [*heavy, *((i, at["lamp_mass"], lamp) for i in data["lamps"]), (data["middle"], at["plate_mass"], plate)]
    found = modes(nodes, rigidity, mass, springs, turning, riders, KEPT)
    load = _bracket_load(found, data, at)
    lever = at["bracket_lever"] * at["notch"] * 6.0 / (at["bracket_sheet"] * at["bracket_height"] ** 2)
    stress = sampled_moments(BAND, load * lever[:, None] ** 2)
    damage = [_damage(m, float(k), float(CYCLES * s**k), float(t)) for m, k, s, t in
              zip(stress, at["fatigue_exponent"], at["fatigue_strength"], at["hours"], strict=True)]  # fmt: skip
    rms = np.array([m.rms for m in stress])
    return np.stack([
        found.frequency[:, 0], _apart(at["lamp_frequency"], alone), _apart(at["plate_frequency"], alone), rms,
        np.array(damage), slip / (3.0 * rms / lever),
    ], axis=1)  # fmt: skip


def _bracket_load(found: Modes, data: Mapping[str, Any], at: Mapping[str, FloatArray]) -> FloatArray:
    """Spectrum (n, f) [N2/Hz] of the load of the bracket that bears most."""
    base = density_at(data["profile"], BAND)
    every = [deflection_response(found, 2 * i, at["damping"], BAND) for i in data["brackets"]]
    most = max(every, key=lambda square: float((square * base).sum()))
    load: FloatArray = at["bracket_vertical"][:, None] ** 2 * most * base
    return load


def _apart(frequency: FloatArray, alone: Modes) -> FloatArray:
    """Least distance of a frequency to those of the bar, over the bar's."""
    apart: FloatArray = np.abs(frequency[:, None] / np.maximum(alone.frequency, 1e-9) - 1.0).min(axis=1)
    return apart


def _damage(stress: Moments, exponent: float, constant: float, seconds: float) -> float:
    """Dirlik's damage; that of a narrow band, on the safe side, where his constants leave their range."""
    try:
        return seconds * dirlik(stress, exponent, constant).damage
    except ValueError:
        return seconds * narrow_band_damage(stress, exponent, constant)
