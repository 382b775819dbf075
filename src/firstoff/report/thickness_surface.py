"""The plated bar coloured by its nickel, seen from before and from behind; and sections with the deposit on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
from matplotlib import colormaps
from matplotlib.cm import ScalarMappable
from matplotlib.collections import PolyCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure

from firstoff.errors import InputFault, Message
from firstoff.report import style
from firstoff.report.tables import number, plain

Array = npt.NDArray[np.float64]
_EDGE, _VIEW, _SECTION, _GAP = 3.0, 40.0, 52.0, 9.0  # mm
_SCALE: Final = colormaps["cividis"]  # runs from dark to light: a grey copy and colour-blind eyes keep the order
_TURN, _RISE = np.radians(28.0), np.radians(24.0)  # of the eye: to the side, and above
_GROWN = 8.0  # mm of drawing for the thickest deposit of a section


@dataclass(frozen=True)
class Section:
    """An outline of the section (k, 2), rear and up [mm], with the thickness (k,) on its outer side [um]."""

    name: str
    outline: Array
    thickness: Array


def over_the_bar(
    path: Path | str, *, triangles: Array, front: Array, back: Array, sections: Sequence[Section], title: str,
    source: str = "",
) -> Path:  # fmt: skip
    """Write the figure (.svg or .png); the same inputs give the same bytes.

    triangles (m, 3, 3): corners, x along, y forward, z up [m]; front, back (m,): thickness on the outer and the
    inner side [um]. Errors: InputFault when a thickness is no number.
    """
    given = [front, back, *(s.thickness for s in sections)]
    if not all(np.isfinite(values).all() for values in given) or len(front) != len(triangles) != len(back):
        raise InputFault([Message("has a thickness that is no number", key="figure")])
    with style.applied():
        return style.save(_draw(triangles, front, back, sections, plain(title), plain(source)), path,
                          title=plain(title))  # fmt: skip


def _draw(triangles: Array, front: Array, back: Array, sections: Sequence[Section], title: str, source: str) -> Figure:
    heads = style.fit(title, style.WIDTH - 2 * _EDGE, 2, style.TITLE, bold=True)
    said = style.fit(source, style.WIDTH - 2 * _EDGE, 2, style.SMALL) if source else []
    top = _EDGE + len(heads) * style.line_height(style.TITLE) + len(said) * style.line_height(style.SMALL) + 4.0
    below = top + 2 * (_VIEW + _GAP)
    figure = style.new_figure(below + (_SECTION + _GAP if sections else 0.0))
    for lines, size, start, how in ((heads, style.TITLE, _EDGE, {"weight": "bold"}),
                                    (said, style.SMALL, _EDGE + len(heads) * style.line_height(style.TITLE) + 1.0,
                                     {"color": style.GREY})):  # fmt: skip
        for i, line in enumerate(lines):
            style.write(figure, _EDGE, start + i * style.line_height(size), line, fontsize=size, **how)
    scale = Normalize(0.0, _most(triangles, front))
    views = (("from before and above", 1.0, front), ("from behind and above", -1.0, back))
    for k, (name, side, values) in enumerate(views):
        _view(figure, triangles, values, side, scale, top + k * (_VIEW + _GAP), name)
    _legend(figure, scale, top)
    for k, section in enumerate(sections):
        _section(figure, section, scale, below, k, len(sections))
    return figure


def _most(triangles: Array, front: Array) -> float:
    """The thickness that all but a fiftieth of the outer area stays below: the peak at an edge is the mesh's own."""
    areas = 0.5 * np.linalg.norm(np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1)
    order = np.argsort(front)
    reached = np.cumsum(areas[order]) / areas.sum()
    return float(front[order][min(int(np.searchsorted(reached, 0.98)), len(order) - 1)])


def _view(
    figure: Figure, triangles: Array, values: Array, side: float, scale: Normalize, top: float, name: str
) -> None:
    """Triangles from the farthest to the nearest, as a painter lays them."""
    style.write(figure, _EDGE, top, name, fontsize=style.BODY)
    panel = style.place(figure, _EDGE, top + 3.0, style.WIDTH - 2 * _EDGE - 22.0, _VIEW)
    turned = triangles * np.array([side, side, 1.0])  # behind it, left is right
    c, s = np.cos(_TURN), np.sin(_TURN)
    across = c * turned[..., 0] + s * turned[..., 1]
    depth = -s * turned[..., 0] + c * turned[..., 1]
    flat = np.stack([across, np.cos(_RISE) * turned[..., 2] - np.sin(_RISE) * depth], axis=-1)
    near = (np.cos(_RISE) * depth + np.sin(_RISE) * turned[..., 2]).mean(axis=1)
    order = np.argsort(near, kind="stable")
    colours = _SCALE(scale(values))[order]
    panel.add_collection(
        PolyCollection(list(flat[order]), facecolors=colours, edgecolors=colours, linewidths=0.2, gid=f"view-{name}")
    )
    panel.set_xlim(float(flat[..., 0].min()), float(flat[..., 0].max()))
    panel.set_ylim(float(flat[..., 1].min()), float(flat[..., 1].max()))
    panel.set_aspect("equal")
    panel.set_axis_off()


def _legend(figure: Figure, scale: Normalize, top: float) -> None:
    panel = style.place(figure, style.WIDTH - _EDGE - 19.0, top + 6.0, 4.0, 2 * _VIEW - 4.0)
    bar = figure.colorbar(ScalarMappable(scale, _SCALE), cax=panel, extend="max")
    bar.set_label("nickel [µm]", fontsize=style.BODY)
    panel.tick_params(labelsize=style.BODY)


def _section(figure: Figure, section: Section, scale: Normalize, top: float, k: int, of: int) -> None:
    """The sheet's outline, and on its outer side the deposit, drawn far too thick: the same for all sections."""
    width = (style.WIDTH - 2 * _EDGE) / of
    style.write(figure, _EDGE + k * width, top, section.name, fontsize=style.BODY)
    least, most = number(float(section.thickness.min()), 3), number(float(section.thickness.max()), 3)
    style.write(figure, _EDGE + k * width, top + 3.5, f"{least} to {most} µm", fontsize=style.SMALL, color=style.GREY)
    panel = style.place(figure, _EDGE + k * width, top + 7.0, width - 4.0, _SECTION - 7.0)
    outline = section.outline
    step = np.gradient(outline, axis=0)
    normal = np.stack([step[:, 1], -step[:, 0]], axis=1) / np.hypot(*step.T)[:, None]
    if float(normal[len(normal) // 2, 0]) > 0.0:  # outwards is forward, away from the rear
        normal = -normal
    size = _GROWN / float(scale.vmax or 1.0) * np.ptp(outline[:, 1]) / (_SECTION - 7.0)
    outer = outline + normal * (section.thickness * size)[:, None]
    shown = np.concatenate([outline, outer[::-1]])
    panel.fill(-shown[:, 0], shown[:, 1], color=style.SKY, linewidth=0.0, gid=f"deposit-{section.name}")
    panel.plot(-outline[:, 0], outline[:, 1], color=style.BLACK, linewidth=1.0)
    panel.set_aspect("equal")
    panel.margins(0.06)
    panel.set_axis_off()
