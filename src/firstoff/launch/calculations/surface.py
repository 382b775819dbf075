"""Pocket calculations: polishing, paint film, charge of a part, corrosion rating."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.methods.ranges import real, sequence
from firstoff.physics import surface


def _each(given: Mapping[str, Any], name: str) -> Any:
    """A number or a list of them, as it was given."""
    value = given[name]
    if isinstance(value, list | tuple):
        return np.array([real(name, v) for v in sequence(name, value)])
    return np.asarray(real(name, value))


def _rating(given: Mapping[str, Any]) -> dict[str, Any]:
    return {"rating": surface.corrosion_rating(_each(given, "A_pct") / 100.0).tolist()}


def _rating_formula(given: Mapping[str, Any]) -> dict[str, Any]:
    found = surface.corrosion_rating_formula(_each(given, "A_pct") / 100.0)
    return {"R": found.tolist(), "R_rounded": np.rint(found).astype(int).tolist()}


def _film(given: Mapping[str, Any]) -> dict[str, Any]:
    names = ("flow_mL_per_min", "solids_vol_fraction", "TE", "line_speed_m_per_min", "width_m")
    flow, solids, te, speed, width = (real(n, given[n]) for n in names)
    dry, wet = surface.paint_film(flow * 1e-6 / 60.0, solids, te, speed / 60.0, width)
    return {"dry_film": dry * 1e6, "wet_film_on_part": wet * 1e6}


def _transfer(given: Mapping[str, Any]) -> dict[str, Any]:
    gain, sprayed = (real(n, given[n]) / 1e3 for n in ("part_gain_g", "sprayed_wet_g"))
    return {
        "TE": surface.transfer_efficiency(gain, sprayed, real("solids_mass_fraction", given["solids_mass_fraction"]))
    }


def _voltage(given: Mapping[str, Any]) -> dict[str, Any]:
    return {"V_part": surface.part_voltage(real("I_uA", given["I_uA"]) * 1e-6, _each(given, "R_Mohm") * 1e6).tolist()}


def _removal(given: Mapping[str, Any]) -> dict[str, Any]:
    k, p, v, t = (real(n, given[n]) for n in ("kp_per_Pa", "P_kPa", "v_m_per_s", "t_s"))
    return {"depth": 1e6 * surface.polishing_removal(k, 1e3 * p, v, t)}


def _roughness(given: Mapping[str, Any]) -> dict[str, Any]:
    ends, passes, scale = (_each(given, n) for n in ("Ra_inf_um", "passes", "n"))
    found = surface.roughness_steps(real("Ra0_um", given["Ra0_um"]) * 1e-6, ends * 1e-6, passes, scale)
    return {"Ra": (1e6 * found).tolist()}


AREA = {"A_pct": "defect area, % of the significant surface; a number or a list"}

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        "corrosion-rating-class", "Corrosion rating from defect area, class table", "ISO 10289; ASTM B537", AREA,
        {"rating": "1"}, _rating,
    ),
    Calculation(
        "corrosion-rating-formula", "Corrosion rating from defect area, logarithm; the class table decides",
        "ISO 10289", AREA, {"R": "1", "R_rounded": "1"}, _rating_formula,
    ),
    Calculation(
        "paint-film-build", "Paint film from flow, solids, transfer efficiency and line speed", "balance of volume",
        {"flow_mL_per_min": "wet paint", "solids_vol_fraction": "solids by volume", "TE": "transfer efficiency",
         "line_speed_m_per_min": "line speed", "width_m": "width painted"},
        {"dry_film": "um", "wet_film_on_part": "um"}, _film,
    ),
    Calculation(
        "transfer-efficiency", "Paint transfer efficiency from weights", "definition (practice of ASTM D5009, D5286)",
        {"part_gain_g": "dry coating on the part", "sprayed_wet_g": "wet paint sprayed",
         "solids_mass_fraction": "solids by mass"}, {"TE": "1"}, _transfer,
    ),
    Calculation(
        "part-ground-voltage", "Voltage of a part by leak current and resistance to earth",
        "Ohm; the usual limit of 1 Mohm from trade texts citing NFPA 33",
        {"I_uA": "current that charges the part", "R_Mohm": "resistance to earth; a number or a list"},
        {"V_part": "V"}, _voltage,
    ),
    Calculation(
        "preston-removal", "Polishing removal", "Preston 1927",
        {"kp_per_Pa": "coefficient, fitted to trials", "P_kPa": "pressure", "v_m_per_s": "speed", "t_s": "time"},
        {"depth": "um"}, _removal,
    ),
    Calculation(
        "roughness-steps", "Roughness through successive polishing wheels", "saturating exponential (no source)",
        {"Ra0_um": "roughness at the start", "Ra_inf_um": "end roughness of each wheel", "passes": "of each wheel",
         "n": "passes to 1/e of each wheel"}, {"Ra": "um, after each wheel"}, _roughness,
    ),
)  # fmt: skip
