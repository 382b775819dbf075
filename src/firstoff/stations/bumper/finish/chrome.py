"""Chromium: what the strike covers, what burns, what goes cloudy, and how thick it gets."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.plating import deposit, faraday
from firstoff.sheets.quantity import Quantity
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish import plating_common as common
from firstoff.stations.bumper.finish.nickel_plan import class_lines, relief_line
from firstoff.stations.bumper.finish.plating_common import ASSUMED
from firstoff.stations.bumper.finish.plating_drawing import HEXAVALENT, PlatingDrawing
from firstoff.stations.settle import Settings, limited, setting_lines, settle

# Temperature coefficients, 1/K: conductivity, burning limit and covering threshold rise with it, efficiency falls.
CONDUCTS, BURNS, COVERS, LOSES = 0.012, 0.025, 0.02, 0.012  # assumed
STRIKE_BATHS: Final = {
    # by bath: strike, plating density, time, efficiency, threshold, covering, burning, temperature, conductivity
    HEXAVALENT: ("14 A/dm2", "9 A/dm2", "150 s", "0.21", "2.2 A/dm2", "4.2 A/dm2", "55 A/dm2", "42 degC", "50 S/m"),
    "trivalent": ("9 A/dm2", "7 A/dm2", "300 s", "0.10", "0.8 A/dm2", "2 A/dm2", "34 A/dm2", "32 degC", "22 S/m"),
}  # fmt: skip
HEX_WORDS, TRI_WORDS = "assumed: sulfate bath, from memory", "assumed: trivalent bath, from memory; ask its supplier"
PASSIVE: Final = 1.0  # excess current density that nickel asks for over the excess of its wait (assumed)


def _parameters(bath: str) -> tuple[Parameter, ...]:
    strike, plating, time, slope, threshold, covering, burning, warm, conducts = STRIKE_BATHS[bath]
    source = HEX_WORDS if bath == HEXAVALENT else TRI_WORDS
    return (
        Parameter("density_strike", "A/dm2", "setting", "rectifier's current at the strike over the rack's area, both "
                  "sides", strike, ASSUMED, low="0.5 A/dm2", high="50 A/dm2",
                  change=Change("0.5 A/dm2", 5, "rectifier's programme", 12)),
        Parameter("time_strike", "s", "setting", "time of the strike", "10 s, part sd 0.5 s", ASSUMED, low="0 s",
                  high="60 s", change=Change("1 s", 5, "rectifier's programme", 10)),
        Parameter("density", "A/dm2", "setting", "rectifier's current after it, over the rack's area", plating, ASSUMED,
                  low="0.5 A/dm2", high="50 A/dm2", change=Change("0.2 A/dm2", 5, "rectifier's set point", 12)),
        Parameter("time", "s", "setting", "time in the bath after the strike", f"{time}, part sd 3 s", ASSUMED,
                  low="10 s", high="1800 s", change=Change("5 s", 20, "crane's programme", 12)),
        Parameter("transfer_time", "s", "setting", "from nickel to chromium, rinses and air together",
                  "90 s, part sd 8 s", ASSUMED, low="5 s", high="3600 s",
                  change=Change("5 s", 30, "crane's programme", 10)),
        Parameter("interruption", "s", "scatter", "how long the current fails during the strike", "0 s", ASSUMED,
                  low="0 s", high="60 s"),
        Parameter("ammeter", "1", "scatter", "current that flows over what the ammeter shows", "1, lot sd 0.006",
                  ASSUMED, low="0.3", high="2"),
        Parameter("efficiency", "1", "scatter", "slope of the metal's partial current over the current",
                  f"{slope}, lot sd 0.004", source, low="0.02", high="0.6"),
        Parameter("threshold", "A/dm2", "given", "current density that goes into the film first", threshold, source,
                  low="0 A/dm2", high="20 A/dm2"),
        Parameter("covering", "A/dm2", "scatter", "current density that covers active nickel at the strike",
                  f"{covering}, lot sd 0.15 A/dm2", source, low="0.1 A/dm2", high="40 A/dm2"),
        Parameter("burning", "A/dm2", "scatter", "current density above which it burns", f"{burning}, lot sd 1.2 A/dm2",
                  source, low="3 A/dm2", high="120 A/dm2"),
        Parameter("passive_after", "s", "scatter", "how long nickel stays active out of its bath",
                  "180 s, lot sd 12 s", ASSUMED, low="10 s", high="7200 s"),
        Parameter("temperature", "degC", "scatter", "temperature of the bath", f"{warm}, lot sd 0.5 K", ASSUMED,
                  low="15 degC", high="70 degC"),
        Parameter("conductivity", "S/m", "scatter", "conductivity at the bath's own temperature",
                  f"{conducts}, lot sd 1 S/m", source, low="8 S/m", high="160 S/m"),
    )  # fmt: skip


class Chrome:
    """Strike, current, time, transfer and contact in; cover, burning, cloud and thickness out."""

    name = "chrome"
    title = "Chromium"
    parameters = _parameters(HEXAVALENT)

    def __init__(self, settings: Settings | None = None) -> None:
        drawn: Bumper | None = settings.drawing if settings is not None else None
        plating: PlatingDrawing | None = drawn.plating if drawn is not None else None
        self.carried = plating is not None and plating.tank is None
        self.bath = plating.bath if plating is not None else HEXAVALENT
        self.parameters = _parameters(self.bath)
        self.needs: tuple[str, ...] = ("bar_current",) if self.carried else ("bar_current", "bar_number", "pattern")
        self.characteristics: tuple[Characteristic, ...] = () if self.carried else _field_only()
        self.gives = ("chrome_map", *(c.name for c in self.characteristics))
        if self.carried and plating is not None:
            self.parameters = (*self.parameters, *(
                Parameter(f"carried_{r.point}", "1", "scatter", f"chromium at {r.point} over what the map promises",
                          f"1, lot sd {r.relative:.4g}", "measured map of a similar bar", low="0.1", high="3")
                for r in plating.map if r.layer == "chrome"
            ))  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values, field = settle(self, settings), common.settled_field(settings)
        _, drawn = common.plating_of(settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        lines = list(setting_lines(self, values))
        if field is not None:
            lines += [(f"current, {what}", format_value(at[key] * field.area, "A", 4))
                      for what, key in (("strike", "density_strike"), ("plating", "density"))]  # fmt: skip
        steel = settings.given.get("coil.tensile_strength")
        lines += [
            ("bath", "hexavalent; a trivalent bath (`chrome_bath` in [plating]) has windows of its own and no "
             "chromium(VI)"
             if self.bath == HEXAVALENT else "trivalent: no chromium(VI); windows are its supplier's"),
            ("entry", "live: strike current on before the bar is in; no interruption while it covers"),
            ("transfer", f"at most {format_value(at['passive_after'], 's', 3)} from nickel, wet all the way"),
            ("chromium", _kind(drawn)),
            *class_lines(drawn),
            *([relief_line(_strongest(steel))] if steel is not None else []),
        ]  # fmt: skip
        data = {"tank": common.tank_name(field), "drawn": drawn, "warm": at["temperature"]}
        return Plan(
            self.name, values, limited(self.characteristics, settings), data,
            tuple(lines), _assumptions(self.carried),
            common.CHROME_CAUTIONS if self.bath == HEXAVALENT else common.TRIVALENT_CAUTIONS,
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        wanted = [*self.needs, *(f"{self.name}.{p.name}" for p in self.parameters)]
        return common.in_slices(lambda part: self._builds(plan, part), {name: columns[name] for name in wanted})

    def _builds(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        field = common.field_in(plan)
        drawn: PlatingDrawing = plan.data["drawn"]
        if field is None:
            return self._carried_over(plan, drawn, columns, at)
        warmer = at["temperature"] - plan.data["warm"]
        kappa = at["conductivity"] * np.maximum(1.0 + CONDUCTS * warmer, 0.05)
        strike, _, odd = common.rack_density(field, "chrome", columns, at["density_strike"] * at["ammeter"], kappa)
        steady, volts, out = common.rack_density(field, "chrome", columns, at["density"] * at["ammeter"], kappa)
        late = np.maximum(at["transfer_time"] / np.maximum(at["passive_after"], 1.0) - 1.0, 0.0)
        asked = at["covering"] * np.maximum(1.0 + COVERS * warmer, 0.05) * (1.0 + PASSIVE * late)
        covered = common.above(strike, asked[:, None])
        metal = faraday.metals()["Cr(VI)" if self.bath == HEXAVALENT else "Cr(III)"]
        slope = np.clip(at["efficiency"] * (1.0 - LOSES * warmer), 1e-3, 1.0)[:, None]
        bath = deposit.Bath(metal, slope, np.maximum(at["threshold"], 0.0)[:, None], 1e9)
        seconds = (np.maximum(at[key], 0.0)[:, None] for key in ("time_strike", "time"))
        thick = sum(deposit.thickness(i, t, bath) for i, t in zip((strike, steady), seconds, strict=True)) * covered
        limit = at["burning"] * np.maximum(1.0 + BURNS * warmer, 0.05)
        burnt = common.above(np.maximum(strike, steady), np.maximum(limit, 1.0)[:, None])
        cloudy = covered * np.clip(at["interruption"] / CLOUDS, 0.0, 1.0)[:, None]
        cells, own = len(field.areas), common.significant(field, drawn)
        areas, front = field.areas[own], slice(None, cells)
        least, tenth = common.lowest(thick[:, front][:, own], areas, common.LEAST, common.TENTH)
        given: Columns = {
            "chrome_map": thick,
            "face_chrome_least": least,
            "face_chrome_p10": tenth,
            "bare_area_chrome": common.mean(1.0 - covered[:, front][:, own], areas),
            "burnt_area_chrome": common.mean(burnt[:, front][:, own], areas),
            "whitewash_area": common.mean(cloudy[:, front][:, own], areas),
            "voltage_chrome": volts / np.maximum(kappa, 1e-3),
        }  # fmt: skip
        return given, np.where(odd | out, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)

    @staticmethod
    def _carried_over(
        plan: Plan, drawn: PlatingDrawing, columns: Mapping[str, FloatArray], at: Mapping[str, FloatArray]
    ) -> tuple[Columns, StatusArray]:
        """By ampere-minutes over area, as nickel is; the efficiency against its nominal."""
        rows = {r.point: r.per_charge for r in drawn.map if r.layer == "chrome"}
        usual = next(v.nominal for v in plan.values if v.name == "chrome.efficiency")
        charge = at["density"] * at["time"] + at["density_strike"] * at["time_strike"]
        charge = np.maximum(charge * at["ammeter"] * columns["bar_current"] * at["efficiency"] / usual, 0.0)
        found = np.stack([charge * rows.get(p.name, 0.0) * at.get(f"carried_{p.name}", 1.0) for p in drawn.points],
                         axis=1)  # fmt: skip
        return {"chrome_map": found}, np.zeros(len(charge), np.uint8)


CLOUDS: Final = 4.0  # s of dead current that cloud all that was covered (assumed)


def _field_only() -> tuple[Characteristic, ...]:
    return (
        Characteristic("face_chrome_least", "um", f"chromium that all but {100 * common.LEAST:.0f} % of the "
                       "significant surface reaches"),
        Characteristic("face_chrome_p10", "um", "chromium that nine tenths of the significant surface reach"),
        Characteristic("bare_area_chrome", "1", "share of the significant surface without chromium"),
        Characteristic("burnt_area_chrome", "1", "share of the significant surface where chromium burns"),
        Characteristic("whitewash_area", "1", "share of the significant surface with clouds (whitewash)"),
        Characteristic("voltage_chrome", "V", "voltage of the chromium bath, without leads"),
    )  # fmt: skip


def _strongest(steel: Quantity) -> float:
    """The most that the coil's tensile strength may be: nominal and three standard deviations of all its scatter."""
    return steel.nominal + 3.0 * math.hypot(*(s.sd for s in (steel.total, steel.lot, steel.part) if s))


def _kind(drawn: PlatingDrawing) -> str:
    if drawn.chromium == "r":
        return "regular"
    if drawn.chromium == "mp":
        return "microporous: a nickel layer with particles before it; pores are counted on the part, not computed"
    return "microcracked: by its bath and thickness; cracks are counted on the part, not computed"


def _assumptions(carried: bool) -> tuple[str, ...]:
    if carried:
        return ("Chromium goes with ampere-minutes over area from a similar bar: near its threshold it does not, so "
                "only currents near those of the map count; bare, burnt and cloudy areas are left out.",)  # fmt: skip
    return (
        "A place is covered where the strike exceeds the covering current density, and stays bare where it does not; "
        f"the change is spread over {100 * common.SOFT:.0f} % either way.",
        f"Nickel that waits longer than it stays active asks for more current density by {PASSIVE:g} times the "
        "excess; a current that "
        f"fails during the strike clouds what was covered, all of it after {CLOUDS:g} s: assumed.",
        "Colder baths cover sooner, burn sooner and deposit more: coefficients assumed.",
    )
