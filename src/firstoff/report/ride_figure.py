"""Comfort against road holding for a family of damper curves, and the curve that is recommended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import plain

Array = npt.NDArray[np.float64]
_EDGE, _LEFT, _GAP = 3.0, 17.0, 22.0  # mm
_HIGH, _LOW = 84.0, 62.0  # mm, heights of the panels
_REACH = 1.45  # of the best comfort and load that are drawn: curves beyond are no damper for this vehicle


@dataclass(frozen=True)
class Family:
    """Curves that differ in their level alone, by ascending level."""

    name: str
    level: Array  # share of critical
    comfort: Array  # m/s2
    load: Array  # dynamic load coefficient


@dataclass(frozen=True)
class Mark:
    """One curve that stands out."""

    name: str
    comfort: float
    load: float
    level: float | None  # of the linear damper that damps as much on these roads


@dataclass(frozen=True)
class TableRow:
    """A force of the table: signed speed [m/s], force and tolerance [N]."""

    speed: float
    force: float
    tolerance: float


def trade_off(
    path: Path | str,
    *,
    linear: Family,
    families: Sequence[Family],
    marks: Sequence[Mark],
    sensible: tuple[float, float],
    speeds: Array,
    curves: Mapping[str, Array],
    rows: Sequence[TableRow],
    title: str,
) -> Path:
    """Write the figure (.svg or .png) and return its path.

    Above: load coefficient over weighted acceleration, one line a ratio of rebound to compression, a dot a level, with
    the linear damper between its levels of best comfort and best road holding (`sensible`) drawn thick. Below: both
    over the level, relative to their best; and force over damper speed with the table's limits.
    InputFault when a family is empty or has a value that is no number.
    """
    faults = [
        Message("has nothing to draw or holds no number", key=f.name)
        for f in (linear, *families)
        if not len(f.level) or not np.all(np.isfinite([f.comfort, f.load]))
    ]
    if faults:
        raise InputFault(faults)
    with style.applied():
        figure, below = _page(plain(title))
        wide = style.WIDTH - _LEFT - 5.0
        _trade(style.place(figure, _LEFT, below + 4.0, wide, _HIGH), linear, families, marks, sensible)
        top = below + 4.0 + _HIGH + 18.0
        half = 0.5 * (wide - _GAP)
        _levels(style.place(figure, _LEFT, top, half, _LOW), linear, marks, sensible)
        _curve(style.place(figure, _LEFT + half + _GAP, top, half, _LOW), speeds, curves, rows)
        return style.save(figure, path, title=plain(title))


def _page(title: str) -> tuple[Figure, float]:
    heads = style.fit(title, style.WIDTH - 2 * _EDGE, 2, style.TITLE, bold=True)
    below = _EDGE + len(heads) * style.line_height(style.TITLE)
    figure = style.new_figure(below + 4.0 + _HIGH + 18.0 + _LOW + 12.0)
    for i, line in enumerate(heads):
        style.write(figure, _EDGE, _EDGE + i * style.line_height(style.TITLE), line, fontsize=style.TITLE,
                    weight="bold")  # fmt: skip
    return figure, below


def _trade(
    panel: Axes, linear: Family, families: Sequence[Family], marks: Sequence[Mark], sensible: tuple[float, float]
) -> None:
    inside = (linear.level >= sensible[0]) & (linear.level <= sensible[1])
    panel.plot(linear.comfort[inside], linear.load[inside], color=style.PALE_SKY, linewidth=7.0, zorder=1.0,
               solid_capstyle="round", label="sensible range of the linear damper")  # fmt: skip
    panel.plot(linear.comfort, linear.load, color=style.GREY, linewidth=1.0, linestyle=(0, (4, 2)), marker="o",
               markersize=2.5, zorder=2.0, label=linear.name)  # fmt: skip
    tints = np.linspace(0.15, 0.85, len(families)) if len(families) > 1 else np.array([0.5])
    for f, tint in zip(families, tints, strict=True):
        colour = _between("#7EBE6B", "#7A3B8F", float(tint))
        panel.plot(f.comfort, f.load, color=colour, linewidth=0.9, marker="o", markersize=2.0, zorder=3.0, label=f.name)
    x0, y0 = float(np.min(linear.comfort)), float(np.min(linear.load))
    far_x = max([_REACH * x0, *(1.03 * m.comfort for m in marks)])
    far_y = max([1.6 * y0, *(1.03 * m.load for m in marks)])
    for level, x, y in zip(linear.level, linear.comfort, linear.load, strict=True):
        if x < far_x and y < far_y:
            panel.annotate(f"{level:g}", (x, y), (-4.0, -9.0), textcoords="offset points", fontsize=style.SMALL,
                           color=style.GREY, ha="right")  # fmt: skip
    for mark, look in zip(marks, _looks(), strict=False):
        panel.plot([mark.comfort], [mark.load], zorder=5.0, label=style.cut(plain(mark.name), 45.0), **look)
    panel.set_xlim(0.97 * x0, far_x)
    panel.set_ylim(0.95 * y0, far_y)
    panel.set_xlabel("comfort: body acceleration weighted by Wk, rms [m/s²]; less is better")
    panel.set_ylabel("holding the road: dynamic load coefficient; less is better")
    panel.grid(visible=True, axis="both")
    panel.legend(loc="upper right", fontsize=style.SMALL, frameon=True, framealpha=0.9, edgecolor="none",
                 title="numbers: level of the linear damper", title_fontsize=style.SMALL)  # fmt: skip


def _looks() -> list[dict[str, Any]]:
    rim = {"linestyle": "none", "markeredgecolor": style.BLACK, "markeredgewidth": 0.6}
    return [
        {"marker": "*", "markersize": 11.0, "markerfacecolor": style.ORANGE, **rim},
        {"marker": "D", "markersize": 5.5, "markerfacecolor": style.BLUE, **rim},
    ]


def _between(one: str, other: str, share: float) -> tuple[float, float, float]:
    a, b = ([int(c[i : i + 2], 16) / 255.0 for i in (1, 3, 5)] for c in (one, other))
    red, green, blue = ((1.0 - share) * x + share * y for x, y in zip(a, b, strict=True))
    return red, green, blue


def _levels(panel: Axes, linear: Family, marks: Sequence[Mark], sensible: tuple[float, float]) -> None:
    panel.axvspan(*sensible, color=style.PALE_SKY, alpha=0.6, linewidth=0.0, zorder=0.5)
    comfort, load = linear.comfort / np.min(linear.comfort), linear.load / np.min(linear.load)
    panel.plot(linear.level, comfort, color=style.BLUE, zorder=2.0)
    panel.plot(linear.level, load, color=style.VERMILLION, zorder=2.0)
    high = 2.0
    for y, name, colour in ((comfort, "comfort", style.BLUE), (load, "holding the road", style.VERMILLION)):
        shown = np.flatnonzero(y <= high)
        at = shown[-1] if name == "comfort" else shown[0]
        offset, side = ((-8.0, -6.0), "right") if name == "comfort" else ((6.0, 2.0), "left")
        panel.annotate(name, (float(linear.level[at]), float(y[at])), offset, textcoords="offset points", color=colour,
                       ha=side, bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5, "alpha": 0.7})  # fmt: skip
    for mark in marks:
        if mark.level is not None:
            panel.axvline(mark.level, color=style.ORANGE, linewidth=1.2, zorder=1.5)
            words = f"{mark.name} curve\ndamps as much"
            panel.annotate(words, (mark.level, 1.93), (3.0, 0.0), textcoords="offset points", fontsize=style.SMALL,
                           va="top")  # fmt: skip
    panel.set_ylim(0.95, high)
    panel.set_xlim(0.0, float(linear.level[-1]))
    panel.set_xlabel("level of a linear damper, share of critical")
    panel.set_ylabel("worse than the best, ratio")


def _curve(panel: Axes, speeds: Array, curves: Mapping[str, Array], rows: Sequence[TableRow]) -> None:
    for line in (panel.axhline, panel.axvline):
        line(0.0, color=style.GREY, linewidth=0.5, zorder=1.0)
    looks = ((style.ORANGE, 1.6), (style.BLUE, 1.0))
    for (name, f), (colour, width) in zip(curves.items(), looks, strict=False):
        panel.plot(speeds, f, color=colour, linewidth=width, zorder=2.0, label=style.cut(plain(name), 40.0))
    panel.errorbar([r.speed for r in rows], [r.force for r in rows], yerr=[r.tolerance for r in rows], fmt="none",
                   ecolor=style.BLACK, elinewidth=0.8, capsize=2.0, zorder=3.0, label="limits")  # fmt: skip
    panel.set_xlabel("damper speed, rebound positive [m/s]")
    panel.set_ylabel("force on the rig, tension positive [N]")
    panel.legend(loc="upper left", fontsize=style.SMALL)
