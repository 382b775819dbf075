"""The route card of scatter: which station, in process order, causes how much of each characteristic's scatter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import ArrayLike

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import op_label, plain

Array = npt.NDArray[np.float64]

# one hue, steadily darker: reads the same on a grey copy
_SHADES = LinearSegmentedColormap.from_list("share", ["#FFFFFF", style.PALE_SKY, style.BLUE, "#00324F"])
_ROW = 8.0  # mm
_EDGE = 3.0  # mm around everything
_OP, _STATION, _LEADING = 13.0, 28.0, 28.0  # mm: op number, station title, leading parameter
_SPACE = 2.0  # mm between columns of text
_MOST = 20  # characteristics side by side; more go into a further block underneath
_WIDEST = 14.0  # mm, a cell
_PRINTED = 0.05  # shares from here on are printed as a number
_NAME = 7.0  # points, a characteristic's name
_ROUNDING = 1e-6  # a sum of shares may miss 0 or 1 by this
_LONGEST = 45.0  # mm, a characteristic's name


@dataclass(frozen=True)
class _Card:
    ops: tuple[str, ...]
    titles: tuple[str, ...]
    characteristics: tuple[str, ...]
    shares: Array  # (stations, characteristics)
    leading: tuple[str, ...]


def route_card(
    path: Path | str,
    *,
    stations: Sequence[tuple[int | str, str]],
    characteristics: Sequence[str],
    shares: ArrayLike,
    leading: Sequence[str],
    title: str,
) -> Path:
    """Write the route card of scatter (.svg or .png) and return its path.

    stations: op number and title, in process order, drawn from top to bottom. characteristics: names with their units.
    shares: share of each characteristic's scatter, (stations, characteristics), 0 to 1, NaN where there is none to
    share out (hatched). leading: the parameter of each station that causes most, or an empty text.
    What the stations leave of a whole (joint effects, noise of the estimate) is not drawn.
    Errors: InputFault with one message per wrong input.
    """
    card = _checked(stations, characteristics, shares, leading)
    with style.applied():
        figure = _draw(card, plain(title))
        return style.save(figure, path, title=plain(title))


def _checked(
    stations: Sequence[tuple[int | str, str]], characteristics: Sequence[str], shares: ArrayLike, leading: Sequence[str]
) -> _Card:
    array = np.asarray(shares, dtype=np.float64)
    shape = (len(stations), len(characteristics))
    faults: list[Message] = []
    if 0 in shape:
        allowed = "at least one station and one characteristic"
        faults.append(
            Message("has nothing to show", key="route card", found=f"{shape[0]} by {shape[1]}", allowed=allowed)
        )
    if array.shape != shape:
        faults.append(
            Message("do not fit the card", key="shares", found=f"shape {array.shape}", allowed=f"shape {shape}")
        )
    elif (wrong := array[(array < -_ROUNDING) | (array > 1.0 + _ROUNDING)]).size:
        faults.append(
            Message("are not fractions", key="shares", found=f"{float(wrong[0]):g}", allowed="0 to 1, or NaN")
        )
    if len(leading) != shape[0]:
        found, allowed = str(len(leading)), f"{shape[0]}, one for each station"
        faults.append(Message("does not fit the stations", key="leading", found=found, allowed=allowed))
    if faults:
        raise InputFault(faults)
    ops = tuple(op_label(op) for op, _ in stations)
    titles = tuple(plain(title) for _, title in stations)
    return _Card(ops, titles, tuple(map(plain, characteristics)), np.clip(array, 0.0, 1.0), tuple(map(plain, leading)))


def _draw(card: _Card, title: str) -> Figure:
    heads = style.fit(title, style.WIDTH - 2 * _EDGE, 2, style.TITLE, bold=True)
    names = [_name(name) for name in card.characteristics]
    blocks = [slice(i, i + _MOST) for i in range(0, len(names), _MOST)]
    tops, top = [], _EDGE + len(heads) * style.line_height(style.TITLE) + 2.0
    for block in blocks:
        head = max(style.text_width(name, _NAME) for name in names[block]) + 3.0
        tops.append(top + max(head, 8.0))
        top = tops[-1] + _ROW * len(card.ops) + 6.0
    figure = style.new_figure(top + 8.0)
    for i, line in enumerate(heads):
        at = _EDGE + i * style.line_height(style.TITLE)
        style.write(figure, _EDGE, at, line, fontsize=style.TITLE, weight="bold")
    for block, start in zip(blocks, tops, strict=True):
        _block(figure, card, block, names[block], start)
    _scale(figure, top, bool(np.any(np.isnan(card.shares))))
    return figure


def _name(text: str) -> str:
    """A characteristic's name cut to its room, never its unit."""
    what, bracket, unit = text.rpartition(" [")
    if not bracket:
        return style.cut(text, _LONGEST, _NAME)
    return style.cut(what, _LONGEST - style.text_width(bracket + unit, _NAME), _NAME) + bracket + unit


def _ink(share: float) -> str:
    """Black or white, whichever contrasts more with the shade.

    L = 0.2126 R + 0.7152 G + 0.0722 B of the linear sRGB values; contrast = (L1 + 0.05) / (L2 + 0.05).
    Source: WCAG 2.1, definitions of relative luminance and contrast ratio.
    """
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(_SHADES(share))]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return "white" if 1.05 / (luminance + 0.05) > (luminance + 0.05) / 0.05 else style.BLACK


def _block(figure: Figure, card: _Card, block: slice, names: Sequence[str], top: float) -> None:
    """Up to 20 characteristics beside the stations; `top` is the upper edge of the first row in mm."""
    left = _EDGE + _OP + _STATION + _SPACE
    cell = min((style.WIDTH - left - _SPACE - _LEADING - _EDGE) / len(names), _WIDEST)
    right = left + cell * len(names) + _SPACE
    height = _ROW * len(card.ops)
    words = {"fontsize": style.SMALL, "color": style.GREY, "va": "bottom"}
    style.write(figure, _EDGE, top - 1.2, "station, in process order", **words)
    style.write(figure, right, top - 1.2, "leading parameter", **words)
    for j, name in enumerate(names):
        middle = left + (j + 0.5) * cell
        style.write(figure, middle, top - 1.2, name, rotation=90.0, ha="center", va="bottom", fontsize=_NAME)
    for i, (op, title, leading) in enumerate(zip(card.ops, card.titles, card.leading, strict=True)):
        middle = top + (i + 0.5) * _ROW
        op = style.cut(op, _OP - 1.0, style.BODY, bold=True)
        style.write(figure, _EDGE, middle, op, va="center_baseline", weight="bold")
        room = style.WIDTH - _EDGE - right
        for x, text, width in ((_EDGE + _OP, title, _STATION), (right, leading, room)):
            lines = style.fit(text, width, 2, style.BODY)
            way = "center" if len(lines) > 1 else "center_baseline"
            style.write(figure, x, middle, "\n".join(lines), va=way, linespacing=1.05)
    panel = style.place(figure, left, top, cell * len(names), height)
    _cells(panel, card.shares[:, block], cell)


def _cells(panel: Axes, shares: Array, width: float) -> None:
    rows, columns = shares.shape
    panel.set_axis_off()
    panel.set_xlim(0.0, columns)
    panel.set_ylim(rows, 0.0)
    size = style.BODY if style.text_width("100", style.BODY) < width - 0.6 else style.SMALL
    for i in range(rows):
        for j in range(columns):
            value = float(shares[i, j])
            _cell(panel, i, j, value)
            if value >= _PRINTED:
                text = f"{100.0 * value:.0f}"
                panel.text(
                    j + 0.5,
                    i + 0.52,
                    text,
                    ha="center",
                    va="center",
                    fontsize=size,
                    color=_ink(value),
                    gid=f"share-{i}-{j}",
                )


def _cell(panel: Axes, row: float, column: float, value: float) -> None:
    look: dict[str, Any] = {"linewidth": 0.4, "edgecolor": style.GREY, "clip_on": False}
    if np.isnan(value):
        panel.add_patch(Rectangle((column, row), 1.0, 1.0, facecolor="white", hatch="////", **look))
    else:
        panel.add_patch(Rectangle((column, row), 1.0, 1.0, facecolor=_SHADES(value), **look))


def _scale(figure: Figure, top: float, hatched: bool) -> None:
    """What the shades say, under the card."""
    steps = (0.0, 0.25, 0.5, 0.75, 1.0)
    words = "share of the characteristic's scatter [%], printed from 5 up"
    style.write(figure, _EDGE, top + 2.0, words, va="center", fontsize=style.SMALL)
    left = _EDGE + style.text_width(words, style.SMALL) + 3.0
    panel = style.place(figure, left, top, 8.0 * len(steps), 4.0)
    _cells_of_scale(panel, steps)
    if hatched:
        left += 8.0 * len(steps) + 5.0
        box = style.place(figure, left, top, 8.0, 4.0)
        box.set_axis_off()
        _cell(box, 0.0, 0.0, float("nan"))
        style.write(figure, left + 10.0, top + 2.0, "no value", va="center", fontsize=style.SMALL)


def _cells_of_scale(panel: Axes, steps: Sequence[float]) -> None:
    panel.set_axis_off()
    panel.set_xlim(0.0, len(steps))
    panel.set_ylim(1.0, 0.0)
    for j, value in enumerate(steps):
        _cell(panel, 0.0, float(j), value)
        panel.text(
            j + 0.5, 0.52, f"{100 * value:.0f}", ha="center", va="center", fontsize=style.SMALL, color=_ink(value)
        )
