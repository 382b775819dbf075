"""Measured force loops drawn over the simulated one: force over displacement, and force over velocity.

Sign: displacement and velocity positive out (rebound), force positive in tension.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from firstoff.errors import InputFault, Message, counted
from firstoff.report import style
from firstoff.report.tables import plain

FloatArray = npt.NDArray[np.float64]
MOST_ROWS = 3  # kinds of run that fit on a page
_EDGE, _LEFT, _GAP = 3.0, 19.0, 21.0  # mm
_HEIGHT, _BETWEEN = 58.0, 20.0  # mm, of a row's panels, and between rows

_MEASURED: dict[str, Any] = {"color": style.BLUE, "linewidth": 0.7, "alpha": 0.75}
_GOOD: dict[str, Any] = {"color": style.ORANGE, "linewidth": 0.7, "linestyle": (0, (5, 1.5))}
_SIMULATED: dict[str, Any] = {"color": style.BLACK, "linewidth": 1.3, "linestyle": (0, (2.2, 1.2))}


@dataclass(frozen=True)
class Cycle:
    """A closed cycle, SI: displacement, velocity and force (k + 1,)."""

    displacement: FloatArray
    velocity: FloatArray
    force: FloatArray


@dataclass(frozen=True)
class LoopRow:
    """One kind of run: what was measured of the parts, and of a known-good lot, and what was computed."""

    title: str  # `0.52 m/s, 8 parts`
    measured: Sequence[Cycle]
    good: Sequence[Cycle]
    simulated: Cycle | None
    over_velocity: bool = True  # crawling, a velocity has nothing to say


def loop_figure(path: Path | str, *, rows: Sequence[LoopRow], title: str) -> Path:
    """Write the figure (.svg or .png) and return its path: a row a kind of run, `MOST_ROWS` at most.

    Errors: InputFault without a row, with too many, or for a row without a measured loop or with cycles that do not
    fit; simulated cycles that are not finite are left out.
    """
    allowed = f"1 to {MOST_ROWS} kinds of run"
    faults = [] if 1 <= len(rows) <= MOST_ROWS else [Message("does not fit on a page", key="figure", allowed=allowed)]
    for row in rows:
        cycles = [*row.measured, *row.good]
        shapes = [(c.displacement.shape, c.velocity.shape, c.force.shape) for c in cycles]
        bad = [s for s in shapes if len(set(s)) > 1 or len(s[0]) != 1]
        if not row.measured or bad or not all(np.isfinite([c.displacement, c.force]).all() for c in cycles):
            faults.append(Message("has no loop that can be drawn", key=row.title))
    if faults:
        raise InputFault(faults)
    with style.applied():
        return style.save(_draw(rows, plain(title)), path, title=plain(title))


def _draw(rows: Sequence[LoopRow], title: str) -> Figure:
    heads = style.fit(title, style.WIDTH - 2 * _EDGE, 2, style.TITLE, bold=True)
    top = _EDGE + len(heads) * style.line_height(style.TITLE) + 1.0
    figure = style.new_figure(top + 7.0 + len(rows) * (_HEIGHT + _BETWEEN))
    for i, line in enumerate(heads):
        at = _EDGE + i * style.line_height(style.TITLE)
        style.write(figure, _EDGE, at, line, fontsize=style.TITLE, weight="bold")
    _legend(figure, top, rows)
    for number, row in enumerate(rows):
        _row(figure, row, top + 7.0 + number * (_HEIGHT + _BETWEEN), number)
    return figure


def _row(figure: Figure, row: LoopRow, top: float, number: int) -> None:
    style.write(figure, _EDGE, top, style.cut(plain(row.title), style.WIDTH - 2 * _EDGE, bold=True), weight="bold")
    top += 6.0
    half = 0.5 * (style.WIDTH - 2 * _LEFT - _GAP + 14.0)
    wide = half if row.over_velocity else style.WIDTH - _LEFT - 5.0
    left = style.place(figure, _LEFT, top, wide, _HEIGHT)
    _panel(left, row, "displacement", 1e3, number)
    left.set_xlabel("displacement from mid-stroke, out positive [mm]")
    left.set_ylabel("force, tension positive [N]")
    if row.over_velocity:
        right = style.place(figure, _LEFT + half + _GAP, top, half, _HEIGHT)
        _panel(right, row, "velocity", 1.0, number)
        right.set_xlabel("velocity, rebound positive [m/s]")


def _panel(panel: Axes, row: LoopRow, over: str, factor: float, number: int) -> None:
    for line in (panel.axhline, panel.axvline):
        line(0.0, color=style.GREY, linewidth=0.5, zorder=1.0)
    sets: list[tuple[str, Sequence[Cycle], dict[str, Any], float]] = [
        ("measured", row.measured, _MEASURED, 3.0), ("good", row.good, _GOOD, 2.0),
        ("simulated", [row.simulated] if _drawable(row.simulated) and row.simulated else [], _SIMULATED, 4.0),
    ]  # fmt: skip
    for name, cycles, look, order in sets:
        for i, cycle in enumerate(cycles):
            x = factor * getattr(cycle, over)
            panel.plot(x, cycle.force, zorder=order, gid=f"{name}-{over}-{number}-{i}", **look)
    panel.margins(0.04, 0.06)


def _drawable(cycle: Cycle | None) -> bool:
    return cycle is not None and bool(np.isfinite([cycle.displacement, cycle.force]).all())


def _legend(figure: Figure, top: float, rows: Sequence[LoopRow]) -> None:
    panel = style.place(figure, _EDGE, top, style.WIDTH - 2 * _EDGE, 4.0)
    panel.set_axis_off()
    most = max(len(row.measured) for row in rows)
    signs = [Line2D([], [], label=f"measured, mean of its cycles ({counted(most, 'part')})", **_MEASURED)]
    if any(row.good for row in rows):
        signs.append(Line2D([], [], label="known-good lot", **_GOOD))
    if any(_drawable(row.simulated) for row in rows):
        signs.append(Line2D([], [], label="simulated at nominal settings", **_SIMULATED))
    panel.legend(handles=signs, loc="center left", bbox_to_anchor=(0.0, 0.5), ncols=len(signs), borderaxespad=0.0,
                 borderpad=0.0, handlelength=3.0, columnspacing=1.6)  # fmt: skip
