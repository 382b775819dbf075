"""The best few valves against the customer's table: force over rod speed, and where each lies in its tolerance.

Sign: v > 0 is rebound (extension), F > 0 is tension; compression has negative speeds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import ArrayLike

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import number, plain

Array = npt.NDArray[np.float64]

_LEFT, _RIGHT = 20.0, 4.0  # mm beside the panels
_TOP = 15.0  # mm, title and legend
_UPPER, _LOWER, _GAP = 66.0, 62.0, 17.0  # mm
_Stroke = Literal["-", "--", ":", "-."]
_LOOKS: tuple[tuple[str, str, _Stroke], ...] = (
    (style.BLUE, "o", "-"),
    (style.ORANGE, "s", "--"),
    (style.VERMILLION, "D", ":"),
    (style.BLACK, "v", "-."),
)
_EDGE = 315.0  # % of half the tolerance; what lies beyond is drawn at the edge
_SPREAD = 0.62  # of a column, over which the valves stand side by side
MOST = len(_LOOKS)


@dataclass(frozen=True)
class Valve:
    """One valve: what it is called, forces at nominal [N] (m,), and mean and sd [N] of its trial builds or None."""

    name: str
    nominal: ArrayLike
    mean: ArrayLike | None = None
    sd: ArrayLike | None = None


def choice_figure(
    path: Path | str, *, speeds: ArrayLike, limits: tuple[ArrayLike, ArrayLike], valves: Sequence[Valve], title: str
) -> Path:
    """Write the figure (.svg or .png) and return its path.

    speeds: rod speed v [m/s], (m,), strictly ascending, rebound positive. limits: lower and upper limit [N], (m,) each,
    NaN where there is none. valves: one to four. The lower panel has 100 (F - middle)/(half the tolerance): limits at
    -100 and 100, a mark at nominal, a bar over mean ± 3 sd of the trial builds; a speed without both limits is empty.
    Errors: InputFault for speeds that do not ascend, or too few or many valves.
    """
    v = np.asarray(speeds, dtype=np.float64)
    if v.ndim != 1 or not v.size or np.any(np.diff(v) <= 0.0):
        raise InputFault([Message("are not strictly ascending", key="speeds", found=str(v), allowed="m/s, 1 or more")])
    if not 1 <= len(valves) <= MOST:
        raise InputFault(
            [Message("cannot be shown together", key="valves", found=str(len(valves)), allowed=f"1 to {MOST}")]
        )
    low, high = (np.asarray(side, dtype=np.float64) for side in limits)
    with style.applied():
        figure = style.new_figure(_TOP + _UPPER + _GAP + _LOWER + 10.0)
        style.write(figure, _LEFT, 3.0, style.cut(plain(title), style.WIDTH - _LEFT - _RIGHT, style.TITLE, True),
                    fontsize=style.TITLE, fontweight="bold")  # fmt: skip
        width = style.WIDTH - _LEFT - _RIGHT
        upper = style.place(figure, _LEFT, _TOP, width, _UPPER)
        lower = style.place(figure, _LEFT, _TOP + _UPPER + _GAP, width, _LOWER)
        _legend(upper, valves)
        _forces(upper, v, low, high, valves)
        _tolerance(lower, v, low, high, valves)
        return style.save(figure, path, title=plain(title))


def _legend(axes: Axes, valves: Sequence[Valve]) -> None:
    handles: list[Line2D] = [
        Line2D([], [], color=c, marker=m, linestyle=line, markersize=4, label=style.cut(plain(valve.name), 40.0))
        for valve, (c, m, line) in zip(valves, _LOOKS, strict=False)
    ]
    axes.legend(handles=handles, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=len(handles), handlelength=2.6,
                borderaxespad=0.2, columnspacing=1.4)  # fmt: skip


def _forces(axes: Axes, v: Array, low: Array, high: Array, valves: Sequence[Valve]) -> None:
    """Force over speed, with the table's limits as bars."""
    axes.axhline(0.0, color=style.GREY, linewidth=0.5)
    axes.axvline(0.0, color=style.GREY, linewidth=0.5)
    both = np.isfinite(low) & np.isfinite(high)
    axes.vlines(v[both], low[both], high[both], color=style.PALE_GREY, linewidth=5.0)
    for side in (low, high):
        axes.plot(v, side, color=style.GREY, linestyle="none", marker="_", markersize=6, markeredgewidth=0.9)
    for valve, (color, _, line) in reversed(list(zip(valves, _LOOKS, strict=False))):
        axes.plot(v, np.asarray(valve.nominal), color=color, linestyle=line, linewidth=1.2)
    axes.set_ylabel("force at nominal [N], tension positive")
    axes.set_xlabel("rod speed [m/s], rebound positive; grey: limits of the table")


def _tolerance(axes: Axes, v: Array, low: Array, high: Array, valves: Sequence[Valve]) -> None:
    """Where each valve lies in the tolerance of each speed, side by side."""
    middle, half = (high + low) / 2.0, (high - low) / 2.0
    at = np.arange(len(v), dtype=np.float64)
    steps = (np.arange(len(valves)) - (len(valves) - 1) / 2.0) * _SPREAD / max(len(valves), 2)
    places = [100.0 * (np.asarray(valve.nominal) - middle) / half for valve in valves]
    farthest = max(float(np.nanmax(np.abs(place), initial=0.0)) for place in places)
    reach = min(max(115.0, 1.08 * farthest), _EDGE)
    for valve, place, (color, marker, _), step in zip(valves, places, _LOOKS, steps, strict=False):
        beyond = np.abs(place) > reach
        shown = np.where(beyond, np.sign(place) * 0.96 * reach, place)
        for some, face in ((~beyond, color), (beyond, "white")):
            axes.plot((at + step)[some], shown[some], color=color, marker=marker, markersize=3.6, linestyle="none",
                      markerfacecolor=face, zorder=3)  # fmt: skip
        if valve.mean is not None and valve.sd is not None:
            mean, sd = np.asarray(valve.mean), np.asarray(valve.sd)
            ends = [100.0 * (mean + k * sd - middle) / half for k in (-3.0, 3.0)]
            axes.vlines(at + step, ends[0], ends[1], color=color, linewidth=1.6, alpha=0.55)
    for limit in (-100.0, 100.0):
        axes.axhline(limit, color=style.BLACK, linewidth=0.9)
    axes.axhline(0.0, color=style.GREY, linewidth=0.5)
    for k in range(1, len(v)):
        axes.axvline(k - 0.5, color=style.PALE_GREY, linewidth=0.4)
    axes.set_xlim(-0.5, len(v) - 0.5)
    axes.set_ylim(-reach, reach)
    axes.set_xticks(at, [number(float(x), 3).replace("-", "−") for x in v])
    label = "rod speed [m/s], rebound positive; mark: nominal"
    label += ", bar: mean ± 3 sd of the trial builds" if any(valve.sd is not None for valve in valves) else ""
    axes.set_xlabel(label + ("; hollow: beyond the edge" if farthest > reach else ""))
    axes.set_ylabel("place in the tolerance [%], limits at ±100")
