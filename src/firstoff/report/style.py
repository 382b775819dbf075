"""How every figure looks: A4 text width, one font, colours that survive colour blindness and a grey copier.

Figures are built on matplotlib's objects alone; nothing here touches pyplot, and the global settings change only inside
:func:`applied`. The same inputs give the same bytes: ids are hashed with a fixed salt, there is no date, and text is
drawn as paths, so it looks the same where the font is missing (each text is kept as an XML comment).
"""

from __future__ import annotations

import io
import os
import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import matplotlib.style
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from firstoff.errors import InputFault, Message

WIDTH = 170.0  # mm, A4 less two margins of 20 mm
MM = 1.0 / 25.4  # inch per mm
PT = 25.4 / 72.0  # mm per point
FONT = "DejaVu Sans"  # comes with matplotlib

# Okabe and Ito, Color Universal Design (2008): told apart by the usual kinds of colour blindness
BLACK, BLUE, SKY, ORANGE, VERMILLION = "#000000", "#0072B2", "#56B4E9", "#E69F00", "#D55E00"
GREY, PALE_GREY, PALE_SKY = "#5A5A5A", "#D9D9D9", "#C5E3F6"  # PALE_SKY: SKY thinned with white

SMALL, BODY, TITLE = 6.5, 7.5, 10.0  # points; 6.5 is the least that stays legible in print

_SETTINGS: dict[str, Any] = {
    "axes.edgecolor": GREY,
    "axes.axisbelow": True,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.labelsize": BODY,
    "axes.linewidth": 0.6,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "font.family": FONT,
    "font.size": BODY,
    "grid.color": PALE_GREY,
    "grid.linewidth": 0.4,
    "hatch.linewidth": 0.4,
    "legend.fontsize": BODY,
    "legend.frameon": False,
    "lines.linewidth": 1.2,
    "path.simplify": False,
    "savefig.dpi": 200,
    "svg.fonttype": "path",
    "svg.hashsalt": "firstoff",
    "text.parse_math": False,  # a $ in a part's name is a $
    "xtick.labelsize": BODY,
    "ytick.labelsize": BODY,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
}
_lock = threading.RLock()  # matplotlib's settings belong to the whole process


@contextmanager
def applied() -> Iterator[None]:
    """The style, on top of matplotlib's own defaults (a user's matplotlibrc has no say), until the block ends."""
    with _lock, matplotlib.style.context(["default", _SETTINGS]):
        yield


def new_figure(height: float, width: float = WIDTH) -> Figure:
    """An empty white page of `width` by `height` in mm."""
    figure = Figure(figsize=(width * MM, height * MM), facecolor="white")
    FigureCanvasSVG(figure)
    return figure


def place(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Axes at a place in mm from the page's upper left corner."""
    page_width, page_height = (float(x) / MM for x in figure.get_size_inches())
    bottom = page_height - top - height
    return figure.add_axes((left / page_width, bottom / page_height, width / page_width, height / page_height))


def write(figure: Figure, left: float, top: float, text: str, **how: Any) -> None:
    """Text whose upper left corner lies at a place in mm from the page's upper left corner."""
    page_width, page_height = (float(x) / MM for x in figure.get_size_inches())
    options: dict[str, Any] = {"ha": "left", "va": "top", "fontsize": BODY, **how}
    figure.text(left / page_width, 1.0 - top / page_height, text, **options)


def text_width(text: str, size: float = BODY, bold: bool = False) -> float:
    """Width in mm of one line of text at `size` points."""
    font = FontProperties(family=FONT, size=size, weight="bold" if bold else "normal")
    width, _, _ = text_to_path.get_text_width_height_descent(text, font, ismath=False)
    return float(width) * PT


def line_height(size: float = BODY) -> float:
    """Height in mm of one line of text, with its share of the space to the next line."""
    return 1.2 * size * PT


def fit(text: str, width: float, lines: int, size: float = BODY, bold: bool = False) -> list[str]:
    """`text` in at most `lines` lines of `width` mm; what does not fit ends in `…`, never in its neighbour."""
    done: list[str] = []
    words = text.split()
    while words and len(done) < lines:
        taken = len(words)
        while taken > 1 and text_width(" ".join(words[:taken]), size, bold) > width:
            taken -= 1
        last = len(done) == lines - 1
        line = " ".join(words) if last else " ".join(words[:taken])
        words = [] if last else words[taken:]
        done.append(cut(line, width, size, bold))
    return done or [""]


def cut(line: str, width: float, size: float = BODY, bold: bool = False, *, keep_end: bool = False) -> str:
    """One line cut to `width` mm with `…`; `keep_end` keeps the end, where part numbers differ."""
    if text_width(line, size, bold) <= width:
        return line
    for length in range(len(line) - 1, 0, -1):
        short = "…" + line[-length:].lstrip() if keep_end else line[:length].rstrip() + "…"
        if text_width(short, size, bold) <= width:
            return short
    return "…"


def save(figure: Figure, path: Path | str, *, title: str = "") -> Path:
    """Write the figure as .svg or .png, whole or not at all: readers never see half a file."""
    target = Path(path)
    kind = target.suffix.lower()
    if kind not in (".svg", ".png"):
        raise InputFault([Message("is no kind of figure", file=str(target), found=kind, allowed=".svg, .png")])
    buffer = io.BytesIO()
    named = {"Title": title} if title else {}
    with applied():
        if kind == ".svg":
            about: dict[str, Any] = {"Date": None, "Creator": "firstoff"}
            FigureCanvasSVG(figure).print_figure(buffer, format="svg", metadata={**about, **named})
        else:
            FigureCanvasAgg(figure).print_figure(buffer, format="png", metadata={"Software": "firstoff", **named})
    _replace(target, buffer.getvalue())
    return target


def _replace(target: Path, data: bytes) -> None:
    # in the same folder, because a rename is atomic only within one file system
    beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        with beside.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)
