"""Pocket calculations of moulded and pressed parts: cooling, forces, powder density, grades."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import (
    G_PER_CM3,
    MM,
    MPA,
    Given,
    Number,
    Read,
    above_zero,
    formula,
    from_zero,
    whole_number,
)
from firstoff.physics.moulding import cooling, force, grades, powder

TONNE_FORCE = 9806.65  # N
PCT = 0.01


def _clamp(x: Read, _: Given) -> Mapping[str, Any]:
    for value in x["cavities"].ravel():
        whole_number("cavities", value)
    found = force.clamp_force(x["p_MPa"], x["A_cm2"], x["cavities"], x.get("safety", np.array(1.0)))
    return {"F": found, "F_in_tonne_force": found}


def _press(x: Read, _: Given) -> Mapping[str, Any]:
    return {"F": force.ring_press_force(x["p_MPa"], x["OD_mm"], x.get("ID_mm", np.array(0.0)))}


def _diffusivity(x: Read, _: Given) -> Mapping[str, Any]:
    return {"a": cooling.diffusivity(x["k_W_per_mK"], x["rho_kg_per_m3"], x["cp_J_per_kgK"])}


def _cooling(x: Read, _: Given) -> Mapping[str, Any]:
    keys = ("s_mm", "a_mm2_per_s", "Tm_C", "Tw_C", "Te_C")
    wall, a, melt, mould, eject = (float(x[key]) for key in keys)
    found: dict[str, Any] = {}
    for where in ("average", "centre"):
        middle = where == "centre"
        found[f"t_{where}_one_term"] = cooling.one_term_time(wall, a, melt, mould, eject, middle)
        found[f"t_{where}_series"] = cooling.series_time(wall, a, melt, mould, eject, middle)
    return found


def _short_time(x: Read, _: Given) -> Mapping[str, Any]:
    series, one = cooling.mean_left(x["Fo_half"]), cooling.mean_left(x["Fo_half"], 1)
    return {"theta_series": series, "theta_one_term": one, "error": one / series - 1.0}


def _heckel(x: Read, _: Given) -> Mapping[str, Any]:
    powder_ = (x["K_per_MPa"], x["A"], x["rho_full_g_per_cm3"])
    found: dict[str, Any] = {}
    if "p_MPa" in x:
        found["density"] = powder.heckel_density(x["p_MPa"], *powder_)
    if "rho_target_g_per_cm3" in x:
        found["p_for_target"] = powder.heckel_pressure(x["rho_target_g_per_cm3"], *powder_)
    if not found:
        raise ValueError("p_MPa or rho_target_g_per_cm3 must be given")
    return found


def _sintered(x: Read, _: Given) -> Mapping[str, Any]:
    return {"rho_s": powder.sintered_density(x["rho_green_g_per_cm3"], x["mass_loss"], x["e_d"], x["e_h"])}


def _change(x: Read, _: Given) -> Mapping[str, Any]:
    found: dict[str, Any] = {}
    sintered = x["sintered_mm"]
    die, green = x.get("die_mm"), x.get("green_mm")
    if die is None and green is None:
        raise ValueError("die_mm or green_mm must be given")
    from_die, spring, from_green = powder.dimensional_change(
        sintered if die is None else die, sintered if green is None else green, sintered
    )
    if die is not None:
        found["from_die"] = from_die
    if green is not None:
        found["from_green"] = from_green
    if die is not None and green is not None:
        found["green_expansion"] = spring
    return found


def _oil(x: Read, _: Given) -> Mapping[str, Any]:
    keys = ("m_dry_g", "m_oiled_air_g", "m_oiled_water_g", "rho_water_g_per_cm3", "rho_oil_g_per_cm3")
    return dict(zip(("rho", "open_porosity"), powder.oil_impregnated(*(x[key] for key in keys)), strict=True))


def _grade(_: Read, given: Given) -> Mapping[str, Any]:
    if not isinstance(given["code"], str):
        raise ValueError("code must be one text")
    grade = grades.read_code(given["code"])
    found: dict[str, Any] = {"family": grade.family, "carbon_nominal": grade.carbon_nominal}
    if grade.alloy:
        found[f"{grade.alloy}_nominal"] = grade.alloy_nominal
    for name, bounds in (("carbon", grade.carbon_range), (grade.alloy, grade.alloy_range)):
        if bounds:
            found |= {f"{name}_min": bounds[0], f"{name}_max": bounds[1]}
    if grade.min_strength is not None:
        found["min_strength"] = grade.min_strength
        found["strength_is"] = "ultimate, heat treated" if grade.heat_treated else "yield, as sintered"
    return found


_DENSITY = ("g/cm3", G_PER_CM3)
_G = 1e-3

CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "thermal-diffusivity",
        "Thermal diffusivity",
        "definition",
        {
            "k_W_per_mK": above_zero("conductivity"),
            "rho_kg_per_m3": above_zero("density"),
            "cp_J_per_kgK": above_zero("heat capacity"),
        },
        {"a": ("mm2/s", 1e-6)},
        _diffusivity,
    ),
    formula(
        "flat-wall-cooling-time",
        "Cooling time of a flat wall to a mean and to a centre temperature, by one term and by the full series",
        "Carslaw and Jaeger; 8/pi^2 belongs to the mean, 4/pi to the centre",
        {
            "s_mm": above_zero("wall", MM, lists=False),
            "a_mm2_per_s": above_zero("thermal diffusivity", 1e-6, lists=False),
            "Tm_C": Number("melt", least=-273.15, lists=False),
            "Tw_C": Number("wall of the mould", least=-273.15, lists=False),
            "Te_C": Number("at ejection", least=-273.15, lists=False),
        },
        {f"t_{where}_{form}": "s" for where in ("average", "centre") for form in ("one_term", "series")},
        _cooling,
    ),
    formula(
        "slab-short-time-series",
        "Heat left in a slab: one-term form against the full series",
        "Carslaw and Jaeger",
        {"Fo_half": above_zero("Fourier number on half the thickness, 1e-4 and more", least=1e-4)},
        {"theta_series": "1", "theta_one_term": "1", "error": ("%", PCT)},
        _short_time,
    ),
    formula(
        "clamp-force",
        "Clamp force of a mould",
        "statics",
        {
            "p_MPa": above_zero("pressure in the cavity", MPA),
            "A_cm2": above_zero("projected area of one cavity with its runners", 1e-4),
            "cavities": above_zero("cavities"),
            "safety": Number("safety, 1 when left out", least=1.0, optional=True),
        },
        {"F": ("kN", 1e3), "F_in_tonne_force": ("tf (metric)", TONNE_FORCE)},
        _clamp,
    ),
    formula(
        "compaction-press-force",
        "Press force of a powder ring or disc",
        "statics",
        {
            "p_MPa": above_zero("compaction pressure", MPA),
            "OD_mm": above_zero("outside diameter", MM),
            "ID_mm": from_zero("inside diameter, 0 when left out", MM, optional=True),
        },
        {"F": ("kN", 1e3)},
        _press,
    ),
    formula(
        "heckel-density",
        "Powder density from pressure after Heckel, and pressure for a density",
        "Heckel 1961; the constants belong to one powder and die and must be measured",
        {
            "K_per_MPa": above_zero("slope of the Heckel line", 1.0 / MPA, lists=False),
            "A": from_zero("intercept of the Heckel line", lists=False),
            "rho_full_g_per_cm3": above_zero("density of the mix without pores", G_PER_CM3, lists=False),
            "p_MPa": from_zero("pressure or list of them", MPA, optional=True),
            "rho_target_g_per_cm3": above_zero("density wanted", G_PER_CM3, lists=False, optional=True),
        },
        {"density": _DENSITY, "p_for_target": ("MPa", MPA)},
        _heckel,
    ),
    formula(
        "sintered-density",
        "Density after sintering",
        "balance of mass",
        {
            "rho_green_g_per_cm3": above_zero("green density", G_PER_CM3),
            "mass_loss": from_zero("share of the mass that burns off"),
            "e_d": Number("relative change of diameter"),
            "e_h": Number("relative change of height"),
        },
        {"rho_s": _DENSITY},
        _sintered,
    ),
    formula(
        "sinter-dimensional-change",
        "Dimensional change on sintering, from the die and from green",
        "definitions of ISO 4492 and MPIF 44, die size as the base (from memory)",
        {
            "die_mm": above_zero("size of the die", MM, optional=True),
            "green_mm": above_zero("size as pressed", MM, optional=True),
            "sintered_mm": above_zero("size as sintered", MM),
        },
        {"from_die": ("%", PCT), "green_expansion": ("%", PCT), "from_green": ("%", PCT)},
        _change,
    ),
    formula(
        "oil-impregnated-density",
        "Density and open porosity by oil impregnation",
        "principle of ISO 2738 and MPIF 42 (from memory)",
        {
            "m_dry_g": above_zero("mass, dry", _G),
            "m_oiled_air_g": above_zero("mass, impregnated", _G),
            "m_oiled_water_g": above_zero("apparent mass in water, impregnated", _G),
            "rho_water_g_per_cm3": above_zero("density of the water at its temperature", G_PER_CM3),
            "rho_oil_g_per_cm3": above_zero("density of the oil", G_PER_CM3),
        },
        {"rho": _DENSITY, "open_porosity": "1"},
        _oil,
    ),
    formula(
        "powder-grade-code",
        "Reading of a powder-metal grade code",
        "MPIF 35, from public explanations and material charts",
        {},
        {
            "family": "",
            "copper_nominal": "%",
            "nickel_nominal": "%",
            "carbon_nominal": "%",
            "copper_min": "%",
            "copper_max": "%",
            "carbon_min": "%",
            "carbon_max": "%",
            "min_strength": ("MPa", MPA),
            "strength_is": "",
        },  # fmt: skip
        _grade,
        texts={"code": "grade, FC-0208-50"},
        needed_texts=("code",),
    ),
)
