"""Nickel: a semi-bright and a bright layer over the whole bar."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.plating import deposit, faraday
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish import plating_common as common
from firstoff.stations.bumper.finish.nickel_plan import assumptions, setup
from firstoff.stations.bumper.finish.plating_common import ASSUMED
from firstoff.stations.bumper.finish.plating_drawing import PlatingDrawing
from firstoff.stations.bumper.finish.racking import Racking
from firstoff.stations.bumper.finish.tank_field import Field
from firstoff.stations.settle import Settings, limited, nominals, settle

LAYERS: Final = ("semi", "bright")
WORDS: Final = {"semi": "semi-bright", "bright": "bright"}
WARM: Final = 328.15  # K, temperature of the sheet's conductivity, efficiency and limits
CONDUCTS, BURNS = 0.015, 0.02  # 1/K: how conductivity and the burning limit rise with temperature (assumed)
CLEAN: Final = 0.03e-6  # m, roughness of a shelf in a clean bath (assumed)
WATTS = "assumed: Watts bath, from memory"


def _layer(layer: str, minutes: int) -> tuple[Parameter, ...]:
    w = WORDS[layer]
    return (
        Parameter(f"density_{layer}", "A/dm2", "setting", f"rectifier's current in {w} nickel over the rack's area, "
                  "both sides", "3.4 A/dm2", ASSUMED, low="0.8 A/dm2", high="14 A/dm2",
                  change=Change("0.1 A/dm2", 5, "rectifier's set point", 12)),
        Parameter(f"time_{layer}", "min", "setting", f"time in {w} nickel", f"{minutes} min, part sd 6 s", ASSUMED,
                  low="1 min", high="120 min", change=Change("1 min", 20, "crane's programme, both lines checked", 12)),
        Parameter(f"ammeter_{layer}", "1", "scatter", f"current that flows over what the ammeter shows, {w}",
                  "1, lot sd 0.006", ASSUMED, low="0.3", high="2"),
        Parameter(f"efficiency_{layer}", "1", "scatter", f"cathode efficiency, {w}", "0.96, lot sd 0.006", WATTS,
                  low="0.3", high="1"),
        Parameter(f"temperature_{layer}", "degC", "scatter", f"temperature, {w}", "55 degC, lot sd 0.7 K", ASSUMED,
                  low="25 degC", high="75 degC"),
        Parameter(f"conductivity_{layer}", "S/m", "scatter", f"conductivity at 55 degC, {w}", "10 S/m, lot sd 0.3 S/m",
                  WATTS, low="3 S/m", high="40 S/m"),
    )  # fmt: skip


class Nickel:
    """Current, time, bath and contact in; both layers at every place out."""

    name = "nickel"
    title = "Nickel: semi-bright and bright"
    parameters = (
        *_layer("semi", 34), *_layer("bright", 18),
        Parameter("threshold", "A/dm2", "given", "current density that goes into hydrogen first", "0.05 A/dm2", WATTS,
                  low="0 A/dm2", high="2 A/dm2"),
        Parameter("burning", "A/dm2", "scatter", "current density above which nickel is burnt, at 55 degC",
                  "14 A/dm2, lot sd 0.4 A/dm2", WATTS, low="2 A/dm2", high="60 A/dm2"),
        Parameter("particles", "1", "scatter", "particles in the bath over those of a clean one with whole anode bags",
                  "1, lot sd 0.15", ASSUMED, low="0", high="100"),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        drawn: Bumper | None = settings.drawing if settings is not None else None
        plating: PlatingDrawing | None = drawn.plating if drawn is not None else None
        self.carried = plating is not None and plating.tank is None
        self.needs: tuple[str, ...] = ("bar_current",) if self.carried else ("bar_current", "bar_number", "pattern")
        self.characteristics = (*_every(), *(() if self.carried else _field_only()))
        self.gives = ("semi_map", "bright_map", *(c.name for c in self.characteristics))
        if self.carried and plating is not None:
            rows = [r for r in plating.map if r.layer == "nickel"]
            self.parameters = (*Nickel.parameters, *(
                Parameter(f"carried_{r.point}", "1", "scatter", f"nickel at {r.point} over what the map promises",
                          f"1, lot sd {r.relative:.4g}", "measured map of a similar bar", low="0.1", high="3")
                for r in rows
            ))  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values, field = settle(self, settings), common.settled_field(settings)
        _, drawn = common.plating_of(settings)
        data = {"tank": common.tank_name(field), "drawn": drawn}
        bars = drawn.rack.bars if field is not None else 1  # one build for each bar of a rack
        tips = nominals((Racking(),), settings)["racking.bare_tips"]
        rest = {v.name: np.full(bars, v.nominal) for v in values}
        rest |= {"bar_current": np.full(bars, 1.0 - tips), "bar_number": np.arange(bars, dtype=np.float64)}
        if field is not None:
            rest["pattern"] = np.ones((bars, field.rows))
        plan = Plan(self.name, values, limited(self.characteristics, settings), data)
        found, _ = self.run(plan, rest)
        return Plan(
            self.name, values, plan.gives, data,
            setup(self, values, drawn, field, found), assumptions(drawn, field), common.NICKEL_CAUTIONS,
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        wanted = [*self.needs, *(f"{self.name}.{p.name}" for p in self.parameters)]
        return common.in_slices(lambda part: self._builds(plan, part), {name: columns[name] for name in wanted})

    def _builds(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        field = common.field_in(plan)
        if field is None:
            return self._carried_over(plan, columns, at)
        burnt, voltages, maps = np.zeros(1), {}, {}
        odd = np.zeros(len(at["threshold"]), dtype=bool)
        drawn: PlatingDrawing = plan.data["drawn"]
        own, cells = common.significant(field, drawn), len(field.areas)
        for layer in LAYERS:
            i, voltages[layer], maps[layer], out = self._layer(field, columns, at, layer)
            limit = at["burning"] * np.maximum(1.0 + BURNS * (at[f"temperature_{layer}"] - WARM), 0.05)
            over = common.above(i[:, :cells][:, own], np.maximum(limit, 1.0)[:, None])
            burnt = np.maximum(burnt, common.mean(over, field.areas[own]))
            odd |= out
        both = deposit.double_nickel(maps["semi"], maps["bright"])
        front = both.total[:, :cells][:, own]
        areas = field.areas[own]
        least, tenth = common.lowest(front, areas, common.LEAST, common.TENTH)
        share = np.where(front > 0.0, both.share[:, :cells][:, own], 0.0)
        given: Columns = {
            "semi_map": maps["semi"], "bright_map": maps["bright"],
            **self._charges(at, field.area),
            "shelf_roughness": CLEAN * np.sqrt(0.5 + 0.5 * np.maximum(at["particles"], 0.0) ** 2),
            "face_nickel_least": least, "face_nickel_p10": tenth,
            "face_nickel_mean": common.mean(front, areas),
            "face_semi_share_p10": common.lowest(share, areas, common.TENTH)[0],
            "back_nickel_mean": both.total[:, cells].copy(),
            "burnt_area_nickel": burnt,
            **{f"voltage_{layer}": v for layer, v in voltages.items()},
        }  # fmt: skip
        return given, np.where(odd, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)

    @staticmethod
    def _layer(
        field: Field, columns: Mapping[str, FloatArray], at: Mapping[str, FloatArray], layer: str
    ) -> tuple[FloatArray, FloatArray, FloatArray, np.ndarray]:
        """Current density, voltage, thickness of every row, and builds out of range."""
        density = at[f"density_{layer}"] * at[f"ammeter_{layer}"]
        kappa = at[f"conductivity_{layer}"] * (1.0 + CONDUCTS * (at[f"temperature_{layer}"] - WARM))
        i, volts, out = common.rack_density(field, "nickel", columns, density, kappa)
        return i, volts / np.maximum(kappa, 1e-3), _thickness(i, at, layer), out

    def _carried_over(
        self, plan: Plan, columns: Mapping[str, FloatArray], at: Mapping[str, FloatArray]
    ) -> tuple[Columns, StatusArray]:
        """The map's thickness over its charge per area, times this bar's; efficiency against its nominal."""
        drawn: PlatingDrawing = plan.data["drawn"]
        usual = {v.name.split(".")[1]: v.nominal for v in plan.values}
        per_charge = {r.point: r.per_charge for r in drawn.map if r.layer == "nickel"}
        k = np.array([per_charge[p.name] for p in drawn.points])
        own = np.stack([at[f"carried_{p.name}"] for p in drawn.points], axis=1)
        maps = {}
        for layer in LAYERS:
            charge = at[f"density_{layer}"] * at[f"ammeter_{layer}"] * at[f"time_{layer}"] * columns["bar_current"]
            charge = charge * at[f"efficiency_{layer}"] / usual[f"efficiency_{layer}"]
            maps[layer] = np.maximum(charge, 0.0)[:, None] * k * own
        given: Columns = {
            "semi_map": maps["semi"], "bright_map": maps["bright"], **self._charges(at, 0.0),
            "shelf_roughness": CLEAN * np.sqrt(0.5 + 0.5 * np.maximum(at["particles"], 0.0) ** 2),
        }  # fmt: skip
        return given, np.zeros(len(columns["bar_current"]), np.uint8)

    @staticmethod
    def _charges(at: Mapping[str, FloatArray], area: float) -> Columns:
        """Charge per area of each layer that flowed, by the rectifier's own meter corrected for its gain."""
        return {f"charge_{layer}": at[f"density_{layer}"] * at[f"ammeter_{layer}"] * at[f"time_{layer}"]
                for layer in LAYERS}  # fmt: skip


def _thickness(i: FloatArray, at: Mapping[str, FloatArray], layer: str) -> FloatArray:
    """Deposit of one layer (n, rows) [m]."""
    bath = deposit.Bath(faraday.metals()["Ni"], np.clip(at[f"efficiency_{layer}"], 1e-3, 1.0)[:, None],
                        np.maximum(at["threshold"], 0.0)[:, None], 1e9)  # fmt: skip
    return deposit.thickness(i, np.maximum(at[f"time_{layer}"], 0.0)[:, None], bath)


def _every() -> tuple[Characteristic, ...]:
    return (
        *(Characteristic(f"charge_{layer}", "A*min/dm2", f"charge over the rack's area, {WORDS[layer]}", exact=True)
          for layer in LAYERS),
        Characteristic("shelf_roughness", "um", "Ra of nickel on surfaces that face upwards"),
    )  # fmt: skip


def _field_only() -> tuple[Characteristic, ...]:
    return (
        Characteristic("face_nickel_least", "um", f"nickel that all but {100 * common.LEAST:.0f} % of the significant "
                       "surface reaches"),
        Characteristic("face_nickel_p10", "um", "nickel that nine tenths of the significant surface reach"),
        Characteristic("face_nickel_mean", "um", "mean nickel on the significant surface"),
        Characteristic("face_semi_share_p10", "1", "share of semi-bright nickel that nine tenths of the surface reach"),
        Characteristic("back_nickel_mean", "um", "mean nickel on the back of the bar"),
        Characteristic("burnt_area_nickel", "1", "share of the significant surface where nickel burns"),
        *(Characteristic(f"voltage_{layer}", "V", f"voltage of the bath, {WORDS[layer]}, without leads")
          for layer in LAYERS),
    )  # fmt: skip
