"""A bar that is hit, over time: the plan view at chosen instants, the force, and where the energy went."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import number, plain

Array = npt.NDArray[np.float64]
_EDGE, _VIEW, _CHART, _GAP = 3.0, 31.0, 50.0, 6.0  # mm
_AHEAD, _BEHIND = 45.0, 135.0  # mm of the car that are drawn before and behind the bar's middle
_RAIL = 95.0  # mm behind the bar where the rail is drawn
_COLOURS = ("#EDEDED", style.SKY, style.BLUE, style.ORANGE, style.VERMILLION)


@dataclass(frozen=True)
class Striker:
    """What meets the bar: radius of its face in plan (0 for flat), half its width [m], its way against straight ahead
    [rad]."""

    radius: float
    half_width: float
    angle: float


@dataclass(frozen=True)
class Kept:
    """A lamp or cooler: its name, where it stands [m], and the room left over time (s,) [m]."""

    name: str
    x: float
    y: float
    room: Array


@dataclass(frozen=True)
class Scene:
    """One hit, seen from the car: x to the right, y to the rear [m]."""

    rest: Array  # (c, 2) outline of the bar before
    time: Array  # (s,) s
    bar: Array  # (s, c, 2)
    nose: Array  # (s, 2)
    striker: Striker
    brackets: Array  # (k, 2) where they hold the bar at rest
    held: Array  # (s, k, 2) and over time
    kept: tuple[Kept, ...]
    raw: Array  # (s,) N
    filtered: Array  # (s,) N
    loads: Mapping[str, Array]  # bracket -> (s,) N
    energy: Mapping[str, Array]  # where -> (s,) J


@dataclass(frozen=True)
class Instant:
    """A sample that is drawn, and why."""

    at: int
    name: str


def instants(scene: Scene) -> tuple[Instant, ...]:
    """Touch, on the way, the most force, the deepest, the parting, the end; once each, in order, six at most."""
    most = int(np.argmax(scene.filtered))
    moved = np.abs(scene.bar[..., 1] - scene.rest[None, :, 1]).max(axis=1)
    deepest = int(np.argmax(moved))
    touching = np.flatnonzero(scene.raw > 0.0)
    apart = int(touching[-1]) if len(touching) else 0
    close = max(1, len(scene.time) // 30)
    both = abs(most - deepest) <= close
    wanted = {0: "touch", most // 3: "on the way", 2 * most // 3: "on the way", most: "most force",
              deepest: "deepest, about most force" if both else "deepest", apart: "parting",
              len(scene.time) - 1: "end"}  # fmt: skip
    wanted.pop(most if both and most != deepest else -1, None)
    if len(wanted) > 6:
        wanted.pop(2 * most // 3)
    return tuple(Instant(at, wanted[at]) for at in sorted(wanted))


def hit_figure(path: Path | str, *, scene: Scene, title: str, note: str = "") -> Path:
    """Write the figure (.svg or .png) and return its path: plan views above, force and energy over time below.

    InputFault for a scene without samples or with a number that is none.
    """
    _checked(scene)
    chosen = instants(scene)
    rows = math.ceil(len(chosen) / 2)
    with style.applied():
        heads = style.fit(plain(title), style.WIDTH - 2 * _EDGE, 2, style.TITLE, bold=True)
        words = style.fit(plain(_scale_text() + (f" {note}" if note else "")), style.WIDTH - 2 * _EDGE, 3, style.SMALL)
        top = _EDGE + len(heads) * style.line_height(style.TITLE)
        first = top + len(words) * style.line_height(style.SMALL) + 5.0
        below = first + rows * (_VIEW + _GAP) + 4.0
        figure = style.new_figure(below + _CHART + 11.0)
        for i, line in enumerate(heads):
            style.write(figure, _EDGE, _EDGE + i * style.line_height(style.TITLE), line, fontsize=style.TITLE,
                        weight="bold")  # fmt: skip
        for i, line in enumerate(words):
            style.write(figure, _EDGE, top + 1.0 + i * style.line_height(style.SMALL), line, fontsize=style.SMALL,
                        color=style.GREY)  # fmt: skip
        wide = 0.5 * (style.WIDTH - 2 * _EDGE - _GAP)
        for i, instant in enumerate(chosen):
            left, down = _EDGE + (i % 2) * (wide + _GAP), first + (i // 2) * (_VIEW + _GAP)
            style.write(figure, left, down - 3.6, _said(scene, instant), fontsize=style.SMALL)
            _view(style.place(figure, left, down, wide, _VIEW), scene, instant.at)
        _force(style.place(figure, 14.0, below, wide - 14.0, _CHART), scene)
        _energy(style.place(figure, _EDGE + wide + _GAP + 12.0, below, wide - 12.0, _CHART), scene)
        return style.save(figure, path, title=plain(title))


def hit_frame(path: Path | str, *, scene: Scene, at: int, title: str) -> Path:
    """One instant alone, for a page that shows the hit frame by frame. InputFault as `hit_figure`."""
    _checked(scene)
    with style.applied():
        figure = style.new_figure(2.0 * _VIEW + 10.0)
        style.write(figure, _EDGE, 1.0, _said(scene, Instant(at, plain(title))))
        _view(style.place(figure, _EDGE, 7.0, style.WIDTH - 2 * _EDGE, 2.0 * _VIEW), scene, at, names=True)
        return style.save(figure, path, title=plain(title))


def _checked(scene: Scene) -> None:
    good = len(scene.time) > 1 and all(
        np.isfinite(a).all() for a in (scene.bar, scene.filtered, scene.raw, *scene.energy.values())
    )
    if not good:
        raise InputFault([Message("has nothing to draw or holds no number", key="hit")])


def _scale_text() -> str:
    return "Plan view, the car above, seen from the car; along the car drawn larger than across it; grey: at rest."


def _said(scene: Scene, instant: Instant) -> str:
    """`most force, 21 ms: 28 kN; room 20.6 mm at the lamp`."""
    at = instant.at
    text = f"{instant.name}, {number(1e3 * scene.time[at], 3)} ms: {_kilonewtons(scene.filtered[at])} kN"
    if scene.kept:
        least = min(scene.kept, key=lambda kept: float(kept.room[at]))
        text += f"; least room {number(1e3 * least.room[at], 3)} mm, {plain(least.name)}"
    return style.cut(text, 0.5 * style.WIDTH, style.SMALL)


def _kilonewtons(force: float) -> str:
    return number(round(1e-3 * float(force), 2), 3)


def _view(panel: Axes, scene: Scene, at: int, names: bool = False) -> None:
    """The bar, its brackets, what is behind it and what meets it, in mm."""
    base = 1e3 * float(scene.brackets[:, 1].mean())
    rest, now = 1e3 * scene.rest, 1e3 * scene.bar[at]
    middle = 1e3 * float(scene.rest[:, 1].min())
    panel.plot(rest[:, 0], rest[:, 1], color=style.PALE_GREY, linewidth=2.2, zorder=1.0)
    for place in 1e3 * scene.held[at]:
        _spring(panel, place, base + _RAIL)
    for kept in scene.kept:
        _lamp(panel, kept, at, names)
    panel.plot(*_face(scene, at), color=style.BLACK, linewidth=1.0, zorder=3.0)
    panel.fill(*_face(scene, at), color=style.PALE_SKY, zorder=0.5)
    panel.plot(now[:, 0], now[:, 1], color=style.BLUE, linewidth=1.8, zorder=4.0)
    reach = 1.06 * float(np.abs(rest[:, 0]).max())
    panel.set_xlim(-reach, reach)
    panel.set_ylim(middle - _AHEAD, max(base + _RAIL + 20.0, middle + _BEHIND))
    panel.grid(visible=False)
    panel.set_xticks([])
    panel.set_yticks([])
    for side in ("left", "bottom"):
        panel.spines[side].set_visible(False)
    x, y = -0.98 * reach, panel.get_ylim()[0] + 8.0
    panel.plot([x, x + 200.0], [y, y], color=style.GREY, linewidth=1.0)
    panel.plot([x, x], [y, y + 50.0], color=style.GREY, linewidth=1.0)
    panel.text(x + 12.0, y + 4.0, "200 mm; up 50 mm", fontsize=style.SMALL, color=style.GREY)


def _spring(panel: Axes, place: Array, rail: float) -> None:
    """A bracket between the bar and its rail."""
    turns = np.linspace(0.0, 1.0, 9)
    x = place[0] + np.where(np.arange(9) % 2 == 0, -9.0, 9.0)
    x[0] = x[-1] = place[0]
    panel.plot(x, place[1] + turns * (rail - place[1]), color=style.GREY, linewidth=0.8, zorder=2.0)
    panel.add_patch(Rectangle((place[0] - 35.0, rail), 70.0, 12.0, facecolor=style.GREY, edgecolor="none", zorder=2.0))


def _lamp(panel: Axes, kept: Kept, at: int, names: bool) -> None:
    """A guarded part: a box whose face the bar must not reach; filled where it does."""
    met = float(kept.room[at]) <= 0.0
    box = Rectangle((1e3 * kept.x - 40.0, 1e3 * kept.y), 80.0, 26.0, zorder=2.5, linewidth=0.9,
                    edgecolor=style.VERMILLION if met else style.ORANGE,
                    facecolor=style.VERMILLION if met else "white")  # fmt: skip
    panel.add_patch(box)
    if names or at == 0:
        panel.text(1e3 * kept.x - 50.0, 1e3 * kept.y + 13.0, style.cut(plain(kept.name), 22.0, style.SMALL), ha="right",
                   va="center", fontsize=style.SMALL, color=style.BLACK, zorder=2.6)  # fmt: skip


def _face(scene: Scene, at: int) -> tuple[Array, Array]:
    """Outline of the striker, its face first, in mm."""
    s = scene.striker
    wide = s.half_width if s.radius <= 0.0 else min(s.half_width, 0.995 * s.radius)
    wide = min(wide, 1.5)
    across = np.linspace(-wide, wide, 61)
    back = s.radius - np.sqrt(np.maximum(s.radius**2 - across**2, 0.0)) if s.radius > 0.0 else 0.0 * across
    across, back = np.append(across, [wide, -wide]), np.append(back, [back[-1] + 0.3, back[0] + 0.3])
    sine, cosine = math.sin(s.angle), math.cos(s.angle)
    x = scene.nose[at, 0] + across * cosine - back * sine
    y = scene.nose[at, 1] - across * sine - back * cosine
    return 1e3 * np.append(x, x[0]), 1e3 * np.append(y, y[0])


def _few(scene: Scene) -> slice:
    """Every so many samples: more than 300 do not show."""
    return slice(None, None, max(1, len(scene.time) // 300))


def _force(panel: Axes, scene: Scene) -> None:
    ms, few = 1e3 * scene.time, _few(scene)
    panel.plot(ms, 1e-3 * scene.raw, color=style.PALE_GREY, linewidth=0.5, label="contact, unfiltered", zorder=1.0)
    panel.plot(ms[few], 1e-3 * scene.filtered[few], color=style.BLACK, label="contact, CFC 60", zorder=3.0)
    looks: Sequence[tuple[str, tuple[int, tuple[int, ...]]]] = (
        (style.BLUE, (0, (4, 2))), (style.VERMILLION, (0, (1, 1))), (style.ORANGE, (0, (6, 1, 1, 1))),
        (style.SKY, (0, (3, 1, 1, 1))),
    )  # fmt: skip
    for (name, load), (colour, dash) in zip(scene.loads.items(), looks, strict=False):
        panel.plot(ms[few], 1e-3 * load[few], color=colour, linestyle=dash, label=plain(name), zorder=2.0)
    most = 1e-3 * max(float(scene.filtered.max()), *(float(np.abs(x).max()) for x in scene.loads.values()))
    panel.set_ylim(1.1 * 1e-3 * min(0.0, *(float(x.min()) for x in scene.loads.values())), 1.5 * most)
    panel.set_xlabel("time [ms]")
    panel.set_ylabel("force [kN]; unfiltered peaks cut off")
    panel.legend(loc="upper right", fontsize=style.SMALL)


def _energy(panel: Axes, scene: Scene) -> None:
    few = _few(scene)
    layers = [1e-3 * np.maximum(x[few], 0.0) for x in scene.energy.values()]
    labels, colours = [plain(n) for n in scene.energy], _COLOURS[: len(layers)]
    panel.stackplot(1e3 * scene.time[few], layers, labels=labels, colors=colours, linewidth=0.3, edgecolor="white")
    panel.set_ylim(0.0, 1.75 * float(np.sum(layers, axis=0).max()))
    panel.set_xlabel("time [ms]")
    panel.set_ylabel("energy [kJ]")
    handles, names = panel.get_legend_handles_labels()
    panel.legend(handles[::-1], names[::-1], loc="upper right", fontsize=style.SMALL)
