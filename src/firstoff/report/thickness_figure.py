"""Thickness of nickel and chromium along the developed bar: lines of the face and its edges, against the minimum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
from matplotlib.figure import Figure

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import number, plain

Array = npt.NDArray[np.float64]
_LEFT, _RIGHT, _EDGE = 17.0, 4.0, 3.0  # mm beside the panels, around everything
_HEIGHT, _GAP = 52.0, 15.0  # mm of a panel, between two
_LOOKS: Final = ((style.BLUE, "-"), (style.VERMILLION, "--"), (style.ORANGE, "-."), (style.GREY, ":"))


@dataclass(frozen=True)
class Line:
    """Thickness [um] over places along the bar [mm], from its middle, to the right positive."""

    name: str
    along: Array
    thickness: Array


@dataclass(frozen=True)
class Spot:
    """A named point: what trial builds give there (mean, and the ends of their band), and its readings [um]."""

    name: str
    along: float
    mean: float
    band: tuple[float, float] | None = None
    readings: tuple[float, ...] = ()


@dataclass(frozen=True)
class Layer:
    """One panel: a metal with its lines, its points and the least thickness that is asked for [um]."""

    name: str
    lines: tuple[Line, ...]
    spots: tuple[Spot, ...]
    least: float | None = None


def along_the_bar(path: Path | str, *, layers: Sequence[Layer], title: str, source: str = "") -> Path:
    """Write the figure (.svg or .png) and return its path; the same inputs give the same bytes.

    source: where the least thickness is from, under the title. Errors: InputFault when there is nothing to draw, or a
    thickness is no number.
    """
    faults = [
        Message("has a thickness that is no number", key=f"{layer.name}, {line.name}")
        for layer in layers for line in layer.lines
        if not np.isfinite(line.thickness).all() or line.thickness.shape != line.along.shape
    ]  # fmt: skip
    if not layers or not any(layer.lines or layer.spots for layer in layers):
        faults.append(Message("has nothing to show", key="figure", allowed="a line or a point"))
    if faults:
        raise InputFault(faults)
    with style.applied():
        return style.save(_draw(layers, plain(title), plain(source)), path, title=plain(title))


def _draw(layers: Sequence[Layer], title: str, source: str) -> Figure:
    heads = style.fit(title, style.WIDTH - 2 * _EDGE, 2, style.TITLE, bold=True)
    said = style.fit(source, style.WIDTH - 2 * _EDGE, 2, style.SMALL) if source else []
    top = _EDGE + len(heads) * style.line_height(style.TITLE) + len(said) * style.line_height(style.SMALL) + 4.0
    figure = style.new_figure(top + len(layers) * (_HEIGHT + _GAP) + 1.0)
    for i, line in enumerate(heads):
        at = _EDGE + i * style.line_height(style.TITLE)
        style.write(figure, _EDGE, at, line, fontsize=style.TITLE, weight="bold")
    for i, line in enumerate(said):
        at = _EDGE + len(heads) * style.line_height(style.TITLE) + 1.0 + i * style.line_height(style.SMALL)
        style.write(figure, _EDGE, at, line, fontsize=style.SMALL, color=style.GREY)
    for k, layer in enumerate(layers):
        _panel(figure, layer, top + k * (_HEIGHT + _GAP), f"layer-{k}")
    return figure


def _panel(figure: Figure, layer: Layer, top: float, gid: str) -> None:
    panel = style.place(figure, _LEFT, top + 5.0, style.WIDTH - _LEFT - _RIGHT, _HEIGHT - 5.0)
    for line, (colour, dashes) in zip(layer.lines, _LOOKS, strict=False):
        panel.plot(
            line.along, line.thickness, color=colour, linestyle=dashes, label=line.name, gid=f"{gid}-{line.name}"
        )
    for spot in layer.spots:
        if spot.band is not None:
            panel.plot([spot.along] * 2, list(spot.band), color=style.BLACK, linewidth=0.9, solid_capstyle="butt")
        if math.isfinite(spot.mean):
            panel.plot([spot.along], [spot.mean], "o", markersize=3.2, markerfacecolor="white",
                       markeredgecolor=style.BLACK, markeredgewidth=0.8, gid=f"{gid}-point-{spot.name}")  # fmt: skip
        if spot.readings:
            panel.plot([spot.along] * len(spot.readings), spot.readings, "x", color=style.VERMILLION, markersize=3.0,
                       markeredgewidth=0.7, gid=f"{gid}-readings-{spot.name}")  # fmt: skip
    if layer.least is not None:
        panel.axhline(layer.least, color=style.BLACK, linewidth=1.0, linestyle=(0, (6, 2)),
                      label=f"least {number(layer.least, 3)} µm", gid=f"{gid}-least")  # fmt: skip
    panel.set_ylim(0.0, 1.06 * _highest(layer))
    taken: set[float] = set()
    for spot in layer.spots:  # a second name at the same place stands on the other side of it
        side = "left" if spot.along in taken else "right"
        taken.add(spot.along)
        panel.text(spot.along + (12.0 if side == "left" else -6.0), 1.04 * _highest(layer), plain(spot.name),
                   rotation=90.0, ha=side, va="top", fontsize=style.SMALL, color=style.GREY)  # fmt: skip
    panel.set_xlabel("along the developed bar, from its middle [mm]")
    panel.set_ylabel(f"{layer.name} [µm]")
    if layer.lines or layer.least is not None:
        panel.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=5, borderaxespad=0.1, handlelength=2.6,
                     columnspacing=1.2)  # fmt: skip


def _highest(layer: Layer) -> float:
    values = [float(line.thickness.max()) for line in layer.lines if line.thickness.size]
    values += [v for s in layer.spots for v in (s.mean, *(s.band or ()), *s.readings) if math.isfinite(v)]
    return max([*values, 1.3 * (layer.least or 0.0), 1e-3])
