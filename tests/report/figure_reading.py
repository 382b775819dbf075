"""Reading back what a figure holds: its texts, its groups and the places of its marks."""

from __future__ import annotations

import html
import re
import xml.etree.ElementTree as ET
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

SVG = "{http://www.w3.org/2000/svg}"


def texts(path: Path) -> list[str]:
    """Text is drawn as paths; matplotlib keeps each text as a comment in front of them."""
    return [html.unescape(t).strip() for t in re.findall(r"<!--(.*?)-->", path.read_text("utf-8"), flags=re.DOTALL)]


def groups(path: Path) -> set[str]:
    return {g.get("id", "") for g in ET.parse(path).getroot().iter(f"{SVG}g")}


def marks(path: Path, group: str) -> list[tuple[float, float]]:
    """Places of a group's marks in points, y downwards; none when there is no such group."""
    for g in ET.parse(path).getroot().iter(f"{SVG}g"):
        if g.get("id") == group:
            return [(float(u.get("x", "nan")), float(u.get("y", "nan"))) for u in g.iter(f"{SVG}use")]
    return []


def crowded(figure: Figure) -> list[str]:
    """Texts that leave the page or lie over another text."""
    figure.set_dpi(300)  # a coarse grid of pixels would widen the letters
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    page, unseen = figure.bbox, _unseen(figure)
    boxes: list[tuple[str, Bbox]] = []
    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        if text.get_visible() and text.get_text().strip() and text not in unseen:
            boxes.append((text.get_text(), text.get_window_extent(renderer)))
    faults = [f"{t!r} leaves the page" for t, b in boxes if not (page.x0 <= b.x0 and b.x1 <= page.x1)]
    faults += [f"{t!r} leaves the page" for t, b in boxes if not (page.y0 <= b.y0 and b.y1 <= page.y1)]
    for i, (one, a) in enumerate(boxes):
        faults += [f"{one!r} lies over {other!r}" for other, b in boxes[i + 1 :] if _overlap(a, b)]
    return faults


def _overlap(a: Bbox, b: Bbox) -> bool:
    # a line's box has room for letters with strokes above and below: half a pixel of it may be shared
    return min(a.x1, b.x1) - max(a.x0, b.x0) > 0.5 and min(a.y1, b.y1) - max(a.y0, b.y0) > 0.5


def _unseen(figure: Figure) -> set[Text]:
    """Labels of ticks beyond the axes' ends and of axes that are off: matplotlib keeps them but does not draw them."""
    labels: set[Text] = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                if not axes.axison or not low <= tick.get_loc() <= high:
                    labels |= {tick.label1, tick.label2}
    return labels
