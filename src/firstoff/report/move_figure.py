"""Before and after a correction: where each characteristic lies between its limits, drawn on one common scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import plain

_EDGE = 3.0  # mm around everything
_NAME, _SHARES = 42.0, 22.0  # mm for the names on the left and the shares on the right
_ROW = 6.6  # mm a characteristic
_FAR = 0.75  # widths of the limits that are drawn beyond each of them
_REACH = 3.0  # standard deviations of an interval, each way
_ONE_SIDED = 12.0  # standard deviations that stand for the width where there is one limit


@dataclass(frozen=True)
class Interval:
    """A characteristic with limits, before and after: means and standard deviations in its own unit."""

    name: str  # with its unit
    low: float | None
    high: float | None
    before: tuple[float, float, str]  # mean, standard deviation, share outside in words
    after: tuple[float, float, str]


def before_and_after(path: Path | str, *, intervals: Sequence[Interval], title: str) -> Path:
    """Write the figure (.svg or .png) and return its path.

    Each row runs from the lower limit (0) to the upper (1): u = (x - low) / (high - low); where only one limit is
    given, 12 standard deviations stand for the width. Bars reach from mean - 3 sd to mean + 3 sd, before above,
    after below.
    Errors: InputFault with one message per interval that has no limits, no numbers, or none to show.
    """
    faults = [
        Message("has no limits or no numbers to be drawn", key=i.name, found=f"{i.low} to {i.high}")
        for i in intervals
        if (i.low is None and i.high is None) or not all(map(math.isfinite, (*i.before[:2], *i.after[:2])))
    ]
    if not intervals:
        faults.append(Message("has nothing to show", key="figure", allowed="at least one characteristic with limits"))
    if faults:
        raise InputFault(faults)
    with style.applied():
        figure = _draw(intervals, plain(title))
        return style.save(figure, path, title=plain(title))


def _draw(intervals: Sequence[Interval], title: str) -> Figure:
    heads = style.fit(title, style.WIDTH - 2 * _EDGE, 2, style.TITLE, bold=True)
    top = _EDGE + len(heads) * style.line_height(style.TITLE) + 2.0
    panel_top = top + 9.0
    height = _ROW * len(intervals)
    figure = style.new_figure(panel_top + height + 11.0)
    for i, line in enumerate(heads):
        at = _EDGE + i * style.line_height(style.TITLE)
        style.write(figure, _EDGE, at, line, fontsize=style.TITLE, weight="bold")
    wide = style.WIDTH - 2 * _EDGE - _NAME - _SHARES
    panel = style.place(figure, _EDGE + _NAME, panel_top, wide, height)
    _axes(panel, len(intervals))
    for row, interval in enumerate(intervals):
        _row(panel, row, interval)
        middle = panel_top + (row + 0.5) * _ROW
        name = style.cut(plain(interval.name), _NAME - 2.0, style.BODY)
        style.write(figure, _EDGE, middle, name, va="center_baseline")
        x = style.WIDTH - _EDGE - _SHARES + 3.0
        for shift, key, colour in ((-0.24, "before", style.GREY), (0.26, "after", style.BLUE)):
            text = getattr(interval, key)[2]
            at = middle + shift * _ROW
            style.write(figure, x, at, text, va="center", fontsize=style.SMALL, color=colour)
    style.write(figure, style.WIDTH - _EDGE - _SHARES + 3.0, panel_top - 1.2, "outside limits", va="bottom",
                fontsize=style.SMALL, color=style.GREY)  # fmt: skip
    _legend(figure, top)
    return figure


def _axes(panel: Axes, rows: int) -> None:
    panel.set_xlim(-_FAR, 1.0 + _FAR)
    panel.set_ylim(rows, 0.0)
    panel.grid(visible=False)
    panel.spines["left"].set_visible(False)
    panel.set_yticks([])
    panel.set_xticks([0.0, 0.5, 1.0], ["lower limit", "middle", "upper limit"])
    panel.add_patch(Rectangle((0.0, 0.0), 1.0, rows, facecolor="#F2F2F2", edgecolor="none", zorder=0.5))
    for x in (0.0, 1.0):
        panel.plot([x, x], [0.0, rows], color=style.BLACK, linewidth=0.8, zorder=2.0)
    for row in range(1, rows):
        panel.plot([-_FAR, 1.0 + _FAR], [row, row], color=style.PALE_GREY, linewidth=0.4, zorder=1.0)


def scaled(interval: Interval, value: float) -> float:
    """Place of a value between the limits, 0 at the lower and 1 at the upper."""
    if interval.low is not None and interval.high is not None:
        width = interval.high - interval.low
        return (value - interval.low) / width if width > 0.0 else 0.5
    sd = max(interval.before[1], interval.after[1]) or max(abs(value), 1.0) / _ONE_SIDED
    if interval.low is not None:
        return (value - interval.low) / (_ONE_SIDED * sd)
    assert interval.high is not None  # before_and_after() has refused the others
    return 1.0 + (value - interval.high) / (_ONE_SIDED * sd)


def _row(panel: Axes, row: int, interval: Interval) -> None:
    for missing, x, side, text in (
        (interval.low is None, -0.02, "right", "no lower limit"),
        (interval.high is None, 1.02, "left", "no upper limit"),
    ):
        if missing:
            panel.text(x, row + 0.52, text, ha=side, va="center", fontsize=style.SMALL, color=style.GREY)
    for key, y, colour in (("before", row + 0.27, style.GREY), ("after", row + 0.72, style.BLUE)):
        mean, sd, _ = getattr(interval, key)
        ends = [scaled(interval, mean + side * _REACH * sd) for side in (-1.0, 1.0)]
        low, high = (float(np.clip(e, -_FAR, 1.0 + _FAR)) for e in ends)
        panel.plot([low, high], [y, y], color=colour, linewidth=3.0, solid_capstyle="butt", zorder=3.0,
                   gid=f"{key}-{row}")  # fmt: skip
        at = scaled(interval, mean)
        beyond = not -_FAR <= at <= 1.0 + _FAR
        marker = ("<" if at < 0.0 else ">") if beyond else "o"
        look: dict[str, Any] = {"marker": marker, "markersize": 3.4, "color": colour, "markeredgecolor": "white"}
        panel.plot([float(np.clip(at, -_FAR, 1.0 + _FAR))], [y], markeredgewidth=0.5, zorder=4.0, clip_on=False,
                   gid=f"{key}-mean-{row}", **look)  # fmt: skip


def _legend(figure: Figure, top: float) -> None:
    panel = style.place(figure, _EDGE, top, style.WIDTH - 2 * _EDGE, 4.0)
    panel.set_axis_off()
    looks = (("before, mean and ±3 sd", style.GREY), ("after the correction", style.BLUE))
    signs = [Line2D([], [], color=colour, linewidth=3.0, label=text) for text, colour in looks]
    panel.legend(handles=signs, loc="center left", bbox_to_anchor=(0.0, 0.5), ncols=2, borderaxespad=0.0, borderpad=0.0,
                 handlelength=2.2, columnspacing=1.6)  # fmt: skip
