"""Time against position: where every crane is, which tank holds a load, and how long it may stay there.

Time runs to the right, the track upwards, to scale. Nothing is told by colour alone: the cranes differ in line and
marker, loaded ways are thick, dripping is cross-barred, windows are brackets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import number, plain

_LEFT, _RIGHT = 44.0, 6.0  # mm beside the panel
_LEAST_ROW = 3.4  # mm between two tanks' labels
_TALLEST, _SHORTEST = 215.0, 60.0  # mm, the panel
_SOAK = 1.7  # mm, height of a bar
_CRANES: tuple[dict[str, Any], ...] = (
    {"color": style.BLACK, "linestyle": "-"},
    {"color": style.VERMILLION, "linestyle": (0, (6, 1.2))},
)
_EMPTY = 0.7  # points
_LOADED = 1.9


@dataclass(frozen=True)
class TankRow:
    """One tank on the track."""

    name: str
    operation: str
    position: float  # m


@dataclass(frozen=True)
class SoakBar:
    """One load in one tank, in seconds of the chart's clock; earliest and latest lift as the window allows."""

    tank: str
    begin: float
    end: float
    label: str
    earliest: float | None = None
    latest: float | None = None
    full_current: float | None = None  # when contact and ramp are over
    spoilt: bool = False


@dataclass(frozen=True)
class WayPiece:
    """A crane's way through points (time [s], position [m]); `kind`: empty, loaded, or drip (hanging over a tank)."""

    kind: str
    times: tuple[float, ...]
    positions: tuple[float, ...]


@dataclass(frozen=True)
class CraneWay:
    """All of one crane's way."""

    name: str
    pieces: tuple[WayPiece, ...]


def line_chart(
    path: Path | str,
    *,
    tanks: Sequence[TankRow],
    soaks: Sequence[SoakBar],
    cranes: Sequence[CraneWay],
    span: tuple[float, float],
    title: str,
    note: str = "",
) -> Path:
    """Write the chart (.svg or .png) of the time from span[0] to span[1] and return its path."""
    if not tanks or span[1] <= span[0]:
        raise InputFault([Message("has nothing to draw", file=str(path), found=f"{len(tanks)} tanks, {span} s")])
    with style.applied():
        figure = _draw(tanks, soaks, cranes, span, title, note)
        return style.save(figure, path, title=plain(title))


def _draw(
    tanks: Sequence[TankRow],
    soaks: Sequence[SoakBar],
    cranes: Sequence[CraneWay],
    span: tuple[float, float],
    title: str,
    note: str,
) -> Figure:
    figure, panel, scale = _page(tanks, cranes, title, note)
    rows = {t.name: t.position for t in tanks}
    for soak in soaks:
        _soak(panel, soak, rows[soak.tank], span, scale)
    for number_, crane in enumerate(cranes):
        _way(panel, crane, _CRANES[number_ % len(_CRANES)])
    panel.set_xlim(*span)
    return figure


def _page(tanks: Sequence[TankRow], cranes: Sequence[CraneWay], title: str, note: str) -> tuple[Figure, Axes, float]:
    """The page with its axes and legend; the scale is in mm per metre."""
    at = sorted(t.position for t in tanks)
    gaps = [b - a for a, b in zip(at, at[1:], strict=False) if b > a]
    low, high = at[0] - 0.8, at[-1] + 0.8
    scale = min(max(_LEAST_ROW / min(gaps, default=1.0), _SHORTEST / (high - low)), _TALLEST / (high - low))
    tall, wide = scale * (high - low), style.WIDTH - _LEFT - _RIGHT
    heads = style.fit(plain(title), style.WIDTH - 6.0, 2, style.TITLE, bold=True)
    notes = style.fit(plain(note), style.WIDTH - 6.0, 3) if note else []
    top = 5.0 + len(heads) * style.line_height(style.TITLE) + 9.5
    figure = style.new_figure(top + tall + 13.0 + len(notes) * style.line_height())
    for i, head in enumerate(heads):
        style.write(figure, 3.0, 3.0 + i * style.line_height(style.TITLE), head, fontsize=style.TITLE, weight="bold")
    panel = style.place(figure, _LEFT, top, wide, tall)
    panel.set_ylim(low, high)
    panel.set_xlabel("time [s]")
    panel.grid(visible=True, axis="both")
    panel.set_yticks([t.position for t in tanks], [""] * len(tanks))
    _labels(panel, tanks, scale, low)
    entries = _legend(cranes)
    panel.legend(entries, [str(e.get_label()) for e in entries], loc="lower left", ncols=4, borderaxespad=0.3,
                 bbox_to_anchor=((3.0 - _LEFT) / wide, 1.0), borderpad=0.0, handlelength=2.6, columnspacing=1.4,
                 labelspacing=0.4)  # fmt: skip
    for i, line in enumerate(notes):
        style.write(figure, 3.0, top + tall + 10.0 + i * style.line_height(), line)
    return figure, panel, scale


def _labels(panel: Axes, tanks: Sequence[TankRow], scale: float, low: float) -> None:
    """Name, operation and position of every tank; those that would touch are spread, with a thread to their place."""
    wanted = sorted(tanks, key=lambda t: t.position)
    heights: list[float] = []
    for t in wanted:
        height = (t.position - low) * scale
        heights.append(max(height, heights[-1] + _LEAST_ROW) if heights else height)
    wide = style.WIDTH - _LEFT - _RIGHT
    for t, height in zip(wanted, heights, strict=True):
        y, x = low + height / scale, -1.5 / wide
        text = style.fit(f"{plain(t.name)}  {plain(t.operation)}", _LEFT - 14.0, 1, style.SMALL)[0]
        transform = panel.get_yaxis_transform()
        panel.text(x, y, f"{number(t.position, 4)} m", transform=transform, ha="right", va="center",
                   fontsize=style.SMALL, color=style.GREY)  # fmt: skip
        panel.text(-(_LEFT - 2.0) / wide, y, text, transform=transform, ha="left", va="center", fontsize=style.SMALL)
        if abs(y - t.position) * scale > 0.3:
            panel.plot([x, 0.0], [y, t.position], transform=transform, color=style.GREY, linewidth=0.3, clip_on=False)


def _legend(cranes: Sequence[CraneWay]) -> list[Artist]:
    entries: list[Artist] = []
    for i, crane in enumerate(cranes):
        look = _CRANES[i % len(_CRANES)]
        entries.append(Line2D([], [], linewidth=_LOADED, label=f"{plain(crane.name)}, loaded", **look))
        entries.append(Line2D([], [], linewidth=_EMPTY, label=f"{plain(crane.name)}, empty or waiting", **look))
    entries.append(Line2D([], [], color=style.BLUE, marker="|", markersize=4, linewidth=0.8, label="lift and drip"))
    entries.append(Patch(facecolor=style.PALE_SKY, edgecolor=style.GREY, linewidth=0.4, label="load in the tank"))
    entries.append(Patch(facecolor=style.ORANGE, edgecolor=style.GREY, linewidth=0.4, label="contact and ramp"))
    entries.append(
        Line2D([], [], color=style.GREY, marker="|", markersize=5, linewidth=0.8, label="may be lifted from, to")
    )
    return entries


def _soak(panel: Axes, soak: SoakBar, y: float, span: tuple[float, float], scale: float) -> None:
    """The bar of a load in a tank, and behind it the bracket of its earliest and latest lift."""
    begin, end, half = max(soak.begin, span[0]), min(soak.end, span[1]), _SOAK / 2 / scale
    if soak.earliest is not None and soak.latest is not None and soak.latest > span[0] and soak.earliest < span[1]:
        ends = [max(soak.earliest, span[0]), min(soak.latest, span[1])]
        panel.plot(ends, [y - half] * 2, color=style.GREY, linewidth=0.8, zorder=2.5)
        for inside, x in ((soak.earliest >= span[0], ends[0]), (soak.latest <= span[1], ends[1])):
            if inside:
                panel.plot([x, x], [y - 2 * half, y], color=style.GREY, linewidth=0.8, zorder=2.5)
    if end <= begin:
        return
    panel.add_patch(Rectangle((begin, y - half), end - begin, 2 * half, facecolor=style.PALE_SKY, edgecolor=style.GREY,
                              linewidth=0.4, zorder=2, hatch="xxxx" if soak.spoilt else None))  # fmt: skip
    if soak.full_current is not None and soak.full_current > begin:
        width = min(soak.full_current, end) - begin
        panel.add_patch(Rectangle((begin, y - half), width, 2 * half, facecolor=style.ORANGE, linewidth=0, zorder=2.1))
    wide = (style.WIDTH - _LEFT - _RIGHT) * (end - begin) / (span[1] - span[0])
    if soak.label and style.text_width(plain(soak.label), style.SMALL) + 1.0 < wide:
        under = {"facecolor": style.PALE_SKY, "edgecolor": "none", "pad": 0.4}
        panel.text((begin + end) / 2, y, plain(soak.label), ha="center", va="center", fontsize=style.SMALL, zorder=4,
                   clip_on=True, bbox=under)  # fmt: skip


def _way(panel: Axes, crane: CraneWay, look: dict[str, Any]) -> None:
    for piece in crane.pieces:
        if piece.kind == "drip":
            panel.plot(
                piece.times, piece.positions, color=style.BLUE, linewidth=0.8, marker="|", markersize=4, zorder=3.2
            )
        else:
            width = _LOADED if piece.kind == "loaded" else _EMPTY
            panel.plot(piece.times, piece.positions, linewidth=width, zorder=3, solid_capstyle="butt", **look)
