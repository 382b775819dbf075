"""Force against rod speed: nominal, trial builds, limits and readings, and below it how far the tolerance is used.

Sign: v > 0 is rebound (extension), F > 0 is tension; compression has negative speeds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.markers import MarkerStyle
from matplotlib.patches import Patch
from matplotlib.path import Path as Outline
from numpy.typing import ArrayLike

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import number, plain

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

_LEFT, _RIGHT = 23.0, 5.0  # mm beside the panels
_LABEL = 18.5  # mm from a panel to its force or tolerance label
_GAP = 16.0  # mm between the panels, for the upper one's speeds
_WIDEST = 26.0  # mm, a column of the lower panel
_UPPER, _LOWER = 78.0, 52.0  # mm, heights of the panels; the lower one grows with its labels
_LINES = 4  # names under one another in a column of the lower panel
_EDGE = 315.0  # % of half the tolerance; readings beyond are drawn at the edge
_BAR = 0.84  # of a column's width
# square brackets that open towards the tolerance
_HIGH_MARK = MarkerStyle(Outline([(-1.0, -0.7), (-1.0, 0.0), (1.0, 0.0), (1.0, -0.7)]))
_LOW_MARK = MarkerStyle(Outline([(-1.0, 0.7), (-1.0, 0.0), (1.0, 0.0), (1.0, 0.7)]))


def _look(marker: str | MarkerStyle, size: float, face: str, rim: float) -> dict[str, Any]:
    edge = {"markeredgecolor": style.BLACK, "markeredgewidth": rim}
    return {"linestyle": "none", "marker": marker, "markersize": size, "markerfacecolor": face, **edge}


_READING = _look("o", 3.0, "white", 0.6)
_OUTSIDE = _look("D", 3.6, style.VERMILLION, 0.5)


@dataclass(frozen=True)
class Quantiles:
    """The spread of the trial builds at each speed, in N, and what share of them it holds, in words."""

    low: ArrayLike
    median: ArrayLike
    high: ArrayLike
    label: str  # e.g. "99.7 % of trial builds"


@dataclass(frozen=True)
class _Curve:
    """Everything the figure shows, checked: (m,) per speed, readings (parts, m), NaN where there is none."""

    speeds: Array
    nominal: Array
    low: Array
    median: Array
    high: Array
    label: str
    lower: Array
    upper: Array
    names: tuple[str, ...]
    readings: Array

    @property
    def too_low(self) -> Flags:
        return np.asarray(self.readings < self.lower)

    @property
    def too_high(self) -> Flags:
        return np.asarray(self.readings > self.upper)

    def deviation(self, force: Array) -> Array:
        """Deviation from the middle of the limits, in per cent of half the tolerance.

        d = 100 (F - (U + L) / 2) / ((U - L) / 2), so that the limits lie at -100 and +100.
        F: force [N], (..., m); L, U: lower and upper limit [N], (m,). NaN where a limit is missing or U = L.
        Source: algebra; no tolerance standard is implied.
        """
        half = (self.upper - self.lower) / 2.0
        half = np.where(half > 0.0, half, np.nan)
        return np.asarray(100.0 * (force - (self.upper + self.lower) / 2.0) / half)


def force_velocity(
    path: Path | str,
    *,
    speeds: ArrayLike,
    nominal: ArrayLike,
    quantiles: Quantiles,
    limits: tuple[ArrayLike, ArrayLike],
    readings: Mapping[str, ArrayLike],
    title: str,
) -> Path:
    """Write the force-velocity figure (.svg or .png) and return its path.

    speeds: rod speed v [m/s], (m,), strictly ascending, rebound positive. nominal: force F [N], (m,), tension positive.
    quantiles: forces [N], (m,) each. limits: lower and upper limit [N], (m,) each, NaN where there is none.
    readings: force [N] of each part, (m,), NaN where not measured. No lower panel when no speed has limits.
    A reading is marked as outside by plain comparison: the figure gives no verdict, which needs the gauge's error.
    Errors: InputFault with one message per wrong array.
    """
    curve = _checked(speeds, nominal, quantiles, limits, readings)
    with style.applied():
        figure = _draw(curve, plain(title))
        return style.save(figure, path, title=plain(title))


def _checked(
    speeds: ArrayLike,
    nominal: ArrayLike,
    quantiles: Quantiles,
    limits: tuple[ArrayLike, ArrayLike],
    readings: Mapping[str, ArrayLike],
) -> _Curve:
    v = np.asarray(speeds, dtype=np.float64)
    if v.ndim != 1 or v.size == 0 or not np.all(np.isfinite(v)) or np.any(np.diff(v) <= 0.0):
        allowed = "m/s, 1 or more, finite"
        raise InputFault([Message("are not strictly ascending", key="speeds", found=str(v), allowed=allowed)])
    faults: list[Message] = []

    def row(key: str, values: ArrayLike) -> Array:
        array = np.asarray(values, dtype=np.float64)
        if array.shape != v.shape or np.any(np.isinf(array)):
            wanted = f"{v.size} finite forces, one for each speed, NaN where there is none"
            faults.append(Message("does not fit the speeds", key=key, found=f"shape {array.shape}", allowed=wanted))
            return np.full(v.shape, np.nan)
        return array

    rows = {"nominal": row("nominal", nominal)}
    for key in ("low", "median", "high"):
        rows[key] = row(f"quantiles.{key}", getattr(quantiles, key))
    rows["lower"], rows["upper"] = row("limits.low", limits[0]), row("limits.high", limits[1])
    parts = [row(f"readings.{name}", values) for name, values in readings.items()]
    for least, most in (("low", "median"), ("median", "high"), ("low", "high"), ("lower", "upper")):
        wrong = rows[least] > rows[most]
        if np.any(wrong):
            where = ", ".join(f"{number(float(x))} m/s" for x in v[wrong])
            key = "limits" if least == "lower" else "quantiles"
            faults.append(Message(f"{least} lies above {most}", key=key, found=where))
    if faults:
        raise InputFault(faults)
    stacked = np.array(parts, dtype=np.float64).reshape(len(parts), v.size)
    return _Curve(v, **rows, label=plain(quantiles.label), names=tuple(map(plain, readings)), readings=stacked)


def _draw(curve: _Curve, title: str) -> Figure:
    """Title, legend and the two panels under one another; every place in mm, so nothing depends on a renderer."""
    wide = style.WIDTH - _LEFT - _RIGHT
    two = bool(np.any(np.isfinite(curve.lower) | np.isfinite(curve.upper)))
    heads = style.fit(title, style.WIDTH - 6.0, 2, style.TITLE, bold=True)
    top = 4.0 + len(heads) * style.line_height(style.TITLE)
    entries = _legend_entries(curve)
    columns = _legend_columns([str(e.get_label()) for e in entries], wide)
    legend_top, top = top, top + 4.0 * -(-len(entries) // columns) + 2.0
    strips = _Strips.of(curve, min(wide / curve.speeds.size, _WIDEST)) if two else None
    labels = _speed_labels(curve)
    turned = max(style.text_width(label) for label in labels)
    turned = turned if turned > wide / len(labels) - 0.8 else 0.0
    below = _GAP + _LOWER + strips.above + strips.under + turned - 2.0 if strips else 0.0
    figure = style.new_figure(top + _UPPER + 13.0 + below)
    for i, line in enumerate(heads):
        style.write(figure, 3.0, 3.0 + i * style.line_height(style.TITLE), line, fontsize=style.TITLE, weight="bold")
    panel = style.place(figure, _LEFT, top, wide, _UPPER)
    _upper_panel(panel, curve, wide)
    anchor = (0.0, 1.0 + (top - legend_top) / _UPPER)
    panel.legend(entries, [str(e.get_label()) for e in entries], loc="upper left", bbox_to_anchor=anchor, ncols=columns,
                 borderaxespad=0.0, borderpad=0.0, handlelength=2.2, columnspacing=1.6, labelspacing=0.5)  # fmt: skip
    if strips:
        height = _LOWER + strips.above + strips.under
        lower = style.place(figure, _LEFT, top + _UPPER + _GAP, wide, height)
        _lower_panel(lower, curve, strips, height)
        lower.set_xticks(range(len(labels)), labels, rotation=90.0 if turned else 0.0)
    return figure


def _legend_columns(labels: Sequence[str], wide: float) -> int:
    """The most columns that fit side by side; matplotlib fills a legend column by column."""
    widths = [style.text_width(label) + 13.0 for label in labels]  # with the sign and the space to the next
    for columns in range(len(labels), 1, -1):
        if sum(float(part.max()) for part in np.array_split(np.array(widths), columns)) <= wide:
            return columns
    return 1


def _legend_entries(curve: _Curve) -> list[Artist]:
    """Only what the figure holds."""
    entries: list[Artist] = []
    if np.any(np.isfinite(curve.nominal)):
        entries.append(Line2D([], [], color=style.BLUE, label="nominal"))
    if np.any(np.isfinite(curve.low) & np.isfinite(curve.high)):
        label = style.cut(curve.label, 90.0) or "spread of trial builds"
        entries.append(Patch(facecolor=style.PALE_SKY, edgecolor=style.SKY, linewidth=0.5, label=label))
    if np.any(np.isfinite(curve.median)):
        label = "median of trial builds"
        entries.append(Line2D([], [], color=style.BLACK, linestyle=(0, (3, 2)), linewidth=0.8, label=label))
    if np.any(np.isfinite(curve.lower) | np.isfinite(curve.upper)):
        entries.append(Line2D([], [], label="limits", **_look(_HIGH_MARK, 6.0, "none", 0.9)))
    outside = int(np.sum(curve.too_low | curve.too_high))
    total = int(np.sum(np.isfinite(curve.readings)))
    if total > outside:
        parts = int(np.sum(np.any(np.isfinite(curve.readings), axis=1)))
        what = f"reading ({total} on {parts} part{'s' if parts != 1 else ''})"
        entries.append(Line2D([], [], label=what, **_READING))
    if outside:
        what = f"reading outside its limits ({outside} of {total})"
        entries.append(Line2D([], [], label=what, **_OUTSIDE))
    beyond = int(np.sum(np.abs(curve.deviation(curve.readings)) > _EDGE))
    if beyond:
        entries.append(Line2D([], [], label=f"beyond the lower panel ({beyond})", **{**_OUTSIDE, "marker": "^"}))
    return entries


def _upper_panel(panel: Axes, curve: _Curve, wide: float) -> None:
    v = curve.speeds
    span = float(v[-1] - v[0]) or 1.0
    panel.set_xlim(float(v[0]) - 0.04 * span, float(v[-1]) + 0.04 * span)
    panel.set_ylim(*_force_range(curve))
    if v.size == 1:
        panel.set_xticks(v, _speed_labels(curve))
    gaps = np.diff(v) / (1.08 * span) * wide / style.PT if v.size > 1 else np.array([wide])
    size = float(np.clip(0.8 * np.min(gaps), 2.0, 6.0))  # neighbouring brackets must not touch
    for line in (panel.axhline, panel.axvline):
        line(0.0, color=style.GREY, linewidth=0.5, zorder=1.0)
    panel.set_autoscale_on(False)
    band = panel.fill_between(v, curve.low, curve.high, facecolor=style.PALE_SKY, edgecolor=style.SKY, linewidth=0.5)
    band.set(gid="spread", zorder=2.0)
    # a speed whose neighbours have no spread makes no area: a bar shows it
    alone = _alone(curve.low + curve.high)
    ends = zip(v[alone], curve.low[alone], curve.high[alone], strict=True)
    bars = LineCollection([[(x, a), (x, b)] for x, a, b in ends], colors=style.PALE_SKY, linewidths=5.0, zorder=2.0)
    bars.set_capstyle("butt")
    panel.add_collection(bars)
    both = np.isfinite(curve.lower) & np.isfinite(curve.upper)
    ties = [[(x, a), (x, b)] for x, a, b in zip(v[both], curve.lower[both], curve.upper[both], strict=True)]
    panel.add_collection(LineCollection(ties, colors=style.BLACK, linewidths=0.35, zorder=3.0))
    panel.plot(v, curve.median, color=style.BLACK, linestyle=(0, (3, 2)), linewidth=0.8, zorder=3.5, gid="median")
    dot: dict[str, Any] = {"marker": "s", "markersize": 3.0} if np.any(_alone(curve.nominal)) else {}
    panel.plot(v, curve.nominal, color=style.BLUE, zorder=3.2, gid="nominal", **dot)
    panel.plot(v, curve.lower, zorder=3.0, gid="limits-low", **_look(_LOW_MARK, size, "none", 0.9))
    panel.plot(v, curve.upper, zorder=3.0, gid="limits-high", **_look(_HIGH_MARK, size, "none", 0.9))
    out = curve.too_low | curve.too_high
    everywhere = np.broadcast_to(v, curve.readings.shape)
    _marks(panel, everywhere[~out], curve.readings[~out], "readings", _READING, 4.0)
    _marks(panel, everywhere[out], curve.readings[out], "readings-outside", _OUTSIDE, 5.0)
    panel.set_xlabel("rod speed, rebound positive [m/s]")
    panel.set_ylabel("force, tension positive [N]")
    panel.get_yaxis().set_label_coords(-_LABEL / wide, 0.5)


def _force_range(curve: _Curve) -> tuple[float, float]:
    """All that is drawn, and a rim; some range even when there is nothing to draw."""
    rows = (curve.nominal, curve.low, curve.median, curve.high, curve.lower, curve.upper, *curve.readings)
    seen = [x for row in rows for x in row[np.isfinite(row)].tolist()] or [0.0]
    rim = 0.06 * (max(seen) - min(seen)) or 1.0
    return min(seen) - rim, max(seen) + rim


def _speed_labels(curve: _Curve) -> list[str]:
    return [f"{'+' if x > 0 else '−' if x < 0 else ''}{number(abs(float(x)), 3)}" for x in curve.speeds]


def _alone(values: Array) -> Flags:
    """Where a value has no neighbour to be joined to by a line."""
    there = np.pad(np.isfinite(values), 1)
    return np.asarray(there[1:-1] & ~there[:-2] & ~there[2:])


def _marks(panel: Axes, x: Array, y: Array, gid: str, look: Mapping[str, Any], zorder: float) -> None:
    shown = np.isfinite(y)
    if np.any(shown):
        panel.plot(x[shown], y[shown], gid=gid, zorder=zorder, **look)


@dataclass(frozen=True)
class _Strips:
    """The names of the parts outside their limits, per speed, and the room in mm they take above and under the data."""

    high: tuple[str, ...]
    low: tuple[str, ...]
    upright: bool  # columns too narrow for names: turned by 90 degrees
    above: float
    under: float

    @classmethod
    def of(cls, curve: _Curve, slot: float) -> _Strips:
        outside = np.any(curve.too_low | curve.too_high, axis=1)
        names = [name for name, out in zip(curve.names, outside, strict=True) if out]
        longest = max((style.text_width(name, style.SMALL) for name in names), default=0.0)
        upright = min(longest, 9.0) > slot - 1.4
        room = 16.0 if upright else slot - 1.4
        lines = max(1, min(_LINES, int(slot / style.line_height(style.SMALL)))) if upright else _LINES
        high = tuple(_names(curve.names, column, lines, room) for column in curve.too_high.T)
        low = tuple(_names(curve.names, column, lines, room) for column in curve.too_low.T)
        return cls(high, low, upright, _room(high, upright), _room(low, upright))


def _names(names: Sequence[str], out: Flags, lines: int, room: float) -> str:
    """The parts of one column, one a line; the last line counts those that have no room."""
    chosen = [style.cut(n, room, style.SMALL, keep_end=True) for n, o in zip(names, out, strict=True) if o]
    if len(chosen) > lines:
        rest = len(chosen) - (lines - 1)
        count = f"and {rest}" if lines > 1 else f"{rest} parts"
        chosen = [*chosen[: lines - 1], style.cut(count, room, style.SMALL)]
    return "\n".join(chosen)


def _room(texts: Sequence[str], upright: bool) -> float:
    lines = [line for text in texts for line in text.split("\n") if line]
    if not lines:
        return 0.0
    if upright:
        return max(style.text_width(line, style.SMALL) for line in lines) + 2.0
    return max(text.count("\n") + 1 for text in texts) * style.line_height(style.SMALL) + 2.0


def _lower_panel(panel: Axes, curve: _Curve, strips: _Strips, height: float) -> None:
    """The use of the tolerance: one column per speed, equally wide, the readings side by side in the parts' order."""
    slots = np.arange(curve.speeds.size, dtype=np.float64)
    use = {key: curve.deviation(getattr(curve, key)) for key in ("low", "high", "median", "nominal", "readings")}
    seen = [np.abs(a[np.isfinite(a)]) for a in use.values()]
    far = float(np.clip(max((float(s.max()) for s in seen if s.size), default=0.0) * 1.08, 125.0, _EDGE))
    scale = 2.0 * far / (height - strips.above - strips.under)  # % per mm
    rim = max(0.0, (style.WIDTH - _LEFT - _RIGHT) / _WIDEST - slots.size) / 2.0  # a few speeds do not fill the page
    panel.set_xlim(-0.5 - rim, slots.size - 0.5 + rim)
    panel.set_ylim(-far - scale * strips.under, far + scale * strips.above)
    for limit in (-100.0, 100.0):
        panel.axhline(limit, color=style.BLACK, linewidth=0.9, zorder=3.0)
    panel.axhline(0.0, color=style.GREY, linewidth=0.5, zorder=1.0)
    foot, head = (np.clip(use[key], -far, far) for key in ("low", "high"))  # clear of the names
    bars = panel.bar(slots, head - foot, _BAR, foot, facecolor=style.PALE_SKY, edgecolor=style.SKY, linewidth=0.5,
                     zorder=2.0)  # fmt: skip
    for i, bar in enumerate(bars):
        bar.set_gid(f"use-{i}")
    panel.hlines(use["median"], slots - _BAR / 2, slots + _BAR / 2, colors=style.BLACK, linestyles=(0, (3, 2)),
                 linewidth=0.8, zorder=3.5)  # fmt: skip
    panel.hlines(use["nominal"], slots - _BAR / 2, slots + _BAR / 2, colors=style.BLUE, linewidth=1.2, zorder=3.2)
    _lower_readings(panel, curve, use["readings"], slots, far)
    _lower_words(panel, curve, strips, far, scale)
    _lower_axes(panel, curve, far)


def _lower_readings(panel: Axes, curve: _Curve, use: Array, slots: Array, far: float) -> None:
    count = max(len(curve.names), 1)
    aside = ((np.arange(count) - (count - 1) / 2.0) / count * (_BAR - 0.08))[: len(curve.names)]
    x = slots[None, :] + aside[:, None]
    edge = far * 0.97
    out, beyond = curve.too_low | curve.too_high, np.abs(use) > far
    _marks(panel, x[~out], use[~out], "use-readings", _READING, 4.0)
    _marks(panel, x[out & ~beyond], use[out & ~beyond], "use-outside", _OUTSIDE, 5.0)
    for gid, side, marker in (("use-far-high", use > far, "^"), ("use-far-low", use < -far, "v")):
        look = {**_OUTSIDE, "marker": marker, "markersize": 5.0}
        _marks(panel, x[side], np.clip(use[side], -edge, edge), gid, look, 5.0)


def _lower_words(panel: Axes, curve: _Curve, strips: _Strips, far: float, scale: float) -> None:
    turn = {"rotation": 90.0} if strips.upright else {}
    sides = ((strips.high, far + scale, "bottom", "high"), (strips.low, -far - scale, "top", "low"))
    for texts, edge, way, side in sides:
        for i, text in enumerate(texts):
            if text:
                panel.text(i, edge, text, ha="center", va=way, fontsize=style.SMALL, color=style.BLACK,
                           linespacing=1.0, gid=f"outside-{side}-{i}", **turn)  # type: ignore[arg-type]  # fmt: skip
    bare = np.isnan(curve.deviation(curve.upper))
    one = np.isfinite(curve.lower) | np.isfinite(curve.upper)
    for i in np.flatnonzero(bare).tolist():
        what = "no width" if curve.lower[i] == curve.upper[i] else "one limit" if one[i] else "no limits"
        panel.text(float(i), 0.0, what, rotation=90.0, ha="center", va="center", fontsize=style.SMALL, color=style.GREY,
                   bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0})  # fmt: skip


def _lower_axes(panel: Axes, curve: _Curve, far: float) -> None:
    panel.tick_params(axis="x", length=0.0)
    ticks = [t for t in range(-300, 301, 100 if far >= 200.0 else 50) if abs(t) <= far]
    words = {-100: "limit −100", 100: "limit +100"}
    panel.set_yticks(ticks, [words.get(t, f"{t:+d}".replace("-", "−") if t else "0") for t in ticks])
    turn = int(np.searchsorted(curve.speeds, 0.0))
    if 0 < turn < curve.speeds.size:
        panel.axvline(turn - 0.5, color=style.GREY, linewidth=0.5, zorder=1.0)
    panel.set_xlabel("rod speed, rebound positive [m/s], columns equally spaced")
    panel.set_ylabel("off the middle [% of half tolerance]")
    panel.get_yaxis().set_label_coords(-_LABEL / (style.WIDTH - _LEFT - _RIGHT), 0.5)
