"""Pocket calculation of a Hull-cell panel: what it would look like, by the true field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import A_PER_DM2, MINUTE, MM, UM, Given, Read, above_zero, formula, from_zero
from firstoff.physics.plating import faraday, hull_panel
from firstoff.physics.plating.deposit import Bath

STATES: Final = ("bare", "covered", "burnt")
_INPUTS = {
    "current_A": above_zero("cell current", lists=False),
    "time_min": above_zero("time", MINUTE, lists=False),
    "efficiency": above_zero("slope of the metal's partial current over the current", most=1.0, lists=False),
    "burning_A_per_dm2": above_zero("current density above which it burns", A_PER_DM2, lists=False),
    "threshold_A_per_dm2": from_zero("current density that deposits nothing yet; 0 when left out", A_PER_DM2,
                                     lists=False, optional=True),
}  # fmt: skip


def _panel(x: Read, given: Given) -> hull_panel.Panel:
    known = faraday.metals()
    if given["metal"] not in known:
        raise ValueError(f"metal is none of {', '.join(known)}")
    bath = Bath(known[str(given["metal"])], float(x["efficiency"]), float(x.get("threshold_A_per_dm2", 0.0)),
                float(x["burning_A_per_dm2"]))  # fmt: skip
    return hull_panel.panel(float(x["current_A"]), float(x["time_min"]), bath)


def _run(x: Read, given: Given) -> Mapping[str, Any]:
    p = _panel(x, given)
    inside = ~np.isnan(p.handbook)
    return {
        "place": p.place, "i": p.density, "thickness": p.thickness, "state": [STATES[s] for s in p.state],
        "burnt_to": p.burnt_to, "bare_from": p.bare_from, "length": p.length,
        "scale_place": p.place[inside], "scale_i": p.handbook[inside],
        "scale_over_field": p.handbook[inside] / p.density[inside],
    }  # fmt: skip


def _draw(given: Mapping[str, Any], path: Path) -> Path:
    from firstoff.report.hull_figure import hull_figure
    from firstoff.report.tables import number

    x = {key: spec.read(given, key) for key, spec in _INPUTS.items() if key in given}
    amps, minutes = number(float(given["current_A"]), 3), number(float(given["time_min"]), 3)
    what = f"{given['metal']}, {amps} A for {minutes} min, 267 ml cell"
    return hull_figure(path, _panel(x, given), title="Hull-cell panel as it would come out", what=what)


CALCULATIONS: tuple[Calculation, ...] = (
    replace(
        formula(
            "hull-cell-panel",
            "A 267 ml Hull-cell panel as it would come out: current density by the true field, thickness, where it is "
            "burnt, covered and bare; Hull's scale beside it",
            "primary field by Schwarz-Christoffel map; Faraday's law; Hull 1939 (from memory) for the scale",
            _INPUTS,
            {"place": ("mm from the near end", MM), "i": ("A/dm2", A_PER_DM2), "thickness": ("um", UM),
             "state": "bare, covered or burnt", "burnt_to": ("mm", MM), "bare_from": ("mm", MM), "length": ("mm", MM),
             "scale_place": ("mm from the near end", MM), "scale_i": ("A/dm2", A_PER_DM2), "scale_over_field": "1"},
            _run,
            texts={"metal": ("metal", ("Ni", "Cr(VI)", "Cr(III)"))},
            needed_texts=("metal",),
        ),
        draw=_draw,
    ),
)  # fmt: skip
