"""Write docs/stations.md and docs/calculations.md from what the code declares.

python -m tools.write_docs
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from firstoff.families import NAMES
from firstoff.launch import stations
from firstoff.launch.calculations import kinds

DOCS = Path(__file__).parents[1] / "docs"


def stations_page() -> str:
    """Every station of every family with its parameters."""
    lines = ["# Stations", "", "Written by `make docs` from the stations' own declarations."]
    for family in NAMES:
        lines += ["", f"## {family}"]
        for station in stations(family):
            head = "check" if station["operation"] is None else f"op {station['operation']}"
            lines += ["", f"### {head}: `[{station['name']}]` {station['title']}", ""]
            heads = "| key | unit | kind | what | default | source of the default | moved in steps of |"
            lines += [heads, "| --- " * 7 + "|"]
            for p in station["parameters"]:
                unit = p["unit"] + (" gauge or abs" if p["pressure"] else "")
                default = p["default"] or "must be given"
                cells = (f"`{p['name']}`", unit, p["kind"], p["what"], default, p["source"], _change(p["change"]))
                lines.append("| " + " | ".join(cells) + " |")
            lines += ["", f"Gives: {', '.join(station['gives'])}."]
    return "\n".join(lines) + "\n"


def _change(change: dict[str, Any] | None) -> str:
    """`0.02 mm, up to 15; 10 min, cost 0: stop of the crimping press`."""
    if change is None:
        return ""
    approval = ", customer must approve" if change["customer_approval"] else ""
    trouble = f"{change['minutes']:g} min, cost {change['cost']:g}{approval}"
    return f"{change['step']}, up to {change['most_steps']}; {trouble}: {change['how']}"


def calculations_page() -> str:
    """Every pocket calculation with inputs, results and source."""
    lines = ["# Calculations", "", "`firstoff calc KIND` takes the inputs as one JSON object. Written by `make docs`."]
    for c in kinds():
        lines += ["", f"## {c.kind}", "", c.title, "", "| input | what |", "| --- | --- |"]
        lines += [f"| `{name}` | {what} |" for name, what in c.inputs.items()]
        lines += [f"| `{name}` | {what} (may be left out) |" for name, what in c.optional.items()]
        lines += ["", "Results: " + ", ".join(f"`{n}` [{u}]" for n, u in c.gives.items()) + ".", ""]
        lines.append(f"Source: {c.source}")
    return "\n".join(lines) + "\n"


PAGES = {"stations.md": stations_page, "calculations.md": calculations_page}


def main() -> None:
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), "utf-8")


if __name__ == "__main__":
    main()
