"""The figure of a plated bar: thickness along it at nominal settings, its points, and readings when there are some."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import at_nominal
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.predict import LaunchPrediction
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish.plating_drawing import PlatingDrawing, PlatingPoint
from firstoff.stations.bumper.finish.surface import Surface, reach
from firstoff.stations.bumper.finish.tank_field import layout_surface

Readings = Mapping[str, Mapping[str, float]]  # part -> characteristic -> SI value
FILE: Final = "plating-thickness.svg"
SURFACE_FILE: Final = "plating-surface.svg"
CUTS: Final = (("middle", 0.0), ("half way to the right end", 0.5), ("right end", 0.97))  # share of the way to the end
UM: Final = 1e6
TITLE = "Nickel and chromium along the bar"
ALT = (
    "Thickness of nickel and chromium in micrometres over the place along the developed bar: lines of face, upper and "
    "lower edge at nominal settings, the least thickness asked for, named points with the spread of trial builds, and "
    "readings. The figures stand in the tables."
)


@dataclass(frozen=True)
class _Bar:
    """What the figure is drawn from."""

    drawn: PlatingDrawing
    columns: Mapping[str, npt.NDArray[np.float64]]  # of the build at nominal
    surface: Surface | None  # None where a map of a similar bar stands for the tank
    lines: Mapping[str, tuple[float, float]]  # name -> rear and up, on the section
    reach: float = 0.0  # from the middle to the end, along the face


def write_thickness(
    plan: LaunchPlan, folder: Path, prediction: LaunchPrediction | None = None, readings: Readings | None = None
) -> list[Path]:
    """Write `plating-thickness.svg`, and `plating-surface.svg` where the tank is drawn; nothing of an unplated bar."""
    if "thickness" not in plan.plans:
        return []
    from firstoff.report.thickness_figure import Layer, along_the_bar

    bar = _bar(plan)
    coating = bar.drawn.coating
    layers = [Layer("nickel", _lines(bar, "nickel"), _spots(bar, "nickel", prediction, readings or {}),
                    coating.nickel * UM if coating else None)]  # fmt: skip
    if bar.drawn.with_chrome:
        layers.append(Layer("chromium", _lines(bar, "chrome"), _spots(bar, "chrome", prediction, readings or {}),
                            coating.chromium * UM if coating else None))  # fmt: skip
    said = ("Lines: nominal settings, in the middle of the rack. Circles: named points; bars: 99.7 % of trial builds; "
            "crosses: readings.")  # fmt: skip
    if coating is not None:
        said += f" Least: SC {bar.drawn.service_condition}, ASTM B456 (from memory)."
    along = along_the_bar(folder / FILE, layers=layers, title=f"{plan.job.name}: nickel and chromium along the bar",
                          source=said)  # fmt: skip
    return [along, *([_over(bar, plan.job.name, folder)] if bar.surface is not None else [])]


def _over(bar: _Bar, name: str, folder: Path) -> Path:
    """The bar in space and cut through, by its nickel."""
    from firstoff.report.thickness_surface import Section, over_the_bar

    surface = bar.surface
    assert surface is not None
    whole = _map(bar, "nickel") * UM
    front, back = whole[: len(surface.place)], whole[len(surface.place)]
    cuts = []
    for called, share in CUTS if len(surface.outline) else ():
        weights = np.concatenate([surface.at(share * bar.reach, float(x), float(y)) for x, y in surface.outline])
        cuts.append(Section(called, surface.outline * 1e3, weights @ front))
    said = (
        "Nickel at nominal settings, in the middle of the rack. The back is one mean value: not place by place. "
        "Sections: deposit on the outer side, drawn far too thick, alike in all."
    )
    return over_the_bar(
        folder / SURFACE_FILE, triangles=surface.mesh.points[surface.mesh.triangles], front=front[surface.cell],
        back=np.full(len(surface.cell), back), sections=cuts, title=f"{name}: nickel over the bar", source=said,
    )  # fmt: skip


def _bar(plan: LaunchPlan) -> _Bar:
    bumper: Bumper = plan.job.settings.drawing
    found = run(plan.stations, plan.plans, Ensemble(at_nominal(values_of(plan.stations, plan.plans)), {}))
    if bumper.plating.tank is None:
        return _Bar(bumper.plating, found.columns, None, {})
    surface = layout_surface(bumper, plan.nominal["sheet_thickness"])
    first, last = bumper.drawn
    top, bottom = bumper.inner[first], bumper.inner[last]
    lines = {
        "face": (0.5 * (top.x + bottom.x), 0.5 * (top.y + bottom.y)),
        "upper edge": (top.x, top.y),
        "lower edge": (bottom.x, bottom.y),
    }
    return _Bar(bumper.plating, found.columns, surface, lines, reach(bumper))


def _map(bar: _Bar, metal: str) -> npt.NDArray[np.float64]:
    """Every row of the bar at nominal [m]."""
    if metal == "chrome":
        return np.asarray(bar.columns["chrome_map"][0])
    return np.asarray(bar.columns["semi_map"][0] + bar.columns["bright_map"][0])


def _lines(bar: _Bar, metal: str) -> tuple[Any, ...]:
    from firstoff.report.thickness_figure import Line

    if bar.surface is None:
        return ()
    front = _map(bar, metal)[: len(bar.surface.place)]
    along = np.unique(np.round(bar.surface.place[:, 0], 9))
    if len(bar.surface.outline) == 0:  # triangulated: places of its own
        along = np.linspace(-bar.reach, bar.reach, 61)
    found = []
    for name, (rear, up) in bar.lines.items():
        weights = np.concatenate([bar.surface.at(float(s), rear, up) for s in along])
        found.append(Line(name, along * 1e3, weights @ front * UM))
    return tuple(found)


def _spots(bar: _Bar, metal: str, prediction: LaunchPrediction | None, readings: Readings) -> tuple[Any, ...]:
    from firstoff.report.thickness_figure import Spot

    spread = {c.characteristic.name: c for c in prediction.builds.characteristics} if prediction else {}

    def one(p: PlatingPoint) -> Spot:
        name = f"{metal}_{p.name}"
        scatter = spread[name].scatter if name in spread else None
        band = (scatter.quantiles[0] * UM, scatter.quantiles[4] * UM) if scatter else None
        read = tuple(of[name] * UM for of in readings.values() if name in of)
        return Spot(p.name.replace("_", " "), p.along * 1e3, float(bar.columns[name][0]) * UM, band, read)

    return tuple(one(p) for p in bar.drawn.points if not p.back)
