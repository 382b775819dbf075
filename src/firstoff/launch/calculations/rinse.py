"""Pocket calculations of rinses and of what a bath uses up."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import AH, UM, Given, Number, Read, above_zero, formula, from_zero
from firstoff.physics.plating import faraday, rinse

LITRE_PER_HOUR: Final = 1e-3 / 3600.0
ML_PER_M2: Final = 1e-6
GRAM: Final = 1e-3


def _counterflow(x: Read, _: Given) -> Mapping[str, Any]:
    n, drag = int(x["stages"]), float(x["drag_out_L_per_h"])
    if float(x["stages"]) != n:
        raise ValueError("stages must be a whole number")
    if ("flow_L_per_h" in x) == ("dilution" in x):
        raise ValueError("either flow_L_per_h or dilution must be given")
    flow = float(x["flow_L_per_h"]) if "flow_L_per_h" in x else rinse.flow_for(float(x["dilution"]), n, drag)
    ratio = flow / drag
    return {
        "flow": flow,
        "dilution": rinse.counterflow(ratio, n),
        "dilution_textbook": rinse.counterflow_textbook(ratio, n),
        "dilution_separate": rinse.separate(ratio / n, n),
    }


def _metal(x: Read, given: Given) -> Mapping[str, Any]:
    known = faraday.metals()
    if given["metal"] not in known:
        raise ValueError(f"metal is none of {', '.join(known)}")
    concentration = float(x.get("metal_g_per_L", 0.0))
    found = rinse.metal_balance(
        float(x["thickness_um"]), known[str(given["metal"])], float(x["efficiency"]),
        float(x.get("anode_efficiency", 0.0)), float(x.get("drag_out_mL_per_m2", 0.0)), concentration,
        float(x.get("returned", 0.0)),
    )  # fmt: skip
    told: dict[str, Any] = found._asdict()
    if found.charge > 0.0:
        told["added_per_charge"] = found.added / found.charge
    return told


CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "counterflow-rinse",
        "Counterflow rinses: flow for a dilution, or dilution of a flow; beside it the handbooks' power of the ratio, "
        "and the same water shared out to separate rinses",
        "balance of each stage, 1/(1 + r + ... + r^n) (textbook)",
        {
            "drag_out_L_per_h": above_zero("bath carried out by the parts", LITRE_PER_HOUR, lists=False),
            "stages": Number("number of rinses, 1 to 8", least=1.0, most=8.0, lists=False),
            "flow_L_per_h": above_zero("clean water to the last rinse", LITRE_PER_HOUR, lists=False, optional=True),
            "dilution": above_zero("concentration of the last rinse over the bath's", lists=False, optional=True),
        },
        {"flow": ("L/h", LITRE_PER_HOUR), "dilution": "1", "dilution_textbook": "1", "dilution_separate": "1"},
        _counterflow,
    ),
    formula(
        "bath-metal-balance",
        "What a bath uses a square metre plated: deposit, drag-out, anodes, salts to add, charge",
        "balance of metal; Faraday's law",
        {
            "thickness_um": from_zero("mean thickness of the deposit", UM, lists=False),
            "efficiency": above_zero("cathode efficiency", most=1.0, lists=False),
            "anode_efficiency": from_zero("anode efficiency; 0 (insoluble) when left out", most=1.1, lists=False,
                                          optional=True),
            "drag_out_mL_per_m2": from_zero("bath carried out by the parts", ML_PER_M2, lists=False, optional=True),
            "metal_g_per_L": from_zero("metal in the bath", lists=False, optional=True),
            "returned": from_zero("share of the drag-out that goes back to the bath", most=1.0, lists=False,
                                  optional=True),
        },
        {"deposit": ("g/m2", GRAM), "lost": ("g/m2", GRAM), "dissolved": ("g/m2", GRAM), "added": ("g/m2", GRAM),
         "charge": ("Ah/m2", AH), "added_per_charge": ("g/Ah", GRAM / AH)},
        _metal,
        texts={"metal": ("metal", ("Ni", "Cr(VI)", "Cr(III)"))},
        needed_texts=("metal",),
    ),
)  # fmt: skip
