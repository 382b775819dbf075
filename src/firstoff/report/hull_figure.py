"""The Hull-cell panel as it would come out, its current densities by the true field and by the handbook's scale."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from firstoff.physics.plating.hull_panel import SCALE, Panel
from firstoff.report import style
from firstoff.report.tables import number, plain

FORMULA = "handbook's scale, i = I (5.10 − 5.24 log₁₀ L/cm) A/dm²"
LEFT, ACROSS, HIGH = 22.0, 140.0, 26.0  # mm
BURNT, BRIGHT, BARE = style.GREY, style.PALE_SKY, "#F3E3C8"


def hull_figure(path: Path | str, panel: Panel, *, title: str, what: str) -> Path:
    """Write the figure (.svg or .png) and return its path; what: metal, current and time in words."""
    with style.applied():
        figure = style.new_figure(128.0)
        style.write(figure, 3.0, 3.0, style.cut(plain(title), style.WIDTH - 6.0, style.TITLE, bold=True),
                    fontsize=style.TITLE, weight="bold")  # fmt: skip
        style.write(figure, 3.0, 9.5, style.cut(plain(what), style.WIDTH - 6.0), color=style.GREY)
        _panel(style.place(figure, LEFT, 18.0, ACROSS, HIGH), panel)
        _curves(style.place(figure, LEFT, 56.0, ACROSS, 52.0), panel)
        said = ("True field: current density without polarisation, which evens out the ends of a real panel. The scale "
                "was read off panels; it is drawn where it was made.")  # fmt: skip
        for k, line in enumerate(style.fit(said, style.WIDTH - 6.0, 2, style.SMALL)):
            style.write(figure, 3.0, 119.5 + k * style.line_height(style.SMALL), line, fontsize=style.SMALL,
                        color=style.GREY)  # fmt: skip
        return style.save(figure, path, title=plain(title))


def _panel(axes: Axes, panel: Panel) -> None:
    """The panel itself: burnt, covered and bare, with the thickness at a few places."""
    mm = 1e3
    ends = (0.0, panel.burnt_to * mm, panel.bare_from * mm, panel.length * mm)
    for low, high, colour, word, ink in zip(
        ends, ends[1:], (BURNT, BRIGHT, BARE), ("burnt", "covered", "bare"), ("white", style.BLACK, style.BLACK),
        strict=False,
    ):  # fmt: skip
        if high - low < 0.05:
            continue
        axes.add_patch(Rectangle((low, 0.0), high - low, 1.0, facecolor=colour, edgecolor=style.GREY, linewidth=0.6))
        room = high - low > 14.0
        axes.text(0.5 * (low + high), 0.72, word, ha="center", va="center", color=ink, fontsize=style.BODY,
                  rotation=0 if room else 90)  # fmt: skip
    for place in np.array([10.0, 25.0, 40.0, 55.0, 70.0, 85.0]):
        thick = float(np.interp(place, panel.place * mm, panel.thickness)) * 1e6
        if thick > 0.0:
            burnt = place < panel.burnt_to * mm
            axes.text(place, 0.25, f"{number(thick, 2)} µm", ha="center", va="center", fontsize=style.BODY,
                      color="white" if burnt else style.BLACK)  # fmt: skip
    axes.set(xlim=(0.0, panel.length * mm), ylim=(0.0, 1.0), yticks=[], xticks=[])
    axes.grid(False)
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.set_title("near the anode", loc="left", fontsize=style.BODY, color=style.GREY)
    axes.set_title("far from it", loc="right", fontsize=style.BODY, color=style.GREY)


def _curves(axes: Axes, panel: Panel) -> None:
    mm, dm2 = panel.place * 1e3, 1e-2
    axes.plot(mm, panel.density * dm2, color=style.BLUE, label="true field")
    inside = (panel.place >= SCALE[0]) & (panel.place <= SCALE[1])
    axes.plot(mm, panel.handbook * dm2, color=style.VERMILLION, linestyle=":", linewidth=0.8)
    axes.plot(mm[inside], panel.handbook[inside] * dm2, color=style.VERMILLION, linestyle="--", label=FORMULA)
    axes.set_yscale("log")
    top = float(panel.density.max()) * dm2
    axes.set(xlim=(0.0, panel.length * 1e3), ylim=(top / 400.0, 1.6 * top), xlabel="from the near end [mm]",
             ylabel="current density [A/dm²]")  # fmt: skip
    for level, word in ((panel.burnt_to, "burns above"), (panel.bare_from, "covers above")):
        if 0.0 < level < panel.length * 0.999:
            i = float(np.interp(level, panel.place, panel.density)) * dm2
            axes.axhline(i, color=style.GREY, linewidth=0.6, linestyle=":")
            axes.text(panel.length * 1e3, i, f"{word} {number(i, 3)} ", ha="right", va="bottom", fontsize=style.SMALL,
                      color=style.GREY)  # fmt: skip
    from matplotlib.ticker import FuncFormatter

    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.legend(loc="lower left")
    off = np.abs(panel.handbook / panel.density - 1.0)
    end = float(np.interp(0.9 * panel.length, panel.place, off))
    said = (f"The scale differs from the field by up to {100.0 * float(off[inside].max()):.0f} % where it was made "
    f"(dashed), "
            f"by {100.0 * end:.0f} % at nine tenths of the panel")  # fmt: skip
    axes.set_title(said, loc="left", fontsize=style.BODY)
